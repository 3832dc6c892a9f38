//! The operating point at direct current: Newton's method, then source stepping, then conductance stepping.

use super::assembly::{Assembly, add_currents, offset};
use super::devices::{Ports, Response};
use super::equations::Equations;
use super::{Network, NodeId, OperatingPoint, SolveError};
use crate::units::Amperes;

const PLAIN_ITERATIONS: usize = 60;
const STEP_ITERATIONS: usize = 40;
/// Relative change of every unknown at which Newton may stop, and the least absolute one (V, A).
const SETTLED: f64 = 1e-9;
const LEAST_CHANGE: f64 = 1e-10;
/// Unbalance allowed at a node: a share of the currents that meet there, and the least absolute one, A.
const BALANCED: f64 = 1e-8;
const LEAST_BALANCE: f64 = 1e-11;

/// Solves the network at direct current: capacitors open, chokes their resistance, windings their resistance without emf.
///
/// `guess` may hold the node voltages of a similar network. Nodes without any direct path to the reference are held at
/// 0 V and listed as floating.
///
/// # Errors
/// See [`SolveError`].
pub fn operating_point(network: &Network, guess: Option<&[f64]>) -> Result<OperatingPoint, SolveError> {
    network.check()?;
    let equations = Equations::new(network);
    let start = guess.map_or_else(|| vec![0.0; equations.size], |voltages| equations.spread(voltages));
    let mut search = Search::new(&equations, start);
    search.solve()?;
    Ok(search.answer(network))
}

/// A Newton search and where it stands.
pub(super) struct Search<'a> {
    equations: &'a Equations,
    pub matrix: Assembly<f64>,
    /// The unknowns.
    pub x: Vec<f64>,
    volts: Vec<Ports>,
    /// The devices at the last trial.
    pub responses: Vec<Response>,
    change: Vec<f64>,
    iterations: usize,
}

impl<'a> Search<'a> {
    /// Begins at given unknowns.
    pub(super) fn new(equations: &'a Equations, x: Vec<f64>) -> Self {
        let nodes = equations.nodes - 1;
        Self {
            equations,
            matrix: Assembly::new(equations, (0..nodes).map(|n| (n, n)), |v| v),
            volts: first_volts(equations, &x),
            responses: vec![Response::default(); equations.devices.len()],
            change: vec![0.0; equations.size],
            x,
            iterations: 0,
        }
    }

    /// Tries the three methods in turn.
    pub(super) fn solve(&mut self) -> Result<(), SolveError> {
        let start = self.x.clone();
        match self.newton(1.0, 0.0, PLAIN_ITERATIONS) {
            Err(SolveError::NoConvergence { .. } | SolveError::NonFinite { .. }) => {}
            settled => return settled,
        }
        self.restart(vec![0.0; start.len()]);
        if self.step_sources().is_ok() {
            return Ok(());
        }
        self.restart(start);
        self.step_conductance()
    }

    fn restart(&mut self, x: Vec<f64>) {
        self.volts = first_volts(self.equations, &x);
        self.x = x;
    }

    /// Raises all sources together from nothing.
    fn step_sources(&mut self) -> Result<(), SolveError> {
        let (mut reached, mut step) = (0.0, 0.1);
        while reached < 1.0 {
            let aim = f64::min(1.0, reached + step);
            let kept = self.x.clone();
            match self.newton(aim, 0.0, STEP_ITERATIONS) {
                Ok(()) => {
                    reached = aim;
                    step *= 1.7;
                }
                Err(trouble) => {
                    self.restart(kept);
                    step /= 4.0;
                    if step < 1e-5 {
                        return Err(trouble);
                    }
                }
            }
        }
        Ok(())
    }

    /// Takes away a conductance that ties every node to the reference.
    fn step_conductance(&mut self) -> Result<(), SolveError> {
        let (mut siemens, mut factor) = (1e-1, 10.0);
        self.newton(1.0, siemens, PLAIN_ITERATIONS)?;
        while siemens > 1e-13 {
            let kept = self.x.clone();
            match self.newton(1.0, siemens / factor, STEP_ITERATIONS) {
                Ok(()) => {
                    siemens /= factor;
                    factor = f64::min(factor * factor, 100.0);
                }
                Err(trouble) => {
                    self.restart(kept);
                    factor = f64::sqrt(factor);
                    if factor < 1.02 {
                        return Err(trouble);
                    }
                }
            }
        }
        self.newton(1.0, 0.0, PLAIN_ITERATIONS)
    }

    /// Newton's method with the sources at a share of their value and a conductance at every node.
    fn newton(&mut self, share: f64, siemens: f64, limit: usize) -> Result<(), SolveError> {
        let equations = self.equations;
        let mut damping = 1.0;
        let mut before = vec![0.0; equations.size];
        let mut next = vec![0.0; equations.size];
        self.matrix.extra_mut().fill(siemens);
        for _ in 0..limit {
            self.iterations += 1;
            self.linearise();
            self.matrix.factor().map_err(|unknown| equations.singular(unknown.0))?;
            for (side, source) in next.iter_mut().zip(&equations.direct) {
                *side = share * source;
            }
            for ((device, response), volts) in equations.devices.iter().zip(&self.responses).zip(&self.volts) {
                add_currents(device, offset(response, *volts), -1.0, &mut next);
            }
            self.matrix.solve(&mut next);
            if let Some(place) = next.iter().position(|v| !v.is_finite()) {
                return Err(SolveError::NonFinite { node: equations.name(place) });
            }
            for ((change, new), old) in self.change.iter_mut().zip(&next).zip(&self.x) {
                *change = new - old;
            }
            // A step that undoes the one before it means that Newton is jumping over the solution.
            damping = if turned_back(&self.change, &before) {
                f64::max(damping * 0.5, 1.0 / 32.0)
            } else {
                f64::min(damping * 1.6, 1.0)
            };
            before.copy_from_slice(&self.change);
            for (x, change) in self.x.iter_mut().zip(&self.change) {
                *x += damping * change;
            }
            let mut short = false;
            for (device, volts) in equations.devices.iter().zip(&mut self.volts) {
                let (trial, reined) = device.law.rein_ports(*volts, device.volts(&self.x));
                *volts = trial;
                short |= reined;
            }
            let settled =
                self.x.iter().zip(&self.change).all(|(x, change)| change.abs() <= SETTLED * x.abs() + LEAST_CHANGE);
            if settled && !short && self.is_balanced(share, siemens) {
                return Ok(());
            }
        }
        Err(self.trouble(share, siemens))
    }

    fn linearise(&mut self) {
        for ((device, volts), response) in self.equations.devices.iter().zip(&self.volts).zip(&mut self.responses) {
            *response = device.law.respond(*volts);
        }
        self.matrix.set_slopes(self.equations, &self.responses, |v| v);
    }

    /// For each unknown the sum that should be zero and the sum of the sizes of its terms.
    fn balance(&mut self, share: f64, siemens: f64) -> Vec<(f64, f64)> {
        let equations = self.equations;
        let mut sums: Vec<(f64, f64)> = equations.direct.iter().map(|b| (-share * b, (share * b).abs())).collect();
        for &(row, column, value) in &equations.conductance {
            let term = value * self.x[column];
            sums[row].0 += term;
            sums[row].1 += term.abs();
        }
        for (sum, x) in sums.iter_mut().zip(&self.x).take(equations.nodes - 1) {
            sum.0 += siemens * x;
        }
        let mut into = vec![0.0; equations.size];
        for ((device, volts), response) in equations.devices.iter().zip(&mut self.volts).zip(&mut self.responses) {
            *volts = device.volts(&self.x);
            *response = device.law.respond(*volts);
            add_currents(device, response.current, 1.0, &mut into);
        }
        for (sum, current) in sums.iter_mut().zip(into) {
            sum.0 += current;
            sum.1 += current.abs();
        }
        sums
    }

    fn is_balanced(&mut self, share: f64, siemens: f64) -> bool {
        self.balance(share, siemens).iter().all(|(sum, terms)| sum.abs() <= BALANCED * terms + LEAST_BALANCE)
    }

    fn residual(&mut self, share: f64, siemens: f64) -> f64 {
        let nodes = self.equations.nodes - 1;
        self.balance(share, siemens).iter().take(nodes).map(|(sum, _)| sum.abs()).fold(0.0, f64::max)
    }

    fn trouble(&mut self, share: f64, siemens: f64) -> SolveError {
        let mut places: Vec<usize> = (0..self.equations.size).collect();
        places.sort_by(|a, b| self.change[*b].abs().total_cmp(&self.change[*a].abs()));
        let mut nodes: Vec<NodeId> = Vec::new();
        for place in places {
            let name = self.equations.name(place);
            if nodes.len() < 4 && !nodes.contains(&name) {
                nodes.push(name);
            }
        }
        SolveError::NoConvergence {
            residual: Amperes(self.residual(share, siemens)),
            iterations: self.iterations,
            nodes,
        }
    }

    /// The solution that was found.
    pub(super) fn answer(&mut self, network: &Network) -> OperatingPoint {
        let residual = Amperes(self.residual(1.0, 0.0));
        let device_currents: Vec<Ports> = self.responses.iter().map(|r| r.current).collect();
        OperatingPoint {
            voltages: self.equations.voltages(&self.x),
            currents: self.equations.currents(network, &self.x, &device_currents),
            floating: self.equations.floating.clone(),
            residual,
            iterations: self.iterations,
        }
    }

    /// For a supply's branch: the change of all unknowns for each volt more, at the last solution.
    pub(super) fn response_to(&mut self, branch: usize) -> Result<Vec<f64>, SolveError> {
        self.linearise();
        self.matrix.extra_mut().fill(0.0);
        self.matrix.factor().map_err(|unknown| self.equations.singular(unknown.0))?;
        let mut side = vec![0.0; self.equations.size];
        side[branch] = 1.0;
        self.matrix.solve(&mut side);
        Ok(side)
    }
}

/// Port voltages to begin with, reined: a guess knows nothing of the drop inside a junction, and its exponential would
/// drown every other entry of the matrix.
fn first_volts(equations: &Equations, x: &[f64]) -> Vec<Ports> {
    equations.devices.iter().map(|device| device.law.rein_ports([0.0; 3], device.volts(x)).0).collect()
}

fn turned_back(now: &[f64], before: &[f64]) -> bool {
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let (both, old, new) = (dot(now, before), dot(before, before), dot(now, now));
    both < -0.5 * (old * new).sqrt() && new > 0.04 * old
}
