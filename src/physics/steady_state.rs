//! The periodic steady state under the mains, supply and load together.
//!
//! The supply (what follows the mains) is solved in time to its closed period; the load at direct current, at the mean
//! voltages of the supply. Each sees the other: the load as currents and conductances at the nodes they share, the supply as
//! those means. This is repeated until the means agree; then the ripple is carried into the load by small signals.

use super::equations::Equations;
use super::load::{Load, Port};
use super::march::March;
use super::orbit::{Clock, Orbit, close};
use super::partition::{Part, supply_elements, supply_nodes};
use super::reduced::Reduced;
use super::ripple::carry_ripple;
use super::watch::{Period, record};
use super::{
    Currents, Element, ElementId, Network, NodeId, OperatingPoint, SolveError, SteadyOptions,
    SteadyState, Swing, operating_point,
};
use crate::units::{Amperes, Hertz, Volts};

const ROUNDS: usize = 40;
/// Mean of a rectified sine over its rms, roughly: a first guess of direct voltages.
const FIRST_GUESS: f64 = 1.25;

/// Solves the mains-driven periodic steady state together with the load.
///
/// A network in which no winding with an emf reaches a rectifier gives its operating point, with the emfs of its windings
/// carried through it as a small signal.
///
/// # Errors
/// See [`SolveError`].
pub fn steady_state(
    network: &Network,
    frequency: Hertz,
    options: SteadyOptions,
) -> Result<SteadyState, SolveError> {
    network.check()?;
    if !(frequency.0.is_finite() && frequency.0 > 0.0) {
        return Err(SolveError::NonFinite {
            node: NodeId::GROUND,
        });
    }
    let clock = Clock::new(frequency, options.steps);
    let (nodes, inside) = if options.whole {
        let all = vec![true; network.nodes.max(1)];
        (all, vec![true; network.elements.len()])
    } else {
        let nodes = supply_nodes(network, frequency);
        let inside = supply_elements(network, &nodes);
        (nodes, inside)
    };
    let chosen = |wanted: bool| {
        let inside = &inside;
        (0..inside.len())
            .filter(move |n| inside[*n] == wanted)
            .map(ElementId)
    };
    let supply = Part::of(network, chosen(true));
    let mut load = Load::new(network, chosen(false), &nodes);
    let solved = agree(&supply, &mut load, &clock, options)?;
    let mut steady = gather(network, &supply, &load, &solved);
    carry_ripple(network, &load, frequency, &clock, &mut steady)?;
    Ok(steady)
}

/// The supply's period and how it was reached.
struct Solved {
    period: Period,
    orbit: Orbit,
    periods: usize,
}

/// Repeats supply and load until their common voltages agree.
fn agree(
    supply: &Part,
    load: &mut Load,
    clock: &Clock,
    options: SteadyOptions,
) -> Result<Solved, SolveError> {
    let lift = |error| supply.lift(error);
    let guess = first_guess(&supply.network);
    let mut means: Vec<f64> = guess.clone();
    let mut states: Option<Vec<f64>> = None;
    let mut volts: Option<Vec<f64>> = None;
    let mut periods = 0;
    let mut disagreement = f64::INFINITY;
    for round in 0..ROUNDS {
        load.solve(|node| supply_voltage(supply, &means, node))?;
        let mut equations = Equations::new(&supply.network);
        for port in &load.ports {
            attach(supply, &mut equations, port, load, round == 0);
        }
        let mut march = March::new(&equations);
        if let Some(volts) = &volts {
            march.volts.copy_from_slice(volts);
        }
        let reduced = Reduced::inverted(&equations, &march.ports, clock.step).map_err(lift)?;
        let start = states.unwrap_or_else(|| states_at(&equations, &guess));
        let orbit = close(&mut march, &reduced, clock, &start).map_err(lift)?;
        periods += orbit.periods;
        let period =
            record(&supply.network, &mut march, &reduced, clock, &orbit.start).map_err(lift)?;
        let fresh: Vec<f64> = period.nodes.iter().map(|n| n.mean).collect();
        let scale = fresh.iter().fold(1e-3, |most, v| f64::max(most, v.abs()));
        disagreement = load
            .ports
            .iter()
            .filter_map(|port| supply.place.get(port.node.0).copied().flatten())
            .map(|node| (fresh[node.0] - means[node.0]).abs() / scale)
            .fold(0.0, f64::max);
        means = fresh;
        volts = Some(march.volts.clone());
        if disagreement <= options.agreement || load.ports.is_empty() {
            load.solve(|node| supply_voltage(supply, &means, node))?;
            return Ok(Solved {
                period,
                orbit,
                periods,
            });
        }
        states = Some(orbit.start);
    }
    Err(SolveError::NoConvergence {
        residual: Amperes(disagreement),
        iterations: ROUNDS,
        nodes: load.ports.iter().map(|p| p.node).take(4).collect(),
    })
}

fn supply_voltage(supply: &Part, means: &[f64], node: NodeId) -> f64 {
    supply
        .place
        .get(node.0)
        .copied()
        .flatten()
        .and_then(|place| means.get(place.0).copied())
        .unwrap_or(0.0)
}

/// Direct voltages with every emf replaced by a direct one, tried in both directions: the larger of the two.
fn first_guess(supply: &Network) -> Vec<f64> {
    let tried: Vec<Vec<f64>> = [FIRST_GUESS, -FIRST_GUESS]
        .iter()
        .filter_map(|factor| {
            let mut network = supply.clone();
            for element in &mut network.elements {
                if let Element::Winding {
                    a,
                    b,
                    emf,
                    resistance,
                    phase,
                } = *element
                {
                    *element = Element::Supply {
                        plus: a,
                        minus: b,
                        voltage: Volts(emf.0 * factor * phase.cos()),
                        resistance,
                    };
                }
            }
            operating_point(&network, None).ok().map(|p| p.voltages)
        })
        .collect();
    (0..supply.nodes.max(1))
        .map(|node| {
            tried.iter().map(|v| v[node]).fold(
                0.0,
                |most: f64, v| if v.abs() > most.abs() { v } else { most },
            )
        })
        .collect()
}

fn states_at(equations: &Equations, voltages: &[f64]) -> Vec<f64> {
    let x = equations.spread(voltages);
    equations
        .stores
        .iter()
        .map(|s| super::equations::value(&x, s.plus) - super::equations::value(&x, s.minus))
        .collect()
}

/// Puts what the load draws at one node into the supply's equations: exactly along its tangent, or at first as a plain resistance.
fn attach(supply: &Part, equations: &mut Equations, port: &Port, load: &Load, first: bool) {
    let place = |node: NodeId| {
        let place = supply.place.get(node.0).copied().flatten();
        place.and_then(|n| n.0.checked_sub(1))
    };
    let Some(row) = place(port.node) else {
        return;
    };
    if first {
        if port.current * port.voltage > 0.0 {
            equations
                .conductance
                .push((row, row, port.current / port.voltage));
        } else {
            equations.direct[row] -= port.current;
        }
        return;
    }
    let mut offset = port.current;
    for (slope, other) in port.slopes.iter().zip(&load.ports) {
        if let Some(column) = place(other.node) {
            equations.conductance.push((row, column, *slope));
        }
        offset -= slope * other.voltage;
    }
    equations.direct[row] -= offset;
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
        steady.mean.currents[id.0].main = Amperes(swing.current.mean);
        // Devices come in the order of their elements: plate first, then grid, then screen.
        match network.elements[id.0] {
            Element::Triode { .. } => {
                steady.mean.currents[id.0].grid = Amperes(period.port_means[port + 1]);
                port += 2;
            }
            Element::Pentode { .. } => {
                steady.mean.currents[id.0].grid = Amperes(period.port_means[port + 1]);
                steady.mean.currents[id.0].screen = Amperes(period.port_means[port + 2]);
                port += 3;
            }
            Element::Junction { .. }
            | Element::VacuumDiode { .. }
            | Element::CurrentSource { .. } => port += 1,
            _ => {}
        }
    }
    steady
}
