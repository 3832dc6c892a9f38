//! Sparse linear equations, real or complex: the structure is analysed once, then factored as often as values change.
//!
//! Gaussian elimination with Markowitz's choice of pivots (the least fill among pivots that are large enough,
//! H. M. Markowitz, Management Science 3, 1957), recorded as a straight list of operations.

use std::collections::BTreeSet;
use std::ops::{Div, Mul, Sub};
use std::sync::Arc;

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
/// How many rows are looked at for a pivot, once one will do.
const ROWS_LOOKED_AT: usize = 4;

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
    /// The pattern is shared by all copies; only values are their own.
    slots: Arc<[usize]>,
    values: Vec<T>,
    steps: Arc<[Step]>,
}

impl<T: Number> Factors<T> {
    /// Analyses and factors the matrix that is the sum of `values` at `places` (row, column).
    pub(super) fn analyse(size: usize, places: &[(usize, usize)], values: &[T]) -> Result<Self, Undetermined> {
        let mut active = Active::of(size, places, values);
        let slots = active.slots(places);
        let mut steps: Vec<Step> = Vec::with_capacity(size);
        while steps.len() < size {
            let Some((row, column)) = active.choose() else {
                let mut met = vec![false; size];
                steps.iter().for_each(|step| met[step.column] = true);
                return Err(Undetermined(met.iter().position(|met| !met).unwrap_or(0)));
            };
            steps.push(active.eliminate(row, column));
        }
        Ok(Self { slots: slots.into(), values: active.work, steps: steps.into() })
    }

    /// Factors again with other values at the same places. `false` when a pivot has become too small: analyse anew.
    #[must_use]
    pub(super) fn refactor(&mut self, values: &[T]) -> bool {
        self.values.fill(T::default());
        for (slot, value) in self.slots.iter().zip(values) {
            self.values[*slot] = self.values[*slot].plus(*value);
        }
        for step in self.steps.iter() {
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
        for step in self.steps.iter() {
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

/// What elimination has not reached yet: each row's entries in order of column, and the rows by how many they have.
struct Active<T> {
    rows: Vec<Vec<(usize, usize)>>,
    columns: Vec<Vec<usize>>,
    by_length: Vec<BTreeSet<usize>>,
    work: Vec<T>,
}

impl<T: Number> Active<T> {
    fn of(size: usize, places: &[(usize, usize)], values: &[T]) -> Self {
        let mut active = Self {
            rows: vec![Vec::new(); size],
            columns: vec![Vec::new(); size],
            by_length: Vec::new(),
            work: Vec::new(),
        };
        for (&(row, column), value) in places.iter().zip(values) {
            let slot = active.slot(row, column);
            active.work[slot] = active.work[slot].plus(*value);
        }
        for row in 0..size {
            active.file(row);
        }
        active
    }

    fn slots(&mut self, places: &[(usize, usize)]) -> Vec<usize> {
        places.iter().map(|&(row, column)| self.slot(row, column)).collect()
    }

    /// The slot of an entry, made where there was none.
    fn slot(&mut self, row: usize, column: usize) -> usize {
        match self.rows[row].binary_search_by_key(&column, |entry| entry.0) {
            Ok(place) => self.rows[row][place].1,
            Err(place) => {
                let slot = self.work.len();
                self.work.push(T::default());
                self.rows[row].insert(place, (column, slot));
                self.columns[column].push(row);
                slot
            }
        }
    }

    fn file(&mut self, row: usize) {
        let length = self.rows[row].len();
        if self.by_length.len() <= length {
            self.by_length.resize_with(length + 1, BTreeSet::new);
        }
        self.by_length[length].insert(row);
    }

    fn unfile(&mut self, row: usize) {
        let length = self.rows[row].len();
        if let Some(shelf) = self.by_length.get_mut(length) {
            shelf.remove(&row);
        }
    }

    /// The pivot of least fill among the shortest rows (Markowitz's count, a few rows looked at as Zlatev proposed).
    fn choose(&self) -> Option<(usize, usize)> {
        let mut best: Option<(usize, f64, usize, usize)> = None;
        let mut looked_at = 0;
        for (length, shelf) in self.by_length.iter().enumerate().skip(1) {
            for &row in shelf {
                let size = |slot: usize| self.work[slot].size();
                let largest = self.rows[row].iter().map(|(_, slot)| size(*slot)).fold(0.0, f64::max);
                for &(column, slot) in &self.rows[row] {
                    let here = size(slot);
                    if !(here >= LEAST_PIVOT && here >= PIVOT_SHARE * largest) {
                        continue;
                    }
                    let fill = (length - 1) * (self.columns[column].len() - 1);
                    let share = here / largest;
                    let better =
                        best.is_none_or(|(least, most, ..)| fill < least || (fill == least && share > most * 1.5));
                    if better {
                        best = Some((fill, share, row, column));
                    }
                }
                looked_at += 1;
                let least = best.map_or(usize::MAX, |(least, ..)| least);
                if least <= (length - 1) * (length - 1) || (looked_at >= ROWS_LOOKED_AT && best.is_some()) {
                    return best.map(|(_, _, row, column)| (row, column));
                }
            }
        }
        best.map(|(_, _, row, column)| (row, column))
    }

    fn eliminate(&mut self, row: usize, column: usize) -> Step {
        self.unfile(row);
        let pivot_row = std::mem::take(&mut self.rows[row]);
        let pivot_column = std::mem::take(&mut self.columns[column]);
        let pivot = pivot_row.iter().find(|(c, _)| *c == column).map_or(0, |(_, slot)| *slot);
        let across: Vec<(usize, usize)> =
            pivot_row.iter().filter(|(c, _)| *c != column).map(|(c, slot)| (*slot, *c)).collect();
        let mut below = Vec::with_capacity(pivot_column.len());
        let mut targets = Vec::with_capacity(across.len() * pivot_column.len());
        for other in pivot_column.into_iter().filter(|other| *other != row) {
            self.unfile(other);
            let Ok(place) = self.rows[other].binary_search_by_key(&column, |entry| entry.0) else { continue };
            let (_, down) = self.rows[other].remove(place);
            let factor = self.work[down] / self.work[pivot];
            self.work[down] = factor;
            for &(right, c) in &across {
                let slot = self.slot(other, c);
                self.work[slot] = self.work[slot] - factor * self.work[right];
                targets.push(slot);
            }
            below.push((down, other));
            self.file(other);
        }
        for &(_, c) in &across {
            self.columns[c].retain(|r| *r != row);
        }
        Step { row, column, pivot, across, below, targets }
    }
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
