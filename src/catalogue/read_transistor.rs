//! Transistors of a catalogue file: `mosfet`, `jfet` and `bjt`.

use crate::source::{Complaint, Scalar, Statement};
use crate::units::{Farads, Quantity};

use super::fields::{children_only, known_children, known_properties, missing, quantity, sources, unknown, word};
use super::read_limits::figure;
use super::read_model::needed;
use super::read_tube::{aliases, child, note_sources};
use super::{BipolarModel, FieldEffectModel, TransistorEntry, TransistorFamily, TransistorLimits, TransistorModel};

/// A transistor.
pub(super) fn read_transistor(statement: &Statement, out: &mut Vec<Complaint>) -> Option<TransistorEntry> {
    let family = TransistorFamily::of(&statement.name.value)?;
    known_properties(statement, &["polarity"], out);
    known_children(statement, &["aliases", "model", "limits", "capacitances"], &[], out);
    let name = word(statement, 0, "the transistor's name", out)?;
    let turned = turned_about(statement, family, out)?;
    let Some(model_group) = child(statement, "model") else {
        missing(statement, "a `model`", out);
        return None;
    };
    let mut all = sources(model_group, out);
    let model = model(model_group, family, turned, out)?;
    let mut limits = TransistorLimits::default();
    if let Some(group) = child(statement, "limits") {
        children_only(group, out);
        known_children(group, &["voltage", "current", "dissipation", "gate-voltage"], &[], out);
        note_sources(&mut all, sources(group, out));
        limits = TransistorLimits {
            voltage: figure(group, "voltage", out),
            current: figure(group, "current", out),
            dissipation: figure(group, "dissipation", out),
            gate_voltage: figure(group, "gate-voltage", out),
        };
    }
    let mut capacitance = [None; 3];
    if let Some(group) = child(statement, "capacitances") {
        known_properties(group, &["input", "feedback", "output"], out);
        note_sources(&mut all, sources(group, out));
        capacitance = ["input", "feedback", "output"].map(|key| {
            let value = &group.property(key)?.value;
            quantity::<Farads>(value, out).map(|farads| Farads(farads.base()))
        });
    }
    let [input_capacitance, feedback_capacitance, output_capacitance] = capacitance;
    Some(TransistorEntry {
        name: name.value.to_owned(),
        aliases: aliases(statement, out),
        family,
        model,
        limits,
        input_capacitance,
        feedback_capacitance,
        output_capacitance,
        sources: all,
    })
}

/// Whether the polarity is that of a p-channel or pnp device.
fn turned_about(statement: &Statement, family: TransistorFamily, out: &mut Vec<Complaint>) -> Option<bool> {
    let known: [&str; 2] = if family == TransistorFamily::Bipolar { ["npn", "pnp"] } else { ["n", "p"] };
    let Some(property) = statement.property("polarity") else {
        missing(statement, &format!("`polarity={}` or `polarity={}`", known[0], known[1]), out);
        return None;
    };
    match &property.value.value {
        Scalar::Text(text) if text == known[0] => Some(false),
        Scalar::Text(text) if text == known[1] => Some(true),
        other => {
            let written = if let Scalar::Text(text) = other { text.as_str() } else { "this" };
            unknown(property.value.span, "polarity", written, &known, out);
            None
        }
    }
}

fn model(
    group: &Statement,
    family: TransistorFamily,
    turned: bool,
    out: &mut Vec<Complaint>,
) -> Option<TransistorModel> {
    if family == TransistorFamily::Bipolar {
        known_properties(group, &["is", "bf", "br", "va"], out);
        let [is, bf, br, va] = ["is", "bf", "br", "va"].map(|key| needed(group, key, out));
        return Some(TransistorModel::Bipolar(BipolarModel { is: is?, bf: bf?, br: br?, va: va?, pnp: turned }));
    }
    let junction = family == TransistorFamily::JunctionFet;
    let known: &[&str] = if junction { &["vto", "kp", "lambda", "is"] } else { &["vto", "kp", "lambda"] };
    known_properties(group, known, out);
    let vto = match group.property("vto").map(|property| &property.value.value) {
        Some(Scalar::Number(number)) if number.is_finite() => Some(*number),
        _ => {
            missing(group, "the key `vto`, a plain number of volts", out);
            None
        }
    };
    let [kp, lambda] = ["kp", "lambda"].map(|key| needed(group, key, out));
    let gate = if junction { Some(needed(group, "is", out)?) } else { None };
    Some(TransistorModel::FieldEffect(FieldEffectModel {
        vto: vto?,
        kp: kp?,
        lambda: lambda?,
        gate,
        p_channel: turned,
    }))
}
