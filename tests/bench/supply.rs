//! What the periodic steady state of a supply costs, as a ratio to reading the same file in the same run.

use std::fmt::Write as _;
use std::time::{Duration, Instant};

use coldcheck::catalogue::Catalogue;
use coldcheck::circuit::Circuit;
use coldcheck::design::read_fragment;
use coldcheck::facts::{State, network_in};
use coldcheck::physics::{Network, SteadyOptions, steady_state};
use coldcheck::source::{Sources, parse_text};
use coldcheck::units::Hertz;

const SUPPLIES: [(&str, &str); 4] = [
    ("negative bias rail", include_str!("../supply/designs/negative-bias-rail.kdl")),
    ("tube and silicon in one bridge", include_str!("../supply/designs/tube-and-silicon-in-one-bridge.kdl")),
    ("choke input of two sections", include_str!("../supply/designs/choke-input-of-two-sections.kdl")),
    ("several windings at once", include_str!("../supply/designs/several-windings-at-once.kdl")),
];

const STATES: [State; 3] = [State::Running, State::HighMains, State::LowMains];

fn networks(text: &str) -> Vec<(Network, Hertz)> {
    let catalogue = Catalogue::built_in();
    let mut sources = Sources::default();
    let file = sources.add("supply.kdl", text);
    let reading = read_fragment(&sources, file, catalogue);
    let Some(design) = reading.design else { return Vec::new() };
    let circuit = Circuit::of(&design);
    STATES.iter().map(|state| network_in(&design, &circuit, catalogue, *state)).collect()
}

fn read(text: &str) -> usize {
    let mut sources = Sources::default();
    let file = sources.add("supply.kdl", text);
    read_fragment(&sources, file, Catalogue::built_in()).complaints.len()
}

fn parse(text: &str) -> usize {
    let mut sources = Sources::default();
    let file = sources.add("supply.kdl", text);
    parse_text(file, text).0.len()
}

fn solve(networks: &[(Network, Hertz)]) -> usize {
    let solved = networks.iter().map(|(network, hertz)| steady_state(network, *hertz, SteadyOptions::default()));
    solved.filter_map(|found| found.ok()).map(|steady| steady.periods).sum()
}

#[divan::bench(args = SUPPLIES.map(|(name, _)| name))]
fn three_mains_voltages(bencher: divan::Bencher<'_, '_>, name: &str) {
    let all = networks(text_of(name));
    bencher.bench_local(|| solve(divan::black_box(&all)));
}

#[divan::bench(args = SUPPLIES.map(|(name, _)| name))]
fn parse_of_the_same_file(bencher: divan::Bencher<'_, '_>, name: &str) {
    let text = text_of(name);
    bencher.bench_local(|| parse(divan::black_box(text)));
}

#[divan::bench(args = SUPPLIES.map(|(name, _)| name))]
fn reading_of_the_same_file(bencher: divan::Bencher<'_, '_>, name: &str) {
    let text = text_of(name);
    bencher.bench_local(|| read(divan::black_box(text)));
}

fn text_of(name: &str) -> &'static str {
    SUPPLIES.iter().find(|(known, _)| *known == name).map_or("", |(_, text)| *text)
}

/// The least of many runs: what the work itself costs.
fn least(mut work: impl FnMut() -> usize) -> Duration {
    let mut best = Duration::MAX;
    for _ in 0..200 {
        let start = Instant::now();
        divan::black_box(work());
        best = best.min(start.elapsed());
    }
    best
}

fn main() {
    let mut table = String::new();
    for (name, text) in SUPPLIES {
        let all = networks(text);
        let (solving, parsing, reading) = (least(|| solve(&all)), least(|| parse(text)), least(|| read(text)));
        let ratio = |of: Duration| solving.as_secs_f64() / of.as_secs_f64();
        let _ = writeln!(
            table,
            "{name}: {solving:.0?} for three mains voltages ({} periods), parse {parsing:.0?}, with design {reading:.0?}: \
             {:.2} of the parse, {:.2} of the reading",
            solve(&all),
            ratio(parsing),
            ratio(reading)
        );
    }
    print!("{table}");
    if std::env::args().any(|argument| argument == "--bench") {
        divan::main();
    }
}
