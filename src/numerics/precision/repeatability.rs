//! Repeatability of one laboratory.

use crate::numerics::distribution::fisher_quantile;
use crate::numerics::error::{FitError, require_count, require_finite, require_open_unit};
use crate::numerics::estimate::Interval;
use crate::numerics::exact::{sum, sum_of_squares};

/// Factor from a standard deviation to the limit that the difference of two single results exceeds
/// in one case of twenty (ISO 5725-6, 4.1.4: 1.96 times the root of 2, rounded to 2.8).
pub const LIMIT_FACTOR: f64 = 2.8;

/// The scatter of replicates within groups that were made under the same conditions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Repeatability {
    /// Repeatability standard deviation, in the unit of the data.
    pub deviation: f64,
    /// Degrees of freedom: replicates less groups.
    pub df: f64,
    /// Groups of two or more replicates.
    pub groups: usize,
}

impl Repeatability {
    /// The repeatability limit r.
    pub fn limit(&self) -> f64 {
        LIMIT_FACTOR * self.deviation
    }

    /// Returns the interval of the standard deviation at `confidence` (chi-squared; normal
    /// replicates).
    ///
    /// # Errors
    /// `OutOfRange` unless confidence lies strictly between 0 and 1.
    pub fn interval(&self, confidence: f64) -> Result<Interval, FitError> {
        require_open_unit("confidence", confidence)?;
        // Chi-squared over its degrees of freedom is F with endless ones below.
        let ratio = |p: f64| fisher_quantile(p, self.df, f64::INFINITY);
        let tail = 0.5 * (1.0 - confidence);
        let (Some(high), Some(low)) = (ratio(1.0 - tail), ratio(tail)) else {
            return Err(FitError::NoResidual);
        };
        Ok(Interval {
            low: self.deviation / high.sqrt(),
            high: self.deviation / low.sqrt(),
        })
    }
}

/// Returns the pooled standard deviation within `groups` of replicates; groups of one say nothing
/// and are left out. Groups may differ in level and size: days, lots, levels.
///
/// # Errors
/// `TooFew` without a group of two, `NotFinite` with the place within its group.
pub fn pool_repeatability(groups: &[Vec<f64>]) -> Result<Repeatability, FitError> {
    for group in groups {
        require_finite(group)?;
    }
    let repeated: Vec<&Vec<f64>> = groups.iter().filter(|group| group.len() > 1).collect();
    require_count("groups of replicates", 1, repeated.len())?;
    let df = repeated.iter().map(|group| group.len() - 1).sum::<usize>() as f64;
    let squares = sum(repeated.iter().map(|group| sum_of_squares(group)));
    Ok(Repeatability {
        deviation: (squares / df).sqrt(),
        df,
        groups: repeated.len(),
    })
}
