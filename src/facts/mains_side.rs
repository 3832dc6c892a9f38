//! What stands on the mains side besides fuse, switch and primary: the power of resistors, and how capacitors empty
//! themselves once the plug is out.
//!
//! The mains side is a network of its own, the neutral its reference. The building ties the protective earth to it.
//! Knows nothing of what lies behind the transformers but the current that they draw.

use std::collections::HashMap;
use std::f64::consts::SQRT_2;

use crate::circuit::{CapacitorRole, NetId};
use crate::design::{Capacitor, Kind, Part, PartId};
use crate::physics::{
    Drive, Element, ElementId, Linear, Network, NodeId, SolveError, discharge, linearise, operating_point,
};
use crate::units::{Ohms, Quantity, Volts};

use super::discharging::{DISCHARGED, HORIZON};
use super::mains::primary_current;
use super::recorder::{Recorder, origin, sample};
use super::study::Study;
use super::{State, SubjectId, SubjectKind, Value};

/// A primary that states no resistance, as a capacitor empties through it (an estimate for a small transformer).
const PRIMARY: f64 = 100.0;

/// What may stand on a plug's pins some seconds after it is pulled (IEC 62368-1, table 4: 60 V direct).
const TOUCHABLE: Volts = Volts(60.0);

const PLUGGED: [State; 3] = [State::Running, State::HighMains, State::LowMains];

pub(super) fn record(recorder: &mut Recorder<'_>) {
    plugged_and_unplugged(recorder);
    let study = recorder.study;
    for (id, part) in study.design.ids() {
        let Kind::Capacitor(capacitor) = &part.kind else { continue };
        let Some(subject) = recorder.find(SubjectKind::Capacitor, &part.name) else { continue };
        let told = recorder.table.entry(subject, "mains-discharge-time").is_some();
        if !told && across_mains(study, id, capacitor) {
            let reason =
                "the mains side could not be solved: it wants a stated mains and an inlet with live and neutral";
            recorder.failure(subject, "mains-discharge-time", reason);
        }
    }
}

fn plugged_and_unplugged(recorder: &mut Recorder<'_>) {
    let study = recorder.study;
    let Some(mains) = &study.design.mains else { return };
    let Some(side) = Side::of(study) else { return };
    let nominal = mains.voltage.value.base();
    let volts = |state: State| nominal * study.mains.at(state) / study.mains.nominal;
    let (plugged, unplugged) = (side.network(study, true), side.network(study, false));
    let driven = plugged.as_ref().and_then(Plugged::linear);
    for (id, part) in study.design.ids() {
        let Some((a, b)) = side.ends(study, id, part) else { continue };
        let across = |linear: &Linear, source| {
            let ratio = linear.transfer(Drive::Within(source), (a, b), study.mains.frequency).ok()?;
            Some(ratio.norm()).filter(|ratio| ratio.is_finite())
        };
        let share = driven.as_ref().and_then(|(linear, source)| across(linear, *source));
        match (&part.kind, share) {
            (Kind::Resistor(resistor), Some(share)) => {
                let Some(subject) = recorder.find(SubjectKind::Resistor, &part.name) else { continue };
                let ohms = resistor.resistance.value.base();
                let crest = |state| share * volts(state) * SQRT_2;
                put(recorder, subject, "voltage-across", crest);
                put(recorder, subject, "dissipation", |state| (share * volts(state)).powi(2) / ohms);
            }
            (Kind::Capacitor(capacitor), share) => {
                let Some(subject) = recorder.find(SubjectKind::Capacitor, &part.name) else { continue };
                let farads = capacitor.capacitance.value.base();
                if let Some(share) = share {
                    put(recorder, subject, "stored-energy", |state| farads * (share * volts(state)).powi(2));
                }
                let Some((network, element)) = unplugged.as_ref().and_then(|side| side.with(id)) else { continue };
                let crest = SQRT_2 * volts(State::HighMains);
                let mut empties = |fact, down_to| {
                    let found = time_to(network, element, down_to, crest);
                    put_time(recorder, (subject, fact), capacitor, found);
                };
                empties("discharge-time", DISCHARGED);
                if across_mains(study, id, capacitor) {
                    empties("mains-discharge-time", TOUCHABLE);
                }
            }
            _ => {}
        }
    }
}

/// Whether a capacitor stands on the mains side with both ends, so that it lies behind the pins of the plug.
fn across_mains(study: &Study<'_>, id: PartId, capacitor: &Capacitor) -> bool {
    let (from, to) = super::capacitors::terminals(capacitor);
    let ends = (study.circuit.net_of(id, from), study.circuit.net_of(id, to));
    let (Some(from), Some(to)) = ends else { return false };
    study.roles.capacitor(study.design, study.circuit, from, to) == CapacitorRole::AcrossMains
}

fn put(recorder: &mut Recorder<'_>, subject: SubjectId, fact: &str, value: impl Fn(State) -> f64) {
    let samples = PLUGGED.map(|state| sample(Some(state), 0, Value::Quantity(value(state))));
    let span = recorder.study.design.mains.as_ref().map_or(recorder.study.design.title.span, |mains| mains.span);
    recorder.samples(subject, fact, samples.to_vec(), vec![origin(span, "the mains")]);
}

/// The time in which a capacitor falls to a voltage from the crest of the mains, s; infinite for never.
fn time_to(network: &Network, element: ElementId, down_to: Volts, crest: f64) -> Result<f64, SolveError> {
    let initial: Vec<f64> = (0..network.nodes).map(|node| if node == 0 { 0.0 } else { crest }).collect();
    let found = discharge(network, &initial, down_to, HORIZON)?;
    Ok(found.times.get(element.0).copied().flatten().map_or(f64::INFINITY, |seconds| seconds.0))
}

fn put_time(
    recorder: &mut Recorder<'_>,
    (subject, fact): (SubjectId, &str),
    capacitor: &Capacitor,
    found: Result<f64, SolveError>,
) {
    match found {
        Ok(seconds) => {
            let mut origins = vec![origin(capacitor.capacitance.span, "its capacitance")];
            origins.extend(recorder.study.design.mains.iter().map(|mains| origin(mains.span, "the mains")));
            recorder.in_state(subject, fact, State::SwitchedOff, Value::Quantity(seconds), origins);
        }
        Err(error) => {
            recorder.failure(subject, fact, &format!("the discharge could not be solved: {error}"));
        }
    }
}

/// The nets of the mains side as nodes: neutral and earth are the reference.
struct Side {
    live: NodeId,
    nodes: HashMap<NetId, NodeId>,
}

/// The mains side in one condition.
struct Plugged {
    network: Network,
    elements: HashMap<PartId, ElementId>,
    source: Option<ElementId>,
}

impl Side {
    fn of(study: &Study<'_>) -> Option<Self> {
        let (inlet, _) = study.design.ids().find(|(_, part)| matches!(part.kind, Kind::Inlet(_)))?;
        let neutral = study.circuit.net_of(inlet, "neutral")?;
        let mut nodes: HashMap<NetId, NodeId> = HashMap::new();
        let earthed = ["earth", "chassis", "ground"].into_iter().filter_map(|name| study.circuit.named(name));
        nodes.extend(earthed.chain([neutral]).map(|net| (net, NodeId::GROUND)));
        for net in &study.roles.mains_side {
            let next = NodeId(nodes.values().map(|node| node.0).max().unwrap_or(0) + 1);
            nodes.entry(*net).or_insert(next);
        }
        let live = *nodes.get(&study.circuit.net_of(inlet, "live")?)?;
        Some(Self { live, nodes })
    }

    /// The nodes of a part with two ends of which one at least is on the mains side.
    fn ends(&self, study: &Study<'_>, id: PartId, part: &Part) -> Option<(NodeId, NodeId)> {
        let (from, to) = match &part.kind {
            Kind::Transformer(_) => ("primary.start", "primary.finish"),
            Kind::Capacitor(capacitor) => super::capacitors::terminals(capacitor),
            Kind::Resistor(_) | Kind::Fuse(_) | Kind::Switch(_) => ("from", "to"),
            _ => return None,
        };
        let (from, to) = (study.circuit.net_of(id, from)?, study.circuit.net_of(id, to)?);
        let here = [from, to].iter().any(|net| study.roles.mains_side.contains(net));
        here.then(|| Some((*self.nodes.get(&from)?, *self.nodes.get(&to)?)))?
    }

    /// Plugged in, the primaries draw the current that is reckoned; unplugged, they are so much wire.
    fn network(&self, study: &Study<'_>, plugged: bool) -> Option<Plugged> {
        let nodes = self.nodes.values().map(|node| node.0).max()? + 1;
        let mut network = Network { nodes, ..Network::default() };
        let mut elements = HashMap::new();
        let primaries = study.design.parts.iter().filter(|part| matches!(part.kind, Kind::Transformer(_))).count();
        for (id, part) in study.design.ids() {
            let Some((a, b)) = self.ends(study, id, part) else { continue };
            let element = match &part.kind {
                Kind::Resistor(resistor) => Element::Resistor { a, b, resistance: resistor.resistance.value },
                Kind::Capacitor(capacitor) => Element::Capacitor { a, b, capacitance: capacitor.capacitance.value },
                Kind::Fuse(_) => Element::Resistor { a, b, resistance: Ohms(0.0) },
                Kind::Switch(switch) if plugged && switch.closed => Element::Resistor { a, b, resistance: Ohms(0.0) },
                Kind::Transformer(transformer) => {
                    let wire = transformer.primary.resistance.as_ref().map_or(PRIMARY, |r| r.value.base());
                    let resistance = if plugged { load(study)? * primaries as f64 } else { wire };
                    Element::Resistor { a, b, resistance: Ohms(resistance) }
                }
                _ => continue,
            };
            elements.insert(id, ElementId(network.elements.len()));
            network.elements.push(element);
        }
        let source = plugged.then(|| {
            let (plus, minus, voltage, resistance) = (self.live, NodeId::GROUND, Volts(0.0), Ohms(0.0));
            network.elements.push(Element::Supply { plus, minus, voltage, resistance });
            ElementId(network.elements.len() - 1)
        });
        Some(Plugged { network, elements, source })
    }
}

impl Plugged {
    /// The network and the element of a part in it.
    fn with(&self, part: PartId) -> Option<(&Network, ElementId)> {
        Some((&self.network, *self.elements.get(&part)?))
    }

    fn linear(&self) -> Option<(Linear, ElementId)> {
        let point = operating_point(&self.network, None).ok()?;
        Some((linearise(&self.network, &point).ok()?, self.source?))
    }
}

/// The resistance that draws the current of the mains in `running`.
fn load(study: &Study<'_>) -> Option<f64> {
    let solved = study.drawn(State::Running)?;
    let amperes = primary_current(study, solved, solved.steady.as_ref().ok()?)?;
    let volts = study.design.mains.as_ref()?.voltage.value.base();
    Some(volts / amperes).filter(|ohms| ohms.is_finite())
}
