//! Sparse symmetric matrices: factorisation and the inverse where it is needed.

/// A symmetric matrix by columns of its lower triangle without the diagonal, rows increasing.
#[derive(Debug, Clone, Default)]
pub(super) struct Symmetric {
    pub diagonal: Vec<f64>,
    starts: Vec<usize>,
    rows: Vec<usize>,
    values: Vec<f64>,
}

impl Symmetric {
    /// Returns the matrix of `size` with the sums of `entries` (row, column, value), given for any
    /// triangle.
    pub fn of_entries(size: usize, entries: impl Iterator<Item = (usize, usize, f64)>) -> Self {
        let mut diagonal = vec![0.0; size];
        let mut below: Vec<(usize, usize, f64)> = Vec::new();
        for (row, column, value) in entries {
            if row == column {
                diagonal[row] += value;
            } else {
                below.push((row.min(column), row.max(column), value));
            }
        }
        below.sort_by_key(|(column, row, _)| (*column, *row));
        let mut matrix = Self {
            diagonal,
            starts: vec![0; size + 1],
            ..Self::default()
        };
        let mut last = None;
        for (column, row, value) in below {
            if last == Some((column, row)) {
                if let Some(sum) = matrix.values.last_mut() {
                    *sum += value;
                }
                continue;
            }
            last = Some((column, row));
            matrix.rows.push(row);
            matrix.values.push(value);
            matrix.starts[column + 1] += 1;
        }
        for column in 0..size {
            matrix.starts[column + 1] += matrix.starts[column];
        }
        matrix
    }

    pub fn size(&self) -> usize {
        self.diagonal.len()
    }

    /// Returns the entries below the diagonal of one column.
    pub fn below(&self, column: usize) -> impl Iterator<Item = (usize, f64)> + '_ {
        let range = self.starts[column]..self.starts[column + 1];
        let values = self.values[range.clone()].iter().copied();
        self.rows[range].iter().copied().zip(values)
    }

    /// Returns the product with a vector.
    pub fn times(&self, vector: &[f64]) -> Vec<f64> {
        let mut product: Vec<f64> = self
            .diagonal
            .iter()
            .zip(vector)
            .map(|(d, v)| d * v)
            .collect();
        for column in 0..self.size() {
            for (row, value) in self.below(column) {
                product[row] += value * vector[column];
                product[column] += value * vector[row];
            }
        }
        product
    }
}

/// The places of the lower factor of I + D A D for any diagonal D.
#[derive(Debug, Clone)]
pub(super) struct Pattern {
    parents: Vec<Option<usize>>,
    starts: Vec<usize>,
    /// Rows of the upper triangle of A by column, with their values: what row k of L starts from.
    upper: Vec<Vec<(usize, f64)>>,
    diagonal: Vec<f64>,
}

/// The factors L and its diagonal of I + D A D = L diag L' (Davis 2005, ACM Trans. Math. Softw.
/// 31:587, algorithm 849: elimination tree, then row by row).
#[derive(Debug, Clone)]
pub(super) struct Factors {
    pub diagonal: Vec<f64>,
    starts: Vec<usize>,
    rows: Vec<usize>,
    values: Vec<f64>,
}

impl Pattern {
    /// Returns the pattern for `matrix`, eliminated in its own order.
    pub fn of(matrix: &Symmetric) -> Self {
        let size = matrix.size();
        let mut upper = vec![Vec::new(); size];
        for column in 0..size {
            for (row, value) in matrix.below(column) {
                upper[row].push((column, value));
            }
        }
        let mut parents: Vec<Option<usize>> = vec![None; size];
        let mut marks = vec![usize::MAX; size];
        let mut starts = vec![0; size + 1];
        for (k, entries) in upper.iter().enumerate() {
            marks[k] = k;
            for (column, _) in entries {
                let mut i = *column;
                while marks[i] != k {
                    let parent = *parents[i].get_or_insert(k);
                    starts[i + 1] += 1;
                    marks[i] = k;
                    i = parent;
                }
            }
        }
        for i in 0..size {
            starts[i + 1] += starts[i];
        }
        Self {
            parents,
            starts,
            upper,
            diagonal: matrix.diagonal.clone(),
        }
    }

    /// Returns the factors for the diagonal `scale` of D.
    pub fn factorise(&self, scale: &[f64]) -> Factors {
        let size = scale.len();
        let entries = self.starts[size];
        let mut factors = Factors {
            diagonal: vec![0.0; size],
            starts: self.starts.clone(),
            rows: vec![0; entries],
            values: vec![0.0; entries],
        };
        let mut filled = vec![0; size];
        let mut marks = vec![usize::MAX; size];
        let mut row = vec![0.0; size];
        let mut order = vec![0; size];
        for k in 0..size {
            let mut top = size;
            marks[k] = k;
            let mut path = Vec::new();
            for (column, value) in &self.upper[k] {
                row[*column] += value * scale[*column] * scale[k];
                let mut i = *column;
                while marks[i] != k {
                    path.push(i);
                    marks[i] = k;
                    match self.parents[i] {
                        Some(parent) => i = parent,
                        None => break,
                    }
                }
                while let Some(i) = path.pop() {
                    top -= 1;
                    order[top] = i;
                }
            }
            let mut pivot = 1.0 + self.diagonal[k] * scale[k] * scale[k];
            for i in &order[top..] {
                let y = std::mem::take(&mut row[*i]);
                let begin = self.starts[*i];
                let end = begin + filled[*i];
                for p in begin..end {
                    row[factors.rows[p]] -= factors.values[p] * y;
                }
                let entry = y / factors.diagonal[*i];
                pivot -= entry * y;
                factors.rows[end] = k;
                factors.values[end] = entry;
                filled[*i] += 1;
            }
            factors.diagonal[k] = pivot;
        }
        factors
    }
}

impl Factors {
    fn column(&self, j: usize) -> (&[usize], &[f64]) {
        let range = self.starts[j]..self.starts[j + 1];
        (&self.rows[range.clone()], &self.values[range])
    }

    /// Solves L x = `vector` in place.
    pub fn forward(&self, vector: &mut [f64]) {
        for j in 0..vector.len() {
            let x = vector[j];
            let (rows, values) = self.column(j);
            for (row, value) in rows.iter().zip(values) {
                vector[*row] -= value * x;
            }
        }
    }

    /// Solves diag L' x = `vector` in place: with [`Factors::forward`] before it, the whole system.
    pub fn backward(&self, vector: &mut [f64]) {
        for j in (0..vector.len()).rev() {
            let (rows, values) = self.column(j);
            let sum: f64 = rows.iter().zip(values).map(|(r, v)| v * vector[*r]).sum();
            vector[j] = vector[j] / self.diagonal[j] - sum;
        }
    }

    /// Returns the logarithm of the determinant.
    pub fn log_determinant(&self) -> f64 {
        self.diagonal.iter().map(|d| libm::log(*d)).sum()
    }

    /// Returns the diagonal of the inverse (Takahashi, Fagan and Chen 1973; Erisman and Tinney 1975,
    /// Comm. ACM 18:177): only the inverse's entries at the places of L are computed.
    pub fn inverse_diagonal(&self) -> Vec<f64> {
        let size = self.diagonal.len();
        let mut diagonal = vec![0.0; size];
        let mut inverse = vec![0.0; self.values.len()];
        let mut sums = vec![0.0; size];
        for j in (0..size).rev() {
            let (rows, values) = self.column(j);
            for (k, factor) in rows.iter().zip(values) {
                sums[*k] += factor * diagonal[*k];
                // Walk the rows of this column and of column k of the inverse together.
                let mut place = self.starts[*k];
                for (i, other) in rows.iter().zip(values).filter(|(i, _)| *i > k) {
                    while self.rows[place] < *i {
                        place += 1;
                    }
                    sums[*i] += factor * inverse[place];
                    sums[*k] += other * inverse[place];
                }
            }
            diagonal[j] = 1.0 / self.diagonal[j];
            for (offset, (i, factor)) in rows.iter().zip(values).enumerate() {
                let entry = -std::mem::take(&mut sums[*i]);
                inverse[self.starts[j] + offset] = entry;
                diagonal[j] -= factor * entry;
            }
        }
        diagonal
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::DMatrix;

    #[test]
    fn factors_agree_with_a_dense_inverse() {
        // A random pattern with fill: entries from a fixed congruence.
        let size = 12;
        let mut seed = 7_usize;
        let mut entries = Vec::new();
        for _ in 0..60 {
            seed = (seed * 75 + 74) % 65537;
            let (i, j) = (seed % size, (seed / size) % size);
            // Each entry of a pair sum keeps the matrix positive semidefinite.
            entries.extend([(i, i, 1.0), (j, j, 1.0)]);
            if i != j {
                entries.push((i, j, 1.0));
            }
        }
        let matrix = Symmetric::of_entries(size, entries.iter().copied());
        let scale: Vec<f64> = (0..size).map(|i| 0.3 + 0.1 * i as f64).collect();
        let mut dense = DMatrix::<f64>::identity(size, size);
        for j in 0..size {
            dense[(j, j)] += matrix.diagonal[j] * scale[j] * scale[j];
            for (i, value) in matrix.below(j) {
                dense[(i, j)] += value * scale[i] * scale[j];
                dense[(j, i)] += value * scale[i] * scale[j];
            }
        }
        let factors = Pattern::of(&matrix).factorise(&scale);
        assert!((factors.log_determinant() - libm::log(dense.determinant())).abs() < 1e-10);
        let inverse = dense.clone().try_inverse().unwrap_or_default();
        for (j, found) in factors.inverse_diagonal().iter().enumerate() {
            assert!((found - inverse[(j, j)]).abs() < 1e-12, "{j}");
        }
        let wanted: Vec<f64> = (0..size).map(|i| (i as f64) - 4.5).collect();
        let mut vector: Vec<f64> = (&dense * DMatrix::from_column_slice(size, 1, &wanted))
            .iter()
            .copied()
            .collect();
        factors.forward(&mut vector);
        factors.backward(&mut vector);
        for (found, wanted) in vector.iter().zip(&wanted) {
            assert!((found - wanted).abs() < 1e-11);
        }
    }
}
