//! Small dense equations without allocation, for the few ports and states of a supply.

/// Solves `matrix`·X = `sides` in place, both row by row, with partial pivoting. `false` when the matrix is singular.
#[must_use]
pub(super) fn eliminate(matrix: &mut [f64], sides: &mut [f64], size: usize, columns: usize) -> bool {
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
        for row in step + 1..size {
            let factor = matrix[row * size + step] / pivot;
            if factor == 0.0 {
                continue;
            }
            for column in step + 1..size {
                matrix[row * size + column] -= factor * matrix[step * size + column];
            }
            for column in 0..columns {
                sides[row * columns + column] -= factor * sides[step * columns + column];
            }
        }
    }
    for step in (0..size).rev() {
        for column in 0..columns {
            let mut sum = sides[step * columns + column];
            for later in step + 1..size {
                sum -= matrix[step * size + later] * sides[later * columns + column];
            }
            sides[step * columns + column] = sum / matrix[step * size + step];
        }
    }
    true
}

/// The scalar product.
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}
