//! How a network discharges by itself once the mains is gone.

use super::equations::{Equations, value};
use super::islands::{is_live_supply, islands};
use super::march::{Angles, March};
use super::partition::Part;
use super::reduced::Reduced;
use super::{Discharge, Element, Network, NodeId, SolveError};
use crate::units::{Amperes, Seconds, Volts};

/// The least step, s; every longer one is a power of two of it.
const LEAST_STEP: f64 = 1e-7;
/// Error allowed in a step: a share of the threshold and a share of the voltage itself. It bounds a scheme of lower order
/// than the one that is used, so what is really made is far smaller.
const TOLERANCE: f64 = 1e-3;
/// The same for currents of chokes, A.
const LEAST_CURRENT: f64 = 1e-6;
const MOST_STEPS: usize = 50_000;
/// No emf at any angle.
const DARK: Angles = [(0.0, 0.0); 2];

/// Follows the natural decay of every capacitor from the given node voltages; every emf is taken as gone, chokes as without current.
///
/// Nonlinear elements take part: diodes block, tubes that are still in the network conduct. No leakage is assumed but
/// 1 pS beside junctions, plates and parts that nothing else ties to the reference.
///
/// # Errors
/// See [`SolveError`].
pub fn discharge(
    network: &Network,
    initial: &[f64],
    threshold: Volts,
    horizon: Seconds,
) -> Result<Discharge, SolveError> {
    network.check()?;
    if !(horizon.0.is_finite() && threshold.0 > 0.0) {
        return Err(SolveError::NonFinite { node: NodeId::GROUND });
    }
    let mut answer = Discharge { times: vec![None; network.elements.len()], steps: 0 };
    for island in islands(network) {
        let part = Part::of(network, island.into_iter());
        let initial: Vec<f64> = part.nodes.iter().map(|node| initial.get(node.0).copied().unwrap_or(0.0)).collect();
        let found = decay(&part.network, &initial, threshold, horizon).map_err(|error| part.lift(error))?;
        answer.steps += found.steps;
        for (id, time) in part.elements.iter().zip(found.times) {
            answer.times[id.0] = time;
        }
    }
    Ok(answer)
}

/// The discharge of a part that hangs together.
fn decay(network: &Network, initial: &[f64], threshold: Volts, horizon: Seconds) -> Result<Discharge, SolveError> {
    let equations = Equations::new(network);
    let x = equations.spread(initial);
    let mut state: Vec<f64> = equations
        .stores
        .iter()
        .map(|s| match network.elements[s.element] {
            Element::Capacitor { .. } => value(&x, s.plus) - value(&x, s.minus),
            _ => 0.0,
        })
        .collect();
    let mut last_above: Vec<Option<f64>> =
        state.iter().map(|v| (v.abs() > threshold.0).then_some(f64::INFINITY)).collect();
    let enough = enough_energy(network, &equations, threshold);
    let mut march = March::new(&equations);
    let mut sizes: Vec<Option<Reduced>> = Vec::new();
    let mut pattern = None;
    let mut size = 3;
    let mut now = 0.0;
    let mut steps = 0;
    while now < horizon.0 && energy(&equations, &state) >= enough {
        steps += 1;
        if steps > MOST_STEPS {
            return Err(SolveError::NoConvergence { residual: Amperes(0.0), iterations: steps, nodes: Vec::new() });
        }
        if sizes.len() <= size {
            sizes.resize(size + 1, None);
        }
        let step = LEAST_STEP * 2f64.powi(i32::try_from(size).unwrap_or(0));
        let reduced = match &mut sizes[size] {
            Some(reduced) => &*reduced,
            empty => empty.insert(Reduced::factored(&equations, &march.ports, step, &mut pattern)?),
        };
        let (before, volts) = (state.clone(), march.volts.clone());
        march.brief = size > 0;
        let made = march.step(reduced, DARK, &mut state, |_, _, _| {});
        let worst = match made {
            Ok(()) => doubt(&equations, &march, &before, &state, threshold.0),
            Err(_) if size > 0 => f64::INFINITY,
            Err(trouble) => return Err(trouble),
        };
        if worst > 1.0 && size > 0 {
            size -= if worst > 16.0 { 2.min(size) } else { 1 };
            state = before;
            march.begin_at(&volts);
            continue;
        }
        for ((last, old), new) in last_above.iter_mut().zip(&before).zip(&state) {
            if new.abs() > threshold.0 {
                *last = Some(f64::INFINITY);
            } else if old.abs() > threshold.0 {
                *last = Some(now + step * crossing(*old, *new, threshold.0));
            }
        }
        now += step;
        if worst < 0.2 {
            size += 1;
        }
    }
    let mut answer = Discharge { times: vec![None; network.elements.len()], steps };
    for (store, last) in equations.stores.iter().zip(last_above) {
        if let Element::Capacitor { .. } = network.elements[store.element] {
            let fallen = last.unwrap_or(0.0);
            answer.times[store.element] = (fallen <= horizon.0).then_some(Seconds(fallen));
        }
    }
    Ok(answer)
}

/// What is stored, J.
fn energy(equations: &Equations, state: &[f64]) -> f64 {
    equations.stores.iter().zip(state).map(|(store, state)| 0.5 * store.weight.abs() * state.powi(2)).sum()
}

/// The energy below which no capacitor can come to the threshold any more, whatever the others put into it, J; none of a
/// network in which something still delivers.
fn enough_energy(network: &Network, equations: &Equations, threshold: Volts) -> f64 {
    if network.elements.iter().any(is_live_supply) {
        return 0.0;
    }
    let capacitors = equations.stores.iter().filter(|store| store.weight >= 0.0);
    capacitors.map(|store| 0.5 * store.weight * threshold.0.powi(2)).fold(f64::INFINITY, f64::min)
}

/// The share of a step at which an exponential decay passes the threshold.
fn crossing(old: f64, new: f64, threshold: f64) -> f64 {
    let (old, new) = (old.abs(), new * old.signum());
    let share = if new > 0.0 && new < old {
        (old / threshold).ln() / (old / new).ln()
    } else {
        (old - threshold) / (old - new)
    };
    share.clamp(0.0, 1.0)
}

fn doubt(equations: &Equations, march: &March, before: &[f64], after: &[f64], threshold: f64) -> f64 {
    equations
        .stores
        .iter()
        .enumerate()
        .map(|(place, store)| {
            let least = if store.weight >= 0.0 { TOLERANCE * threshold } else { LEAST_CURRENT };
            let allowed = least + TOLERANCE * after[place].abs();
            march.doubt(before, after, place).abs() / allowed
        })
        .fold(0.0, f64::max)
}
