//! Small dense equations without allocation, for the few ports and states of a supply.

/// Solves `matrix`·X = `sides` in place, both row by row, with partial pivoting. `false` when the matrix is singular.
#[must_use]
pub(super) fn eliminate(matrix: &mut [f64], sides: &mut [f64], size: usize, columns: usize) -> bool {
    if columns == 1 {
        // A few rectifiers or a tube or two move at a time, as a rule: loops of known length take half the time.
        match size {
            1 => return eliminate_few::<1>(matrix, sides),
            2 => return eliminate_few::<2>(matrix, sides),
            3 => return eliminate_few::<3>(matrix, sides),
            4 => return eliminate_few::<4>(matrix, sides),
            5 => return eliminate_few::<5>(matrix, sides),
            6 => return eliminate_few::<6>(matrix, sides),
            _ => {}
        }
    }
    for step in 0..size {
        let mut best = step;
        for row in step + 1..size {
            if matrix[row * size + step].abs() > matrix[best * size + step].abs() {
                best = row;
            }
        }
        let pivot = matrix[best * size + step];
        if is_none(pivot) {
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

/// The same for one side of a known size; the matrix is left as it was.
fn eliminate_few<const N: usize>(matrix: &[f64], side: &mut [f64]) -> bool {
    let mut rows = [[0.0; N]; N];
    let mut answer = [0.0; N];
    for (row, given) in rows.iter_mut().zip(matrix.chunks_exact(N)) {
        row.copy_from_slice(given);
    }
    answer.copy_from_slice(&side[..N]);
    for step in 0..N {
        let mut best = step;
        for row in step + 1..N {
            if rows[row][step].abs() > rows[best][step].abs() {
                best = row;
            }
        }
        if is_none(rows[best][step]) {
            return false;
        }
        rows.swap(best, step);
        answer.swap(best, step);
        let (chosen, chosen_answer) = (rows[step], answer[step]);
        for row in step + 1..N {
            let factor = rows[row][step] / chosen[step];
            for column in step + 1..N {
                rows[row][column] -= factor * chosen[column];
            }
            answer[row] -= factor * chosen_answer;
        }
    }
    for step in (0..N).rev() {
        let mut sum = answer[step];
        for later in step + 1..N {
            sum -= rows[step][later] * answer[later];
        }
        answer[step] = sum / rows[step][step];
    }
    side[..N].copy_from_slice(&answer);
    true
}

fn is_none(pivot: f64) -> bool {
    pivot.is_nan() || pivot.abs() <= 1e-300
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
