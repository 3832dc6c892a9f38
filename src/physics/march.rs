//! One step in time: a singly diagonally implicit scheme of two stages, second order, stiffly accurate and L-stable
//! (R. Alexander, SIAM J. Numer. Anal. 14, 1977), which needs nothing of the past but the stored charges.

mod settle;

use super::SolveError;
use super::assembly::Assembly;
use super::dense::{dot, eliminate, subtract};
use super::devices::{LEAST_CONDUCTANCE, Ports, Response};
use super::equations::Equations;
use super::reduced::{GAMMA, Port, Reduced, pick, ports, put};
use std::f64::consts::FRAC_1_SQRT_2;

/// Weights of the two stages in every time average.
pub(super) const WEIGHTS: [f64; 2] = [FRAC_1_SQRT_2, GAMMA];

/// Sine and cosine of the mains angle at each stage of a step.
pub(super) type Angles = [(f64, f64); 2];

/// A port whose current moves with the voltages of its device's ports.
#[derive(Clone, Copy, Debug)]
struct Active {
    port: usize,
    /// First port of its device, and how many there are.
    place: usize,
    count: usize,
    slope: Ports,
}

impl Active {
    /// Its current, from voltages by port.
    fn answer(&self, volts: impl Fn(usize) -> f64) -> f64 {
        self.slope[..self.count].iter().enumerate().map(|(port, slope)| slope * volts(self.place + port)).sum()
    }
}

/// Where a march through time stands, with the room it works in.
#[derive(Debug)]
pub(super) struct March<'a> {
    /// The equations.
    pub equations: &'a Equations,
    /// Their ports.
    pub ports: Vec<Port>,
    /// Port voltages of the last stage; to be set by `begin_at` alone.
    pub volts: Vec<f64>,
    /// Port currents of the last stage, what was lent taken off.
    pub amperes: Vec<f64>,
    /// What the devices answered last.
    pub responses: Vec<Response>,
    /// States put into the last stage.
    pub put: Vec<f64>,
    /// Whether a stage that plain Newton's method does not solve is given up at once: for those who then take a smaller step.
    pub brief: bool,
    /// Whether every device was shut at the end of the last stage.
    shut: bool,
    /// Whether `amperes` and `responses` are those at `volts`, so that a stage may begin with them.
    fresh: bool,
    /// Change of the states with the states at the beginning, row by row; empty when not wanted.
    pub sensitivity: Vec<f64>,
    middle: Vec<f64>,
    open: Vec<f64>,
    matrix: Vec<f64>,
    side: Vec<f64>,
    before: Vec<f64>,
    residual: Vec<f64>,
    anchor: Vec<f64>,
    active: Vec<Active>,
    moved: Vec<f64>,
    gains: Vec<f64>,
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
            brief: false,
            shut: false,
            fresh: false,
            sensitivity: Vec::new(),
            middle: vec![0.0; m],
            open: vec![0.0; k],
            matrix: vec![0.0; k * k],
            side: vec![0.0; k],
            before: vec![0.0; k],
            residual: vec![0.0; k],
            anchor: vec![0.0; k],
            active: Vec::with_capacity(k),
            moved: vec![0.0; k],
            gains: vec![0.0; k * m],
            transfer: vec![0.0; m * m],
            scratch: vec![0.0; m * m],
            scratch_put: vec![0.0; m * m],
            all: vec![0.0; equations.size],
            room: vec![0.0; equations.size],
            ports,
        }
    }

    /// Makes the next stage begin at these port voltages.
    pub(super) fn begin_at(&mut self, volts: &[f64]) {
        self.volts.copy_from_slice(volts);
        self.fresh = false;
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
        self.fresh = true;
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
        self.fresh = true;
    }

    /// 1 + slopes·react over the ports whose currents move at all: most grids draw none.
    fn fill_matrix(&mut self, reduced: &Reduced) {
        self.active.clear();
        let mut place = 0;
        for (device, response) in self.equations.devices.iter().zip(&self.responses) {
            let count = device.law.ports();
            let moving = (0..count).filter(|row| response.slope[*row][..count].iter().any(|slope| *slope != 0.0));
            self.active.extend(moving.map(|row| Active {
                port: place + row,
                place,
                count,
                slope: response.slope[row],
            }));
            place += count;
        }
        let (n, k) = (self.active.len(), reduced.ports);
        for (row, line) in self.active.iter().zip(self.matrix.chunks_exact_mut(n.max(1))) {
            for (column, entry) in self.active.iter().zip(line) {
                let one = if row.port == column.port { 1.0 } else { 0.0 };
                *entry = one + row.answer(|port| reduced.react[port * k + column.port]);
            }
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
        let n = self.active.len();
        for (row, gains) in self.active.iter().zip(self.gains.chunks_exact_mut(m)) {
            gains.fill(0.0);
            for (slope, open) in row.slope[..row.count].iter().zip(reduced.open[row.place * m..].chunks_exact(m)) {
                subtract(gains, -slope, open);
            }
        }
        if !eliminate(&mut self.matrix[..n * n], &mut self.gains[..n * m], n, m) {
            return;
        }
        for (transfer, back) in self.transfer.chunks_exact_mut(m).zip(reduced.back.chunks_exact(k)) {
            for (row, gains) in self.active.iter().zip(self.gains.chunks_exact(m)) {
                subtract(transfer, back[row.port], gains);
            }
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
