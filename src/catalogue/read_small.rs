//! The shorter statements of a catalogue file: bases, diodes, LEDs, shelves and limiting element voltages.

use std::collections::BTreeMap;

use crate::source::{Complaint, Statement};
use crate::units::{Amperes, Quantity, Volts, Watts};

use super::fields::{
    children_only, known_children, known_properties, missing, quantity, sources, unknown, word, words,
};
use super::read_limits::figure;
use super::read_model::junction_model;
use super::read_tube::{aliases, child, note_sources};
use super::{DeviceSource, DiodeEntry, DiodeModel, LedEntry, Pin};

/// The limiting element voltage of one kind of resistor, by power, ascending.
#[derive(Clone, Debug)]
pub(super) struct ElementVoltages {
    pub(super) rows: Vec<(Watts, Volts)>,
    pub(super) source: DeviceSource,
}

/// The kinds of resistor that a design can name.
const RESISTOR_KINDS: [&str; 5] = ["carbon-film", "metal-film", "metal-oxide", "wirewound", "carbon-composition"];

/// The shelves that remedies can choose from.
const SHELVES: [&str; 3] = ["capacitor-voltage", "resistor-power", "fuse-current"];

/// A base: its number as written, and its pins.
pub(super) fn read_base(statement: &Statement, out: &mut Vec<Complaint>) -> Option<(String, Vec<Pin>)> {
    known_properties(statement, &[], out);
    known_children(statement, &[], &["pin"], out);
    sources(statement, out);
    let name = word(statement, 0, "a base number", out)?;
    let mut pins = Vec::new();
    let mut used: BTreeMap<&str, &Statement> = BTreeMap::new();
    for pin in statement.children.iter().filter(|c| c.name.value == "pin") {
        let Some(number) = word(pin, 0, "a pin number in quotes", out) else {
            continue;
        };
        if let Some(first) = used.insert(number.value, pin) {
            out.push(
                Complaint::at(number.span, format!("pin {} is given twice", number.value), "given again here")
                    .also(first.span, "first given here"),
            );
        }
        let terminals = words(pin, 1, "a terminal", out);
        if terminals.is_empty() {
            missing(pin, "what it carries (a terminal, or `none`)", out);
        }
        pins.extend(
            terminals
                .into_iter()
                .map(|terminal| Pin { number: number.value.to_owned(), terminal: terminal.value.to_owned() }),
        );
    }
    Some((name.value.to_owned(), pins))
}

fn junction(statement: &Statement, out: &mut Vec<Complaint>) -> Option<(DiodeModel, Vec<DeviceSource>)> {
    known_properties(statement, &[], out);
    known_children(statement, &["aliases", "model", "limits"], &[], out);
    let Some(model) = child(statement, "model") else {
        missing(statement, "a `model`", out);
        return None;
    };
    let mut all = sources(model, out);
    if let Some(limits) = child(statement, "limits") {
        children_only(limits, out);
        note_sources(&mut all, sources(limits, out));
    }
    Some((junction_model(model, out)?, all))
}

fn limit<Q: Quantity>(statement: &Statement, name: &str, out: &mut Vec<Complaint>) -> Option<Q> {
    child(statement, "limits").and_then(|limits| figure(limits, name, out))
}

/// A junction diode.
pub(super) fn read_diode(statement: &Statement, out: &mut Vec<Complaint>) -> Option<DiodeEntry> {
    let name = word(statement, 0, "the diode's name", out)?;
    let (model, sources) = junction(statement, out)?;
    if let Some(limits) = child(statement, "limits") {
        known_children(limits, &["inverse-voltage", "direct-current", "peak-current"], &[], out);
    }
    Some(DiodeEntry {
        name: name.value.to_owned(),
        aliases: aliases(statement, out),
        model,
        inverse_voltage: limit(statement, "inverse-voltage", out),
        direct_current: limit(statement, "direct-current", out),
        peak_current: limit(statement, "peak-current", out),
        sources,
    })
}

/// An LED.
pub(super) fn read_led(statement: &Statement, out: &mut Vec<Complaint>) -> Option<LedEntry> {
    let colour = word(statement, 0, "the colour", out)?;
    let (model, sources) = junction(statement, out)?;
    if let Some(limits) = child(statement, "limits") {
        known_children(limits, &["direct-current"], &[], out);
    }
    Some(LedEntry {
        colour: colour.value.to_owned(),
        aliases: aliases(statement, out),
        model,
        direct_current: limit(statement, "direct-current", out),
        sources,
    })
}

/// A shelf: its name, and its values ascending in base SI units.
pub(super) fn read_shelf(statement: &Statement, out: &mut Vec<Complaint>) -> Option<(String, Vec<f64>)> {
    known_properties(statement, &[], out);
    known_children(statement, &[], &["values"], out);
    sources(statement, out);
    let name = word(statement, 0, "the shelf's name", out)?;
    let mut values = Vec::new();
    for group in statement.children.iter().filter(|c| c.name.value == "values") {
        for value in &group.arguments {
            values.extend(match name.value {
                "capacitor-voltage" => quantity::<Volts>(value, out).map(Quantity::base),
                "resistor-power" => quantity::<Watts>(value, out).map(Quantity::base),
                "fuse-current" => quantity::<Amperes>(value, out).map(Quantity::base),
                _ => None,
            });
        }
    }
    if !SHELVES.contains(&name.value) {
        unknown(name.span, "shelf", name.value, &SHELVES, out);
        return None;
    }
    values.sort_by(f64::total_cmp);
    values.dedup();
    Some((name.value.to_owned(), values))
}

/// Limiting element voltages of one kind of resistor.
pub(super) fn read_element_voltage(
    statement: &Statement,
    out: &mut Vec<Complaint>,
) -> Option<(String, ElementVoltages)> {
    known_properties(statement, &[], out);
    known_children(statement, &[], &["row"], out);
    let kind = word(statement, 0, "a kind of resistor", out)?;
    if !RESISTOR_KINDS.contains(&kind.value) {
        unknown(kind.span, "kind of resistor", kind.value, &RESISTOR_KINDS, out);
        return None;
    }
    let mut rows = Vec::new();
    for row in statement.children.iter().filter(|c| c.name.value == "row") {
        match row.arguments.as_slice() {
            [power, voltage] => {
                let pair = (quantity::<Watts>(power, out), quantity::<Volts>(voltage, out));
                if let (Some(power), Some(voltage)) = pair {
                    rows.push((power, voltage));
                }
            }
            _ => missing(row, "a power and a voltage", out),
        }
    }
    rows.sort_by(|a, b| a.0.0.total_cmp(&b.0.0));
    let source = sources(statement, out).into_iter().next()?;
    Some((kind.value.to_owned(), ElementVoltages { rows, source }))
}
