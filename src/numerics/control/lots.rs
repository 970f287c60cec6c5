//! A new lot of reference flour, tied to the old one by days on which both were measured.

use super::ControlLimits;
use crate::numerics::distribution::student_quantile;

/// By how much a new lot reads differently from the old one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LotShift {
    /// Mean of new minus old over the days of overlap, in the unit of the values.
    pub shift: f64,
    /// Standard error of it, from the scatter of the differences.
    pub standard_error: f64,
    /// 95 % interval (Student's t).
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// Days of overlap.
    pub pairs: usize,
}

impl LotShift {
    /// Returns the limits of the new lot's chart: those of the old one about a centre moved by the
    /// shift, so that a jump of the instrument during the change is not taken for the flour's.
    /// Their centre is uncertain by [`Self::standard_error`]; freeze new limits from a base period
    /// of the new lot as soon as it has one (HANDBOOK §11.4: new lot, new chart, with overlap).
    pub fn carry_over(&self, old: &ControlLimits) -> ControlLimits {
        old.about(old.centre + self.shift)
    }
}

/// Returns the shift from the old to the new lot, from values of both on the same days (paired
/// difference: what the instrument did that day is in both). `None` for fewer than three days, or
/// lists of different length.
pub fn lot_shift(old: &[f64], new: &[f64]) -> Option<LotShift> {
    if old.len() != new.len() || old.len() < 3 {
        return None;
    }
    let count = old.len() as f64;
    let differences: Vec<f64> = new.iter().zip(old).map(|(n, o)| n - o).collect();
    let shift = differences.iter().sum::<f64>() / count;
    let squares: f64 = differences.iter().map(|d| (d - shift) * (d - shift)).sum();
    let standard_error = (squares / (count - 1.0) / count).sqrt();
    let reach = student_quantile(0.975, count - 1.0)? * standard_error;
    shift.is_finite().then_some(LotShift {
        shift,
        standard_error,
        low: shift - reach,
        high: shift + reach,
        pairs: old.len(),
    })
}
