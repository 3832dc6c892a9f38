//! The supply while a signal plays: a stage that draws more with signal pulls its rails down.

use crate::physics::{Element, Near, NodeId, SolveError, SteadyOptions, steady_state_near};
use crate::units::Amperes;

use super::large_search::{Bench, Point};
use super::study::{Solved, Study};

/// A rise of a rail's mean current below this share of it moves the rail by less than tubes differ.
const NOTED: f64 = 0.03;
/// Rails that move by less than this share have settled.
const SETTLED: f64 = 0.005;
const ROUNDS: usize = 4;
/// How far supply and load may still be apart: far less than [`SETTLED`].
const AGREED: f64 = 1e-4;

/// Solves for a point, the rails brought to where the mains-driven supply has them with the point's own mean currents.
pub(super) fn with_supply(
    study: &Study<'_>,
    solved: &Solved,
    bench: &mut Bench,
    mut find: impl FnMut(&mut Bench) -> Result<Option<Point>, SolveError>,
) -> Result<Option<Point>, SolveError> {
    let mut found = find(bench)?;
    for _ in 0..ROUNDS {
        let Some(point) = &found else { break };
        // What rests at these rails is in the supply's own solution already.
        let resting = bench.resting();
        let rises: Vec<f64> = point.drawn.iter().zip(&resting).map(|(drawn, rest)| (drawn - rest).max(0.0)).collect();
        let total: f64 = resting.iter().map(|current| current.abs()).sum();
        if rises.iter().sum::<f64>() <= NOTED * total {
            break;
        }
        let Some(volts) = rails(study, solved, bench, &rises) else { break };
        let moved = bench.rails.iter().zip(&volts).any(|(old, new)| (new / old - 1.0).abs() > SETTLED);
        if !moved {
            break;
        }
        bench.hold_all(&volts)?;
        found = find(bench)?;
    }
    Ok(found)
}

/// Voltages of the rails with so much more drawn from each.
fn rails(study: &Study<'_>, solved: &Solved, bench: &Bench, rises: &[f64]) -> Option<Vec<f64>> {
    let mut network = solved.lowered.network.clone();
    for ((node, _), rise) in bench.held.rails.iter().zip(rises) {
        let current = Amperes(*rise);
        network.elements.push(Element::CurrentSource { from: *node, to: NodeId::GROUND, current });
    }
    let near = solved.steady.as_ref().ok().map(|steady| Near { steady, scale: 1.0 });
    let options = SteadyOptions { agreement: AGREED, ..SteadyOptions::default() };
    let steady = steady_state_near(&network, study.mains.frequency, options, near).ok()?;
    bench.held.rails.iter().map(|(node, _)| steady.mean.voltages.get(node.0).copied()).collect()
}
