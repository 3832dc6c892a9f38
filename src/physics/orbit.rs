//! The periodic solution under the mains: Newton's method on the states at the beginning of a period (shooting).

use super::SolveError;
use super::dense::eliminate;
use super::equations::Equations;
use super::march::{Angles, March};
use super::reduced::{GAMMA, Reduced};
use crate::units::{Amperes, Hertz};
use std::f64::consts::TAU;

const SHOTS: usize = 160;
/// After so many shots a change that opens the period further is taken back by halves, so often.
const CAREFUL: usize = 10;
const HALVINGS: i32 = 4;
/// The least share of a change that is taken while Newton jumps back and forth.
const LEAST_DAMPING: f64 = 1.0 / 256.0;
/// After so many shots without closing, so many periods are simply waited out.
const PATIENCE: usize = 25;
const WAITED: usize = 10;
/// An answer found at another shot is given up where the energy of the change falls by less than to this share.
const SLOW: f64 = 0.04;
/// How much smaller than a change found anew one must be that was found with such an answer.
const OLD_SHARE: f64 = 0.03;

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
            angles: (0..steps).map(|n| [(n as f64 + GAMMA) * part, (n + 1) as f64 * part].map(f64::sin_cos)).collect(),
        }
    }
}

impl Clock {
    /// Sine and cosine of a harmonic at the end of each step.
    pub(super) fn turns(&self, harmonic: usize) -> impl Iterator<Item = (f64, f64)> {
        let count = self.angles.len();
        let onward = harmonic % count;
        let mut place = count - 1;
        (0..count).map(move |_| {
            place += onward;
            if place >= count {
                place -= count;
            }
            self.angles[place][1]
        })
    }
}

/// How the end of a period answers its beginning, as found at one shot and good for others nearby: 1 − ∂end/∂start, row by
/// row. Empty where nothing is known.
#[derive(Clone, Debug, Default)]
pub(super) struct Answer(Vec<f64>);

/// A search for the closed period and the room it works in.
struct Shooting<'m, 'e> {
    march: &'m mut March<'e>,
    answer: &'m mut Answer,
    start: Vec<f64>,
    end: Vec<f64>,
    matrix: Vec<f64>,
    change: Vec<f64>,
}

impl Shooting<'_, '_> {
    /// One period from `start` to `end`.
    fn shoot(&mut self, reduced: &Reduced, clock: &Clock) -> Result<(), SolveError> {
        self.end.copy_from_slice(&self.start);
        for angles in &clock.angles {
            self.march.step(reduced, *angles, &mut self.end, |_, _, _| {})?;
        }
        Ok(())
    }

    /// The energy in the difference between end and start, a measure of how open the period is.
    fn openness(&self) -> f64 {
        let stores = self.march.equations.stores.iter();
        stores
            .zip(&self.end)
            .zip(&self.start)
            .map(|((store, end), start)| store.weight.abs() * (end - start).powi(2))
            .sum()
    }

    fn gap(&self) -> f64 {
        let pairs = self.end.iter().zip(&self.start);
        pairs.fold(0.0, |most, (end, start)| f64::max(most, (end - start).abs()))
    }

    /// Keeps what the shot just made has recorded.
    fn keep_answer(&mut self) {
        let m = self.start.len();
        let sensitivity = std::mem::take(&mut self.march.sensitivity);
        let ones = (0..m * m).map(|place| if place % (m + 1) == 0 { 1.0 } else { 0.0 });
        self.answer.0 = ones.zip(sensitivity).map(|(one, s)| one - s).collect();
    }

    /// The change of the start that Newton's method proposes; `false` when it proposes none.
    fn propose(&mut self) -> bool {
        for ((change, end), start) in self.change.iter_mut().zip(&self.end).zip(&self.start) {
            *change = end - start;
        }
        self.matrix.copy_from_slice(&self.answer.0);
        eliminate(&mut self.matrix, &mut self.change, self.start.len(), 1) && self.change.iter().all(|c| c.is_finite())
    }

    /// The energy that two changes share, a measure of how far they go one way.
    fn energy(&self, a: &[f64], b: &[f64]) -> f64 {
        let pairs = self.march.equations.stores.iter().zip(a).zip(b);
        pairs.map(|((store, a), b)| store.weight.abs() * a * b).sum()
    }

    /// Whether the energy of the proposed change is more than a small share of that of the last one, if there was one.
    fn is_slow(&self, last: &[f64]) -> bool {
        let before = self.energy(last, last);
        before > 0.0 && self.energy(&self.change, &self.change) > SLOW * before
    }

    fn turned_back(&self, last: &[f64]) -> bool {
        let (both, old) = (self.energy(&self.change, last), self.energy(last, last));
        let new = self.energy(&self.change, &self.change);
        both < -0.5 * (old * new).sqrt() && new > 0.04 * old
    }

    fn move_by(&mut self, share: f64) {
        for (state, change) in self.start.iter_mut().zip(&self.change) {
            *state += share * change;
        }
    }
}

/// Closes the period, starting from a guess of its states, until the last change of the states is below `closed`, a share
/// of the largest of their kind. What is left open then is the square of it.
///
/// How the end answers the start is recorded anew only where what is known of it does not bring the period together
/// quickly; a change so found must be smaller, as it leaves a share of itself and not its square.
pub(super) fn close(
    march: &mut March,
    reduced: &Reduced,
    clock: &Clock,
    (guess, answer): (&[f64], &mut Answer),
    closed: f64,
) -> Result<Orbit, SolveError> {
    let m = guess.len();
    let equations = march.equations;
    let mut is_new = answer.0.len() != m * m;
    let mut shooting = Shooting {
        march,
        answer,
        start: guess.to_vec(),
        end: guess.to_vec(),
        matrix: vec![0.0; m * m],
        change: vec![0.0; m],
    };
    let mut last = vec![0.0; m];
    let (mut before, mut halvings, mut damping) = (f64::INFINITY, 0, 1.0);
    for shot in 1..=SHOTS {
        shooting.march.sensitivity.clear();
        if is_new {
            shooting.march.record();
        }
        shooting.shoot(reduced, clock)?;
        let openness = shooting.openness();
        if shot > CAREFUL && openness > 2.0 * before && halvings < HALVINGS {
            // Half of the way that is left of the last change is taken back.
            halvings += 1;
            shooting.move_by(-damping * 0.5f64.powi(halvings));
            is_new = true;
            continue;
        }
        before = openness;
        halvings = 0;
        if is_new {
            shooting.keep_answer();
        }
        if shot % PATIENCE == 0 || !shooting.propose() {
            for _ in 0..WAITED {
                shooting.start.copy_from_slice(&shooting.end);
                shooting.shoot(reduced, clock)?;
            }
            before = f64::INFINITY;
            is_new = true;
            continue;
        }
        let gap = shooting.gap();
        let turned = shooting.turned_back(&last);
        if !is_new && (turned || shooting.is_slow(&last)) {
            // What is known is of no use here: the same place is looked at again.
            is_new = true;
            continue;
        }
        // A change that undoes the one before it means that Newton is jumping across a knee.
        damping = if turned { f64::max(0.5 * damping, LEAST_DAMPING) } else { f64::min(1.6 * damping, 1.0) };
        last.copy_from_slice(&shooting.change);
        shooting.move_by(damping);
        let closed = if is_new { closed } else { OLD_SHARE * closed };
        if is_closed(equations, &shooting.start, &shooting.change, closed) {
            return Ok(Orbit { gap, start: shooting.start, periods: shot });
        }
        is_new = shot >= CAREFUL || damping < 1.0;
    }
    shooting.answer.0.clear();
    let size = |place: &usize| shooting.change[*place].abs();
    let worst = (0..m).max_by(|a, b| size(a).total_cmp(&size(b)));
    let nodes = worst
        .and_then(|place| equations.stores[place].plus.or(equations.stores[place].minus))
        .map(|unknown| equations.name(unknown));
    Err(SolveError::NoConvergence { residual: Amperes(0.0), iterations: SHOTS, nodes: nodes.into_iter().collect() })
}

/// Whether a change of the states is below a share of the largest of their kind.
pub(super) fn is_closed(equations: &Equations, start: &[f64], change: &[f64], closed: f64) -> bool {
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
        .all(|(store, change)| change.abs() <= closed * scales[usize::from(store.weight >= 0.0)])
}
