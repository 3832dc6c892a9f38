//! From statements to typed templates: one file a family of parts.
//!
//! Knows units, bounds and the catalogue; resolves no reference.

mod devices;
mod magnetics;
mod passive;
mod scope;
mod statements;
mod supply;
mod tube_model;

pub(super) use scope::{ELSEWHERE, TOP_ONLY, Top, read_top};
pub(super) use statements::read_mains;

use crate::source::{Spanned, Statement};

use super::fields::Fields;
use super::template::{Body, Context, Join, PartTemplate};

/// The statements that make parts.
pub(super) const PARTS: [&str; 21] = [
    "inlet",
    "fuse",
    "switch",
    "transformer",
    "output-transformer",
    "bench-supply",
    "choke",
    "resistor",
    "potentiometer",
    "capacitor",
    "diode",
    "zener",
    "led",
    "bridge",
    "tube",
    "current-source",
    "mosfet",
    "bjt",
    "jfet",
    "input",
    "output",
];

/// A part's name where it could be read, and the part where all that it needs could be read.
pub(super) struct PartRead {
    pub(super) name: Option<Spanned<String>>,
    pub(super) part: Option<PartTemplate>,
}

/// Reads a statement that makes a part.
pub(super) fn read_part(statement: &Statement, context: &Context<'_>) -> PartRead {
    let mut fields = Fields::new(statement, context.complaints);
    let keyword = statement.name.value.as_str();
    let name = fields.name("a name", &format!("{keyword} {}", example_of(keyword)));
    let body = body(keyword, &mut fields, context);
    let note = fields.text("note").map(|text| text.value);
    let maker = fields.text("maker").map(|text| text.value);
    let series = fields.text("series").map(|text| text.value);
    let mut children = children_of(keyword).to_vec();
    children.push("waive");
    fields.finish(&children);
    let waivers = statement
        .children
        .iter()
        .filter(|child| child.name.value == "waive")
        .filter_map(|child| statements::waiver(child, true, context))
        .collect();
    let part = match (name.clone(), body) {
        (Some(name), Some(body)) => {
            Some(PartTemplate { name, span: statement.span, body, note, maker, series, waivers })
        }
        _ => None,
    };
    PartRead { name, part }
}

fn body(keyword: &str, fields: &mut Fields<'_>, context: &Context<'_>) -> Option<Body> {
    match keyword {
        "inlet" => supply::inlet(fields),
        "fuse" => supply::fuse(fields),
        "switch" => supply::switch(fields),
        "bench-supply" => supply::bench_supply(fields),
        "current-source" => supply::current_source(fields),
        "input" => supply::input(fields),
        "output" => supply::output(fields),
        "transformer" => magnetics::transformer(fields, context),
        "output-transformer" => magnetics::output_transformer(fields, context),
        "choke" => magnetics::choke(fields),
        "resistor" => passive::resistor(fields),
        "potentiometer" => passive::potentiometer(fields),
        "capacitor" => passive::capacitor(fields),
        "diode" => devices::diode(fields, context),
        "zener" => devices::zener(fields, context),
        "led" => devices::led(fields, context),
        "bridge" => devices::bridge(fields, context),
        "tube" => devices::tube(fields, context),
        "mosfet" | "bjt" | "jfet" => devices::transistor(keyword, fields, context),
        _ => None,
    }
}

/// The statements of a name inside another.
fn children<'a>(statement: &'a Statement, name: &'static str) -> impl Iterator<Item = &'a Statement> {
    statement.children.iter().filter(move |child| child.name.value == name)
}

pub(super) fn children_of(keyword: &str) -> &'static [&'static str] {
    match keyword {
        "transformer" => &["primary", "winding"],
        "output-transformer" => &["primary", "tap", "secondary"],
        "tube" => &["heater", "alternates", "unused", "model"],
        "diode" | "zener" | "led" | "bridge" => &["model"],
        _ => &[],
    }
}

fn example_of(keyword: &str) -> &'static str {
    match keyword {
        "resistor" => "R1 \"47k\"",
        "capacitor" => "C1 \"220n\"",
        "potentiometer" => "P1 \"100k\"",
        "choke" => "L1 \"10H\"",
        "tube" => "V1 \"12AX7\"",
        "fuse" => "F1 \"500mA\"",
        "diode" | "bridge" => "D1 \"1N4007\"",
        "zener" => "D1 \"12V\"",
        "led" => "D1 red",
        "bench-supply" => "B1 \"250V\"",
        "current-source" => "I1 \"5mA\"",
        "mosfet" | "bjt" | "jfet" => "Q1 TYPE",
        _ => "NAME",
    }
}

/// Reads the properties that join terminals of the same names.
fn joins(fields: &mut Fields<'_>, terminals: &[&'static str]) -> Vec<Join> {
    terminals
        .iter()
        .filter_map(|terminal| fields.reference(terminal).map(|to| Join { terminal: (*terminal).to_owned(), to }))
        .collect()
}

fn owned(names: &[&str]) -> Vec<String> {
    names.iter().map(|name| (*name).to_owned()).collect()
}
