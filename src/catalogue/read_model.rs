//! Model keys of a catalogue entry: the very keys that `model` has in a design.

use crate::source::{Complaint, Scalar, Statement};

use super::fields::{known_properties, missing, unknown};
use super::{DiodeModel, PentodeModel, RegulatorModel, SectionKind, TriodeModel, TubeModel, VacuumDiodeModel};

/// The kinds of section that a catalogue can describe, as they are written.
pub(super) const SECTION_KINDS: [&str; 4] = ["triode", "pentode", "rectifier", "regulator"];

fn number(statement: &Statement, key: &str, out: &mut Vec<Complaint>) -> Option<f64> {
    let value = &statement.property(key)?.value;
    match value.value {
        Scalar::Number(number) if number.is_finite() && number >= 0.0 => Some(number),
        _ => {
            out.push(Complaint::at(
                value.span,
                format!("the model key `{key}` is a plain number, zero or above"),
                "a number is wanted",
            ));
            None
        }
    }
}

pub(super) fn needed(statement: &Statement, key: &str, out: &mut Vec<Complaint>) -> Option<f64> {
    if statement.property(key).is_none() {
        missing(statement, &format!("the key `{key}`"), out);
        return None;
    }
    let value = number(statement, key, out)?;
    // Every key but a knee or a series resistance divides something somewhere.
    if value == 0.0 && !matches!(key, "kvb" | "rs") {
        out.push(Complaint::at(statement.span, format!("the model key `{key}` is above zero"), "zero"));
        return None;
    }
    Some(value)
}

/// The model of a tube section of the given kind.
pub(super) fn tube_model(statement: &Statement, kind: SectionKind, out: &mut Vec<Complaint>) -> Option<TubeModel> {
    let known: &[&str] = match kind {
        SectionKind::Triode => &["mu", "x", "kg1", "kp", "kvb", "rgi"],
        SectionKind::Pentode => &["mu", "x", "kg1", "kg2", "kp", "kvb", "rgi"],
        SectionKind::Rectifier { .. } => &["k"],
        SectionKind::Regulator => &["voltage", "resistance"],
    };
    known_properties(statement, known, out);
    let [mu, x, kg1, kg2, kp, kvb, k, voltage, resistance] =
        ["mu", "x", "kg1", "kg2", "kp", "kvb", "k", "voltage", "resistance"]
            .map(|key| known.contains(&key).then(|| needed(statement, key, out)).flatten());
    let rgi = number(statement, "rgi", out).filter(|ohms| *ohms > 0.0);
    Some(match kind {
        SectionKind::Triode => TubeModel::Triode(TriodeModel { mu: mu?, x: x?, kg1: kg1?, kp: kp?, kvb: kvb?, rgi }),
        SectionKind::Pentode => {
            TubeModel::Pentode(PentodeModel { mu: mu?, x: x?, kg1: kg1?, kg2: kg2?, kp: kp?, kvb: kvb?, rgi })
        }
        SectionKind::Rectifier { .. } => TubeModel::VacuumDiode(VacuumDiodeModel { k: k? }),
        SectionKind::Regulator => TubeModel::Regulator(RegulatorModel { voltage: voltage?, resistance: resistance? }),
    })
}

/// The model of a junction.
pub(super) fn junction_model(statement: &Statement, out: &mut Vec<Complaint>) -> Option<DiodeModel> {
    known_properties(statement, &["is", "n", "rs"], out);
    let [is, n, rs] = ["is", "n", "rs"].map(|key| needed(statement, key, out));
    Some(DiodeModel { is: is?, n: n?, rs: rs?, breakdown: None })
}

/// The kind of a section from its word and its `plates` key.
pub(super) fn section_kind(statement: &Statement, written: &str, out: &mut Vec<Complaint>) -> Option<SectionKind> {
    match written {
        "triode" => Some(SectionKind::Triode),
        "pentode" => Some(SectionKind::Pentode),
        "regulator" => Some(SectionKind::Regulator),
        "rectifier" => match statement.property("plates").map(|p| &p.value.value) {
            Some(Scalar::Number(1.0)) => Some(SectionKind::Rectifier { plates: 1 }),
            Some(Scalar::Number(2.0)) => Some(SectionKind::Rectifier { plates: 2 }),
            _ => {
                missing(statement, "`plates=1` or `plates=2`", out);
                None
            }
        },
        other => {
            let span = statement.argument(0).map_or(statement.name.span, |a| a.span);
            unknown(span, "kind of section", other, &SECTION_KINDS, out);
            None
        }
    }
}
