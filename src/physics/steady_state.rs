//! The periodic steady state under the mains, supply and load together.
//!
//! The network is taken apart into what follows the mains and what does not, both are solved until they agree
//! (see [`super::agreement`]), and the ripple is carried from the one into the other by small signals.
//!
//! What that costs, against the network solved as one: nothing in means; up to a tenth of a small ripple where a filter
//! resonates near one harmonic while another one is stronger. A network that ripples much is solved as one.

use super::agreement::{Near, Solved, agree};
use super::equations::Equations;
use super::load::Load;
use super::orbit::Clock;
use super::partition::{Part, supply_elements, supply_nodes};
use super::ripple::carry_ripple;
use super::{
    Currents, Element, ElementId, Network, NodeId, OperatingPoint, SolveError, SteadyOptions, SteadyState, Swing,
};
use crate::units::{Amperes, Hertz};

/// Ripple, as a share of the mean, beyond which a nonlinear load is not replaced by its tangent.
const LARGE_RIPPLE: f64 = 0.1;
/// So many times the steps are taken where a period will not close.
const OTHER_STEPS: usize = 3;
/// A network with more nonlinear elements than this is always taken apart: solving it as one would take seconds.
const MOST_NONLINEAR: usize = 32;

/// Solves the mains-driven periodic steady state together with the load.
///
/// A network in which no winding with an emf reaches a rectifier gives its operating point, with the emfs of its windings
/// carried through it as a small signal.
///
/// # Errors
/// See [`SolveError`].
pub fn steady_state(network: &Network, frequency: Hertz, options: SteadyOptions) -> Result<SteadyState, SolveError> {
    steady_state_near(network, frequency, options, None)
}

/// The same, beginning at the steady state of a network with the same nodes and much the same elements.
///
/// # Errors
/// See [`SolveError`].
pub fn steady_state_near(
    network: &Network,
    frequency: Hertz,
    options: SteadyOptions,
    near: Option<Near<'_>>,
) -> Result<SteadyState, SolveError> {
    network.check()?;
    if !(frequency.0.is_finite() && frequency.0 > 0.0) {
        return Err(SolveError::NonFinite { node: NodeId::GROUND });
    }
    if near.is_some()
        && let Ok(steady) = solve(network, frequency, options, near)
    {
        return Ok(steady);
    }
    match solve(network, frequency, options, None) {
        // Between two knees the map over a period may have a corner that other steps do not meet.
        Err(SolveError::NoConvergence { .. }) => {
            let finer = SteadyOptions { steps: OTHER_STEPS * options.steps, ..options };
            solve(network, frequency, finer, None)
        }
        settled => settled,
    }
}

fn solve(
    network: &Network,
    frequency: Hertz,
    options: SteadyOptions,
    near: Option<Near<'_>>,
) -> Result<SteadyState, SolveError> {
    if options.whole {
        return solve_whole(network, frequency, options, near);
    }
    let nodes = supply_nodes(network, frequency);
    let inside = supply_elements(network, &nodes);
    match solve_parted(network, frequency, (options, near), (&nodes, &inside)) {
        // Where supply and load cannot settle with each other, or the load is shaken beyond what a tangent tells, nothing
        // is taken apart.
        Ok(steady) if is_shaken(network, &steady, &nodes, &inside) => {
            solve_whole(network, frequency, options, near).or(Ok(steady))
        }
        Err(SolveError::NoConvergence { .. }) if inside.contains(&true) && is_small(network) => {
            solve_whole(network, frequency, options, near)
        }
        settled => settled,
    }
}

/// Whether a nonlinear load hangs on nodes of much ripple, and the network is small enough to be solved in time.
fn is_shaken(network: &Network, steady: &SteadyState, supply: &[bool], inside: &[bool]) -> bool {
    let load = || {
        let pairs = network.elements.iter().zip(inside);
        pairs.filter(|(_, inside)| !**inside).map(|(element, _)| element)
    };
    let shaken = load().flat_map(Element::terminals).any(|node| {
        let swing = steady.nodes[node.0];
        supply[node.0] && swing.peak_to_peak() > LARGE_RIPPLE * swing.mean.abs()
    });
    shaken && load().any(is_nonlinear) && is_small(network)
}

fn is_small(network: &Network) -> bool {
    let nonlinear = network.elements.iter().filter(|e| is_nonlinear(e));
    nonlinear.count() <= MOST_NONLINEAR
}

fn is_nonlinear(element: &Element) -> bool {
    !matches!(
        element,
        Element::Resistor { .. }
            | Element::Capacitor { .. }
            | Element::Inductor { .. }
            | Element::Winding { .. }
            | Element::Supply { .. }
    )
}

fn solve_whole(
    network: &Network,
    frequency: Hertz,
    options: SteadyOptions,
    near: Option<Near<'_>>,
) -> Result<SteadyState, SolveError> {
    let nodes = vec![true; network.nodes.max(1)];
    let inside = vec![true; network.elements.len()];
    solve_parted(network, frequency, (options, near), (&nodes, &inside))
}

fn solve_parted(
    network: &Network,
    frequency: Hertz,
    (options, near): (SteadyOptions, Option<Near<'_>>),
    (nodes, inside): (&[bool], &[bool]),
) -> Result<SteadyState, SolveError> {
    let clock = Clock::new(frequency, options.steps);
    let chosen = |wanted: bool| (0..inside.len()).filter(move |n| inside[*n] == wanted).map(ElementId);
    let supply = Part::of(network, chosen(true));
    let mut load = Load::new(network, chosen(false), nodes);
    if let Some(near) = near {
        load.point.voltages = near.means(&load.part);
    }
    let solved = agree(&supply, &mut load, frequency, &clock, (options, near))?;
    let mut steady = gather(network, &supply, &load, &solved);
    if !options.means {
        carry_ripple(network, &load, frequency, &clock, &mut steady)?;
    }
    Ok(steady)
}

/// Puts both parts together in the numbering of the whole.
fn gather(network: &Network, supply: &Part, load: &Load, solved: &Solved) -> SteadyState {
    let count = network.nodes.max(1);
    let period = &solved.period;
    let mut steady = SteadyState {
        mean: OperatingPoint {
            voltages: vec![0.0; count],
            currents: vec![Currents::default(); network.elements.len()],
            floating: Equations::new(network).floating,
            residual: load.point.residual,
            iterations: load.point.iterations,
        },
        nodes: vec![Swing::default(); count],
        elements: vec![super::ElementSwing::default(); network.elements.len()],
        waveforms: vec![Vec::new(); count],
        winding_waves: vec![Vec::new(); network.elements.len()],
        periodicity: solved.orbit.gap,
        periods: solved.periods,
    };
    for (local, node) in load.part.nodes.iter().enumerate() {
        let voltage = load.point.voltages.get(local).copied().unwrap_or(0.0);
        steady.mean.voltages[node.0] = voltage;
        steady.nodes[node.0] = Swing::steady(voltage);
    }
    for (local, id) in load.part.elements.iter().enumerate() {
        let currents = load.point.currents[local];
        let (a, b) = network.elements[id.0].ends();
        let voltage = steady.mean.voltages[a.0] - steady.mean.voltages[b.0];
        steady.mean.currents[id.0] = currents;
        steady.elements[id.0] = super::ElementSwing {
            current: Swing::steady(currents.main.0),
            voltage: Swing::steady(voltage),
            conduction: f64::from(u8::from(currents.main.0 != 0.0)),
        };
    }
    for (local, node) in supply.nodes.iter().enumerate().skip(1) {
        steady.nodes[node.0] = period.nodes[local];
        steady.mean.voltages[node.0] = period.nodes[local].mean;
        steady.waveforms[node.0].clone_from(&period.waveforms[local]);
    }
    let mut port = 0;
    for (local, id) in supply.elements.iter().enumerate() {
        let swing = period.elements[local];
        steady.elements[id.0] = swing;
        steady.winding_waves[id.0].clone_from(&period.winding_waves[local]);
        steady.mean.currents[id.0].main = Amperes(swing.current.mean);
        // Devices come in the order of their elements: plate first, then grid, then screen.
        match network.elements[id.0] {
            Element::Triode { .. } | Element::FieldEffect { .. } | Element::Bipolar { .. } => {
                steady.mean.currents[id.0].grid = Amperes(period.port_means[port + 1]);
                port += 2;
            }
            Element::Pentode { .. } => {
                steady.mean.currents[id.0].grid = Amperes(period.port_means[port + 1]);
                steady.mean.currents[id.0].screen = Amperes(period.port_means[port + 2]);
                port += 3;
            }
            Element::Junction { .. } | Element::VacuumDiode { .. } | Element::CurrentSource { .. } => port += 1,
            _ => {}
        }
    }
    steady
}
