//! One stage of a step solved by Newton's method over the ports, and what is done where that alone does not end.

use super::March;
use crate::physics::SolveError;
use crate::physics::dense::{dot, eliminate};
use crate::physics::reduced::Reduced;

const ITERATIONS: usize = 150;
/// Change of the port voltages at which Newton stops. What it leaves is the square of it over the voltage in which a law
/// bends, which is 25 mV at the least: below 1e-8 V, as the currents follow the tangent.
const SETTLED: f64 = 1e-5;
/// After so many iterations a part that only blocked junctions hold may still move by its rounding.
const PATIENCE: usize = 40;
const NEARLY_SETTLED: f64 = 1e-6;
/// Where Newton's method alone does not end: the least part of the way to a stage's solution that is tried in one go, the
/// least share of a step, and the share of the residual by which a whole step must bring it down at the least.
const LEAST_PART: f64 = 1e-4;
const LEAST_SHARE: f64 = 1e-3;
const LEAST_FALL: f64 = 1e-4;

impl March<'_> {
    /// The port voltages and currents of one stage, its open voltages known.
    pub(super) fn settle(&mut self, reduced: &Reduced) -> Result<(), SolveError> {
        if reduced.ports == 0 || (self.shut && self.stay_shut(reduced)) {
            return Ok(());
        }
        self.shut = false;
        self.anchor.copy_from_slice(&self.volts);
        if !self.stride(reduced)? {
            if self.brief {
                return Err(self.no_convergence());
            }
            self.volts.copy_from_slice(&self.anchor);
            self.fresh = false;
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
                self.fresh = false;
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
                self.fresh = false;
                share *= 0.5;
            }
        }
        Ok(false)
    }

    /// The change of the port voltages that Newton's method proposes into `side`, their residual into `residual`.
    fn propose(&mut self, reduced: &Reduced) -> Result<(), SolveError> {
        if !self.fresh {
            self.respond();
        }
        self.find_residual(reduced);
        self.fill_matrix(reduced);
        let (n, k) = (self.active.len(), reduced.ports);
        for (moved, active) in self.moved.iter_mut().zip(&self.active) {
            *moved = active.answer(|port| self.residual[port]);
        }
        if !eliminate(&mut self.matrix[..n * n], &mut self.moved[..n], n, 1) {
            return Err(self.not_finite());
        }
        for (place, side) in self.side.iter_mut().enumerate() {
            let falls =
                self.active.iter().zip(&self.moved).map(|(row, moved)| reduced.react[place * k + row.port] * moved);
            *side = self.residual[place] - falls.sum::<f64>();
        }
        Ok(())
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
        self.fresh = false;
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
}
