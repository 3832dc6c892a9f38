//! One step in time: a singly diagonally implicit scheme of two stages, second order, stiffly accurate and L-stable
//! (R. Alexander, SIAM J. Numer. Anal. 14, 1977), which needs nothing of the past but the stored charges.

use super::SolveError;
use super::assembly::Assembly;
use super::dense::{dot, eliminate, subtract};
use super::devices::{LEAST_CONDUCTANCE, Response};
use super::equations::Equations;
use super::reduced::{GAMMA, Port, Reduced, pick, ports, put};
use std::f64::consts::FRAC_1_SQRT_2;

/// Weights of the two stages in every time average.
pub(super) const WEIGHTS: [f64; 2] = [FRAC_1_SQRT_2, GAMMA];
const ITERATIONS: usize = 150;
/// Change of the port voltages at which Newton stops. What it leaves is the square of it: the currents follow the tangent.
const SETTLED: f64 = 1e-7;
/// After so many iterations a part that only blocked junctions hold may still move by its rounding.
const PATIENCE: usize = 40;
const NEARLY_SETTLED: f64 = 1e-6;
/// Where Newton's method alone does not end: the least part of the way to a stage's solution that is tried in one go, the
/// least share of a step, and the share of the residual by which a whole step must bring it down at the least.
const LEAST_PART: f64 = 1e-4;
const LEAST_SHARE: f64 = 1e-3;
const LEAST_FALL: f64 = 1e-4;

/// Sine and cosine of the mains angle at each stage of a step.
pub(super) type Angles = [(f64, f64); 2];

/// Where a march through time stands, with the room it works in.
#[derive(Debug)]
pub(super) struct March<'a> {
    /// The equations.
    pub equations: &'a Equations,
    /// Their ports.
    pub ports: Vec<Port>,
    /// Port voltages of the last stage.
    pub volts: Vec<f64>,
    /// Port currents of the last stage, what was lent taken off.
    pub amperes: Vec<f64>,
    /// What the devices answered last.
    pub responses: Vec<Response>,
    /// States put into the last stage.
    pub put: Vec<f64>,
    /// Whether every device was shut at the end of the last stage.
    shut: bool,
    /// Change of the states with the states at the beginning, row by row; empty when not wanted.
    pub sensitivity: Vec<f64>,
    middle: Vec<f64>,
    open: Vec<f64>,
    matrix: Vec<f64>,
    side: Vec<f64>,
    before: Vec<f64>,
    residual: Vec<f64>,
    anchor: Vec<f64>,
    gains: Vec<f64>,
    current: Vec<f64>,
    transfer: Vec<f64>,
    scratch: Vec<f64>,
    scratch_put: Vec<f64>,
    all: Vec<f64>,
    room: Vec<f64>,
}

impl<'a> March<'a> {
    /// Ready to march from port voltages zero.
    pub(super) fn new(equations: &'a Equations) -> Self {
        let ports = ports(equations);
        let (k, m) = (ports.len(), equations.stores.len());
        Self {
            equations,
            volts: vec![0.0; k],
            amperes: vec![0.0; k],
            responses: vec![Response::default(); equations.devices.len()],
            put: vec![0.0; m],
            shut: false,
            sensitivity: Vec::new(),
            middle: vec![0.0; m],
            open: vec![0.0; k],
            matrix: vec![0.0; k * k],
            side: vec![0.0; k],
            before: vec![0.0; k],
            residual: vec![0.0; k],
            anchor: vec![0.0; k],
            gains: vec![0.0; k * m],
            current: vec![0.0; m],
            transfer: vec![0.0; m * m],
            scratch: vec![0.0; m * m],
            scratch_put: vec![0.0; m * m],
            all: vec![0.0; equations.size],
            room: vec![0.0; equations.size],
            ports,
        }
    }

    /// Begins to record sensitivities to the states as they now are.
    pub(super) fn record(&mut self) {
        let m = self.put.len();
        self.sensitivity = vec![0.0; m * m];
        for i in 0..m {
            self.sensitivity[i * m + i] = 1.0;
        }
    }

    /// One step. `state` goes from its beginning to its end; `watch` is called after each stage with the weight of the
    /// stage, the states put in and the states that came out.
    pub(super) fn step(
        &mut self,
        reduced: &Reduced,
        angles: Angles,
        state: &mut [f64],
        mut watch: impl FnMut(&Self, usize, &[f64]),
    ) -> Result<(), SolveError> {
        let m = reduced.states;
        let mut middle = std::mem::take(&mut self.middle);
        self.put.copy_from_slice(state);
        let first = self.stage(reduced, angles[0], &mut middle);
        if first.is_ok() {
            watch(self, 0, &middle);
        }
        self.middle = middle;
        first?;
        let recording = !self.sensitivity.is_empty();
        if recording {
            self.find_transfer(reduced);
            product(&self.transfer, &self.sensitivity, &mut self.scratch, m);
        }
        let lead = FRAC_1_SQRT_2 / GAMMA;
        for ((put, start), half) in self.put.iter_mut().zip(&*state).zip(&self.middle) {
            *put = start + lead * (half - start);
        }
        self.stage(reduced, angles[1], state)?;
        watch(self, 1, state);
        if recording {
            self.find_transfer(reduced);
            for ((put, start), half) in self.scratch_put.iter_mut().zip(&self.sensitivity).zip(&self.scratch) {
                *put = start + lead * (half - start);
            }
            product(&self.transfer, &self.scratch_put, &mut self.sensitivity, m);
        }
        Ok(())
    }

    /// How far the step just made may be wrong, for each state: the difference to the scheme of first order within it.
    pub(super) fn doubt(&self, start: &[f64], end: &[f64], place: usize) -> f64 {
        (end[place] - self.put[place]) - (self.middle[place] - start[place])
    }

    /// Solves one stage by Newton's method over the ports.
    fn stage(&mut self, reduced: &Reduced, (sine, cosine): (f64, f64), out: &mut [f64]) -> Result<(), SolveError> {
        let (m, k) = (reduced.states, reduced.ports);
        if let Some(matrix) = &reduced.factored {
            self.solve_open(reduced, matrix, (sine, cosine));
            self.settle(reduced)?;
            for (x, fall) in self.all.iter_mut().zip(reduced.full_ports.chunks_exact(k.max(1))) {
                *x -= dot(fall, &self.amperes);
            }
            for (out, store) in out.iter_mut().zip(&self.equations.stores) {
                *out = pick(&self.all, (store.plus, store.minus));
            }
        } else {
            for i in 0..k {
                self.open[i] = reduced.port_drive[0][i]
                    + sine * reduced.port_drive[1][i]
                    + cosine * reduced.port_drive[2][i]
                    + dot(&reduced.open[i * m..(i + 1) * m], &self.put);
            }
            self.settle(reduced)?;
            for (i, out) in out.iter_mut().enumerate() {
                *out = reduced.state_drive[0][i]
                    + sine * reduced.state_drive[1][i]
                    + cosine * reduced.state_drive[2][i]
                    + dot(&reduced.carry[i * m..(i + 1) * m], &self.put)
                    - dot(&reduced.back[i * k..(i + 1) * k], &self.amperes);
            }
        }
        if out.iter().all(|v| v.is_finite()) { Ok(()) } else { Err(self.not_finite()) }
    }

    /// The unknowns and port voltages as they would be with every port open, by one sparse solution.
    fn solve_open(&mut self, reduced: &Reduced, matrix: &Assembly<f64>, (sine, cosine): (f64, f64)) {
        let equations = self.equations;
        let rate = 1.0 / (GAMMA * reduced.step);
        for (i, x) in self.all.iter_mut().enumerate() {
            *x = equations.direct[i] + sine * equations.sine[i] + cosine * equations.cosine[i];
        }
        for (store, state) in equations.stores.iter().zip(&self.put) {
            put(&mut self.all, (store.plus, store.minus), store.weight * rate * state);
        }
        matrix.solve_in(&mut self.all, &mut self.room);
        for (open, port) in self.open.iter_mut().zip(&self.ports) {
            *open = pick(&self.all, port.ends);
        }
    }

    fn settle(&mut self, reduced: &Reduced) -> Result<(), SolveError> {
        if reduced.ports == 0 || (self.shut && self.stay_shut(reduced)) {
            return Ok(());
        }
        self.shut = false;
        self.anchor.copy_from_slice(&self.volts);
        if !self.stride(reduced)? {
            self.volts.copy_from_slice(&self.anchor);
            self.approach(reduced)?;
        }
        self.shut = !reduced.shut.is_empty() && self.are_shut(&self.volts);
        Ok(())
    }

    /// Newton's method, damped where it turns back; whether it came to its end.
    fn stride(&mut self, reduced: &Reduced) -> Result<bool, SolveError> {
        let mut damping = 1.0;
        self.before.fill(0.0);
        for iteration in 0..ITERATIONS {
            let near = if iteration < PATIENCE { SETTLED } else { NEARLY_SETTLED };
            self.propose(reduced)?;
            let turned = {
                let both = dot(&self.side, &self.before);
                let (new, old) = (dot(&self.side, &self.side), dot(&self.before, &self.before));
                both < -0.5 * (new * old).sqrt() && new > 0.04 * old
            };
            damping = if turned { f64::max(0.5 * damping, 1.0 / 64.0) } else { f64::min(1.6 * damping, 1.0) };
            self.before.copy_from_slice(&self.side);
            let settled = self.is_near(near) && (damping >= 1.0 || iteration >= PATIENCE);
            if !self.move_by(damping) && settled {
                // The last change is far below what the tangent misses, so the currents follow along it.
                self.follow();
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// The way from the last stage's solution in parts: the open voltages go from where that solution answers them to where
    /// they are now, and each part is solved by steps that must bring its residual down.
    fn approach(&mut self, reduced: &Reduced) -> Result<(), SolveError> {
        let aim = self.open.clone();
        self.respond();
        self.find_residual(reduced);
        let from: Vec<f64> = aim.iter().zip(&self.residual).map(|(aim, residual)| aim - residual).collect();
        let (mut done, mut part) = (0.0, 1.0);
        while done < 1.0 {
            let to: f64 = f64::min(done + part, 1.0);
            for ((open, from), aim) in self.open.iter_mut().zip(&from).zip(&aim) {
                *open = from + to * (aim - from);
            }
            self.anchor.copy_from_slice(&self.volts);
            if self.descend(reduced)? {
                done = to;
                part *= 2.0;
            } else {
                self.volts.copy_from_slice(&self.anchor);
                part *= 0.25;
                if part < LEAST_PART {
                    return Err(self.no_convergence());
                }
            }
        }
        Ok(())
    }

    /// Newton's method with steps halved until the residual falls; whether it came to its end.
    fn descend(&mut self, reduced: &Reduced) -> Result<bool, SolveError> {
        let mut here = vec![0.0; self.volts.len()];
        for iteration in 0..ITERATIONS {
            let near = if iteration < PATIENCE { SETTLED } else { NEARLY_SETTLED };
            self.propose(reduced)?;
            let settled = self.is_near(near);
            let residual = dot(&self.residual, &self.residual);
            here.copy_from_slice(&self.volts);
            let mut share = 1.0;
            loop {
                let short = self.move_by(share);
                if settled && !short {
                    self.follow();
                    return Ok(true);
                }
                self.respond();
                self.find_residual(reduced);
                let falls = dot(&self.residual, &self.residual) <= (1.0 - LEAST_FALL * share) * residual;
                if falls || share < LEAST_SHARE {
                    break;
                }
                self.volts.copy_from_slice(&here);
                share *= 0.5;
            }
        }
        Ok(false)
    }

    /// The change of the port voltages that Newton's method proposes into `side`, their residual into `residual`.
    fn propose(&mut self, reduced: &Reduced) -> Result<(), SolveError> {
        self.respond();
        self.find_residual(reduced);
        self.side.copy_from_slice(&self.residual);
        self.fill_matrix(reduced);
        if eliminate(&mut self.matrix, &mut self.side, reduced.ports, 1) { Ok(()) } else { Err(self.not_finite()) }
    }

    /// The open voltages less those that the ports answer with.
    fn find_residual(&mut self, reduced: &Reduced) {
        let k = reduced.ports;
        for i in 0..k {
            self.residual[i] = self.open[i] - self.volts[i] - dot(&reduced.react[i * k..(i + 1) * k], &self.amperes);
        }
    }

    fn is_near(&self, near: f64) -> bool {
        self.side.iter().zip(&self.volts).all(|(change, volts)| change.abs() <= near * (volts.abs() + 1.0))
    }

    /// Takes a share of the proposed change; whether a device's law reined it in.
    fn move_by(&mut self, share: f64) -> bool {
        let mut reined = false;
        let mut place = 0;
        for device in &self.equations.devices {
            let count = device.law.ports();
            let mut old = [0.0; 3];
            let mut new = [0.0; 3];
            for i in 0..count {
                old[i] = self.volts[place + i];
                new[i] = old[i] + share * self.side[place + i];
            }
            let (trial, short) = device.law.rein_ports(old, new);
            reined |= short;
            self.volts[place..place + count].copy_from_slice(&trial[..count]);
            place += count;
        }
        reined
    }

    fn no_convergence(&self) -> SolveError {
        let worst = (0..self.side.len()).max_by(|a, b| self.side[*a].abs().total_cmp(&self.side[*b].abs()));
        SolveError::NoConvergence {
            residual: crate::units::Amperes(0.0),
            iterations: ITERATIONS,
            nodes: self.names(worst.unwrap_or(0)),
        }
    }


    /// How many devices are not shut.
    pub(super) fn conducting(&self) -> usize {
        let mut place = 0;
        let mut count = 0;
        for device in &self.equations.devices {
            count += usize::from(!device.law.is_shut(self.volts[place]));
            place += device.law.ports();
        }
        count
    }

    fn are_shut(&self, volts: &[f64]) -> bool {
        self.equations.devices.iter().zip(volts).all(|(device, volts)| device.law.is_shut(*volts))
    }

    /// Tries the stage with every device still shut, where nothing is left of Newton's method but a product.
    fn stay_shut(&mut self, reduced: &Reduced) -> bool {
        let k = reduced.ports;
        for i in 0..k {
            self.side[i] = reduced.shut_offset[i] + dot(&reduced.shut[i * k..(i + 1) * k], &self.open);
        }
        if !self.are_shut(&self.side) {
            return false;
        }
        self.volts.copy_from_slice(&self.side);
        self.respond();
        true
    }

    fn respond(&mut self) {
        let mut place = 0;
        for (device, response) in self.equations.devices.iter().zip(&mut self.responses) {
            let count = device.law.ports();
            let mut volts = [0.0; 3];
            volts[..count].copy_from_slice(&self.volts[place..place + count]);
            *response = device.law.respond(volts);
            for (i, volts) in volts.iter().enumerate().take(count) {
                let loan = self.ports[place + i].loan;
                self.amperes[place + i] = response.current[i] - loan * volts;
                response.slope[i][i] -= loan;
            }
            place += count;
        }
    }

    fn follow(&mut self) {
        let mut place = 0;
        for (device, response) in self.equations.devices.iter().zip(&self.responses) {
            let count = device.law.ports();
            for i in 0..count {
                self.amperes[place + i] += dot(&response.slope[i][..count], &self.side[place..place + count]);
            }
            place += count;
        }
    }

    /// 1 + react·slopes.
    fn fill_matrix(&mut self, reduced: &Reduced) {
        let k = reduced.ports;
        let mut place = 0;
        for (device, response) in self.equations.devices.iter().zip(&self.responses) {
            let count = device.law.ports();
            for row in 0..k {
                for column in 0..count {
                    let mut sum = if row == place + column { 1.0 } else { 0.0 };
                    for inner in 0..count {
                        sum += reduced.react[row * k + place + inner] * response.slope[inner][column];
                    }
                    self.matrix[row * k + place + column] = sum;
                }
            }
            place += count;
        }
    }

    /// The change of the states that come out of the last stage with those put in.
    fn find_transfer(&mut self, reduced: &Reduced) {
        let (m, k) = (reduced.states, reduced.ports);
        self.transfer.copy_from_slice(&reduced.carry);
        let all_shut = self.shut
            || self
                .responses
                .iter()
                .flat_map(|r| r.slope.iter().flatten())
                .all(|slope| slope.abs() <= 10.0 * LEAST_CONDUCTANCE);
        if all_shut || m == 0 {
            return;
        }
        self.fill_matrix(reduced);
        self.gains.copy_from_slice(&reduced.open);
        if !eliminate(&mut self.matrix, &mut self.gains, k, m) {
            return;
        }
        let mut place = 0;
        for (device, response) in self.equations.devices.iter().zip(&self.responses) {
            let count = device.law.ports();
            for i in 0..count {
                self.current.fill(0.0);
                for (j, slope) in response.slope[i][..count].iter().enumerate() {
                    let gains = &self.gains[(place + j) * m..(place + j + 1) * m];
                    subtract(&mut self.current, -slope, gains);
                }
                for (transfer, back) in self.transfer.chunks_exact_mut(m).zip(reduced.back.chunks_exact(k)) {
                    subtract(transfer, back[place + i], &self.current);
                }
            }
            place += count;
        }
    }

    /// All unknowns at the end of the last stage.
    pub(super) fn unknowns(&self, reduced: &Reduced, (sine, cosine): (f64, f64), x: &mut [f64]) {
        if reduced.factored.is_some() {
            x.copy_from_slice(&self.all);
            return;
        }
        for (i, x) in x.iter_mut().enumerate() {
            *x = reduced.unknown(i, [1.0, sine, cosine], &self.put, &self.amperes);
        }
    }

    /// The current of a port, what was lent to it included.
    pub(super) fn port_current(&self, place: usize) -> f64 {
        self.amperes[place] + self.ports[place].loan * self.volts[place]
    }

    fn names(&self, port: usize) -> Vec<super::NodeId> {
        let ends = self.ports.get(port).map_or((None, None), |p| p.ends);
        [ends.0, ends.1].into_iter().flatten().map(|unknown| self.equations.name(unknown)).collect()
    }

    fn not_finite(&self) -> SolveError {
        SolveError::NonFinite { node: self.names(0).first().copied().unwrap_or(super::NodeId::GROUND) }
    }
}

fn product(a: &[f64], b: &[f64], out: &mut [f64], size: usize) {
    if size == 0 {
        return;
    }
    for (row, out) in a.chunks_exact(size).zip(out.chunks_exact_mut(size)) {
        out.fill(0.0);
        for (factor, line) in row.iter().zip(b.chunks_exact(size)) {
            for (sum, value) in out.iter_mut().zip(line) {
                *sum += factor * value;
            }
        }
    }
}
