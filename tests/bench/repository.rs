//! How long inspections take, beside the parse of the same files in the same run. Asserts nothing: it tells.
//!
//!     cargo bench --bench repository                    all of it
//!     cargo bench --bench repository -- 100 1000        repositories of these sizes, then the rest
//!     cargo bench --bench repository -- write DIR 100   only writes so many designs into a folder
//!     cargo bench --bench repository -- grown FILE 100  only writes one design of about so many parts

mod clock;
mod designs;

use std::error::Error;
use std::fs;
use std::path::Path;

use coldcheck::catalogue::{Catalogue, VacuumDiodeModel};
use coldcheck::circuit::Circuit;
use coldcheck::design::{Design, read_fragment};
use coldcheck::facts::facts_of;
use coldcheck::physics::{Element, Network, NodeId, SteadyOptions, steady_state};
use coldcheck::rules::{RuleBook, Shelves, judge};
use coldcheck::source::{FileId, Sources, parse_text};
use coldcheck::units::{Farads, Henries, Hertz, Ohms, Volts};

use clock::{processor_time, run};

type Outcome = Result<(), Box<dyn Error>>;

const PROGRAM: &str = env!("CARGO_BIN_EXE_coldcheck");

fn main() -> Outcome {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| !argument.starts_with("--")).collect();
    if let [word, folder, count] = arguments.as_slice()
        && word == "write"
    {
        return write(Path::new(folder), count.parse()?);
    }
    if let [word, file, parts] = arguments.as_slice()
        && word == "grown"
    {
        return Ok(fs::write(file, designs::large(parts.parse()?))?);
    }
    let sizes: Vec<usize> = arguments.iter().filter_map(|argument| argument.parse().ok()).collect();
    let sizes = if sizes.is_empty() { vec![100, 1_000, 10_000] } else { sizes };
    repositories(&sizes)?;
    growth()?;
    one_supply();
    Ok(())
}

fn write(folder: &Path, count: usize) -> Outcome {
    fs::create_dir_all(folder)?;
    for number in 0..count {
        let text = designs::varied(number as u64);
        fs::write(folder.join(format!("design-{number:05}.kdl")), text)?;
    }
    Ok(())
}

fn repositories(sizes: &[usize]) -> Outcome {
    println!(
        "Repositories of varied designs: `inspect --as lines`. Times are processor time; the speed is on the wall."
    );
    println!(
        "{:>8} {:>9} {:>11} {:>11} {:>9} {:>9} {:>8} {:>10} {:>8}",
        "designs", "KDL, s", "inspect, s", "times KDL", "1 thr/s", "2 thr/s", "gain", "2 thr, s", "MiB"
    );
    for &size in sizes {
        let home = tempfile::tempdir()?;
        write(home.path(), size)?;
        let texts: Vec<String> = (0..size).map(|number| designs::varied(number as u64)).collect();
        let kdl = processor_time(|| {
            for text in &texts {
                assert!(kdl::KdlDocument::parse(text).is_ok());
            }
        });
        drop(texts);
        let folder = home.path().to_str().ok_or("a path of plain characters")?;
        let one = run(PROGRAM, &["inspect", "--as", "lines", "--jobs", "1", folder])?;
        let two = run(PROGRAM, &["inspect", "--as", "lines", "--jobs", "2", folder])?;
        println!(
            "{size:>8} {kdl:>9.3} {:>11.2} {:>11.1} {:>9.1} {:>9.1} {:>8.2} {:>10.2} {:>8.0}",
            one.processor,
            one.processor / kdl,
            size as f64 / one.wall,
            size as f64 / two.wall,
            one.wall / two.wall,
            two.processor,
            one.peak.max(two.peak),
        );
    }
    Ok(())
}

fn read(text: &str, catalogue: &Catalogue) -> Option<Design> {
    let mut sources = Sources::default();
    let file = sources.add("generated.kdl", text);
    read_fragment(&sources, file, catalogue).design
}

fn growth() -> Outcome {
    let catalogue = Catalogue::built_in();
    let rules = RuleBook::built_in();
    let shelves = Shelves::default();
    println!("\nOne design, more and more parts, one thread (above 12 tubes no socket is emptied).");
    println!(
        "{:>8} {:>6} {:>9} {:>9} {:>9} {:>10} {:>9} {:>10} {:>12}",
        "parts", "tubes", "KDL, ms", "parse", "read", "facts", "rules", "times KDL", "ms a part"
    );
    for target in [10, 30, 100, 200, 300, 1_000, 2_000] {
        let text = designs::large(target);
        let kdl = processor_time(|| assert!(kdl::KdlDocument::parse(&text).is_ok()));
        let parse = processor_time(|| assert!(!parse_text(FileId(0), &text).0.is_empty()));
        let design = read(&text, catalogue).ok_or("a design that can be read")?;
        let reading = processor_time(|| drop(read(&text, catalogue)));
        let table = facts_of(&design, &Circuit::of(&design), catalogue);
        let facts = processor_time(|| drop(facts_of(&design, &Circuit::of(&design), catalogue)));
        let judging = processor_time(|| drop(judge(rules, &table, &shelves)));
        let parts = design.parts.len();
        let tubes = design.parts.iter().filter(|part| part.name.starts_with('V')).count();
        let whole = reading + facts + judging;
        println!(
            "{parts:>8} {tubes:>6} {:>9.2} {:>9.2} {:>9.2} {:>10.2} {:>9.2} {:>10.1} {:>12.3}",
            kdl * 1e3,
            parse * 1e3,
            reading * 1e3,
            facts * 1e3,
            judging * 1e3,
            whole / kdl,
            whole * 1e3 / parts as f64,
        );
    }
    Ok(())
}

const SUPPLY: &str = include_str!("../../examples/alder-street/shared/choke-supply.kdl");

/// The same supply as a network, at a share of its rated mains.
fn supply_network(share: f64) -> Network {
    let node = NodeId;
    let half = |a, b| Element::Winding { a, b, emf: Volts(257.0 * share), resistance: Ohms(190.0), phase: 0.0 };
    let plate = |plate| Element::VacuumDiode { plate, cathode: node(3), model: VacuumDiodeModel { k: 1.6e-3 } };
    let capacitor = |a, microfarads: f64| Element::Capacitor { a, b: node(0), capacitance: Farads(microfarads * 1e-6) };
    Network {
        nodes: 5,
        elements: vec![
            half(node(1), node(0)),
            half(node(0), node(2)),
            plate(node(1)),
            plate(node(2)),
            capacitor(node(3), 22.0),
            Element::Inductor { a: node(3), b: node(4), inductance: Henries(10.0), resistance: Ohms(270.0) },
            capacitor(node(4), 47.0),
            Element::Resistor { a: node(4), b: node(0), resistance: Ohms(180e3) },
            Element::Resistor { a: node(4), b: node(0), resistance: Ohms(15e3) },
        ],
    }
}

fn one_supply() {
    let kdl = processor_time(|| assert!(kdl::KdlDocument::parse(SUPPLY).is_ok()));
    let networks = [0.9, 1.0, 1.1].map(supply_network);
    let solved = processor_time(|| {
        for network in &networks {
            assert!(steady_state(network, Hertz(50.0), SteadyOptions::default()).is_ok());
        }
    });
    println!(
        "\nThe club's choke supply: its periodic steady state at three mains voltages, beside the parse of its file."
    );
    println!("{:>9} {:>9} {:>10}", "KDL, ms", "ms", "times KDL");
    println!("{:>9.3} {:>9.3} {:>10.2}", kdl * 1e3, solved * 1e3, solved / kdl);
}
