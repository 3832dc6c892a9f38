//! Model keys of a catalogue entry: the very keys that `model` has in a design.

use crate::source::{Complaint, Scalar, Statement};

use super::fields::{known_properties, missing, unknown};
use super::{
    DiodeModel, PentodeForm, PentodeLaw, RegulatorModel, SectionKind, TriodeModel, TubeModel, VacuumDiodeModel,
};

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
    let keys = |known: &[&str], out: &mut Vec<Complaint>| known_properties(statement, known, out);
    Some(match kind {
        SectionKind::Triode => {
            keys(&["mu", "x", "kg1", "kp", "kvb", "rgi"], out);
            let [mu, x, kg1, kp, kvb] = ["mu", "x", "kg1", "kp", "kvb"].map(|key| needed(statement, key, out));
            let rgi = grid_resistance(statement, out);
            TubeModel::Triode(TriodeModel { mu: mu?, x: x?, kg1: kg1?, kp: kp?, kvb: kvb?, rgi })
        }
        SectionKind::Pentode => {
            let form = pentode_form(statement, out)?;
            keys(&[form.keys(), &["form", "rgi"]].concat(), out);
            let rgi = grid_resistance(statement, out);
            TubeModel::Pentode(PentodeLaw::read(form, rgi, |key| needed(statement, key, out))?)
        }
        SectionKind::Rectifier { .. } => {
            keys(&["k"], out);
            TubeModel::VacuumDiode(VacuumDiodeModel { k: needed(statement, "k", out)? })
        }
        SectionKind::Regulator => {
            keys(&["voltage", "resistance"], out);
            let [voltage, resistance] = ["voltage", "resistance"].map(|key| needed(statement, key, out));
            TubeModel::Regulator(RegulatorModel { voltage: voltage?, resistance: resistance? })
        }
    })
}

fn grid_resistance(statement: &Statement, out: &mut Vec<Complaint>) -> Option<f64> {
    number(statement, "rgi", out).filter(|ohms| *ohms > 0.0)
}

/// The form of a pentode's model; where none is named, Koren's.
fn pentode_form(statement: &Statement, out: &mut Vec<Complaint>) -> Option<PentodeForm> {
    let Some(property) = statement.property("form") else { return Some(PentodeForm::Koren) };
    let Scalar::Text(written) = &property.value.value else {
        out.push(Complaint::at(property.value.span, "the form of a model is a word", "a word is wanted"));
        return None;
    };
    let form = PentodeForm::of(written);
    if form.is_none() {
        unknown(property.value.span, "form of a pentode's model", written, &PentodeForm::WORDS, out);
    }
    form
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
