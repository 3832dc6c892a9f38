//! Facts of heaters and of the windings that feed them: voltage under load, and what fixes their potential.

use std::collections::BTreeSet;

use crate::circuit::{Conduction, NetId};
use crate::design::{Kind, PartId, Transformer, Tube, Winding};
use crate::units::Quantity;

use super::heaters::connection_in;
use super::recorder::{Recorder, origin, sample};
use super::study::Study;
use super::tubes::heater_origin;
use super::windings::winding_sources;
use super::{SubjectKind, Value};

/// Below this a path to a fixed potential counts as a tie of its own (common practice: artificial centre taps are
/// made of 47 to 220 Ω).
const TIE_OHMS: f64 = 1e3;

/// Below this a place is held so firmly that a second such place shorts the part of the winding between them.
const HELD_OHMS: f64 = 10.0;

pub(super) fn record(recorder: &mut Recorder<'_>) {
    let study = recorder.study;
    for (id, part) in study.design.ids() {
        match &part.kind {
            Kind::Tube(tube) => heater(recorder, id, tube),
            Kind::Transformer(transformer) => {
                for winding in &transformer.windings {
                    winding_facts(recorder, id, transformer, winding);
                }
            }
            _ => {}
        }
    }
}

fn heater(recorder: &mut Recorder<'_>, id: PartId, tube: &Tube) {
    let study = recorder.study;
    let part = study.design.part(id);
    let Some(heater) = &tube.heater else { return };
    let subject = recorder.subject(SubjectKind::Heater, &format!("{}.heater", part.name), Some(id), heater.span);
    let connection = |lineup: usize| connection_in(study.design, study.devices, study.lineups.get(lineup)?, id);
    recorder.by_lineup(subject, "rated-voltage", tube.device.span, "published", |lineup| {
        Some(Value::Quantity(connection(lineup)?.voltage.base()))
    });
    recorder.by_lineup(subject, "rated-current", tube.device.span, "published", |lineup| {
        Some(Value::Quantity(connection(lineup)?.current.base()))
    });
    recorder.by_lineup(subject, "heater-current", tube.device.span, "published", |lineup| {
        Some(Value::Quantity(connection(lineup)?.current.base()))
    });
    let origins = heater_origin(tube);
    recorder.solved(subject, "voltage", &origins, |solved, steady| {
        if solved.empty == Some(id) {
            return None;
        }
        let heaters = study.heaters(solved.lineup, solved.state, solved.empty)?;
        if let Some(volts) = heaters.voltages.get(&id) {
            return Some(*volts);
        }
        Some(solved.swing(steady, id, "heater")?.voltage.rms)
    });
    super::resistors::shorted(recorder, subject, id, "heater.from", "heater.to");
    feeding_load(recorder, subject, id);
    let ends: Vec<NetId> =
        ["heater.from", "heater.to"].into_iter().filter_map(|end| study.circuit.net_of(id, end)).collect();
    let found = ends.iter().filter_map(|net| reference(study, *net, None)).min_by(f64::total_cmp);
    let tied = tube.directly_heated() || tube.joined_cathode();
    let span = heater.span;
    recorder.flag(subject, "heater-referenced", found.is_some() || tied, span);
    if let Some(ohms) = found {
        recorder.quantity(subject, "reference-resistance", ohms, span, "as connected");
    }
    recorder.flag(subject, "reference-decoupled", decoupled(study, &ends), span);
}

/// Whether a capacitor joins what heats these nets to a return: then only direct current sees the reference's resistance.
fn decoupled(study: &Study<'_>, ends: &[NetId]) -> bool {
    let circuit = study.circuit;
    let heats = |conduction: &Conduction| matches!(conduction, Conduction::Heater(_) | Conduction::Inductive(_));
    let returns = |net: NetId| study.roles.returns.contains(&net);
    let low = |conduction: &Conduction| matches!(conduction, Conduction::Resistive(ohms) if ohms.base() < TIE_OHMS);
    let reached = ends
        .iter()
        .flat_map(|net| circuit.reach(*net, |link| heats(&link.conduction) || low(&link.conduction), returns))
        .filter(|net| !returns(*net));
    let mut links = reached.flat_map(|net| circuit.links(net).map(move |link| (net, link)));
    links.any(|(net, link)| link.conduction == Conduction::Capacitive && returns(link.other(net)))
}

/// Load of the winding whose ends the heater shares.
fn feeding_load(recorder: &mut Recorder<'_>, subject: super::SubjectId, id: PartId) {
    let study = recorder.study;
    let circuit = study.circuit;
    let ends = ["heater.from", "heater.to"].map(|end| circuit.net_of(id, end));
    for (transformer_id, part) in study.design.ids() {
        let Kind::Transformer(transformer) = &part.kind else { continue };
        for winding in &transformer.windings {
            let name = winding.name.value.clone();
            let shares = ["start", "centre", "finish"].into_iter().any(|end| {
                let net = circuit.net_of(transformer_id, &format!("{name}.{end}"));
                net.is_some_and(|net| !circuit.is_ground(net) && ends.contains(&Some(net)))
            });
            if let (true, Some(rated)) = (shares, &winding.current) {
                let rated_current = rated.value.base();
                let halves = if winding.halves.is_some() { vec!["start", "finish"] } else { vec![""] };
                recorder.solved(subject, "winding-load", &[origin(rated.span, "as stated")], |solved, _| {
                    let heaters = study.heaters(solved.lineup, solved.state, solved.empty)?;
                    let loads = halves
                        .iter()
                        .filter_map(|half| heaters.windings.get(&(transformer_id, format!("{name}.{half}"))).copied());
                    Some(loads.reduce(f64::max)? / rated_current)
                });
                return;
            }
        }
    }
}

/// Direct-current resistance from a net to ground or a supply rail.
fn reference(study: &Study<'_>, net: NetId, without: Option<PartId>) -> Option<f64> {
    let without: Vec<PartId> = without.into_iter().collect();
    study.circuit.resistance_to(net, &study.roles.returns, &without).map(|found| found.base())
}

fn winding_facts(recorder: &mut Recorder<'_>, id: PartId, transformer: &Transformer, winding: &Winding) {
    let study = recorder.study;
    let part = study.design.part(id);
    let name = format!("{}.{}", part.name, winding.name.value);
    let subject = recorder.subject(SubjectKind::Winding, &name, Some(id), winding.name.span);
    let rated = winding.voltage.value.base();
    recorder.quantity(subject, "rated-voltage", rated, winding.voltage.span, "as stated");
    if let Some(current) = &winding.current {
        recorder.quantity(subject, "rated-current", current.value.base(), current.span, "as stated");
    }
    let sources = winding_sources(transformer).into_iter().find(|found| found.name == winding.name.value);
    let Some(sources) = sources else { return };
    let emf: f64 = sources.sources.iter().map(|source| source.emf.base()).sum();
    let ohms: f64 = sources.sources.iter().map(|source| source.resistance.base()).sum();
    let place = vec![origin(winding.name.span, "this winding")];
    let open = vec![sample(None, 0, Value::Quantity(emf * study.mains.nominal))];
    recorder.samples(subject, "open-circuit-voltage", open, place.clone());
    recorder.samples(subject, "resistance", vec![sample(None, 0, Value::Quantity(ohms))], place.clone());
    let current = |solved: &super::study::Solved, steady: &crate::physics::SteadyState| {
        let heaters = study.heaters(solved.lineup, solved.state, solved.empty);
        let mut largest: Option<f64> = None;
        for source in &sources.sources {
            let way = format!("{}.{}", winding.name.value, source.half);
            let Some(swing) = solved.swing(steady, id, &way) else { continue };
            let heating = heaters.and_then(|found| found.windings.get(&(id, way))).copied().unwrap_or(0.0);
            // Where the supply drives the winding through a rectifier, its heaters are in the steady state already.
            let rms = if swing.current.rms > heating { swing.current.rms } else { heating };
            largest = Some(largest.map_or(rms, |known: f64| known.max(rms)));
        }
        largest
    };
    recorder.solved(subject, "rms-current", &place, current);
    if let Some(rated) = &winding.current {
        let rated_current = rated.value.base();
        recorder.solved(subject, "winding-load", &[origin(rated.span, "as stated")], |solved, steady| {
            Some(current(solved, steady)? / rated_current)
        });
    }
    recorder.solved(subject, "apparent-power", &place, |solved, steady| Some(current(solved, steady)? * rated));
    references(recorder, subject, id, winding);
    let ends = (format!("{}.start", winding.name.value), format!("{}.finish", winding.name.value));
    super::resistors::shorted(recorder, subject, id, &ends.0, &ends.1);
}

fn references(recorder: &mut Recorder<'_>, subject: super::SubjectId, id: PartId, winding: &Winding) {
    let study = recorder.study;
    let circuit = study.circuit;
    let places: Vec<NetId> = ["start", "centre", "finish"]
        .into_iter()
        .filter_map(|end| circuit.net_of(id, &format!("{}.{end}", winding.name.value)))
        .collect();
    let nets: BTreeSet<NetId> = places.iter().copied().collect();
    // Ground is shared by all: only a heater on a live end of the winding is heated by it.
    let heated: BTreeSet<PartId> = nets
        .iter()
        .filter(|net| !circuit.is_ground(**net))
        .flat_map(|net| circuit.links(*net))
        .filter(|link| matches!(link.conduction, Conduction::Heater(_)))
        .map(|link| link.part)
        .collect();
    let span = winding.name.span;
    recorder.flag(subject, "feeds-heaters", !heated.is_empty(), span);
    let own_cathode = |part: &PartId| matches!(&study.design.part(*part).kind, Kind::Tube(tube) if tube.directly_heated() || tube.joined_cathode());
    let through_cathode = heated.iter().any(own_cathode);
    let rectifies = |part: &PartId| study.roles.rectifiers.contains(part);
    let lifts = heated.iter().any(|part| rectifies(part) && own_cathode(part));
    recorder.flag(subject, "shares-rectifier-cathode", lifts && !heated.iter().all(rectifies), span);
    let direct = nets.iter().any(|net| reference(study, *net, None).is_some());
    recorder.flag(subject, "dc-reference", direct || through_cathode, span);
    recorder.quantity(subject, "reference-count", tie_count(study, id, &nets), span, "as connected");
    // A load between two places of the winding is no reference of either.
    let loads = nets.iter().flat_map(|net| circuit.links(*net).map(move |link| (net, link)));
    let loads = loads.filter(|(net, link)| nets.contains(&link.other(**net))).map(|(_, link)| link.part);
    let without: Vec<PartId> = heated.into_iter().chain(loads).chain([id]).collect();
    // The legs of a rectifier's own filament are its output, and hold nothing against each other.
    let leads_out = |net: NetId| lifts && study.roles.outputs.contains(&net);
    let held = places.iter().filter(|net| !leads_out(**net)).filter(|net| {
        let found = circuit.resistance_to(**net, &study.roles.returns, &without);
        found.is_some_and(|found| found.base() < HELD_OHMS)
    });
    recorder.flag(subject, "references-disagree", held.count() > 1, span);
}

/// How many places of a winding are tied hard to a fixed potential, and how many other potentials resistors tie it to.
fn tie_count(study: &Study<'_>, id: PartId, nets: &BTreeSet<NetId>) -> f64 {
    let roles = study.roles;
    let hard: BTreeSet<NetId> = nets.iter().copied().filter(|net| roles.returns.contains(net)).collect();
    let mut potentials = BTreeSet::new();
    for net in nets.iter().filter(|net| !hard.contains(net)) {
        for link in study.circuit.links(*net).filter(|link| link.part != id) {
            let other = link.other(*net);
            let tie = matches!(link.conduction, Conduction::Resistive(ohms) if ohms.base() < TIE_OHMS)
                || link.conduction == Conduction::Contact;
            if tie && !nets.contains(&other) && roles.returns.contains(&other) && !hard.contains(&other) {
                potentials.insert(other);
            }
        }
    }
    u32::try_from(hard.len() + potentials.len()).map_or(0.0, f64::from)
}
