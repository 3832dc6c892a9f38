//! Sparse linear equations, real or complex: the structure is analysed once, then factored as often as values change.
//!
//! Gaussian elimination with Markowitz's choice of pivots (the least fill among pivots that are large enough,
//! H. M. Markowitz, Management Science 3, 1957), recorded as a straight list of operations.

use std::ops::{Div, Mul, Sub};

/// A number that elimination works on.
pub(super) trait Number: Copy + Default + Mul<Output = Self> + Sub<Output = Self> + Div<Output = Self> {
    /// Its absolute value.
    fn size(self) -> f64;
    /// The sum with another.
    fn plus(self, other: Self) -> Self;
}

impl Number for f64 {
    fn size(self) -> f64 {
        self.abs()
    }
    fn plus(self, other: Self) -> Self {
        self + other
    }
}

impl Number for nalgebra::Complex<f64> {
    fn size(self) -> f64 {
        self.re.abs() + self.im.abs()
    }
    fn plus(self, other: Self) -> Self {
        self + other
    }
}

/// A pivot smaller than this is no pivot: every node has at least 1 pS, every branch row a 1.
const LEAST_PIVOT: f64 = 1e-14;
/// A pivot must reach this share of the largest entry of its row.
const PIVOT_SHARE: f64 = 1e-3;

/// Elimination stopped: nothing determines this unknown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Undetermined(pub usize);

#[derive(Clone, Debug)]
struct Step {
    row: usize,
    column: usize,
    pivot: usize,
    /// Slots of the pivot row right of the pivot, with their columns.
    across: Vec<(usize, usize)>,
    /// Slots of the pivot column below the pivot, with their rows; each is followed in `targets` by one slot per entry of `across`.
    below: Vec<(usize, usize)>,
    targets: Vec<usize>,
}

/// A factored matrix whose pattern stays the same.
#[derive(Clone, Debug)]
pub(super) struct Factors<T> {
    slots: Vec<usize>,
    values: Vec<T>,
    steps: Vec<Step>,
}

impl<T: Number> Factors<T> {
    /// Analyses and factors the matrix that is the sum of `values` at `places` (row, column).
    pub(super) fn analyse(size: usize, places: &[(usize, usize)], values: &[T]) -> Result<Self, Undetermined> {
        let mut slot_at = vec![usize::MAX; size * size];
        let mut rows: Vec<Vec<usize>> = vec![Vec::new(); size];
        let mut columns: Vec<Vec<usize>> = vec![Vec::new(); size];
        let mut count = 0;
        let mut slots = Vec::with_capacity(places.len());
        for &(row, column) in places {
            let slot = &mut slot_at[row * size + column];
            if *slot == usize::MAX {
                *slot = count;
                count += 1;
                rows[row].push(column);
                columns[column].push(row);
            }
            slots.push(*slot);
        }
        let mut work = vec![T::default(); count];
        for (slot, value) in slots.iter().zip(values) {
            work[*slot] = work[*slot].plus(*value);
        }
        let mut steps = Vec::with_capacity(size);
        let mut left: Vec<usize> = (0..size).collect();
        while !left.is_empty() {
            let Some((row, column)) = choose(&left, &rows, &columns, &slot_at, &work, size) else {
                let unknown = (0..size).find(|c| !steps.iter().any(|s: &Step| s.column == *c)).unwrap_or(0);
                return Err(Undetermined(unknown));
            };
            left.retain(|r| *r != row);
            let pivot = slot_at[row * size + column];
            let across: Vec<(usize, usize)> =
                rows[row].iter().filter(|c| **c != column).map(|c| (slot_at[row * size + c], *c)).collect();
            let below: Vec<(usize, usize)> =
                columns[column].iter().filter(|r| **r != row).map(|r| (slot_at[r * size + column], *r)).collect();
            let mut targets = Vec::with_capacity(across.len() * below.len());
            for &(down, r) in &below {
                let factor = work[down] / work[pivot];
                work[down] = factor;
                for &(right, c) in &across {
                    let slot = &mut slot_at[r * size + c];
                    if *slot == usize::MAX {
                        *slot = work.len();
                        work.push(T::default());
                        rows[r].push(c);
                        columns[c].push(r);
                    }
                    work[*slot] = work[*slot] - factor * work[right];
                    targets.push(*slot);
                }
                rows[r].retain(|c| *c != column);
            }
            for &(_, c) in &across {
                columns[c].retain(|r| *r != row);
            }
            rows[row].clear();
            columns[column].clear();
            steps.push(Step { row, column, pivot, across, below, targets });
        }
        Ok(Self { slots, values: work, steps })
    }

    /// Factors again with other values at the same places. `false` when a pivot has become too small: analyse anew.
    #[must_use]
    pub(super) fn refactor(&mut self, values: &[T]) -> bool {
        self.values.fill(T::default());
        for (slot, value) in self.slots.iter().zip(values) {
            self.values[*slot] = self.values[*slot].plus(*value);
        }
        for step in &self.steps {
            let pivot = self.values[step.pivot];
            let largest = step.across.iter().map(|(slot, _)| self.values[*slot].size()).fold(0.0, f64::max);
            let size = pivot.size();
            // Written so that a NaN is refused too.
            if !(size >= LEAST_PIVOT && size >= largest * PIVOT_SHARE * 1e-3) {
                return false;
            }
            let mut target = step.targets.iter();
            for &(down, _) in &step.below {
                let factor = self.values[down] / pivot;
                self.values[down] = factor;
                for (&(right, _), slot) in step.across.iter().zip(&mut target) {
                    self.values[*slot] = self.values[*slot] - factor * self.values[right];
                }
            }
        }
        true
    }

    /// Solves for one right-hand side, in place; `room` is as long as it.
    pub(super) fn solve(&self, side: &mut [T], room: &mut [T]) {
        for step in &self.steps {
            let known = side[step.row];
            for &(down, row) in &step.below {
                side[row] = side[row] - self.values[down] * known;
            }
        }
        for step in self.steps.iter().rev() {
            let mut sum = side[step.row];
            for &(slot, column) in &step.across {
                sum = sum - self.values[slot] * room[column];
            }
            room[step.column] = sum / self.values[step.pivot];
        }
        side.copy_from_slice(room);
    }
}

fn choose<T: Number>(
    left: &[usize],
    rows: &[Vec<usize>],
    columns: &[Vec<usize>],
    slot_at: &[usize],
    work: &[T],
    size: usize,
) -> Option<(usize, usize)> {
    let mut best: Option<(usize, f64, usize, usize)> = None;
    for &row in left {
        let value = |column: usize| work[slot_at[row * size + column]].size();
        let largest = rows[row].iter().map(|c| value(*c)).fold(0.0, f64::max);
        for &column in &rows[row] {
            let here = value(column);
            if !(here >= LEAST_PIVOT && here >= PIVOT_SHARE * largest) {
                continue;
            }
            let fill = (rows[row].len() - 1) * (columns[column].len() - 1);
            let share = here / largest;
            let better = best.is_none_or(|(least, most, _, _)| fill < least || (fill == least && share > most * 1.5));
            if better {
                best = Some((fill, share, row, column));
            }
        }
    }
    best.map(|(_, _, row, column)| (row, column))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn agrees_with_dense_elimination(
            size in 1usize..12,
            seeds in prop::collection::vec((0usize..12, 0usize..12, -2.0f64..2.0), 0..60),
            side in prop::collection::vec(-1.0f64..1.0, 12),
        ) {
            let mut dense = nalgebra::DMatrix::<f64>::zeros(size, size);
            let mut places = Vec::new();
            let mut values = Vec::new();
            for n in 0..size {
                places.push((n, (n + 1) % size));
                values.push(3.0);
            }
            for (r, c, v) in seeds {
                places.push((r % size, c % size));
                values.push(v);
            }
            for ((r, c), v) in places.iter().zip(&values) {
                dense[(*r, *c)] += v;
            }
            let condition = dense.clone().svd(false, false).singular_values;
            prop_assume!(condition.min() > 1e-6);
            let mut factors = Factors::analyse(size, &places, &values).unwrap();
            let expected = dense.lu().solve(&nalgebra::DVector::from_row_slice(&side[..size])).unwrap();
            for again in [false, true] {
                if again {
                    prop_assert!(factors.refactor(&values));
                }
                let mut found = side[..size].to_vec();
                factors.solve(&mut found, &mut vec![0.0; size]);
                for n in 0..size {
                    prop_assert!((found[n] - expected[n]).abs() < 1e-6 * (1.0 + expected[n].abs()));
                }
            }
        }
    }

    #[test]
    fn a_loop_of_ideal_sources_is_undetermined() {
        let places = [(0, 0), (0, 1), (1, 0), (1, 1)];
        assert_eq!(Factors::analyse(2, &places, &[1.0, 1.0, 1.0, 1.0]).unwrap_err(), Undetermined(1));
    }
}
