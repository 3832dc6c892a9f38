//! Small dense equations without allocation, for the few ports and states of a supply.

/// Solves `matrix`·X = `sides` in place, both row by row, with partial pivoting. `false` when the matrix is singular.
#[must_use]
pub(super) fn eliminate(matrix: &mut [f64], sides: &mut [f64], size: usize, columns: usize) -> bool {
    // One tube or one rectifier at a time moves, as a rule.
    if let ([pivot], [side]) = (&*matrix, &mut *sides) {
        *side /= pivot;
        return !(pivot.is_nan() || pivot.abs() <= 1e-300);
    }
    for step in 0..size {
        let mut best = step;
        for row in step + 1..size {
            if matrix[row * size + step].abs() > matrix[best * size + step].abs() {
                best = row;
            }
        }
        let pivot = matrix[best * size + step];
        if pivot.is_nan() || pivot.abs() <= 1e-300 {
            return false;
        }
        if best != step {
            for column in step..size {
                matrix.swap(best * size + column, step * size + column);
            }
            for column in 0..columns {
                sides.swap(best * columns + column, step * columns + column);
            }
        }
        let (above, below) = matrix.split_at_mut((step + 1) * size);
        let (sides_above, sides_below) = sides.split_at_mut((step + 1) * columns);
        let (chosen, chosen_side) = (&above[step * size + step + 1..], &sides_above[step * columns..]);
        for (row, side) in below.chunks_exact_mut(size).zip(sides_below.chunks_exact_mut(columns.max(1))) {
            let factor = row[step] / pivot;
            if factor != 0.0 {
                subtract(&mut row[step + 1..], factor, chosen);
                subtract(side, factor, chosen_side);
            }
        }
    }
    for step in (0..size).rev() {
        let (above, below) = sides.split_at_mut((step + 1) * columns);
        let side = &mut above[step * columns..];
        let row = &matrix[step * size..(step + 1) * size];
        for (factor, later) in row[step + 1..].iter().zip(below.chunks_exact(columns.max(1))) {
            subtract(side, *factor, later);
        }
        for value in side {
            *value /= row[step];
        }
    }
    true
}

/// Takes so many times one row off another.
pub(super) fn subtract(from: &mut [f64], factor: f64, row: &[f64]) {
    for (value, other) in from.iter_mut().zip(row) {
        *value -= factor * other;
    }
}

/// The scalar product.
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}
