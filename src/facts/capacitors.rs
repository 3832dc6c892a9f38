//! Facts of capacitors: voltages in every state, ripple current, energy, discharge.

use crate::circuit::{CapacitorRole, NetId};
use crate::design::{Capacitor, Kind, PartId};
use crate::physics::{Crest, Discharge, SwitchOn, discharge, transient};
use crate::units::{Quantity, Seconds, Volts};

use super::recorder::{Recorder, origin, sample};
use super::study::{Solved, Study};
use super::{State, SubjectId, SubjectKind, Value};

/// The voltage down to which a supply is to discharge (rules.md of the project; NEC 460.6 uses the same).
const DISCHARGED: Volts = Volts(50.0);

/// A day: what has not discharged by then is said never to.
const HORIZON: Seconds = Seconds(86_400.0);

/// How long a switch-on is followed: several periods of the slowest ring of a choke with its capacitor.
const FOLLOWED: Seconds = Seconds(1.0);

/// What the two analyses of a whole design have to say about its capacitors.
struct Whole {
    decay: Option<Result<Decay, String>>,
    surge: Option<Result<Vec<Vec<Crest>>, String>>,
}

pub(super) fn record(recorder: &mut Recorder<'_>) {
    let whole = Whole { decay: Decay::of(recorder.study), surge: surges(recorder.study) };
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

fn one(recorder: &mut Recorder<'_>, id: PartId, capacitor: &Capacitor, whole: &Whole) {
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
    recorder.flag(subject, "polarised", capacitor.polarised, name_span);
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
    if capacitor.polarised {
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
    surge_voltage(recorder, subject, id, whole.surge.as_ref(), &origins);
    discharge_facts(recorder, subject, id, (from, to), whole.decay.as_ref());
}

/// `Some` where the potentials at both ends are fixed, or both float together.
fn fixed(solved: &Solved, steady: &crate::physics::SteadyState, from: NetId, to: NetId) -> Option<()> {
    solved.mean(steady, from)?;
    solved.mean(steady, to)?;
    Some(())
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

/// The switch-on from zero charge at high mains with cold tubes, at the two extreme instants of the mains.
fn surges(study: &Study<'_>) -> Option<Result<Vec<Vec<Crest>>, String>> {
    if !study.design.parts.iter().any(|part| matches!(part.kind, Kind::Transformer(_))) {
        return None;
    }
    let solved = study.drawn(State::SwitchOn)?;
    let follow = |angle: f64| {
        let switch_on = SwitchOn { frequency: study.mains.frequency, angle, duration: FOLLOWED };
        transient(&solved.lowered.network, switch_on).map(|found| found.elements)
    };
    let both = [0.0, std::f64::consts::FRAC_PI_2].into_iter().map(follow).collect::<Result<Vec<_>, _>>();
    Some(both.map_err(|error| format!("the switch-on could not be followed: {error}")))
}

fn surge_voltage(
    recorder: &mut Recorder<'_>,
    subject: SubjectId,
    id: PartId,
    surge: Option<&Result<Vec<Vec<Crest>>, String>>,
    origins: &[super::Origin],
) {
    let study = recorder.study;
    let Some(solved) = study.drawn(State::SwitchOn) else { return };
    let crests = match surge {
        // A bench supply is there at once: what it charges rings with nothing.
        None => Vec::new(),
        Some(Err(reason)) => {
            recorder.failure(subject, "surge-voltage", reason);
            return;
        }
        Some(Ok(all)) => {
            let Some(element) = solved.lowered.element(id, "") else { return };
            all.iter().filter_map(|elements| elements.get(element.0)).copied().collect()
        }
    };
    let Ok(steady) = &solved.steady else { return };
    let Some(swing) = solved.swing(steady, id, "") else { return };
    let settled = swing.voltage.maximum.abs().max(swing.voltage.minimum.abs());
    let crest = crests.iter().map(|crest| crest.maximum.abs().max(crest.minimum.abs())).fold(settled, f64::max);
    recorder.in_state(subject, "surge-voltage", State::SwitchOn, Value::Quantity(crest), origins.to_vec());
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
        Some(Ok(decay)) => {
            let mut origins = vec![origin(span, "the capacitor")];
            if let Some(parts) = study.circuit.least_path(ends.0, ends.1) {
                let resistors = parts.iter().filter(|part| matches!(design.part(**part).kind, Kind::Resistor(_)));
                origins.extend(resistors.map(|part| origin(design.part(*part).name_span, "discharges through this")));
            }
            let Some(element) = decay.element(id) else { return };
            let seconds = decay.discharge.times.get(element).copied().flatten().map_or(f64::INFINITY, |t| t.base());
            recorder.in_state(subject, "discharge-time", State::SwitchedOff, Value::Quantity(seconds), origins);
        }
    }
}

/// The discharge of the whole design from the higher of `switch-on` and `high-mains`.
struct Decay {
    lowered: super::lowering::Lowered,
    discharge: Discharge,
}

impl Decay {
    /// `None` for a design without anything that charges a capacitor.
    fn of(study: &Study<'_>) -> Option<Result<Self, String>> {
        let energy = |solved: &Solved| {
            let Ok(steady) = &solved.steady else { return f64::NEG_INFINITY };
            let mut joules = 0.0;
            for (id, part) in study.design.ids() {
                if let Kind::Capacitor(capacitor) = &part.kind
                    && let Some(swing) = solved.swing(steady, id, "")
                {
                    joules += 0.5 * capacitor.capacitance.value.base() * swing.voltage.mean.powi(2);
                }
            }
            joules
        };
        let candidates = [State::SwitchOn, State::HighMains, State::Running];
        let charged = candidates
            .into_iter()
            .filter_map(|state| study.drawn(state))
            .max_by(|a, b| energy(a).total_cmp(&energy(b)))?;
        let Ok(steady) = &charged.steady else {
            return Some(Err("the charged state could not be solved".to_owned()));
        };
        let lowered = study.switched_off();
        let mut initial = vec![0.0; lowered.network.nodes];
        for index in 0..study.circuit.nets.len() {
            let net = NetId(index);
            if let (Some(node), Some(from)) = (lowered.node(net), charged.lowered.node(net)) {
                let volts = steady.nodes.get(from.0).map_or(0.0, |swing| swing.mean);
                if let Some(place) = initial.get_mut(node.0) {
                    *place = volts;
                }
            }
        }
        Some(match discharge(&lowered.network, &initial, DISCHARGED, HORIZON) {
            Ok(discharge) => Ok(Self { lowered, discharge }),
            Err(error) => Err(format!("the discharge could not be solved: {error}")),
        })
    }

    fn element(&self, id: PartId) -> Option<usize> {
        self.lowered.element(id, "").map(|element| element.0)
    }
}
