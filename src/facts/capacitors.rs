//! Facts of capacitors: voltages in every state, ripple current, energy, discharge.

use crate::circuit::{CapacitorRole, NetId};
use crate::design::{Capacitor, Kind, PartId};
use crate::units::Quantity;

use super::discharging::Decay;
use super::latent;
use super::recorder::{Recorder, origin, sample};
use super::study::Solved;
use super::switching::Followed;
use super::{State, SubjectId, SubjectKind, Value};

/// What the two analyses of a whole design have to say about its capacitors.
struct Whole<'w> {
    decay: Option<Result<Decay, String>>,
    surge: Option<&'w Followed>,
}

pub(super) fn record(recorder: &mut Recorder<'_>, surge: Option<&Followed>) {
    let whole = Whole { decay: Decay::of(recorder.study), surge };
    let study = recorder.study;
    for (id, part) in study.design.ids() {
        if let Kind::Capacitor(capacitor) = &part.kind {
            one(recorder, id, capacitor, &whole);
        }
    }
}

/// The two terminals of a capacitor, plus first.
pub(super) fn terminals(capacitor: &Capacitor) -> (&'static str, &'static str) {
    if capacitor.polarised { ("plus", "minus") } else { ("from", "to") }
}

fn one(recorder: &mut Recorder<'_>, id: PartId, capacitor: &Capacitor, whole: &Whole<'_>) {
    let study = recorder.study;
    let part = study.design.part(id);
    let name_span = part.name_span;
    let subject = recorder.subject(SubjectKind::Capacitor, &part.name, Some(id), name_span);
    recorder.quantity(
        subject,
        "capacitance",
        capacitor.capacitance.value.base(),
        capacitor.capacitance.span,
        "as stated",
    );
    recorder.flag(subject, "polarised", capacitor.suffers_reversal(), name_span);
    if let Some(rated) = &capacitor.voltage {
        recorder.quantity(subject, "rated-voltage", rated.value.base(), rated.span, "as stated");
    }
    if let Some(surge) = &capacitor.surge {
        recorder.quantity(subject, "rated-surge", surge.value.base(), surge.span, "as stated");
    } else if let Some(rated) = &capacitor.voltage
        && capacitor.kind.as_ref().is_some_and(|kind| kind.value == "electrolytic")
    {
        // IEC 60384-4: 1.15 × to 315 V, 1.10 × above.
        let factor = if rated.value.base() <= 315.0 { 1.15 } else { 1.10 };
        recorder.quantity(subject, "rated-surge", factor * rated.value.base(), rated.span, "IEC 60384-4");
    }
    if let Some(ripple) = &capacitor.ripple {
        recorder.quantity(subject, "rated-ripple", ripple.value.base(), ripple.span, "as stated");
    }
    match &capacitor.kind {
        Some(kind) => recorder.word(subject, "kind", &kind.value, kind.span),
        None => recorder.word(subject, "kind", if capacitor.polarised { "electrolytic" } else { "film" }, name_span),
    }
    if let Some(class) = &capacitor.class {
        recorder.word(subject, "class", &class.value, class.span);
    }
    let (plus, minus) = terminals(capacitor);
    let (Some(from), Some(to)) = (study.circuit.net_of(id, plus), study.circuit.net_of(id, minus)) else { return };
    let role = study.roles.capacitor(study.design, study.circuit, from, to);
    recorder.word(subject, "role", role.word(), name_span);
    recorder.flag(subject, "shorted", from == to, name_span);
    if matches!(role, CapacitorRole::AcrossMains | CapacitorRole::LineToEarth) {
        mains_voltage(recorder, subject, id, plus);
        if role == CapacitorRole::LineToEarth {
            leakage(recorder, subject, capacitor);
        }
        return;
    }
    let hot = if study.circuit.is_ground(from) { minus } else { plus };
    let origins = recorder.terminal_origin(id, hot);
    let farads = capacitor.capacitance.value.base();
    recorder.solved(subject, "peak-voltage", &origins, |solved, steady| {
        let swing = solved.swing(steady, id, "")?.voltage;
        fixed(solved, steady, from, to)?;
        Some(swing.maximum.abs().max(swing.minimum.abs()))
    });
    recorder.solved(subject, "working-voltage", &origins, |solved, steady| {
        fixed(solved, steady, from, to)?;
        Some(solved.swing(steady, id, "")?.voltage.mean)
    });
    if capacitor.suffers_reversal() {
        recorder.solved(subject, "reverse-voltage", &origins, |solved, steady| {
            fixed(solved, steady, from, to)?;
            Some((-solved.swing(steady, id, "")?.voltage.minimum).max(0.0))
        });
    }
    recorder
        .solved(subject, "ripple-current", &origins, |solved, steady| Some(solved.swing(steady, id, "")?.current.rms));
    recorder.solved(subject, "stored-energy", &origins, |solved, steady| {
        let swing = solved.swing(steady, id, "")?.voltage;
        fixed(solved, steady, from, to)?;
        let peak = swing.maximum.abs().max(swing.minimum.abs());
        Some(0.5 * farads * peak * peak)
    });
    if matches!(role, CapacitorRole::Reservoir | CapacitorRole::Decoupling) {
        let crest = super::supply::no_load_crest(study, &[from, to]);
        if let Some(volts) = crest {
            let value = Value::Quantity(volts);
            recorder.in_state(subject, "no-load-peak", State::SwitchOn, value, origins.clone());
        }
    }
    let floats = study
        .drawn(State::Running)
        .is_some_and(|solved| solved.steady.as_ref().is_ok_and(|steady| fixed(solved, steady, from, to).is_none()));
    if floats {
        for fact in ["peak-voltage", "working-voltage", "stored-energy"] {
            recorder.failure(subject, fact, "nothing fixes the potential at one of its ends");
        }
    }
    latent::in_series(recorder, subject, id, capacitor, (from, to));
    latent::leakage_into_grid(recorder, subject, capacitor, role, (from, to));
    surge_voltage(recorder, subject, id, whole.surge, &origins);
    discharge_facts(recorder, subject, id, (from, to), whole.decay.as_ref());
}

/// `Some` where the potentials at both ends are fixed, or both float together.
fn fixed(solved: &Solved, steady: &crate::physics::SteadyState, from: NetId, to: NetId) -> Option<()> {
    solved.mean(steady, from)?;
    solved.mean(steady, to)?;
    Some(())
}

/// 2πfCV at high mains: what flows to earth while everything is sound.
fn leakage(recorder: &mut Recorder<'_>, subject: SubjectId, capacitor: &Capacitor) {
    let study = recorder.study;
    let Some(mains) = &study.design.mains else {
        recorder.failure(subject, "leakage-current", "no mains is stated");
        return;
    };
    let volts = mains.voltage.value.base() * (1.0 + mains.tolerance.base());
    let turns = 2.0 * std::f64::consts::PI * mains.frequency.value.base();
    let amperes = turns * capacitor.capacitance.value.base() * volts;
    let origins = vec![origin(capacitor.capacitance.span, "its capacitance"), origin(mains.span, "the mains")];
    let samples = vec![sample(Some(State::HighMains), 0, Value::Quantity(amperes))];
    recorder.samples(subject, "leakage-current", samples, origins);
}

fn mains_voltage(recorder: &mut Recorder<'_>, subject: SubjectId, id: PartId, terminal: &str) {
    let study = recorder.study;
    let Some(mains) = &study.design.mains else {
        recorder.failure(subject, "peak-voltage", "no mains is stated");
        return;
    };
    let (volts, tolerance) = (mains.voltage.value.base(), mains.tolerance.base());
    let crest = |share: f64| Value::Quantity(volts * share * std::f64::consts::SQRT_2);
    let samples = vec![
        sample(Some(State::Running), 0, crest(1.0)),
        sample(Some(State::HighMains), 0, crest(1.0 + tolerance)),
        sample(Some(State::LowMains), 0, crest(1.0 - tolerance)),
    ];
    let mut origins = recorder.terminal_origin(id, terminal);
    origins.push(origin(mains.span, "the mains"));
    recorder.samples(subject, "peak-voltage", samples, origins);
}

fn surge_voltage(
    recorder: &mut Recorder<'_>,
    subject: SubjectId,
    id: PartId,
    surge: Option<&Followed>,
    origins: &[super::Origin],
) {
    let Some(solved) = recorder.study.drawn(State::SwitchOn) else { return };
    let crest = match surge {
        // A bench supply is there at once: what it charges rings with nothing.
        None => None,
        Some(Err(reason)) => {
            recorder.failure(subject, "surge-voltage", reason);
            return;
        }
        Some(Ok(surge)) => match surge.voltage(solved, id) {
            None => return,
            found => found,
        },
    };
    let Ok(steady) = &solved.steady else { return };
    let Some(swing) = solved.swing(steady, id, "") else { return };
    let settled = swing.voltage.maximum.abs().max(swing.voltage.minimum.abs());
    let (volts, seconds) = crest.filter(|(volts, _)| *volts > settled).unwrap_or((settled, 0.0));
    recorder.in_state(subject, "surge-voltage", State::SwitchOn, Value::Quantity(volts), origins.to_vec());
    recorder.in_state(subject, "surge-time", State::SwitchOn, Value::Quantity(seconds), origins.to_vec());
}

fn discharge_facts(
    recorder: &mut Recorder<'_>,
    subject: SubjectId,
    id: PartId,
    ends: (NetId, NetId),
    decay: Option<&Result<Decay, String>>,
) {
    let study = recorder.study;
    let design = study.design;
    let path = study
        .circuit
        .least_path(ends.0, ends.1)
        .map(|parts| parts.iter().map(|part| design.part(*part).name.as_str()).collect::<Vec<_>>().join(", "));
    let span = design.part(id).name_span;
    recorder.word(subject, "discharge-path", path.as_deref().unwrap_or("none"), span);
    match decay {
        None => {}
        Some(Err(reason)) => recorder.failure(subject, "discharge-time", reason),
        Some(Ok(decay)) => decay.record(recorder, subject, id, ends),
    }
}
