//! The first moments after switch-on, from zero charge at high mains: how far capacitors overshoot, what the rectifiers
//! pass into them, what the primary draws.

use std::f64::consts::{FRAC_PI_2, PI};
use std::sync::Arc;

use crate::design::{Kind, PartId};
use crate::physics::{Crest, Following, SolveError, Switching};
use crate::units::Seconds;

use super::State;
use super::memory::SurgeProblem;
use super::study::{Solved, Study};
use super::windings::winding_sources;

/// How long a switch-on is followed: several periods of the slowest ring of a choke with its capacitor.
const FOLLOWED: Seconds = Seconds(1.0);

/// Steps of a period while the ring is followed, which is slow.
const RING_STEPS: u32 = 64;

/// Steps of a period while the largest gulps are followed; the others are told with those of the ring.
const GULP_STEPS: u32 = 160;

/// Instants of switching that are tried for the largest gulp, evenly over the period, and for how many periods: long
/// enough for each rectifier to pass its first gulp.
const INSTANTS: u32 = 8;
const FIRST_GULP: f64 = 1.2;

/// So many instants, those of the largest primary current, are followed for so many periods, after which the largest
/// gulps are over.
const WORST_INSTANTS: usize = 2;
const GULPS: f64 = 3.0;

/// A part with less than this across it throughout is not charged, V.
const UNCHARGED: f64 = 1e-6;

/// A switch-on as far as it could be followed, or why it could not.
pub(super) type Followed = Result<Arc<Surge>, String>;

/// What a switch-on does.
#[derive(Debug)]
pub(super) struct Surge {
    /// Voltages of each element, for each instant that was tried.
    voltages: Vec<Vec<Crest>>,
    /// Largest current of each element either way, A.
    currents: Vec<f64>,
    /// Largest current of the primaries, A.
    pub(super) inrush: f64,
}

impl Surge {
    /// `None` for a design without a mains transformer.
    pub(super) fn of(study: &Study<'_>) -> Option<Followed> {
        if !study.design.parts.iter().any(|part| matches!(part.kind, Kind::Transformer(_))) {
            return None;
        }
        let solved = study.drawn(State::SwitchOn)?;
        let problem = SurgeProblem {
            network: solved.lowered.network.clone(),
            frequency: study.mains.frequency,
            weights: primary_weights(study, solved),
            settled: settled(solved),
        };
        let found = study.memory.recall(|memory| &memory.surges, || problem.clone(), || follow(&problem).map(Arc::new));
        Some(found.map_err(|error| format!("the switch-on could not be followed: {error}")))
    }

    /// Largest voltage across a part either way, and when; none for a part that is not in the network.
    pub(super) fn voltage(&self, solved: &Solved, id: PartId) -> Option<(f64, f64)> {
        let element = solved.lowered.element(id, "")?;
        let crests = self.voltages.iter().filter_map(|all| all.get(element.0));
        let both = crests.flat_map(|crest| [(crest.maximum, crest.maximum_at.0), (-crest.minimum, crest.minimum_at.0)]);
        let largest = both.max_by(|a, b| a.0.total_cmp(&b.0))?;
        // What stays uncharged has no crest but that of rounding.
        Some(if largest.0 > UNCHARGED { largest } else { (0.0, 0.0) })
    }

    /// Largest current of a part's element either way.
    pub(super) fn current(&self, solved: &Solved, id: PartId, way: &str) -> Option<f64> {
        self.currents.get(solved.lowered.element(id, way)?.0).copied()
    }
}

fn follow(problem: &SurgeProblem) -> Result<Surge, SolveError> {
    let SurgeProblem { network, frequency, weights, settled } = problem;
    let mut surge = Surge { voltages: Vec::new(), currents: vec![0.0; network.elements.len()], inrush: 0.0 };
    // Where the ring is largest hardly depends on the instant: the two extreme ones are followed to the end.
    let ring = Following { weights, settled: settled.as_deref() };
    let slowly = Switching::new(network, *frequency, RING_STEPS)?;
    for angle in [0.0, FRAC_PI_2] {
        let found = slowly.follow(angle, FOLLOWED, ring)?;
        surge.take(&found.currents, found.weighted);
        surge.voltages.push(found.elements);
    }
    let gulp = Following { weights, settled: None };
    let mut gulps = Vec::new();
    for instant in 0..INSTANTS {
        let angle = 2.0 * PI * f64::from(instant) / f64::from(INSTANTS);
        let found = slowly.follow(angle, Seconds(FIRST_GULP / frequency.0), gulp)?;
        surge.take(&found.currents, found.weighted);
        let most = found.weighted.maximum.max(-found.weighted.minimum);
        gulps.push((most, angle));
    }
    gulps.sort_by(|a, b| b.0.total_cmp(&a.0));
    let closely = Switching::new(network, *frequency, GULP_STEPS)?;
    for (_, angle) in gulps.into_iter().take(WORST_INSTANTS) {
        let found = closely.follow(angle, Seconds(GULPS / frequency.0), gulp)?;
        surge.take(&found.currents, found.weighted);
    }
    Ok(surge)
}

/// The largest voltage across each element once the switch-on is over.
fn settled(solved: &Solved) -> Option<Vec<f64>> {
    let steady = solved.steady.as_ref().ok()?;
    Some(steady.elements.iter().map(|swing| swing.voltage.maximum.max(-swing.voltage.minimum)).collect())
}

impl Surge {
    fn take(&mut self, currents: &[Crest], primary: Crest) {
        for (most, crest) in self.currents.iter_mut().zip(currents) {
            *most = most.max(crest.maximum).max(-crest.minimum);
        }
        self.inrush = self.inrush.max(primary.maximum).max(-primary.minimum);
    }
}

/// How much each element adds to the current of the primaries: a winding its current times its ratio.
fn primary_weights(study: &Study<'_>, solved: &Solved) -> Vec<f64> {
    let mut weights = vec![0.0; solved.lowered.network.elements.len()];
    for (id, part) in study.design.ids() {
        let Kind::Transformer(transformer) = &part.kind else { continue };
        for winding in winding_sources(transformer) {
            for source in &winding.sources {
                let element = solved.lowered.element(id, &format!("{}.{}", winding.name, source.half));
                if let Some(weight) = element.and_then(|element| weights.get_mut(element.0)) {
                    *weight = source.ratio;
                }
            }
        }
    }
    weights
}
