//! The periodic solution under the mains: Newton's method on the states at the beginning of a period (shooting).

use super::SolveError;
use super::dense::eliminate;
use super::equations::Equations;
use super::march::{Angles, March};
use super::reduced::{GAMMA, Reduced};
use crate::units::{Amperes, Hertz};
use std::f64::consts::TAU;

const SHOTS: usize = 80;
/// Change of the states, as a share of the largest of their kind, at which the period is closed.
const CLOSED: f64 = 1e-9;
/// After so many shots without closing, some periods are simply waited out.
const PATIENCE: usize = 25;

/// A closed period.
#[derive(Clone, Debug)]
pub(super) struct Orbit {
    /// States at the beginning.
    pub start: Vec<f64>,
    /// Largest difference between the end and the beginning.
    pub gap: f64,
    /// Periods integrated.
    pub periods: usize,
}

/// The instants of one period.
#[derive(Clone, Debug)]
pub(super) struct Clock {
    /// Step, s.
    pub step: f64,
    /// Angles of both stages of each step.
    pub angles: Vec<Angles>,
}

impl Clock {
    /// Even steps through one period.
    pub(super) fn new(frequency: Hertz, steps: usize) -> Self {
        let steps = steps.max(16);
        let part = TAU / steps as f64;
        Self {
            step: 1.0 / (frequency.0 * steps as f64),
            angles: (0..steps)
                .map(|n| [(n as f64 + GAMMA) * part, (n + 1) as f64 * part].map(f64::sin_cos))
                .collect(),
        }
    }
}

impl Clock {
    /// Sine and cosine of a whole number of steps.
    pub(super) fn turn(&self, steps: usize) -> (f64, f64) {
        let count = self.angles.len();
        self.angles[(steps + count - 1) % count][1]
    }
}

/// Closes the period, starting from a guess of its states.
pub(super) fn close(
    march: &mut March,
    reduced: &Reduced,
    clock: &Clock,
    guess: &[f64],
) -> Result<Orbit, SolveError> {
    let m = guess.len();
    let mut start = guess.to_vec();
    let mut end = start.clone();
    let mut matrix = vec![0.0; m * m];
    let mut change = vec![0.0; m];
    let mut gap = 0.0;
    for shot in 1..=SHOTS {
        march.record();
        end.copy_from_slice(&start);
        for angles in &clock.angles {
            march.step(reduced, *angles, &mut end, |_, _, _| {})?;
        }
        for i in 0..m {
            change[i] = end[i] - start[i];
            for j in 0..m {
                let one = if i == j { 1.0 } else { 0.0 };
                matrix[i * m + j] = one - march.sensitivity[i * m + j];
            }
        }
        gap = change.iter().fold(0.0, |most, c| f64::max(most, c.abs()));
        let solved =
            eliminate(&mut matrix, &mut change, m, 1) && change.iter().all(|c| c.is_finite());
        if !solved || shot % PATIENCE == 0 {
            start.copy_from_slice(&end);
            continue;
        }
        for (state, change) in start.iter_mut().zip(&change) {
            *state += change;
        }
        if is_closed(march.equations, &start, &change) {
            return Ok(Orbit {
                start,
                gap,
                periods: shot,
            });
        }
    }
    let worst = (0..m).max_by(|a, b| change[*a].abs().total_cmp(&change[*b].abs()));
    let nodes = worst
        .and_then(|place| {
            march.equations.stores[place]
                .plus
                .or(march.equations.stores[place].minus)
        })
        .map(|unknown| march.equations.name(unknown));
    Err(SolveError::NoConvergence {
        residual: Amperes(gap),
        iterations: SHOTS,
        nodes: nodes.into_iter().collect(),
    })
}

fn is_closed(equations: &Equations, start: &[f64], change: &[f64]) -> bool {
    let largest = |voltage: bool| {
        equations
            .stores
            .iter()
            .zip(start)
            .filter(|(store, _)| (store.weight >= 0.0) == voltage)
            .fold(1e-3, |most, (_, state)| f64::max(most, state.abs()))
    };
    let scales = [largest(false), largest(true)];
    equations
        .stores
        .iter()
        .zip(change)
        .all(|(store, change)| change.abs() <= CLOSED * scales[usize::from(store.weight >= 0.0)])
}
