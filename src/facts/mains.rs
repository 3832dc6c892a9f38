//! Facts of the mains side: fuse, switch, earth, and the current that the transformer draws.

use std::collections::BTreeSet;

use crate::circuit::{Circuit, Conduction, Link, NetId};
use crate::design::{Design, Kind, PartId};
use crate::physics::SteadyState;
use crate::units::Quantity;

use super::recorder::{Recorder, origin};
use super::study::{Solved, Study};
use super::switching::Followed;
use super::windings::winding_sources;
use super::{State, SubjectId, SubjectKind, Value};

/// Ground may be lifted from the chassis by a few ohms or a pair of diodes, not by more (common practice).
const GROUND_LIFT_OHMS: f64 = 1e3;

/// Samples a period where no winding has any of its own.
const SAMPLES: usize = 400;

pub(super) fn record(recorder: &mut Recorder<'_>, surge: Option<&Followed>) {
    let study = recorder.study;
    let design = study.design;
    let subject = recorder.subject(SubjectKind::Design, "design", None, design.title.span);
    let whole = subject;
    band(recorder, subject);
    let joined = study.roles.outputs.iter().all(|net| {
        let reached = study.circuit.reach(
            *net,
            |link| link.conduction.passes_direct_current(),
            |other| study.circuit.is_ground(other),
        );
        reached.iter().any(|other| study.circuit.is_ground(*other))
    });
    recorder.flag(subject, "ground-joined", joined, design.title.span);
    let topology = Topology::of(design, study.circuit);
    let transformer = design.parts.iter().any(|part| matches!(part.kind, Kind::Transformer(_)));
    let span = design.title.span;
    recorder.flag(subject, "mains-powered", topology.inlet.is_some() || transformer, span);
    recorder.flag(subject, "has-inlet", topology.inlet.is_some(), span);
    recorder.solved(subject, "highest-voltage", &[origin(span, "this design")], |_, steady| {
        steady.nodes.iter().map(|swing| swing.maximum.abs().max(swing.minimum.abs())).reduce(f64::max)
    });
    if let Some(mains) = &design.mains {
        recorder.quantity(subject, "mains-voltage", mains.voltage.value.base(), mains.voltage.span, "as stated");
    }
    let current = |solved: &Solved, steady: &SteadyState| primary_current(study, solved, steady);
    if transformer {
        recorder.solved(subject, "mains-current", &[origin(span, "this design")], current);
    }
    match surge {
        Some(Ok(surge)) => {
            let value = Value::Quantity(surge.inrush);
            recorder.in_state(subject, "inrush", State::SwitchOn, value, vec![origin(span, "this design")]);
        }
        Some(Err(reason)) => recorder.failure(subject, "inrush", reason),
        None => {}
    }
    if let Some(inlet) = topology.inlet {
        let inlet_span = design.part(inlet).name_span;
        super::isolation::record(recorder, subject, inlet);
        match topology.guards(study.circuit, design) {
            Some((fused, switched)) => {
                recorder.flag(subject, "mains-fused", fused, inlet_span);
                recorder.flag(subject, "mains-switched-live", switched, inlet_span);
            }
            None => {
                let reason = "no path leads from the inlet's live pin to a primary";
                recorder.failure(subject, "mains-fused", reason);
                recorder.failure(subject, "mains-switched-live", reason);
            }
        }
    }
    let earthed = topology.chassis.is_some() && topology.chassis == topology.earth;
    let earth_span = topology
        .inlet
        .map_or(span, |inlet| study.circuit.joined_at(inlet, "earth").unwrap_or(design.part(inlet).name_span));
    recorder.flag(subject, "chassis-earthed", earthed, earth_span);
    recorder.flag(subject, "ground-tied", topology.ground_tied(study.circuit), earth_span);
    for (id, part) in design.ids() {
        match &part.kind {
            Kind::Fuse(fuse) => {
                let subject = recorder.subject(SubjectKind::Fuse, &part.name, Some(id), part.name_span);
                let rated = fuse.current.value.base();
                recorder.quantity(subject, "rated-current", rated, fuse.current.span, "as stated");
                if let Some(voltage) = &fuse.voltage {
                    recorder.quantity(subject, "rated-voltage", voltage.value.base(), voltage.span, "as stated");
                }
                if let Some(speed) = &fuse.speed {
                    recorder.word(subject, "speed", &speed.value, speed.span);
                }
                let on_mains = place(recorder, subject, id, &topology);
                let first = topology.is_first(study.circuit, id);
                recorder.flag(subject, "is-first", first, part.name_span);
                if on_mains && transformer {
                    let ratio = |solved: &Solved, steady: &SteadyState| {
                        let amperes =
                            if solved.state == State::Running { current(solved, steady)? } else { return None };
                        (amperes > 0.0).then_some(rated / amperes)
                    };
                    let origins = [origin(fuse.current.span, "rated current")];
                    recorder.solved(subject, "fuse-ratio", &origins, ratio);
                    recorder.solved(whole, "fuse-ratio", &origins, ratio);
                }
            }
            Kind::Switch(switch) => {
                let subject = recorder.subject(SubjectKind::Switch, &part.name, Some(id), part.name_span);
                if let Some(voltage) = &switch.voltage {
                    recorder.quantity(subject, "rated-voltage", voltage.value.base(), voltage.span, "as stated");
                }
                if let Some(rated) = &switch.current {
                    recorder.quantity(subject, "rated-current", rated.value.base(), rated.span, "as stated");
                }
                place(recorder, subject, id, &topology);
            }
            _ => {}
        }
    }
}

fn band(recorder: &mut Recorder<'_>, subject: SubjectId) {
    let design = recorder.study.design;
    let span = design.band.span.unwrap_or(design.title.span);
    recorder.quantity(subject, "low-limit", design.band.from.base(), span, "the band that the design promises");
    recorder.quantity(subject, "high-limit", design.band.to.base(), span, "the band that the design promises");
}

fn place(recorder: &mut Recorder<'_>, subject: SubjectId, id: PartId, topology: &Topology) -> bool {
    let circuit = recorder.study.circuit;
    let span = recorder.study.design.part(id).name_span;
    let ends: Vec<NetId> = ["from", "to"].into_iter().filter_map(|end| circuit.net_of(id, end)).collect();
    let reaches = |side: &BTreeSet<NetId>| ends.iter().any(|net| side.contains(net));
    let (live, neutral) = (reaches(&topology.live_side), reaches(&topology.neutral_side));
    recorder.flag(subject, "in-live", live, span);
    recorder.flag(subject, "in-neutral", neutral, span);
    let on_mains = ends.iter().any(|net| recorder.study.roles.mains_side.contains(net));
    recorder.flag(subject, "on-mains-side", on_mains, span);
    super::resistors::shorted(recorder, subject, id, "from", "to");
    if !on_mains {
        breaking_voltage(recorder, subject, &ends, span);
    }
    on_mains
}

/// What a fuse or switch behind the transformer has to break: the larger of the voltages that its ends rise to.
fn breaking_voltage(recorder: &mut Recorder<'_>, subject: SubjectId, ends: &[NetId], span: crate::source::Span) {
    recorder.solved(subject, "breaking-voltage", &[origin(span, "this contact")], |solved, steady| {
        let nodes = ends.iter().filter_map(|net| steady.nodes.get(solved.lowered.node(*net)?.0));
        nodes.map(|swing| swing.maximum.abs().max(swing.minimum.abs())).reduce(f64::max)
    });
}

/// The mains side as connected.
struct Topology {
    inlet: Option<PartId>,
    live: Option<NetId>,
    earth: Option<NetId>,
    chassis: Option<NetId>,
    ground: Option<NetId>,
    live_side: BTreeSet<NetId>,
    neutral_side: BTreeSet<NetId>,
    primaries: BTreeSet<NetId>,
}

fn contact(link: &Link) -> bool {
    matches!(link.conduction, Conduction::Contact | Conduction::OpenContact)
}

impl Topology {
    fn of(design: &Design, circuit: &Circuit) -> Self {
        let inlet = design.ids().find(|(_, part)| matches!(part.kind, Kind::Inlet(_))).map(|(id, _)| id);
        let pin = |name: &str| circuit.net_of(inlet?, name);
        let side = |net: Option<NetId>| net.map_or_else(BTreeSet::new, |net| circuit.reach(net, contact, |_| false));
        let primaries = design
            .ids()
            .filter(|(_, part)| matches!(part.kind, Kind::Transformer(_)))
            .flat_map(|(id, _)| ["primary.start", "primary.finish"].map(|end| circuit.net_of(id, end)))
            .flatten()
            .collect();
        Self {
            inlet,
            live: pin("live"),
            earth: pin("earth").or_else(|| circuit.named("earth")),
            chassis: circuit.named("chassis"),
            ground: circuit.ground(),
            live_side: side(pin("live")),
            neutral_side: side(pin("neutral")),
            primaries,
        }
    }

    /// Whether every path from live to a primary passes a fuse, and a switch.
    fn guards(&self, circuit: &Circuit, design: &Design) -> Option<(bool, bool)> {
        let live = self.live?;
        if self.live_side.is_disjoint(&self.primaries) {
            return None;
        }
        let without = |skip: &dyn Fn(&Kind) -> bool| {
            let passes = |link: &Link| contact(link) && !skip(&design.part(link.part).kind);
            circuit.reach(live, passes, |_| false).is_disjoint(&self.primaries)
        };
        Some((without(&|kind| matches!(kind, Kind::Fuse(_))), without(&|kind| matches!(kind, Kind::Switch(_)))))
    }

    /// A fuse on the inlet's live net, with nothing else there but the inlet.
    fn is_first(&self, circuit: &Circuit, fuse: PartId) -> bool {
        let Some(live) = self.live else { return false };
        let at_live = ["from", "to"].into_iter().any(|end| circuit.net_of(fuse, end) == Some(live));
        let others = circuit
            .net(live)
            .terminals
            .iter()
            .filter(|(terminal, _)| terminal.part != fuse && Some(terminal.part) != self.inlet);
        at_live && others.count() == 0
    }

    fn ground_tied(&self, circuit: &Circuit) -> bool {
        let (Some(ground), Some(chassis)) = (self.ground, self.chassis) else { return false };
        if ground == chassis {
            return true;
        }
        let resistive = circuit.resistance_to(ground, &[chassis].into(), &[]);
        let through_diodes = circuit
            .links(ground)
            .any(|link| link.conduction == Conduction::Rectifying && link.other(ground) == chassis);
        resistive.is_some_and(|found| found.base() <= GROUND_LIFT_OHMS) || through_diodes
    }
}

/// Rms current of the primaries: every winding's current reflected by its ratio, instant by instant; magnetising current
/// is not counted.
pub(super) fn primary_current(study: &Study<'_>, solved: &Solved, steady: &SteadyState) -> Option<f64> {
    let heaters = study.heaters(solved.lineup, solved.state, solved.empty);
    let samples = steady.winding_waves.iter().map(Vec::len).max().filter(|count| *count > 0).unwrap_or(SAMPLES);
    let mut wave = vec![0.0; samples];
    let mut found = false;
    for (id, part) in study.design.ids() {
        let Kind::Transformer(transformer) = &part.kind else { continue };
        found = true;
        for winding in winding_sources(transformer) {
            for source in &winding.sources {
                let way = format!("{}.{}", winding.name, source.half);
                let heating = heaters.and_then(|h| h.windings.get(&(id, way.clone()))).copied().unwrap_or(0.0);
                let driven = solved.swing(steady, id, &way).is_some_and(|swing| swing.current.rms > heating);
                let element = solved.lowered.element(id, &way);
                let own = element.and_then(|element| steady.winding_waves.get(element.0));
                for (place, sum) in wave.iter_mut().enumerate() {
                    let angle = (place + 1) as f64 / samples as f64 * std::f64::consts::TAU;
                    // What a winding delivers leaves at its start: the current through it counts the other way.
                    let amperes = match own.filter(|_| driven).and_then(|own| own.get(place)) {
                        Some(through) => -through,
                        None => heating * std::f64::consts::SQRT_2 * angle.sin(),
                    };
                    *sum += amperes * source.ratio;
                }
            }
        }
    }
    found.then(|| (wave.iter().map(|i| i * i).sum::<f64>() / samples as f64).sqrt())
}
