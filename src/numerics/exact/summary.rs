//! Mean, standard deviation and autocorrelation of one list.

use super::sum::{sum, sum_of_squares};
use crate::numerics::error::{FitError, require_count, require_finite};

/// Count, mean and standard deviation of one group.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Summary {
    /// Number of values.
    pub count: usize,
    /// Arithmetic mean.
    pub mean: f64,
    /// Standard deviation with `count - 1` below.
    pub deviation: f64,
}

/// Returns the summary of at least two values; sums as [`sum_of_squares`], about the first value.
///
/// # Errors
/// `TooFew` for fewer than two values, `NotFinite`.
pub fn summarise(values: &[f64]) -> Result<Summary, FitError> {
    require_count("observations", 2, values.len())?;
    require_finite(values)?;
    let n = values.len() as f64;
    let origin = values[0];
    Ok(Summary {
        count: values.len(),
        mean: origin + sum(values.iter().map(|v| v - origin)) / n,
        deviation: (sum_of_squares(values) / (n - 1.0)).sqrt(),
    })
}

/// Returns the autocorrelation of `values` with themselves one place on (Box and Jenkins 1976, Time
/// Series Analysis, 2.1.5), in the order given.
///
/// # Errors
/// `TooFew` for fewer than two values, `NotFinite`, `NoVariation`.
pub fn lag_one_autocorrelation(values: &[f64]) -> Result<f64, FitError> {
    require_count("observations", 2, values.len())?;
    require_finite(values)?;
    let origin = values[0];
    let mean = sum(values.iter().map(|v| v - origin)) / values.len() as f64;
    let distance = |v: f64| (v - origin) - mean;
    let squares = sum_of_squares(values);
    if squares <= 0.0 {
        return Err(FitError::NoVariation);
    }
    let pairs = values.windows(2);
    Ok(sum(pairs.map(|pair| distance(pair[0]) * distance(pair[1]))) / squares)
}
