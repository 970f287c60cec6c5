//! Least squares on several columns, with what their coefficients are uncertain by.

use nalgebra::{DMatrix, DVector};

/// Coefficients of a least-squares fit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Regression {
    /// One coefficient a column.
    pub coefficients: Vec<f64>,
    /// Standard error of each.
    pub standard_errors: Vec<f64>,
    /// Values less fitted values, in the order given.
    pub residuals: Vec<f64>,
    /// Residual standard deviation.
    pub residual_sd: f64,
    /// Values less coefficients.
    pub degrees: usize,
}

/// Returns the least-squares fit of `y` on `columns` (the constant, if wanted, is one of them), by
/// the normal equations of columns scaled to unit length; `None` when the columns depend on one
/// another, differ in length, or leave no degree of freedom.
pub(crate) fn regress(columns: &[Vec<f64>], y: &[f64]) -> Option<Regression> {
    let (n, p) = (y.len(), columns.len());
    if p == 0 || n <= p || columns.iter().any(|c| c.len() != n) {
        return None;
    }
    let norms: Vec<f64> = columns
        .iter()
        .map(|c| c.iter().map(|v| v * v).sum::<f64>().sqrt())
        .collect();
    if norms.iter().any(|norm| !(*norm > 0.0 && norm.is_finite())) {
        return None;
    }
    let design = DMatrix::from_fn(n, p, |i, j| columns[j][i] / norms[j]);
    let observed = DVector::from_column_slice(y);
    let inverse = independent_inverse(&(design.transpose() * &design))?;
    let scaled = &inverse * (design.transpose() * &observed);
    let residuals: Vec<f64> = (observed - &design * &scaled).iter().copied().collect();
    let degrees = n - p;
    let squares: f64 = residuals.iter().map(|r| r * r).sum();
    let residual_sd = (squares / degrees as f64).sqrt();
    Some(Regression {
        coefficients: scaled.iter().zip(&norms).map(|(c, s)| c / s).collect(),
        standard_errors: (0..p)
            .map(|j| residual_sd * inverse[(j, j)].sqrt() / norms[j])
            .collect(),
        residuals,
        residual_sd,
        degrees,
    })
}

/// Returns the inverse of the Gram matrix of unit columns; `None` when a column depends on the
/// others to within a rounding error.
fn independent_inverse(gram: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    let inverse = gram.clone().cholesky()?.inverse();
    // The diagonal of the inverse is the variance inflation of each column.
    let independent = inverse.diagonal().iter().all(|v| *v < 1e11);
    independent.then_some(inverse)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_a_general_library() {
        // statsmodels 0.15.0, OLS([1, 4, 2, 8, 3], [1, x, x²]): params, bse, scale.
        let x = [0.0, 1.0, 2.0, 3.0, 5.0];
        let columns = vec![
            vec![1.0; 5],
            x.to_vec(),
            x.iter().map(|v| v * v).collect::<Vec<f64>>(),
        ];
        let fit = regress(&columns, &[1.0, 4.0, 2.0, 8.0, 3.0]);
        let wanted = [
            (0.751_104_565_537, 2.561_890_276_838),
            (3.130_338_733_432, 2.457_325_770_554),
            (-0.517_673_048_601, 0.461_944_984_752),
        ];
        for (i, (value, error)) in wanted.iter().enumerate() {
            assert!(
                fit.as_ref()
                    .is_some_and(|f| (f.coefficients[i] - value).abs() < 1e-9
                        && (f.standard_errors[i] - error).abs() < 1e-9),
                "{fit:?}"
            );
        }
    }

    #[test]
    fn columns_that_depend_on_one_another_have_no_fit() {
        let columns = vec![vec![1.0; 4], vec![2.0; 4]];
        assert_eq!(regress(&columns, &[1.0, 2.0, 3.0, 4.0]), None);
        assert_eq!(regress(&[vec![1.0]], &[1.0]), None);
    }
}
