//! An interval with two ends.

/// A confidence interval; an end that the data leave open is infinite.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Interval {
    /// Returns the interval of half width `reach` about `centre`.
    pub(crate) fn around(centre: f64, reach: f64) -> Self {
        Self {
            low: centre - reach,
            high: centre + reach,
        }
    }

    /// Returns whether `value` lies inside, ends included.
    pub fn contains(&self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }
}
