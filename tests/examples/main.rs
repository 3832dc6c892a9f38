//! The example designs against a brute-force integration of their circuits.
//!
//! `reference.json` is written by `reference.py` beside it, which knows the circuit laws and the catalogue's figures
//! and nothing of this program. A disagreement is never settled here: one of the two is wrong.

#[cfg(test)]
mod cut_off;
#[cfg(test)]
mod faulty;
#[cfg(test)]
mod figures;

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use coldcheck::catalogue::Catalogue;
use coldcheck::circuit::Circuit;
use coldcheck::design::{ProjectFiles, read_design, read_workshop};
use coldcheck::facts::{FactTable, Sample, State, facts_of};
use coldcheck::source::Sources;
use serde::Deserialize;

/// One figure of the reference.
#[derive(Deserialize)]
struct Row {
    design: String,
    subject: String,
    fact: String,
    state: State,
    value: f64,
    /// The least magnitude against which a difference is measured: volts near zero are compared as volts.
    #[serde(default)]
    scale: f64,
    /// In `socket-empty`: which socket.
    #[serde(default)]
    empty: Option<String>,
}

/// The repository as the program reads it: paths relative to its top.
struct Repository;

impl ProjectFiles for Repository {
    fn root(&self) -> &Path {
        Path::new("")
    }
    fn read(&self, path: &Path) -> Result<String, String> {
        std::fs::read_to_string(here(path)).map_err(|error| error.to_string())
    }
}

fn here(below: impl AsRef<Path>) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(below)
}

fn text(path: &Path) -> String {
    std::fs::read_to_string(here(path)).unwrap_or_default()
}

fn facts(design: &str) -> Option<FactTable> {
    let folder = Path::new("examples/alder-street");
    let mut sources = Sources::default();
    let settings = sources.add("examples/alder-street/coldcheck.kdl", text(&folder.join("coldcheck.kdl")));
    let (workshop, _) = read_workshop(&sources, settings);
    let path = folder.join(design).with_extension("kdl");
    let file = sources.add(&path, text(&path));
    let reading = read_design(&mut sources, file, &Repository, Catalogue::built_in(), Some(&workshop));
    assert!(reading.complaints.is_empty(), "{design} was not read: {:#?}", reading.complaints);
    let design = reading.design?;
    Some(facts_of(&design, &Circuit::of(&design), Catalogue::built_in()))
}

/// The share by which a figure may differ: the program's tolerances and step, and rounding. Far below what parts vary.
fn allowed(row: &Row) -> f64 {
    match row.fact.as_str() {
        // How the halves of a centre-tapped heater winding share the primary's resistance is a matter of reading.
        "voltage" if row.subject.ends_with(".heater") => 0.005,
        "dissipation" | "plate-dissipation" => 0.004,
        // Ripple is carried behind the supply by small signals; a current of some ten microamperes shows what they leave out.
        "ripple-current" if row.value < 20e-6 => 0.02,
        "ripple" | "ripple-current" | "peak-current" | "rms-current" => 0.005,
        _ => 0.002,
    }
}

/// What the program gives for a row; a subject may share its name with one of another kind.
fn given(table: &FactTable, row: &Row) -> Option<f64> {
    let of_state = |sample: &&Sample| sample.state.is_none_or(|state| state == row.state);
    let of_socket = |sample: &&Sample| sample.empty_socket == row.empty;
    table
        .named(&row.subject)
        .filter_map(|subject| table.fact(subject, &row.fact))
        .flat_map(|fact| fact.samples.iter().filter(|sample| sample.lineup == 0).filter(of_state).find(of_socket))
        .find_map(|sample| sample.value.number())
}

fn compare(design: &str) {
    let rows: Vec<Row> = serde_json::from_str(&text(Path::new("tests/examples/reference.json"))).unwrap_or_default();
    let rows: Vec<Row> = rows.into_iter().filter(|row| row.design == design).collect();
    assert!(rows.len() > 150, "the reference of {design} is missing or unreadable");
    // A design that gave no facts disagrees in every figure.
    let table = facts(design).unwrap_or_default();
    let mut worst: BTreeMap<&str, (f64, &Row)> = BTreeMap::new();
    let mut disagreements = String::new();
    let mut count = 0;
    for row in &rows {
        let value = given(&table, row);
        let error = value.map_or(f64::INFINITY, |v| (v - row.value).abs() / row.value.abs().max(row.scale));
        let worst = worst.entry(&row.fact).or_insert((0.0, row));
        if error >= worst.0 {
            *worst = (error, row);
        }
        if error.is_nan() || error > allowed(row) {
            count += 1;
            let value = value.map_or("nothing".to_owned(), |v| format!("{v:.6e}"));
            let _ = writeln!(
                disagreements,
                "{:>12} {} {} of {}: program {value}, reference {:.6e}, off by {:.2} %",
                row.state.name(),
                row.empty.as_deref().unwrap_or(""),
                row.fact,
                row.subject,
                row.value,
                100.0 * error
            );
        }
    }
    println!("{design}: {} figures", rows.len());
    for (fact, (error, row)) in &worst {
        println!("  {fact:21} worst {:.4} % ({} {})", 100.0 * error, row.subject, row.state.name());
    }
    assert!(count == 0, "{design}: {count} of {} figures disagree\n{disagreements}", rows.len());
}

#[test]
fn the_reading_room_line_stage_does_what_its_equations_say() {
    compare("reading-room-line-stage");
}

#[test]
fn the_kitchen_table_stage_does_what_its_equations_say() {
    compare("kitchen-table-led-stage");
}

#[test]
fn the_tuner_preamp_does_what_its_equations_say() {
    compare("tuner-preamp");
}

#[test]
fn the_phono_stage_does_what_its_equations_say() {
    compare("gramophone-corner-phono-stage");
}

#[test]
fn the_reading_room_amplifier_does_what_its_equations_say() {
    compare("reading-room-amplifier");
}
