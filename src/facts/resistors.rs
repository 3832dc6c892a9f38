//! Facts of resistors, potentiometers, diodes and current sources: power and voltage in every state.

use crate::circuit::{NetId, ResistorRole};
use crate::design::{Diode, DiodeKind, Kind, PartId, Potentiometer, Resistor};
use crate::physics::{SteadyState, Swing};
use crate::units::{Quantity, Watts, nearest_sold};

use super::recorder::{Recorder, origin};
use super::study::{Solved, Study};
use super::{SubjectKind, Value};

/// Tolerance of a resistor that states none (common practice).
const TOLERANCE: f64 = 0.05;

pub(super) fn record(recorder: &mut Recorder<'_>) {
    let study = recorder.study;
    for (id, part) in study.design.ids() {
        match &part.kind {
            Kind::Resistor(resistor) => one_resistor(recorder, id, resistor),
            Kind::Potentiometer(pot) => one_potentiometer(recorder, id, pot),
            Kind::Diode(diode) if !study.roles.rectifiers.contains(&id) => one_diode(recorder, id, diode),
            Kind::CurrentSource(source) => {
                let subject = recorder.subject(SubjectKind::CurrentSource, &part.name, Some(id), part.name_span);
                if let Some(rated) = &source.voltage {
                    recorder.quantity(subject, "rated-voltage", rated.value.base(), rated.span, "as stated");
                }
                if let Some(rated) = &source.power {
                    recorder.quantity(subject, "rated-power", rated.value.base(), rated.span, "as stated");
                }
                let origins = vec![origin(source.current.span, "its current")];
                recorder.solved(subject, "dissipation", &origins, |solved, steady| {
                    let swing = solved.swing(steady, id, "")?;
                    Some((swing.current.mean * swing.voltage.mean).max(0.0))
                });
                recorder.solved(subject, "voltage-across", &origins, |solved, steady| crest(solved, steady, id, ""));
                shorted(recorder, subject, id, "from", "to");
            }
            _ => {}
        }
    }
}

/// Largest voltage across a part in either direction.
fn crest(solved: &Solved, steady: &SteadyState, id: PartId, way: &str) -> Option<f64> {
    let swing = solved.swing(steady, id, way)?.voltage;
    Some(swing.maximum.abs().max(swing.minimum.abs()))
}

pub(super) fn shorted(recorder: &mut Recorder<'_>, subject: super::SubjectId, id: PartId, from: &str, to: &str) {
    let circuit = recorder.study.circuit;
    if let (Some(a), Some(b)) = (circuit.net_of(id, from), circuit.net_of(id, to)) {
        let span = recorder.study.design.part(id).name_span;
        recorder.flag(subject, "shorted", a == b, span);
    }
}

/// Alternating voltage, rms, between two nets that a heater winding puts there and that the steady state does not hold.
fn heater_hum(study: &Study<'_>, solved: &Solved, steady: Swing, ends: (NetId, NetId)) -> f64 {
    let Some(heaters) = study.heaters(solved.lineup, solved.state, solved.empty) else { return 0.0 };
    let at = |net: NetId| heaters.nets.get(net.0).copied().unwrap_or(0.0);
    let rms = (at(ends.0) - at(ends.1)).abs();
    // A winding that is in the steady state itself, as one that a rectifier hangs on is, must not count twice.
    let alternating = (steady.rms * steady.rms - steady.mean * steady.mean).max(0.0).sqrt();
    if alternating > rms / 2.0 { 0.0 } else { rms }
}

fn one_resistor(recorder: &mut Recorder<'_>, id: PartId, resistor: &Resistor) {
    let study = recorder.study;
    let part = study.design.part(id);
    let subject = recorder.subject(SubjectKind::Resistor, &part.name, Some(id), part.name_span);
    let ohms = resistor.resistance.value.base();
    let value_span = resistor.resistance.span;
    recorder.quantity(subject, "resistance", ohms, value_span, "as stated");
    let tolerance = resistor.tolerance.as_ref().map_or(TOLERANCE, |t| t.value.base());
    recorder.quantity(subject, "tolerance", tolerance, value_span, "as stated, or 5 %");
    let preferred = nearest_sold(ohms, tolerance);
    recorder.quantity(subject, "value-in-series", preferred, value_span, "IEC 60063");
    if let Some(kind) = &resistor.kind {
        recorder.word(subject, "kind", &kind.value, kind.span);
    }
    if let Some(power) = &resistor.power {
        recorder.quantity(subject, "rated-power", power.value.base(), power.span, "as stated");
    }
    if let Some(voltage) = &resistor.voltage {
        recorder.quantity(subject, "rated-voltage", voltage.value.base(), voltage.span, "as stated");
    } else if let (Some(kind), Some(power)) = (&resistor.kind, &resistor.power)
        && let Some(limit) = study.devices.element_voltage(&kind.value, Watts(power.value.base()))
    {
        recorder.quantity(subject, "rated-voltage", limit.base(), power.span, "limiting element voltage of its size");
    }
    shorted(recorder, subject, id, "from", "to");
    let (Some(from), Some(to)) = (study.circuit.net_of(id, "from"), study.circuit.net_of(id, "to")) else { return };
    let role = study.roles.resistor(study.design, study.circuit, id, from, to);
    recorder.word(subject, "role", role.word(), part.name_span);
    recorder.flag(subject, "bleeds", role == ResistorRole::Bleeder, part.name_span);
    if [from, to].iter().any(|net| study.roles.mains_side.contains(net)) {
        return;
    }
    let origins = vec![origin(value_span, "its resistance")];
    recorder.solved(subject, "dissipation", &origins, |solved, steady| {
        let swing = solved.swing(steady, id, "")?.voltage;
        let hum = heater_hum(study, solved, swing, (from, to));
        Some((swing.rms * swing.rms + hum * hum) / ohms)
    });
    recorder.solved(subject, "voltage-across", &origins, |solved, steady| {
        let hum = heater_hum(study, solved, solved.swing(steady, id, "")?.voltage, (from, to));
        Some(crest(solved, steady, id, "")? + hum * std::f64::consts::SQRT_2)
    });
}

fn one_potentiometer(recorder: &mut Recorder<'_>, id: PartId, pot: &Potentiometer) {
    let study = recorder.study;
    let part = study.design.part(id);
    let subject = recorder.subject(SubjectKind::Potentiometer, &part.name, Some(id), part.name_span);
    let span = pot.resistance.span;
    recorder.quantity(subject, "resistance", pot.resistance.value.base(), span, "as stated");
    if let Some(power) = &pot.power {
        recorder.quantity(subject, "rated-power", power.value.base(), power.span, "as stated");
    }
    let origins = recorder.terminal_origin(id, "top");
    let ends = (study.circuit.net_of(id, "top"), study.circuit.net_of(id, "bottom"));
    let wiper = study.circuit.net_of(id, "wiper");
    recorder.solved(subject, "direct-voltage", &origins, |solved, steady| {
        let at = |net| solved.mean(steady, net);
        match (ends, wiper) {
            ((Some(top), Some(bottom)), _) => Some(at(top)? - at(bottom)?),
            ((Some(end), None) | (None, Some(end)), Some(wiper)) => Some(at(end)? - at(wiper)?),
            _ => None,
        }
    });
    recorder.solved(subject, "dissipation", &origins, |solved, steady| {
        let (upper, lower) = pot.tracks();
        let whole = pot.resistance.value.base();
        let track = |way: &str, ohms: f64| {
            let swing = solved.swing(steady, id, way)?;
            Some(if ohms > 0.0 { swing.voltage.rms.powi(2) / ohms } else { 0.0 })
        };
        let first = track("upper", if wiper.is_some() { upper.base() } else { whole })?;
        Some(first + track("lower", lower.base()).unwrap_or(0.0))
    });
    recorder.word(subject, "role", "other", part.name_span);
    let track: Vec<NetId> = [ends.0, wiper, ends.1].into_iter().flatten().collect();
    let signal = track.iter().any(|net| study.roles.carries_signal(study.design, study.circuit, *net));
    recorder.flag(subject, "carries-signal", signal, part.name_span);
}

fn one_diode(recorder: &mut Recorder<'_>, id: PartId, diode: &Diode) {
    let study = recorder.study;
    let part = study.design.part(id);
    let subject = recorder.subject(SubjectKind::Diode, &part.name, Some(id), part.name_span);
    let word = match diode.kind {
        DiodeKind::Plain(_) => "silicon",
        DiodeKind::Zener(_) => "zener",
        DiodeKind::Led(_) => "led",
    };
    recorder.word(subject, "kind", word, part.name_span);
    if let Some(power) = &diode.power {
        recorder.quantity(subject, "rated-power", power.value.base(), power.span, "as stated");
    }
    let published = match &diode.kind {
        DiodeKind::Led(colour) => study.devices.led(&colour.value).and_then(|led| led.direct_current),
        DiodeKind::Plain(name) => study.devices.diode(&name.value).and_then(|entry| entry.direct_current),
        DiodeKind::Zener(_) => None,
    };
    match (&diode.current, published) {
        (Some(stated), _) => {
            recorder.stated(subject, "rated-current", Value::Quantity(stated.value.base()), stated.span, "as stated");
        }
        (None, Some(limit)) => recorder.quantity(subject, "rated-current", limit.base(), part.name_span, "catalogue"),
        (None, None) => {}
    }
    let origins = recorder.terminal_origin(id, "anode");
    recorder.solved(subject, "dissipation", &origins, |solved, steady| {
        let swing = solved.swing(steady, id, "")?;
        Some((swing.current.mean * swing.voltage.mean).abs())
    });
    recorder.solved(subject, "voltage-across", &origins, |solved, steady| crest(solved, steady, id, ""));
    recorder.solved(subject, "reverse-voltage", &origins, |solved, steady| {
        Some((-solved.swing(steady, id, "")?.voltage.minimum).max(0.0))
    });
    recorder.solved(subject, "forward-current", &origins, |solved, steady| {
        Some(solved.swing(steady, id, "")?.current.mean)
    });
    shorted(recorder, subject, id, "anode", "cathode");
}
