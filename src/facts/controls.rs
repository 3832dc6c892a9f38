//! Facts of potentiometers as they fail and as they are miswired: a wiper that lifts, a control wired backwards.

use std::collections::BTreeSet;

use crate::catalogue::SectionKind;
use crate::circuit::{Conduction, Link, NetId, electrode_name};
use crate::design::{Kind, PartId};
use crate::units::Quantity;

use super::recorder::Recorder;
use super::study::Study;
use super::{State, SubjectKind, Value};

/// A rail that is further below ground than this is there to bias a grid, V.
const BIAS: f64 = 1.0;

pub(super) fn record(recorder: &mut Recorder<'_>) {
    let study = recorder.study;
    for (id, part) in study.design.ids() {
        match &part.kind {
            Kind::Tube(tube) => {
                for section in &tube.sections {
                    if matches!(section.kind, SectionKind::Triode | SectionKind::Pentode) {
                        lifted(recorder, id, &format!("{}{}", part.name, section.suffix), &section.suffix);
                    }
                }
            }
            Kind::Potentiometer(_) => {
                let backwards = fed_at_wiper(study, id);
                if let (Some(subject), Some(backwards)) =
                    (recorder.find(SubjectKind::Potentiometer, &part.name), backwards)
                {
                    let span = study.circuit.joined_at(id, "wiper").unwrap_or(part.name_span);
                    recorder.flag(subject, "fed-at-wiper", backwards, span);
                }
            }
            _ => {}
        }
    }
}

/// What holds a grid while the wiper of one control touches nothing; recorded where a wiper is on the grid's way.
fn lifted(recorder: &mut Recorder<'_>, id: PartId, name: &str, suffix: &str) {
    let study = recorder.study;
    let (circuit, returns) = (study.circuit, &study.roles.returns);
    let electrode = electrode_name(suffix, "grid");
    let Some(grid) = circuit.net_of(id, &electrode) else { return };
    if returns.contains(&grid) || circuit.resistance_to(grid, returns, &[]).is_none() {
        return;
    }
    let Some(subject) = recorder.find(SubjectKind::Tube, name) else { return };
    let reached = circuit.reach(grid, |link| link.conduction.is_permanent(), |net| returns.contains(&net));
    let wipers = study.design.ids().filter(|(pot, part)| {
        let wiper = circuit.net_of(*pot, "wiper");
        matches!(part.kind, Kind::Potentiometer(_)) && wiper.is_some_and(|net| reached.contains(&net))
    });
    let rails: BTreeSet<NetId> = reached.intersection(&study.roles.rails).copied().collect();
    let solved = study.drawn(State::Running).is_some_and(|running| running.steady.is_ok());
    if !rails.is_empty() && !solved {
        recorder.failure(
            subject,
            "held-without-wiper",
            "whether a rail that it returns to biases it could not be computed",
        );
        return;
    }
    let biased = negative(study, rails.into_iter());
    let goals = if biased.is_empty() { returns } else { &biased };
    let without = |pot: PartId| {
        // Not through ground and up again by another stage's bias: only what the grid reaches before its first return.
        let way = |link: &Link| link.conduction.is_permanent() && link.part != pot;
        let reached = circuit.reach(grid, way, |net| returns.contains(&net));
        let found = circuit.resistance_to(grid, goals, &[pot]).map(Quantity::base);
        found.filter(|_| reached.iter().any(|net| goals.contains(net)))
    };
    let left: Vec<Option<f64>> = wipers.map(|(pot, _)| without(pot)).collect();
    if left.is_empty() {
        return;
    }
    let span = circuit.joined_at(id, &electrode).unwrap_or(study.design.part(id).name_span);
    let words = "the grid is joined here";
    let held = left.iter().all(Option::is_some);
    recorder.stated(subject, "held-without-wiper", Value::Flag(held), span, words);
    if let Some(ohms) = left.into_iter().flatten().reduce(f64::max) {
        recorder.quantity(subject, "grid-leak-without-wiper", ohms, span, words);
    }
}

/// The rails below ground: a grid that one of these biases is not held by a way to ground alone, which takes its bias off.
fn negative(study: &Study<'_>, rails: impl Iterator<Item = NetId>) -> BTreeSet<NetId> {
    let running = study.drawn(State::Running);
    let below = |net: &NetId| {
        let solved = running.as_ref()?;
        solved.mean(solved.steady.as_ref().ok()?, *net).map(|volts| volts < -BIAS)
    };
    rails.filter(|net| below(net) == Some(true)).collect()
}

/// Whether signal comes in at the wiper of a control with an end at ground; nothing where it has no such end.
fn fed_at_wiper(study: &Study<'_>, id: PartId) -> Option<bool> {
    let circuit = study.circuit;
    let (top, wiper, bottom) =
        (circuit.net_of(id, "top")?, circuit.net_of(id, "wiper")?, circuit.net_of(id, "bottom")?);
    if top == wiper || bottom == wiper || !study.roles.returns.contains(&bottom) {
        return None;
    }
    let port = |net: NetId, wanted: fn(&Kind) -> bool| {
        let mut links = circuit.links(net).filter(|link| link.conduction == Conduction::Port);
        links.any(|link| wanted(&study.design.part(link.part).kind))
    };
    let input = port(wiper, |kind| matches!(kind, Kind::Input(_)));
    let output = port(top, |kind| matches!(kind, Kind::Output(_)));
    // Between two stages the signal comes through a capacitor, and a grid hangs on what is to be the wiper.
    let blocked = |net: NetId| {
        let mut links = circuit.links(net).filter(|link| link.conduction == Conduction::Capacitive);
        links.any(|link| !study.roles.returns.contains(&link.other(net)))
    };
    let drives_grid = |net: NetId| {
        let apart = |net: NetId| study.roles.returns.contains(&net);
        let reached = circuit.reach(net, |l| l.part != id && matches!(l.conduction, Conduction::Resistive(_)), apart);
        reached.into_iter().any(|net| circuit.links(net).any(|link| link.conduction == Conduction::Control))
    };
    let between = blocked(wiper) && drives_grid(top) && !drives_grid(wiper);
    Some(input || output || between)
}
