//! Supply and load, each solved by itself, until their common voltages agree.
//!
//! The supply is solved in time to its closed period; the load at direct current, at the mean voltages of the supply. Each
//! sees the other: the load as currents and conductances at the nodes they share, the supply as those means. Near the end
//! the conductances are replaced by those at the frequency of the ripple, where bypass capacitors make the load another one.

use super::equations::{Equations, value};
use super::load::{Load, Port};
use super::march::March;
use super::orbit::{Answer, Clock, Orbit, close, is_closed};
use super::partition::Part;
use super::reduced::Reduced;
use super::ripple::fourier;
use super::watch::{Period, record, sketch};
use super::{Element, Network, NodeId, SolveError, SteadyOptions, SteadyState, operating_point};
use crate::units::{Amperes, Hertz, Volts};

const ROUNDS: usize = 60;
/// Disagreement below which the load is seen as the ripple sees it, and rounds given to that before it is given up.
const NEARLY: f64 = 1e-3;
const RIPPLE_ROUNDS: usize = 20;
/// The search goes on with a quarter of the steps until supply and load agree so far; only then with all of them.
const COARSE: usize = 4;
const COARSE_AGREEMENT: f64 = 1e-3;
/// Change of the states at which a period on the way and a last one is closed, and the gap that a recorded one may have.
const CLOSED_ON_THE_WAY: f64 = 1e-3;
const CLOSED_FINE: f64 = 1e-5;
const CLOSED: f64 = 1e-7;
/// Change at which a period is closed that has not closed so far.
const CLOSED_STRICTLY: f64 = 1e-9;
/// Mean of a rectified sine over its rms, roughly: a first guess of direct voltages.
const FIRST_GUESS: f64 = 1.25;

/// The supply's period and how it was reached.
pub(super) struct Solved {
    /// The closed period, recorded.
    pub period: Period,
    /// Where it begins.
    pub orbit: Orbit,
    /// Periods integrated on the way.
    pub periods: usize,
}

/// Where a search may begin: the steady state of a similar network, in the numbering of the whole, and how many times its
/// emfs the present ones are.
#[derive(Clone, Copy, Debug)]
pub struct Near<'a> {
    /// The steady state of the similar network.
    pub steady: &'a SteadyState,
    /// Present emfs over those of the similar network.
    pub scale: f64,
}

impl Near<'_> {
    /// Mean voltages of a part's nodes.
    pub(super) fn means(&self, part: &Part) -> Vec<f64> {
        let at = |node: &NodeId| self.scale * self.steady.mean.voltage(*node).0;
        part.nodes.iter().map(at).collect()
    }

    /// States of a part at the beginning of the period: those of capacitors; a choke's is its mean current.
    fn states(&self, part: &Part, equations: &Equations) -> Vec<f64> {
        let last = |node: &NodeId| {
            let wave = self.steady.waveforms.get(node.0).and_then(|wave| wave.last().copied());
            self.scale * wave.unwrap_or_else(|| self.steady.mean.voltage(*node).0)
        };
        let beginning: Vec<f64> = part.nodes.iter().map(last).collect();
        let mut states = states_at(equations, &beginning);
        for (state, store) in states.iter_mut().zip(&equations.stores) {
            if let (true, Some(id)) = (store.weight < 0.0, part.elements.get(store.element)) {
                *state = self.scale * self.steady.elements.get(id.0).map_or(0.0, |swing| swing.current.mean);
            }
        }
        states
    }
}

/// How the supply sees its load.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum View {
    /// As a plain resistance.
    First,
    /// Along the tangent at direct current.
    Direct,
    /// Along the tangent at the ripple, since so many rounds.
    Ripple(usize),
    /// At direct current for good, the ripple's tangent having led nowhere.
    DirectOnly,
}

impl View {
    fn next(self, disagreement: f64, is_fine: bool) -> Self {
        match self {
            Self::First => Self::Direct,
            Self::Direct if is_fine && disagreement < NEARLY => Self::Ripple(0),
            Self::Ripple(rounds) if rounds >= RIPPLE_ROUNDS => Self::DirectOnly,
            Self::Ripple(rounds) => Self::Ripple(rounds + 1),
            same => same,
        }
    }

    fn is_final(self) -> bool {
        matches!(self, Self::Ripple(_) | Self::DirectOnly)
    }
}

/// Repeats supply and load until their common voltages agree.
pub(super) fn agree(
    supply: &Part,
    load: &mut Load,
    frequency: Hertz,
    fine: &Clock,
    (options, near): (SteadyOptions, Option<Near<'_>>),
) -> Result<Solved, SolveError> {
    let lift = |error| supply.lift(error);
    let guess = near.map_or_else(|| first_guess(&supply.network), |near| near.means(supply));
    let mut means: Vec<f64> = guess.clone();
    let mut states: Option<Vec<f64>> = None;
    let mut volts: Option<Vec<f64>> = None;
    let mut ripple = frequency;
    let mut view = if near.is_some() { View::Direct } else { View::First };
    let mut last_change: Vec<f64> = Vec::new();
    let (mut periods, mut damping, mut before) = (0, 1.0, f64::INFINITY);
    let coarse = Clock::new(frequency, fine.angles.len() / COARSE);
    let mut is_fine = false;
    let mut answer = Answer::default();
    let mut pattern = None;
    for _ in 0..ROUNDS {
        let clock = if is_fine { fine } else { &coarse };
        // What is only on the way need not be closed further than the next round moves it.
        let closed = if is_fine && view.is_final() { CLOSED_FINE } else { CLOSED_ON_THE_WAY };
        load.solve(|node| supply_voltage(supply, &means, node))?;
        if let View::Ripple(_) = view {
            load.see_at(ripple)?;
        }
        let mut equations = Equations::new(&supply.network);
        for port in &load.ports {
            attach(supply, &mut equations, port, load, view);
        }
        let mut march = March::new(&equations);
        if let Some(volts) = &volts {
            march.begin_at(volts);
        }
        let reduced = Reduced::inverted(&equations, &march.ports, clock.step, &mut pattern).map_err(lift)?;
        let start = states.take().unwrap_or_else(|| match near {
            Some(near) => near.states(supply, &equations),
            None => states_at(&equations, &guess),
        });
        let mut orbit = match close(&mut march, &reduced, clock, (&start, &mut answer), closed) {
            Ok(orbit) => orbit,
            // Coarse steps may jump across a knee for ever where fine ones do not.
            Err(_) if !is_fine => {
                is_fine = true;
                states = None;
                volts = None;
                continue;
            }
            Err(trouble) => return Err(lift(trouble)),
        };
        periods += orbit.periods;
        let may_be_last = is_fine && (view.is_final() || load.ports.is_empty());
        let mut period = if may_be_last {
            record(&supply.network, &mut march, &reduced, clock, &orbit.start)
        } else {
            let shared = |node: usize| is_port(supply, load, node);
            sketch(&mut march, &reduced, clock, &orbit.start, shared)
        }
        .map_err(lift)?;
        if may_be_last && !is_closed(&equations, &orbit.start, &period.gap, CLOSED) {
            orbit = close(&mut march, &reduced, clock, (&orbit.start, &mut answer), CLOSED_STRICTLY).map_err(lift)?;
            periods += orbit.periods;
            period = record(&supply.network, &mut march, &reduced, clock, &orbit.start).map_err(lift)?;
        }
        orbit.gap = period.gap.iter().fold(0.0, |most, gap| f64::max(most, gap.abs()));
        let fresh: Vec<f64> = period.nodes.iter().map(|n| n.mean).collect();
        let disagreement = disagreement(supply, load, &means, &fresh);
        if may_be_last && (load.ports.is_empty() || disagreement <= options.agreement) {
            load.solve(|node| supply_voltage(supply, &fresh, node))?;
            return Ok(Solved { period, orbit, periods });
        }
        let change: Vec<f64> = fresh.iter().zip(&means).map(|(f, m)| f - m).collect();
        damping = match view {
            View::Ripple(rounds) if rounds > 0 => relaxation(damping, &last_change, &change),
            _ if disagreement > 0.7 * before => f64::max(0.5 * damping, 1.0 / 32.0),
            _ => f64::min(1.5 * damping, 1.0),
        };
        last_change = change;
        for (mean, change) in means.iter_mut().zip(&last_change) {
            *mean += damping * change;
        }
        before = disagreement;
        view = view.next(disagreement, is_fine);
        if !is_fine && (load.ports.is_empty() || disagreement <= COARSE_AGREEMENT) {
            // What the finer steps change is no sequel to the last change: all of it is taken.
            is_fine = true;
            last_change.clear();
            (damping, before) = (1.0, f64::INFINITY);
        }
        ripple = Hertz(frequency.0 * strongest_harmonic(supply, load, &period, clock));
        volts = Some(march.volts.clone());
        states = Some(orbit.start);
    }
    Err(SolveError::NoConvergence {
        residual: Amperes(0.0),
        iterations: ROUNDS,
        nodes: load.ports.iter().map(|p| p.node).take(4).collect(),
    })
}

/// How much of a change to take: along the ripple's tangent the means approach each other by a nearly constant factor, of
/// which two changes tell (A. C. Aitken's Δ², for vectors).
fn relaxation(taken: f64, last: &[f64], now: &[f64]) -> f64 {
    let (mut along, mut square) = (0.0, 0.0);
    for (last, now) in last.iter().zip(now) {
        along += last * (now - last);
        square += (now - last).powi(2);
    }
    if square > 0.0 { (-taken * along / square).clamp(0.1, 10.0) } else { 1.0 }
}

/// The largest change at the common nodes, as a share of the largest voltage.
fn disagreement(supply: &Part, load: &Load, means: &[f64], fresh: &[f64]) -> f64 {
    let scale = fresh.iter().fold(1e-3, |most, v| f64::max(most, v.abs()));
    load.ports
        .iter()
        .filter_map(|port| supply.place.get(port.node.0).copied().flatten())
        .map(|node| (fresh[node.0] - means[node.0]).abs() / scale)
        .fold(0.0, f64::max)
}

fn is_port(supply: &Part, load: &Load, node: usize) -> bool {
    load.ports.iter().any(|port| supply.place.get(port.node.0).copied().flatten() == Some(NodeId(node)))
}

/// Whether the ripple at the common nodes is mostly of mains frequency (1) or of twice that (2).
fn strongest_harmonic(supply: &Part, load: &Load, period: &Period, clock: &Clock) -> f64 {
    let strength = |harmonic: usize| -> f64 {
        load.ports
            .iter()
            .filter_map(|port| supply.place.get(port.node.0).copied().flatten())
            .map(|node| fourier(&period.waveforms[node.0], clock, harmonic).norm())
            .sum()
    };
    if strength(1) > strength(2) { 1.0 } else { 2.0 }
}

fn supply_voltage(supply: &Part, means: &[f64], node: NodeId) -> f64 {
    supply.place.get(node.0).copied().flatten().and_then(|place| means.get(place.0).copied()).unwrap_or(0.0)
}

/// Direct voltages with every emf replaced by a direct one, tried in both directions: the larger of the two.
fn first_guess(supply: &Network) -> Vec<f64> {
    let tried: Vec<Vec<f64>> = [FIRST_GUESS, -FIRST_GUESS]
        .iter()
        .filter_map(|factor| {
            let mut network = supply.clone();
            for element in &mut network.elements {
                if let Element::Winding { a, b, emf, resistance, phase } = *element {
                    *element =
                        Element::Supply { plus: a, minus: b, voltage: Volts(emf.0 * factor * phase.cos()), resistance };
                }
            }
            operating_point(&network, None).ok().map(|p| p.voltages)
        })
        .collect();
    (0..supply.nodes.max(1))
        .map(|node| tried.iter().map(|v| v[node]).fold(0.0, |most: f64, v| if v.abs() > most.abs() { v } else { most }))
        .collect()
}

fn states_at(equations: &Equations, voltages: &[f64]) -> Vec<f64> {
    let x = equations.spread(voltages);
    equations.stores.iter().map(|s| value(&x, s.plus) - value(&x, s.minus)).collect()
}

/// Puts what the load draws at one node into the supply's equations: along its tangent, or at first as a plain resistance.
fn attach(supply: &Part, equations: &mut Equations, port: &Port, load: &Load, view: View) {
    let place = |node: NodeId| {
        let place = supply.place.get(node.0).copied().flatten();
        place.and_then(|n| n.0.checked_sub(1))
    };
    let Some(row) = place(port.node) else {
        return;
    };
    if view == View::First {
        if port.current * port.voltage > 0.0 {
            equations.conductance.push((row, row, port.current / port.voltage));
        } else {
            equations.direct[row] -= port.current;
        }
        return;
    }
    // A load's small capacitance is counted into the capacitor that stands there, so that it needs no state of its own.
    let standing = equations.stores.iter_mut().find(|store| {
        let ends = (store.plus, store.minus);
        store.weight > 0.0 && (ends == (Some(row), None) || ends == (None, Some(row)))
    });
    if let Some(store) = standing {
        store.lent = port.capacitance.max(-0.5 * store.weight);
        store.weight += store.lent;
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
