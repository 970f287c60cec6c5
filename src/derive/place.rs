//! A place on an abscissa that is known to lie within a stretch.

/// A place on the abscissa with the stretch in which it may lie, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Best estimate.
    pub at: f64,
    /// Earliest.
    pub low: f64,
    /// Latest.
    pub high: f64,
}

impl Place {
    /// Returns the standard uncertainty: rectangular between earliest and latest (JCGM 100, 4.3.7).
    pub fn u(&self) -> f64 {
        (self.high - self.low) / 12.0_f64.sqrt()
    }

    /// Returns the standard uncertainty of a best estimate that need not stand in the middle:
    /// rectangular over the longer side.
    pub(super) fn reach(&self) -> f64 {
        (self.at - self.low).max(self.high - self.at) / 3.0_f64.sqrt()
    }

    /// Returns the place seen from `by`.
    pub(super) fn shifted(self, by: f64) -> Place {
        Place {
            at: self.at - by,
            low: self.low - by,
            high: self.high - by,
        }
    }
}
