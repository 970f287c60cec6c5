//! The ratio of two estimates, with limits that may be unbounded.

use crate::numerics::distribution::student_quantile;
use crate::numerics::error::{FitError, require_open_unit};
use crate::numerics::estimate::Interval;
use crate::numerics::linear::{Contrasts, difference_of};

/// The values of a ratio that the data do not contradict.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Limits {
    /// All between two ends.
    Bounded(Interval),
    /// All but those between two ends: the denominator may be zero, so the ratio may be endless in
    /// both directions.
    Outside(Interval),
    /// All: the data say nothing.
    Unbounded,
}

impl Limits {
    /// Returns the interval where it has two ends; `None` where the ratio is unbounded, which
    /// decides nothing.
    pub fn bounded(&self) -> Option<Interval> {
        match self {
            Limits::Bounded(interval) => Some(*interval),
            Limits::Outside(_) | Limits::Unbounded => None,
        }
    }
}

/// The ratio of two estimates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ratio {
    /// The ratio of the estimates; infinite where the denominator's estimate is zero.
    pub value: f64,
    /// Its limits.
    pub limits: Limits,
    /// Degrees of freedom behind the limits.
    pub df: f64,
}

/// Returns the ratio of two contrasts of one fit with the limits of Fieller 1954 (J. R. Stat. Soc. B
/// 16:175) at `confidence`. The degrees of freedom are those of `numerator - ratio * denominator`,
/// the contrast that Fieller's theorem tests.
///
/// # Errors
/// As [`Contrasts::contrast`]; `OutOfRange` unless confidence lies strictly between 0 and 1;
/// `NoVariation` where both estimates are zero.
pub fn ratio_of_contrasts(
    fit: &impl Contrasts,
    numerator: &[f64],
    denominator: &[f64],
    confidence: f64,
) -> Result<Ratio, FitError> {
    require_open_unit("confidence", confidence)?;
    let (above, below) = (fit.contrast(numerator)?, fit.contrast(denominator)?);
    let value = above.value / below.value;
    if value.is_nan() {
        return Err(FitError::NoVariation);
    }
    let df = if value.is_finite() {
        let scaled: Vec<f64> = denominator.iter().map(|w| value * w).collect();
        fit.contrast(&difference_of(numerator, &scaled))?.df
    } else {
        below.df
    };
    let t = student_quantile(0.5 + 0.5 * confidence, df).ok_or(FitError::OutOfRange {
        what: "degrees of freedom",
        found: df,
    })?;
    let shared = fit.covariance(numerator, denominator)?;
    // Fieller's quadratic a r^2 - 2 b r + c <= 0.
    let square = |v: f64| v * v;
    let a = square(below.value) - square(t * below.standard_error);
    let b = above.value * below.value - t * t * shared;
    let c = square(above.value) - square(t * above.standard_error);
    let inside = b * b - a * c;
    let root = inside.max(0.0).sqrt();
    let ends = |first: f64, second: f64| Interval {
        low: first.min(second),
        high: first.max(second),
    };
    let limits = if a > 0.0 {
        Limits::Bounded(ends((b - root) / a, (b + root) / a))
    } else if inside > 0.0 && a < 0.0 {
        Limits::Outside(ends((b - root) / a, (b + root) / a))
    } else {
        Limits::Unbounded
    };
    Ok(Ratio { value, limits, df })
}
