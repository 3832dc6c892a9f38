//! The supply while a signal plays: a stage that draws more with signal pulls its rails down.

use std::sync::Arc;

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

/// Steps of a period in which the mains is followed here.
const FEW_STEPS: usize = 64;
/// A rise between these times one whose effect is known, and rails that it moves by less than a share, are told by
/// proportion: how far a supply gives way is nearly proportional to what is drawn besides.
const KNOWN_WITHIN: [f64; 2] = [0.8, 1.25];
const SLIGHTLY: f64 = 0.02;
/// Rises whose ratios to known ones differ by less than this share are alike.
const ALIKE: f64 = 0.02;

/// How far rails go down with what is drawn from them, as far as it has been asked for.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Sags {
    known: Vec<Arc<Sag>>,
    /// Mean voltages of each line-up with nothing more drawn, solved as those of the sags are, V.
    still: Vec<(usize, Arc<Vec<f64>>)>,
}

/// The answer of one line-up's supply.
#[derive(Debug, PartialEq)]
struct Sag {
    lineup: usize,
    /// Additional current drawn, A, and where.
    rises: Vec<(NodeId, f64)>,
    /// Change of each node's mean voltage, V.
    moved: Vec<f64>,
}

/// Solves for a point, the rails brought to where the mains-driven supply has them with the point's own mean currents.
pub(super) fn with_supply(
    (study, solved): (&Study<'_>, &Solved),
    sags: &mut Sags,
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
        let nodes = bench.held.rails.iter().map(|(node, _)| *node);
        let rises = nodes.zip(rises).filter(|(_, rise)| *rise > 0.0).collect();
        let Some(volts) = sags.rails(study, solved, bench, rises) else { break };
        let moved = bench.rails.iter().zip(&volts).any(|(old, new)| (new / old - 1.0).abs() > SETTLED);
        if !moved {
            break;
        }
        bench.hold_all(&volts)?;
        found = find(bench)?;
    }
    Ok(found)
}

impl Sags {
    /// Voltages of the rails of a bench with so much more drawn.
    fn rails(
        &mut self,
        study: &Study<'_>,
        solved: &Solved,
        bench: &Bench,
        rises: Vec<(NodeId, f64)>,
    ) -> Option<Vec<f64>> {
        let steady = solved.steady.as_ref().ok()?;
        let rails = |moved: &[f64], share: f64| {
            let at = |node: NodeId| Some(steady.mean.voltages.get(node.0)? + share * moved.get(node.0)?);
            bench.held.rails.iter().map(|(node, _)| at(*node)).collect()
        };
        let known = self.known.iter().filter(|sag| sag.lineup == solved.lineup).find_map(|sag| {
            let share = sag.share(&rises)?;
            let slight = bench.held.rails.iter().all(|(node, _)| {
                let (still, moved) = (steady.mean.voltages.get(node.0), sag.moved.get(node.0));
                still.zip(moved).is_some_and(|(still, moved)| (share * moved).abs() <= SLIGHTLY * still.abs())
            });
            let is_near = (KNOWN_WITHIN[0]..=KNOWN_WITHIN[1]).contains(&share);
            (is_near || slight).then_some((sag, share))
        });
        if let Some((sag, share)) = known {
            return rails(&sag.moved, share);
        }
        let solve = |rises: &[(NodeId, f64)]| {
            let mut network = solved.lowered.network.clone();
            for (node, rise) in rises {
                let current = Amperes(*rise);
                network.elements.push(Element::CurrentSource { from: *node, to: NodeId::GROUND, current });
            }
            let options = SteadyOptions { steps: FEW_STEPS, agreement: AGREED, means: true, ..Default::default() };
            let near = Some(Near { steady, scale: 1.0 });
            steady_state_near(&network, study.mains.frequency, options, near).ok().map(|found| found.mean.voltages)
        };
        // What few steps miss is missed alike with and without the additional current.
        if !self.still.iter().any(|(lineup, _)| *lineup == solved.lineup) {
            self.still.push((solved.lineup, Arc::new(solve(&[])?)));
        }
        let (_, still) = self.still.iter().find(|(lineup, _)| *lineup == solved.lineup)?;
        let moved: Vec<f64> = solve(&rises)?.iter().zip(still.iter()).map(|(new, old)| new - old).collect();
        let volts = rails(&moved, 1.0);
        self.known.push(Arc::new(Sag { lineup: solved.lineup, rises, moved }));
        volts
    }
}

impl Sag {
    /// How many times the rises of this answer others are; `None` where they are not drawn in the same proportions.
    fn share(&self, rises: &[(NodeId, f64)]) -> Option<f64> {
        if self.rises.len() != rises.len() {
            return None;
        }
        let total = |rises: &[(NodeId, f64)]| rises.iter().map(|(_, rise)| rise).sum::<f64>();
        let share = total(rises) / total(&self.rises);
        let mut pairs = self.rises.iter().zip(rises);
        let alike = pairs.all(|((node, known), (other, rise))| {
            node == other && (rise - share * known).abs() <= ALIKE * total(rises)
        });
        alike.then_some(share)
    }
}
