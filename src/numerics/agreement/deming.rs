//! The line between two instruments whose error variances have a known ratio.

use crate::numerics::Interval;
use crate::numerics::distribution::student_quantile;

/// A line through pairs of values, with errors in both.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Deming {
    /// Slope of second on first.
    pub slope: f64,
    /// Jackknife standard error of the slope.
    pub slope_error: f64,
    /// Its 95 % interval.
    pub slope_interval: Interval,
    /// Intercept, in the unit of the second.
    pub intercept: f64,
    /// Jackknife standard error of the intercept.
    pub intercept_error: f64,
    /// Its 95 % interval.
    pub intercept_interval: Interval,
}

/// Returns the line by which `second` follows `first` when the error variance of the second is
/// `error_ratio` times that of the first (Deming 1943; Linnet 1990, Stat. Med. 9:1463). Standard
/// errors by leaving out one pair at a time, intervals with Student's t of n − 2 degrees of
/// freedom (Linnet 1993, Clin. Chem. 39:424; from memory).
///
/// Only for the same quantity from two instruments. `None` for fewer than four pairs, lists of
/// different length, a ratio that is not above 0, or values that are not correlated.
pub fn deming(first: &[f64], second: &[f64], error_ratio: f64) -> Option<Deming> {
    let n = first.len();
    if n != second.len() || n < 4 || !(error_ratio > 0.0 && error_ratio.is_finite()) {
        return None;
    }
    let (slope, intercept) = line(first, second, error_ratio, None)?;
    let left_out: Option<Vec<(f64, f64)>> = (0..n)
        .map(|out| line(first, second, error_ratio, Some(out)))
        .collect();
    let (slopes, intercepts): (Vec<f64>, Vec<f64>) = left_out?.into_iter().unzip();
    let t = student_quantile(0.975, n as f64 - 2.0)?;
    let (slope_error, intercept_error) = (jackknife_error(&slopes), jackknife_error(&intercepts));
    Some(Deming {
        slope,
        slope_error,
        slope_interval: Interval::around(slope, t * slope_error),
        intercept,
        intercept_error,
        intercept_interval: Interval::around(intercept, t * intercept_error),
    })
}

/// Returns slope and intercept without the pair `out`.
fn line(x: &[f64], y: &[f64], ratio: f64, out: Option<usize>) -> Option<(f64, f64)> {
    let kept = || (0..x.len()).filter(|i| Some(*i) != out);
    let count = kept().count() as f64;
    let mean_x = kept().map(|i| x[i]).sum::<f64>() / count;
    let mean_y = kept().map(|i| y[i]).sum::<f64>() / count;
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for i in kept() {
        let (dx, dy) = (x[i] - mean_x, y[i] - mean_y);
        xx += dx * dx;
        yy += dy * dy;
        xy += dx * dy;
    }
    let excess = yy - ratio * xx;
    let root = (excess * excess + 4.0 * ratio * xy * xy).sqrt();
    let slope = (excess + root) / (2.0 * xy);
    slope
        .is_finite()
        .then_some((slope, mean_y - slope * mean_x))
}

/// Returns √((n−1)/n·Σ(v − v̄)²) of the values found with one pair left out (Tukey 1958).
fn jackknife_error(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
    ((n - 1.0) / n * squares).sqrt()
}

/// Returns the ratio of the error variances, second over first, from duplicates of each
/// instrument: Σd²/(2m) each. `None` when an instrument has no duplicates or the first none that
/// differ.
pub fn error_ratio(first: &[(f64, f64)], second: &[(f64, f64)]) -> Option<f64> {
    let variance = |pairs: &[(f64, f64)]| {
        let squares: f64 = pairs.iter().map(|(a, b)| (a - b) * (a - b)).sum();
        squares / (2.0 * pairs.len() as f64)
    };
    let ratio = variance(second) / variance(first);
    (ratio > 0.0 && ratio.is_finite()).then_some(ratio)
}
