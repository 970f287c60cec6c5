//! Differences of means with their error.

use crate::numerics::error::{FitError, require_count, require_length};
use crate::numerics::estimate::Estimate;
use crate::numerics::exact::{Summary, summarise};

/// Returns the mean of a group as an estimate (Student 1908).
///
/// # Errors
/// `TooFew` for fewer than two values.
pub fn one_sample(group: &Summary) -> Result<Estimate, FitError> {
    require_count("observations", 2, group.count)?;
    let n = group.count as f64;
    Ok(Estimate {
        value: group.mean,
        standard_error: group.deviation / n.sqrt(),
        df: n - 1.0,
    })
}

/// Returns the mean of `left - right` over pairs: each pair's own difference is the datum, so the
/// error is that of the two treatments only, whatever other treatments did. On logarithms it is the
/// logarithm of a ratio. Leave out pairs of which one half is missing.
///
/// # Errors
/// `Lengths`, `NotFinite`, `TooFew` for fewer than two pairs.
pub fn paired(left: &[f64], right: &[f64]) -> Result<Estimate, FitError> {
    require_length(left.len(), right.len())?;
    let differences: Vec<f64> = left.iter().zip(right).map(|(l, r)| l - r).collect();
    one_sample(&summarise(&differences)?)
}

/// Returns the mean of `left` less that of `right` with one common variance (Student 1908; Fisher
/// 1925).
///
/// # Errors
/// `TooFew` unless both groups have a value and together three.
pub fn pooled(left: &Summary, right: &Summary) -> Result<Estimate, FitError> {
    require_count("observations", 1, left.count.min(right.count))?;
    require_count("observations", 3, left.count + right.count)?;
    let (m, n) = (left.count as f64, right.count as f64);
    let df = m + n - 2.0;
    let squares = |group: &Summary| {
        let df = group.count as f64 - 1.0;
        if df > 0.0 {
            df * group.deviation * group.deviation
        } else {
            0.0
        }
    };
    let variance = (squares(left) + squares(right)) / df;
    Ok(Estimate {
        value: left.mean - right.mean,
        standard_error: (variance * (1.0 / m + 1.0 / n)).sqrt(),
        df,
    })
}

/// Returns the mean of `left` less that of `right` with a variance each (Welch 1947, Biometrika
/// 34:28; degrees of freedom after Satterthwaite 1946, Biometrics Bull. 2:110).
///
/// # Errors
/// `TooFew` for fewer than two values in a group, `NoVariation` where both have none.
pub fn welch(left: &Summary, right: &Summary) -> Result<Estimate, FitError> {
    let (a, b) = (one_sample(left)?, one_sample(right)?);
    let square = |v: f64| v * v;
    let (va, vb) = (square(a.standard_error), square(b.standard_error));
    if va + vb <= 0.0 {
        return Err(FitError::NoVariation);
    }
    Ok(Estimate {
        value: a.value - b.value,
        standard_error: (va + vb).sqrt(),
        df: square(va + vb) / (square(va) / a.df + square(vb) / b.df),
    })
}
