//! Switch-on from zero charge.

use super::equations::Equations;
use super::march::March;
use super::reduced::{GAMMA, Reduced};
use super::watch::instant_currents;
use super::{Crest, Network, NodeId, SolveError, SwitchOn, Transient};
use crate::units::Seconds;
use std::f64::consts::TAU;

const STEPS_PER_PERIOD: f64 = 160.0;
/// More periods than this are not followed: 200 s at 50 Hz.
const MOST_PERIODS: f64 = 10_000.0;
/// Points kept in the curves, roughly.
const POINTS: usize = 2_000;

/// Follows a switch-on from zero charge, everything in the network conducting at once.
///
/// `weights` are for a sum of the elements' main currents that is followed besides, such as the current of a primary from
/// those of its windings; elements beyond its end count nothing.
///
/// # Errors
/// See [`SolveError`]; a duration that is not finite or is longer than 10,000 periods is [`SolveError::NonFinite`].
pub fn transient(network: &Network, switch_on: SwitchOn, weights: &[f64]) -> Result<Transient, SolveError> {
    network.check()?;
    let periods = switch_on.duration.0 * switch_on.frequency.0;
    if !(switch_on.frequency.0 > 0.0 && (0.0..=MOST_PERIODS).contains(&periods)) {
        return Err(SolveError::NonFinite { node: NodeId::GROUND });
    }
    let equations = Equations::new(network);
    let mut march = March::new(&equations);
    let step = 1.0 / (switch_on.frequency.0 * STEPS_PER_PERIOD);
    let reduced = Reduced::factored(&equations, &march.ports, step)?;
    let steps = (periods * STEPS_PER_PERIOD).ceil() as usize;
    let every = steps.div_ceil(POINTS).max(1);
    let mut state = vec![0.0; equations.stores.len()];
    let mut x = vec![0.0; equations.size];
    let mut now = vec![0.0; network.elements.len()];
    let mut answer = Transient {
        nodes: vec![Crest::default(); equations.nodes],
        elements: vec![Crest::default(); network.elements.len()],
        currents: vec![Crest::default(); network.elements.len()],
        weighted: Crest::default(),
        instants: vec![0.0],
        curves: vec![vec![0.0; equations.nodes]],
    };
    for n in 0..steps {
        let angle = |part: f64| (switch_on.angle + TAU * (n as f64 + part) / STEPS_PER_PERIOD).sin_cos();
        let angles = [angle(GAMMA), angle(1.0)];
        let at = step * (n + 1) as f64;
        march.step(&reduced, angles, &mut state, |march, stage, out| {
            if stage == 0 {
                return;
            }
            march.unknowns(&reduced, angles[1], &mut x);
            instant_currents(network, march, &reduced, &x, out, &mut now);
            let voltage = |node: usize| node.checked_sub(1).map_or(0.0, |n| x[n]);
            for (node, crest) in answer.nodes.iter_mut().enumerate() {
                raise(crest, voltage(node), at);
            }
            for (place, element) in network.elements.iter().enumerate() {
                let (a, b) = element.ends();
                raise(&mut answer.elements[place], voltage(a.0) - voltage(b.0), at);
                raise(&mut answer.currents[place], now[place], at);
            }
            let sum = now.iter().zip(weights).map(|(current, weight)| current * weight).sum();
            raise(&mut answer.weighted, sum, at);
        })?;
        if (n + 1) % every == 0 || n + 1 == steps {
            answer.instants.push(at);
            answer.curves.push(equations.voltages(&x));
        }
    }
    Ok(answer)
}

fn raise(crest: &mut Crest, value: f64, at: f64) {
    if value > crest.maximum {
        crest.maximum = value;
        crest.maximum_at = Seconds(at);
    }
    if value < crest.minimum {
        crest.minimum = value;
        crest.minimum_at = Seconds(at);
    }
}
