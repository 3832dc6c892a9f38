//! The figures of `reference.json`.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use coldcheck::catalogue::Catalogue;
use coldcheck::design::{ProjectFiles, read_design};
use coldcheck::facts::{FactTable, State};
use coldcheck::findings::DesignReport;
use coldcheck::inspection::{Grounds, Inspection, inspect};
use coldcheck::rules::{RuleBook, Shelves};
use coldcheck::source::Sources;
use jiff::civil::date;
use serde::Deserialize;

#[derive(Deserialize)]
struct Row {
    design: String,
    subject: String,
    fact: String,
    state: State,
    value: f64,
}

struct NoFiles;

impl ProjectFiles for NoFiles {
    fn root(&self) -> &Path {
        Path::new("")
    }
    fn read(&self, path: &Path) -> Result<String, String> {
        Err(format!("{} is not there", path.display()))
    }
}

fn here() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/audit")
}

/// A text, through the whole house.
pub fn inspection(text: &str) -> Inspection {
    let catalogue = Catalogue::built_in();
    let mut sources = Sources::default();
    let file = sources.add("design.kdl", text.to_owned());
    let reading = read_design(&mut sources, file, &NoFiles, catalogue, None);
    let shelves = Shelves::filled_by(&|name| catalogue.shelf(name).to_vec());
    let grounds =
        Grounds { rules: RuleBook::built_in(), devices: catalogue, shelves: &shelves, today: date(2026, 11, 25) };
    inspect(Path::new("design.kdl"), reading, grounds)
}

fn design(name: &str) -> Inspection {
    inspection(&std::fs::read_to_string(here().join("designs").join(format!("{name}.kdl"))).unwrap_or_default())
}

/// What was found in a design beside this file.
pub fn inspected(name: &str) -> DesignReport {
    design(name).report
}

/// The complaints about a text.
pub fn inspected_text(text: &str) -> Vec<String> {
    inspection(text).report.complaints.into_iter().map(|complaint| complaint.message).collect()
}

fn given(table: &FactTable, row: &Row) -> Option<f64> {
    table
        .named(&row.subject)
        .filter_map(|subject| table.fact(subject, &row.fact))
        .flat_map(|fact| fact.samples.iter())
        .filter(|sample| sample.lineup == 0 && sample.empty_socket.is_none())
        .find(|sample| sample.state.is_none_or(|state| state == row.state))
        .and_then(|sample| sample.value.number())
}

fn compare(name: &str, least: usize) {
    let rows: Vec<Row> =
        serde_json::from_str(&std::fs::read_to_string(here().join("reference.json")).unwrap_or_default())
            .unwrap_or_default();
    let rows: Vec<Row> = rows.into_iter().filter(|row| row.design == name).collect();
    assert!(rows.len() >= least, "{} figures of {name}", rows.len());
    let inspection = design(name);
    assert!(inspection.report.complaints.is_empty(), "{:#?}", inspection.report.complaints);
    let table = inspection.facts.unwrap_or_default();
    let mut apart = String::new();
    for row in &rows {
        let allowed = if row.fact.starts_with("distortion") { 0.05 } else { 0.005 };
        let value = given(&table, row);
        if value.is_none_or(|value| (value / row.value - 1.0).abs() > allowed) {
            let _ =
                writeln!(apart, "{} of {} {}: {value:?}, not {}", row.fact, row.subject, row.state.name(), row.value);
        }
    }
    assert!(apart.is_empty(), "{name}\n{apart}");
}

#[test]
fn stages_on_a_bench_supply_do_what_their_equations_say() {
    compare("srpp", 20);
    compare("white-follower", 25);
    compare("cascode-phono", 30);
    compare("loop-riaa", 20);
    compare("current-source-load", 15);
    compare("long-tail-sink", 20);
}

#[test]
fn a_bridge_supply_at_60_hertz_with_its_bias_and_two_el34_does_what_its_equations_say() {
    compare("bridge-push-pull", 140);
}

#[test]
fn a_directly_heated_output_tube_with_a_hum_balance_does_what_its_equations_say() {
    compare("hum-pot-single-ended", 90);
}

#[test]
fn tapped_screens_behind_a_directly_heated_rectifier_do_what_their_equations_say() {
    compare("tapped-screens", 90);
}

#[test]
fn gas_regulators_in_series_do_what_their_equations_say() {
    compare("gas-regulated", 60);
}

#[test]
fn a_doubler_with_followers_and_heaters_on_direct_current_does_what_its_equations_say() {
    compare("doubler-follower", 80);
}
