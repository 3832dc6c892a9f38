//! The floors of the house one by one, on one design of the repository bench.

mod designs;

use coldcheck::catalogue::Catalogue;
use coldcheck::circuit::Circuit;
use coldcheck::design::{DesignReading, read_fragment};
use coldcheck::facts::{FactTable, facts_of};
use coldcheck::rules::{RuleBook, Shelves, judge};
use coldcheck::source::{FileId, Sources, parse_text, tidy};
use divan::Bencher;

fn main() {
    divan::main();
}

const NUMBER: u64 = 7;

fn reading(text: &str) -> DesignReading {
    let mut sources = Sources::default();
    let file = sources.add("generated.kdl", text);
    read_fragment(&sources, file, Catalogue::built_in())
}

fn facts(reading: &DesignReading) -> Option<FactTable> {
    let design = reading.design.as_ref()?;
    Some(facts_of(design, &Circuit::of(design), Catalogue::built_in()))
}

#[divan::bench]
fn the_parse_of_kdl_alone(bencher: Bencher<'_, '_>) {
    let text = designs::varied(NUMBER);
    bencher.bench(|| kdl::KdlDocument::parse(&text));
}

#[divan::bench]
fn text_to_statements(bencher: Bencher<'_, '_>) {
    let text = designs::varied(NUMBER);
    bencher.bench(|| parse_text(FileId(0), &text));
}

#[divan::bench]
fn text_to_design(bencher: Bencher<'_, '_>) {
    let text = designs::varied(NUMBER);
    bencher.bench(|| reading(&text));
}

#[divan::bench]
fn design_to_facts(bencher: Bencher<'_, '_>) {
    let read = reading(&designs::varied(NUMBER));
    bencher.bench(|| facts(&read));
}

#[divan::bench]
fn facts_to_findings(bencher: Bencher<'_, '_>) {
    let table = facts(&reading(&designs::varied(NUMBER))).unwrap_or_default();
    let shelves = Shelves::default();
    bencher.bench(|| judge(RuleBook::built_in(), &table, &shelves));
}

#[divan::bench]
fn another_layout_of_a_thousand_parts(bencher: Bencher<'_, '_>) {
    let text = designs::large(1_000);
    bencher.bench(|| tidy(&text));
}
