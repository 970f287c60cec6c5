//! All pairs: the studentised range.

use crate::numerics::distribution::{mean_over_scale, normal_cdf, normal_nodes};
use crate::numerics::error::{FitError, require_count, require_open_unit};
use crate::numerics::estimate::{Estimate, Interval};
use std::f64::consts::{FRAC_1_SQRT_2, SQRT_2};

/// Returns the probability that the range of `groups` independent normal values, divided by an
/// independent estimate of their standard deviation with `df` degrees of freedom, exceeds `q`
/// (Tukey 1953; Copenhaver and Holland 1988, J. Stat. Comput. Simul. 30:1), by numerical integration
/// to about 1e-9. Infinite degrees of freedom give the range in true standard deviations.
///
/// # Errors
/// `TooFew` for fewer than two groups, `OutOfRange` unless `df` is positive.
pub fn studentised_range_upper(q: f64, groups: usize, df: f64) -> Result<f64, FitError> {
    require_count("groups", 2, groups)?;
    if q.is_nan() {
        return Err(FitError::OutOfRange {
            what: "range",
            found: q,
        });
    }
    if q <= 0.0 {
        return Ok(1.0);
    }
    let others = (groups - 1) as i32;
    let upper = mean_over_scale(df, f64::INFINITY, |s| {
        // The greatest value is z: all others lie within the range below it, or some do not.
        let missed = normal_nodes().iter().map(|node| {
            let near = node.below - normal_cdf(node.z - q * s);
            node.weight * (node.below.powi(others) - near.powi(others))
        });
        groups as f64 * missed.sum::<f64>()
    })?;
    Ok(upper.clamp(0.0, 1.0))
}

/// Returns the range that is exceeded with probability `1 - probability`.
///
/// # Errors
/// As [`studentised_range_upper`]; `OutOfRange` unless the probability lies strictly between 0 and 1.
pub fn studentised_range_quantile(
    probability: f64,
    groups: usize,
    df: f64,
) -> Result<f64, FitError> {
    require_open_unit("probability", probability)?;
    let tail = 1.0 - probability;
    falling_root(tail, |q| studentised_range_upper(q, groups, df))
}

/// Returns where `upper`, falling from 1 at zero to 0, equals `tail`: by the secant of the
/// logarithms, kept in a bracket by halving (Dowell and Jarratt 1971, BIT 11:168, `Illinois`).
pub(super) fn falling_root(
    tail: f64,
    upper: impl Fn(f64) -> Result<f64, FitError>,
) -> Result<f64, FitError> {
    let excess = |q: f64| Ok::<f64, FitError>(libm::log(upper(q)?.max(1e-300) / tail));
    let (mut low, mut at_low) = (0.0, -libm::log(tail));
    let (mut high, mut at_high) = (4.0, excess(4.0)?);
    while at_high > 0.0 {
        (low, at_low) = (high, at_high);
        high *= 2.0;
        at_high = excess(high)?;
        if high > 1e9 {
            return Err(FitError::NotConverged);
        }
    }
    for _ in 0..100 {
        let next = (low * at_high - high * at_low) / (at_high - at_low);
        let found = excess(next)?;
        if found.abs() < 1e-10 || (high - low) < 1e-12 * high {
            return Ok(next);
        }
        if found > 0.0 {
            (low, at_low) = (next, found);
            at_high *= 0.5;
        } else {
            (high, at_high) = (next, found);
            at_low *= 0.5;
        }
    }
    Err(FitError::NotConverged)
}

/// Returns the p-value of one difference of two means among all pairs of `groups` (Tukey 1953; for
/// unequal counts Kramer 1956, Biometrics 12:307, which errs on the safe side).
///
/// # Errors
/// As [`studentised_range_upper`].
pub fn tukey_p(difference: &Estimate, groups: usize) -> Result<f64, FitError> {
    let range = SQRT_2 * difference.statistic(0.0).abs();
    if range.is_infinite() {
        return Ok(0.0);
    }
    studentised_range_upper(range, groups, difference.df)
}

/// Returns the interval of one difference such that those of all pairs of `groups` hold together
/// with `confidence`.
///
/// # Errors
/// As [`studentised_range_quantile`].
pub fn tukey_interval(
    difference: &Estimate,
    groups: usize,
    confidence: f64,
) -> Result<Interval, FitError> {
    let range = studentised_range_quantile(confidence, groups, difference.df)?;
    let half = FRAC_1_SQRT_2 * range * difference.standard_error;
    Ok(Interval {
        low: difference.value - half,
        high: difference.value + half,
    })
}
