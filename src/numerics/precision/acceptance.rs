//! Whether replicates may be averaged.

use crate::numerics::error::{FitError, require_count, require_finite, require_positive};
use crate::numerics::median;
use crate::numerics::multiple::studentised_range_quantile;

/// What to do with replicates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Verdict {
    /// They agree: their mean is the result.
    Accepted {
        /// The mean.
        mean: f64,
    },
    /// Two results differ too much: take as many more, and judge all together.
    TakeMore {
        /// How many more.
        count: usize,
    },
    /// Three or more still differ too much: their median is the result, and it says so.
    Median {
        /// The median.
        median: f64,
    },
}

/// Replicates against their critical range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judgement {
    /// Greatest less least result.
    pub range: f64,
    /// The range that replicates exceed in one case of twenty.
    pub critical_range: f64,
    /// What follows.
    pub verdict: Verdict,
}

/// Returns the factor f(n) from the repeatability standard deviation to the critical range of
/// `count` results: the 95 % point of the range of normal values, to one decimal as the standard
/// prints it (ISO 5725-6:1994, 5.2.2 and table 1: 2.8, 3.3, 3.6, 3.9, 4.0).
///
/// # Errors
/// `TooFew` for fewer than two results.
pub fn critical_range_factor(count: usize) -> Result<f64, FitError> {
    require_count("results", 2, count)?;
    let exact = studentised_range_quantile(0.95, count, f64::INFINITY)?;
    Ok((10.0 * exact).round() / 10.0)
}

/// Returns the judgement on `results` made under repeatability conditions, for the repeatability
/// standard deviation `sr` (ISO 5725-6:1994, 5.2.2: two results, two more if they differ by more
/// than r, then the range of all four, else the median).
///
/// # Errors
/// `TooFew` for fewer than two results, `NotFinite`, `OutOfRange` unless `sr` is positive.
pub fn judge_replicates(results: &[f64], sr: f64) -> Result<Judgement, FitError> {
    require_finite(results)?;
    require_positive("repeatability standard deviation", sr)?;
    let critical_range = critical_range_factor(results.len())? * sr;
    let greatest = results.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let least = results.iter().copied().fold(f64::INFINITY, f64::min);
    let range = greatest - least;
    // A difference of exactly r is accepted: rounding of decimals must not reject it.
    let verdict = if range <= critical_range * (1.0 + 1e-12) {
        Verdict::Accepted {
            mean: results.iter().sum::<f64>() / results.len() as f64,
        }
    } else if results.len() == 2 {
        Verdict::TakeMore { count: 2 }
    } else {
        Verdict::Median {
            median: median(results).unwrap_or(least),
        }
    };
    Ok(Judgement {
        range,
        critical_range,
        verdict,
    })
}
