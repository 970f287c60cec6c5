//! An orthonormal basis of the columns of a model.

use crate::numerics::error::FitError;

/// A column counts as a combination of those before it when less than this share of its length
/// stands out from them.
const RANK_TOLERANCE: f64 = 1e-11;

/// Weights may miss what is estimable by this share of their size, for rounding.
const ESTIMABLE_TOLERANCE: f64 = 1e-7;

/// Modified Gram–Schmidt with a second pass, columns in their given order, columns that depend on
/// earlier ones set aside (twice is enough: Giraud, Langou, Rozložník 2005, Numer. Math. 101:87;
/// the order of columns is kept as in Dongarra et al. 1979, LINPACK `dqrdc` in its limited form).
#[derive(Debug, Clone)]
pub(crate) struct Basis {
    /// Orthonormal columns, one per kept column.
    pub columns: Vec<Vec<f64>>,
    /// Upper triangle: `triangle[j][i]`, i <= j, so that kept column j = sum of columns i times it.
    triangle: Vec<Vec<f64>>,
    /// Place among all columns of each kept one.
    pub kept: Vec<usize>,
    /// Columns set aside, with their coordinates in the basis.
    aliased: Vec<(usize, Vec<f64>)>,
    width: usize,
}

/// Returns the sum of products, in index order.
pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// Takes from `column` its projection on each of `basis`, and returns the coordinates.
fn project_out(column: &mut [f64], basis: &[Vec<f64>]) -> Vec<f64> {
    basis
        .iter()
        .map(|direction| {
            let coordinate = dot(direction, column);
            for (value, d) in column.iter_mut().zip(direction) {
                *value -= coordinate * d;
            }
            coordinate
        })
        .collect()
}

impl Basis {
    /// Returns the basis of `columns`, all of one length.
    pub fn of(columns: &[Vec<f64>]) -> Self {
        let mut basis = Self {
            columns: Vec::new(),
            triangle: Vec::new(),
            kept: Vec::new(),
            aliased: Vec::new(),
            width: columns.len(),
        };
        for (place, column) in columns.iter().enumerate() {
            let length = dot(column, column).sqrt();
            let mut rest = column.clone();
            let mut coordinates = project_out(&mut rest, &basis.columns);
            for (sum, more) in coordinates
                .iter_mut()
                .zip(project_out(&mut rest, &basis.columns))
            {
                *sum += more;
            }
            let left = dot(&rest, &rest).sqrt();
            if left <= RANK_TOLERANCE * length {
                basis.aliased.push((place, coordinates));
                continue;
            }
            for value in &mut rest {
                *value /= left;
            }
            coordinates.push(left);
            basis.triangle.push(coordinates);
            basis.columns.push(rest);
            basis.kept.push(place);
        }
        basis
    }

    /// The rank of the model.
    pub fn rank(&self) -> usize {
        self.kept.len()
    }

    /// Returns the coordinates of `values` in the basis, and what the basis leaves of them.
    pub fn split(&self, values: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let mut rest = values.to_vec();
        let mut coordinates = project_out(&mut rest, &self.columns);
        for (sum, more) in coordinates
            .iter_mut()
            .zip(project_out(&mut rest, &self.columns))
        {
            *sum += more;
        }
        (coordinates, rest)
    }

    /// Returns `weights` over the coefficients of all columns as weights over the coordinates in
    /// the basis, if the data can estimate them.
    ///
    /// # Errors
    /// `Lengths` for weights of another model, `NotEstimable` where a column set aside would have
    /// to be told apart from those it depends on (Searle 1971, Linear Models, 5.4).
    pub fn project(&self, weights: &[f64]) -> Result<Vec<f64>, FitError> {
        crate::numerics::error::require_length(self.width, weights.len())?;
        // Forward substitution: triangle' z = weights of the kept columns.
        let mut z: Vec<f64> = Vec::with_capacity(self.rank());
        for (column, place) in self.triangle.iter().zip(&self.kept) {
            let known = dot(column, &z);
            let pivot = column.last().copied().unwrap_or(1.0);
            z.push((weights[*place] - known) / pivot);
        }
        for (place, coordinates) in &self.aliased {
            let implied = dot(coordinates, &z);
            let size: f64 = coordinates.iter().zip(&z).map(|(a, b)| (a * b).abs()).sum();
            let gap = (weights[*place] - implied).abs();
            if gap > ESTIMABLE_TOLERANCE * (size + weights[*place].abs()).max(1e-300) {
                return Err(FitError::NotEstimable);
            }
        }
        Ok(z)
    }

    /// Returns the coefficients of all columns for `coordinates` in the basis; zero for columns set
    /// aside.
    pub fn coefficients(&self, coordinates: &[f64]) -> Vec<f64> {
        let mut solved = coordinates.to_vec();
        for j in (0..self.rank()).rev() {
            let pivot = self.triangle[j][j];
            solved[j] /= pivot;
            for i in 0..j {
                solved[i] -= self.triangle[j][i] * solved[j];
            }
        }
        let mut all = vec![0.0; self.width];
        for (place, value) in self.kept.iter().zip(solved) {
            all[*place] = value;
        }
        all
    }

    /// Returns the logarithm of the determinant of the cross products of the kept columns.
    pub fn log_determinant(&self) -> f64 {
        let pivots = self.triangle.iter().filter_map(|column| column.last());
        2.0 * pivots.map(|pivot| libm::log(*pivot)).sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_repeated_column_is_set_aside_and_its_contrast_refused() {
        let ones = vec![1.0; 4];
        let x = vec![0.0, 1.0, 2.0, 3.0];
        let both = vec![1.0, 2.0, 3.0, 4.0];
        let basis = Basis::of(&[ones, x, both]);
        assert_eq!((basis.rank(), &basis.kept[..]), (2, &[0, 1][..]));
        assert_eq!(basis.project(&[0.0, 1.0, 0.0]), Err(FitError::NotEstimable));
        // The sum of intercept and both slopes' share is estimable: its weights follow the columns.
        assert!(basis.project(&[1.0, 2.0, 3.0]).is_ok());
        assert!(basis.project(&[1.0]).is_err());
    }

    #[test]
    fn coefficients_come_back_exactly() {
        let columns = [vec![1.0, 1.0, 1.0], vec![1.0, 2.0, 4.0]];
        let basis = Basis::of(&columns);
        let (coordinates, rest) = basis.split(&[5.0, 7.0, 11.0]);
        let found = basis.coefficients(&coordinates);
        assert!((found[0] - 3.0).abs() < 1e-13 && (found[1] - 2.0).abs() < 1e-13);
        assert!(rest.iter().all(|r| r.abs() < 1e-13));
        // Cross products [[3, 7], [7, 21]]: determinant 14.
        assert!((basis.log_determinant() - libm::log(14.0)).abs() < 1e-13);
    }
}
