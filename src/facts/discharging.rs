//! How the capacitors of a design run down once the mains is gone: with cold tubes, with hot ones, and with the resistor
//! open on which each of them relies most.

use crate::circuit::NetId;
use crate::design::{Kind, PartId};
use crate::physics::{Element, Network, discharge};
use crate::units::{Ohms, Quantity, Seconds, Volts};

use super::lowering::Lowered;
use super::recorder::{Recorder, origin};
use super::study::{Solved, Study};
use super::{State, SubjectId, Value};

/// The voltage down to which a supply is to discharge (rules.md of the project; NEC 460.6 uses the same).
pub(super) const DISCHARGED: Volts = Volts(50.0);

/// A day: what has not discharged by then is said never to.
pub(super) const HORIZON: Seconds = Seconds(86_400.0);

/// So many resistors are tried open, those that carry most of the discharge first.
const MOST_TRIALS: usize = 8;

/// A resistor that carries less than this share of what flows at first lengthens nothing noticeably.
const LEAST_SHARE: f64 = 0.01;

/// A resistor that has burnt open, Ω.
const OPEN: Ohms = Ohms(1e12);

/// A time that is longer by less than this share is no reason to name a resistor.
const NOTICEABLE: f64 = 1.05;

/// Two times whose ratio is less than this are alike.
const ALIKE: f64 = 1.001;

/// Times to 50 V by element; infinite for never.
type Times = Vec<f64>;

/// The discharge of a whole design from the higher of `switch-on` and `high-mains`.
pub(super) struct Decay {
    lowered: Lowered,
    cold: Times,
    hot: Option<(Lowered, Times)>,
    open: Vec<(PartId, Times)>,
}

impl Decay {
    /// `None` for a design without anything that charges a capacitor.
    pub(super) fn of(study: &Study<'_>) -> Option<Result<Self, String>> {
        let candidates = [State::SwitchOn, State::HighMains, State::Running];
        let charged = candidates
            .into_iter()
            .filter_map(|state| study.drawn(state))
            .max_by(|a, b| energy(study, a).total_cmp(&energy(study, b)))?;
        if charged.steady.is_err() {
            return Some(Err("the charged state could not be solved".to_owned()));
        }
        let lowered = study.switched_off(true);
        let initial = carried_over(study, charged, &lowered);
        let cold = match times(study, &lowered.network, &initial) {
            Ok(times) => longest(times, charged_warm(study, charged, &lowered)),
            Err(error) => return Some(Err(error)),
        };
        // For information only, and the dearest of all analyses: it is left out where `socket-empty` is.
        let hot = study.is_small().then(|| study.switched_off(false)).and_then(|still_hot| {
            let initial = carried_over(study, charged, &still_hot);
            times(study, &still_hot.network, &initial).ok().map(|times| (still_hot, times))
        });
        let open = resistors_by_current(study, &lowered, &initial)
            .into_iter()
            .filter_map(|(id, element)| {
                let mut network = lowered.network.clone();
                if let Some(Element::Resistor { resistance, .. }) = network.elements.get_mut(element) {
                    *resistance = OPEN;
                }
                Some((id, times(study, &network, &initial).ok()?))
            })
            .collect();
        Some(Ok(Self { lowered, cold, hot, open }))
    }

    /// The facts of one capacitor; `ends` are its nets.
    pub(super) fn record(&self, recorder: &mut Recorder<'_>, subject: SubjectId, id: PartId, ends: (NetId, NetId)) {
        let study = recorder.study;
        let design = study.design;
        let span = design.part(id).name_span;
        let Some(element) = self.lowered.element(id, "") else { return };
        let mut origins = vec![origin(span, "the capacitor")];
        if let Some(parts) = study.circuit.least_path(ends.0, ends.1) {
            let resistors = parts.iter().filter(|part| matches!(design.part(**part).kind, Kind::Resistor(_)));
            origins.extend(resistors.map(|part| origin(design.part(*part).name_span, "discharges through this")));
        }
        let Some(cold) = self.cold.get(element.0).copied() else { return };
        let off = State::SwitchedOff;
        recorder.in_state(subject, "discharge-time", off, Value::Quantity(cold), origins.clone());
        let hot = self.hot.as_ref().and_then(|(lowered, times)| times.get(lowered.element(id, "")?.0).copied());
        if let Some(seconds) = hot {
            recorder.in_state(subject, "discharge-time-hot", off, Value::Quantity(seconds), origins);
        }
        let worst = self
            .open
            .iter()
            .filter_map(|(resistor, times)| Some((*resistor, times.get(element.0).copied()?)))
            .filter(|(_, seconds)| *seconds > NOTICEABLE * cold)
            // Of two that matter alike, the one that carries more at first.
            .reduce(|worst, other| if other.1 > ALIKE * worst.1 { other } else { worst });
        let Some((resistor, seconds)) = worst else {
            recorder.word(subject, "discharge-resistor", "none", span);
            return;
        };
        let place = design.part(resistor).name_span;
        recorder.word(subject, "discharge-resistor", &design.part(resistor).name, place);
        let origins = vec![origin(place, "if this burns open")];
        recorder.in_state(subject, "discharge-time-if-open", off, Value::Quantity(seconds), origins);
    }
}

/// Times from `high-mains` where that is not the state of most energy: what only warm tubes charge, behind a cathode or a
/// plate, is empty in the other.
fn charged_warm(study: &Study<'_>, charged: &Solved, lowered: &Lowered) -> Option<Times> {
    let warm = study.drawn(State::HighMains).filter(|warm| warm.state != charged.state && warm.steady.is_ok())?;
    times(study, &lowered.network, &carried_over(study, warm, lowered)).ok()
}

fn longest(mut one: Times, other: Option<Times>) -> Times {
    for (time, other) in one.iter_mut().zip(other.into_iter().flatten()) {
        *time = time.max(other);
    }
    one
}

fn energy(study: &Study<'_>, solved: &Solved) -> f64 {
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
}

/// The voltages of the charged state at the nodes of another network of the same nets.
fn carried_over(study: &Study<'_>, charged: &Solved, lowered: &Lowered) -> Vec<f64> {
    let mut initial = vec![0.0; lowered.network.nodes];
    let Ok(steady) = &charged.steady else { return initial };
    for index in 0..study.circuit.nets.len() {
        let net = NetId(index);
        if let (Some(node), Some(from)) = (lowered.node(net), charged.lowered.node(net))
            && let Some(place) = initial.get_mut(node.0)
        {
            *place = steady.nodes.get(from.0).map_or(0.0, |swing| swing.mean);
        }
    }
    initial
}

fn times(study: &Study<'_>, network: &Network, initial: &[f64]) -> Result<Times, String> {
    let solve = || {
        let found = discharge(network, initial, DISCHARGED, HORIZON)
            .map_err(|error| format!("the discharge could not be solved: {error}"))?;
        Ok(found.times.into_iter().map(|time| time.map_or(f64::INFINITY, |seconds| seconds.0)).collect())
    };
    study.memory.recall(|memory| &memory.decays, || (network.clone(), initial.to_vec()), solve)
}

/// The resistors through which most of the charge leaves at first, with their elements.
fn resistors_by_current(study: &Study<'_>, lowered: &Lowered, initial: &[f64]) -> Vec<(PartId, usize)> {
    let mut found: Vec<(f64, PartId, usize)> = Vec::new();
    for (id, part) in study.design.ids() {
        let Kind::Resistor(_) = part.kind else { continue };
        let Some(element) = lowered.element(id, "") else { continue };
        if let Some(Element::Resistor { a, b, resistance }) = lowered.network.elements.get(element.0) {
            let at = |node: usize| initial.get(node).copied().unwrap_or(0.0);
            let volts = (at(a.0) - at(b.0)).abs();
            if volts > DISCHARGED.0 {
                found.push((volts / resistance.0.max(1e-3), id, element.0));
            }
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    let least = LEAST_SHARE * found.iter().map(|(amperes, ..)| amperes).sum::<f64>();
    found.retain(|(amperes, ..)| *amperes >= least);
    found.into_iter().take(MOST_TRIALS).map(|(_, id, element)| (id, element)).collect()
}
