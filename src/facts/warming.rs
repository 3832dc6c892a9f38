//! The supply while the tubes warm up in a normal start: for a curve, not for judging (that is `switch-on`'s).
//!
//! The charging of the reservoirs is over in tenths of a second and the tubes take ten: each instant is a periodic steady
//! state with cathodes that emit a share of what they will. That share is an estimate.

use crate::catalogue::{Devices, SectionKind};
use crate::circuit::{Circuit, NetId, Roles};
use crate::design::{Design, Kind, Tube};
use crate::physics::{Element, Network, SolveError, SteadyOptions, steady_state};

use super::State;
use super::lowering::{Lowered, sections_in};
use super::memory::Memory;
use super::study::{Study, lowered_in};

/// From cold to full emission of an indirectly heated signal tube, s (common practice: 10 to 15 s; controlled warm-up
/// types are made for 11 s).
const SIGNAL_TUBE: f64 = 11.0;
/// The same of an indirectly heated rectifier whose sheet says nothing (common practice).
const INDIRECT_RECTIFIER: f64 = 12.0;
/// The same of a filament (common practice: one to three seconds).
const FILAMENT: f64 = 2.0;
/// Emission begins after this share of the warm-up time and rises evenly from there (an estimate).
const BEGINS: f64 = 0.5;
/// What a cold cathode is taken to emit, so that no law divides by nothing.
const LEAST_EMISSION: f64 = 1e-6;
/// Length of the curve and number of its points.
const SECONDS: f64 = 30.0;
const POINTS: u32 = 60;

/// The voltages of a design's supply rails over a normal start at nominal mains.
#[derive(Clone, Debug, PartialEq)]
pub struct WarmUp {
    /// Instants, s.
    pub seconds: Vec<f64>,
    /// For each rail its name and its mean voltage at each instant, V.
    pub rails: Vec<(String, Vec<f64>)>,
    /// What the curve rests on, in words.
    pub assumptions: Vec<String>,
}

/// The curve of a normal warm-up; `None` for a design without rectifiers.
///
/// # Errors
/// See [`SolveError`].
pub fn warm_up(design: &Design, circuit: &Circuit, devices: &dyn Devices) -> Result<Option<WarmUp>, SolveError> {
    let roles = Roles::of(design, circuit);
    let memory = Memory::default();
    let study = Study::unsolved(design, circuit, &roles, devices, &memory);
    if roles.rectifiers.is_empty() {
        return Ok(None);
    }
    let heaters = study.running_heaters();
    let lowered = lowered_in(&study, State::Running, &heaters);
    let rails: Vec<NetId> = roles.rails.iter().copied().filter(|net| lowered.node(*net).is_some()).collect();
    let emitters = emitters(&study, &lowered);
    let mut curve = WarmUp {
        seconds: Vec::new(),
        rails: rails.iter().map(|net| (circuit.net(*net).name.clone(), Vec::new())).collect(),
        assumptions: vec![format!(
            "where their sheets name no time, signal tubes reach full emission after {SIGNAL_TUBE} s, filaments after {FILAMENT} s, indirectly heated rectifiers after {INDIRECT_RECTIFIER} s (common practice); emission begins half-way and rises evenly (an estimate)"
        )],
    };
    for point in 0..=POINTS {
        let now = SECONDS * f64::from(point) / f64::from(POINTS);
        let network = warmed(&lowered.network, &emitters, now);
        let steady = steady_state(&network, study.mains.frequency, SteadyOptions::default())?;
        curve.seconds.push(now);
        for (net, (_, volts)) in rails.iter().zip(&mut curve.rails) {
            let node = lowered.node(*net).and_then(|node| steady.nodes.get(node.0));
            volts.push(node.map_or(0.0, |swing| swing.mean));
        }
    }
    Ok(Some(curve))
}

/// Each element with a hot cathode, and the seconds that it takes.
fn emitters(study: &Study<'_>, lowered: &Lowered) -> Vec<(usize, f64)> {
    let mut found = Vec::new();
    for (id, part) in study.design.ids() {
        let Kind::Tube(tube) = &part.kind else { continue };
        let sections =
            study.lineups.first().map_or_else(Vec::new, |lineup| sections_in(study.devices, part, tube, lineup));
        let of_tube = study.devices.tube(&tube.canonical).and_then(|entry| entry.warm_up);
        for section in &sections {
            let stated = section.rectifier.as_ref().and_then(|limits| limits.warm_up).or(of_tube);
            let ways: Vec<&str> = match section.kind {
                SectionKind::Regulator => continue,
                SectionKind::Rectifier { .. } => vec!["plate", "plate1", "plate2"],
                SectionKind::Triode | SectionKind::Pentode => vec![section.suffix.as_str()],
            };
            let elements = ways.iter().filter_map(|way| lowered.element(id, way));
            found.extend(elements.map(|element| (element.0, stated.unwrap_or_else(|| custom(tube, section.kind)))));
        }
    }
    found
}

fn custom(tube: &Tube, kind: SectionKind) -> f64 {
    match kind {
        _ if tube.directly_heated() => FILAMENT,
        SectionKind::Rectifier { .. } => INDIRECT_RECTIFIER,
        _ => SIGNAL_TUBE,
    }
}

/// The share of its full emission that a cathode gives.
fn emission(now: f64, takes: f64) -> f64 {
    ((now / takes - BEGINS) / (1.0 - BEGINS)).clamp(0.0, 1.0)
}

fn warmed(network: &Network, emitters: &[(usize, f64)], now: f64) -> Network {
    let mut warmed = network.clone();
    for (place, takes) in emitters {
        let share = emission(now, *takes).max(LEAST_EMISSION);
        match warmed.elements.get_mut(*place) {
            Some(Element::VacuumDiode { model, .. }) => model.k *= share,
            Some(Element::Triode { model, .. }) => model.kg1 /= share,
            Some(Element::Pentode { model, .. }) => *model = model.emitting(share),
            _ => {}
        }
    }
    warmed
}
