//! Limits of individual values and of moving ranges, frozen from a base period.

/// Mean range of two normal values over their standard deviation, as ISO 7870-2 prints it (d₂ for
/// two; exactly 2/√π = 1.12838).
const RANGE_OVER_SIGMA: f64 = 1.128;

/// Half width of the limits over the mean moving range, as printed: 3/1.128.
const LIMIT_OVER_RANGE: f64 = 2.66;

/// Upper limit of a range over the mean range, as printed (D₄ for two).
const UPPER_RANGE: f64 = 3.267;

/// Values on which limits may be called established (HANDBOOK §11.4: at least 20 to 25).
const ESTABLISHED: usize = 20;

/// Returns the absolute difference of each value from the one before it; one fewer than values.
pub fn moving_ranges(values: &[f64]) -> Vec<f64> {
    values.windows(2).map(|w| (w[1] - w[0]).abs()).collect()
}

/// Limits of a chart of individual values, in the unit of the values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ControlLimits {
    /// Centre line: the mean of the base period.
    pub centre: f64,
    /// Mean moving range of the base period.
    pub mean_range: f64,
    /// Values of the base period.
    pub points: usize,
}

impl ControlLimits {
    /// Returns the limits that the values of a base period set, in the order measured (ISO 7870-2,
    /// individuals and moving range; HANDBOOK §11.4). The values must have been found in control;
    /// none is dropped here.
    ///
    /// `None` for fewer than two values, a value that is no number, or values that never change:
    /// the resolution is then coarser than the scatter and sets no limit.
    pub fn from_base(values: &[f64]) -> Option<Self> {
        let ranges = moving_ranges(values);
        let centre = values.iter().sum::<f64>() / values.len() as f64;
        let mean_range = ranges.iter().sum::<f64>() / ranges.len() as f64;
        (mean_range > 0.0 && mean_range.is_finite() && centre.is_finite()).then_some(Self {
            centre,
            mean_range,
            points: values.len(),
        })
    }

    /// Returns whether the base period was long enough to rely on: at least 20 values.
    pub fn are_established(&self) -> bool {
        self.points >= ESTABLISHED
    }

    /// Returns the standard deviation from one value to the next: mean moving range / 1.128.
    pub fn sigma(&self) -> f64 {
        self.mean_range / RANGE_OVER_SIGMA
    }

    /// Returns the lower control limit: centre − 2.66 times the mean moving range.
    pub fn lower(&self) -> f64 {
        self.centre - LIMIT_OVER_RANGE * self.mean_range
    }

    /// Returns the upper control limit: centre + 2.66 times the mean moving range.
    pub fn upper(&self) -> f64 {
        self.centre + LIMIT_OVER_RANGE * self.mean_range
    }

    /// Returns the upper limit of a moving range: 3.267 times their mean. The lower one is 0.
    pub fn upper_range(&self) -> f64 {
        UPPER_RANGE * self.mean_range
    }

    /// Returns how many standard deviations `value` lies above the centre.
    pub fn standardize(&self, value: f64) -> f64 {
        (value - self.centre) / self.sigma()
    }

    /// Returns the same limits about another centre, as for a new lot tied to the old one.
    pub fn about(&self, centre: f64) -> Self {
        Self { centre, ..*self }
    }
}

/// Limits of a chart of the difference between duplicates, in the unit of the values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DuplicateLimits {
    /// Mean absolute difference of the duplicates.
    pub mean_difference: f64,
    /// Pairs it rests on.
    pub pairs: usize,
}

impl DuplicateLimits {
    /// Returns the limits that pairs of duplicates set (range chart of ISO 7870-2 for two;
    /// HANDBOOK §11.4); `None` when there is no pair or no pair differs.
    pub fn from_pairs(pairs: &[(f64, f64)]) -> Option<Self> {
        let sum: f64 = pairs.iter().map(|(a, b)| (a - b).abs()).sum();
        let mean_difference = sum / pairs.len() as f64;
        (mean_difference > 0.0 && mean_difference.is_finite()).then_some(Self {
            mean_difference,
            pairs: pairs.len(),
        })
    }

    /// Returns the standard deviation within pairs: mean difference / 1.128.
    pub fn sigma(&self) -> f64 {
        self.mean_difference / RANGE_OVER_SIGMA
    }

    /// Returns the upper limit of a difference: 3.267 times the mean.
    pub fn upper(&self) -> f64 {
        UPPER_RANGE * self.mean_difference
    }
}
