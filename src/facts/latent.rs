//! Facts of capacitors that a drawing hides: how a stack shares its voltage, and what leaks into the grid behind a
//! coupling capacitor.

use crate::circuit::{CapacitorRole, Conduction, NetId};
use crate::design::{Capacitor, Kind, PartId};
use crate::units::Quantity;

use super::recorder::{Recorder, origin, sample};
use super::{Sample, State, SubjectId, Value};

/// Insulation resistance of a film, ceramic or mica coupling capacitor, Ω (common practice: makers promise more).
const SOUND_INSULATION: f64 = 10e9;

/// Insulation resistance of an old paper capacitor, Ω (common practice: what bench work finds in sets of sixty years).
const PAPER_INSULATION: f64 = 100e6;

/// Leakage of an electrolytic over capacitance times voltage, 1/s (makers' data sheets: 0.01·C·V, in µA with C in µF).
const ELECTROLYTIC_LEAKAGE: f64 = 0.01;

/// Whether a polarised capacitor is one of a stack, and what stands across it.
pub(super) fn in_series(
    recorder: &mut Recorder<'_>,
    subject: SubjectId,
    id: PartId,
    capacitor: &Capacitor,
    (plus, minus): (NetId, NetId),
) {
    if !capacitor.suffers_reversal() {
        return;
    }
    let study = recorder.study;
    let (circuit, span) = (study.circuit, study.design.part(id).name_span);
    let stacked = |joint: NetId, own_is_plus: bool| {
        let passive = |c: &Conduction| matches!(c, Conduction::Capacitive | Conduction::Resistive(_));
        let fellow = |part: PartId| {
            let end = if own_is_plus { "minus" } else { "plus" };
            matches!(&study.design.part(part).kind, Kind::Capacitor(other) if other.suffers_reversal())
                && part != id
                && circuit.net_of(part, end) == Some(joint)
        };
        !circuit.is_ground(joint)
            && circuit.links(joint).all(|link| passive(&link.conduction))
            && circuit.links(joint).any(|link| fellow(link.part))
    };
    recorder.flag(subject, "in-series", stacked(plus, true) || stacked(minus, false), span);
    let across = circuit.links(plus).filter(|link| link.other(plus) == minus);
    let siemens: f64 = across
        .filter_map(|link| match link.conduction {
            Conduction::Resistive(ohms) if ohms.base() > 0.0 => Some(1.0 / ohms.base()),
            _ => None,
        })
        .sum();
    if siemens > 0.0 {
        recorder.quantity(subject, "sharing-resistance", 1.0 / siemens, span, "what stands across it");
    }
}

/// What the leakage of a coupling capacitor lifts the grid behind it by.
pub(super) fn leakage_into_grid(
    recorder: &mut Recorder<'_>,
    subject: SubjectId,
    capacitor: &Capacitor,
    role: CapacitorRole,
    (from, to): (NetId, NetId),
) {
    if role != CapacitorRole::Coupling {
        return;
    }
    let study = recorder.study;
    let leak = |net: NetId| study.circuit.resistance_to(net, &study.roles.returns, &[]).map(|found| found.base());
    let grid_side = |net: &NetId| {
        study.roles.signal_island(*net).any(|net| study.circuit.links(net).any(|l| l.conduction == Conduction::Control))
    };
    let Some(ohms) = [to, from].into_iter().filter(grid_side).filter_map(leak).reduce(f64::max) else { return };
    let farads = capacitor.capacitance.value.base();
    let kind = capacitor.kind.as_ref().map_or("", |kind| kind.value.as_str());
    let (amperes_per_volt, words) = match kind {
        _ if capacitor.suffers_reversal() || kind == "electrolytic" => {
            (ELECTROLYTIC_LEAKAGE * farads, "leakage of an electrolytic taken as 0.01·C·V")
        }
        "paper-in-oil" => (1.0 / PAPER_INSULATION, "insulation of a paper capacitor taken as 100 MΩ"),
        _ => (1.0 / SOUND_INSULATION, "insulation taken as 10 GΩ"),
    };
    let running = study.solved.iter().filter(|solved| solved.state == State::Running);
    let samples = running.filter_map(|solved| {
        let steady = solved.steady.as_ref().ok()?;
        let volts = (solved.mean(steady, from)? - solved.mean(steady, to)?).abs();
        Some(sample(Some(State::Running), solved.lineup, Value::Quantity(volts * amperes_per_volt * ohms)))
    });
    let samples: Vec<Sample> = samples.collect();
    if samples.is_empty() {
        recorder.failure(subject, "grid-rise", "the voltage across it could not be computed");
        return;
    }
    let origins = vec![origin(capacitor.capacitance.span, "its capacitance")];
    recorder.samples_assuming(subject, "grid-rise", samples, origins, &[words.to_owned()]);
}
