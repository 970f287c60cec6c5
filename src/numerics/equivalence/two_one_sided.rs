//! Equivalence by two one-sided tests.

use crate::numerics::error::{FitError, require_open_unit};
use crate::numerics::estimate::{Estimate, Interval};

/// Two one-sided tests of an estimate against a lower and an upper margin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoOneSided {
    /// One-sided p-value that the truth lies at or below the lower margin.
    pub p_lower: f64,
    /// One-sided p-value that the truth lies at or above the upper margin.
    pub p_upper: f64,
    /// The interval of confidence 1 - 2 alpha.
    pub interval: Interval,
    /// Whether the interval lies wholly within the margins: equivalent at alpha.
    pub equivalent: bool,
}

impl TwoOneSided {
    /// The p-value of the pair of tests: the greater of both.
    pub fn p(&self) -> f64 {
        self.p_lower.max(self.p_upper)
    }
}

/// Returns the two one-sided tests of `estimate` against `margins` at level `alpha` each, with the
/// interval of confidence 1 - 2 alpha that says the same (Schuirmann 1987, J. Pharmacokin.
/// Biopharm. 15:657; Westlake 1981). Margins may be infinite on one side: then it is a test of
/// non-inferiority. For a ratio give estimate and margins as logarithms.
///
/// # Errors
/// `OutOfRange` unless alpha lies in 0..0.5 and the lower margin is below the upper one.
pub fn test_equivalence(
    estimate: &Estimate,
    margins: Interval,
    alpha: f64,
) -> Result<TwoOneSided, FitError> {
    require_open_unit("twice alpha", 2.0 * alpha)?;
    if margins.low.is_nan() || margins.high.is_nan() || margins.low >= margins.high {
        return Err(FitError::OutOfRange {
            what: "lower margin",
            found: margins.low,
        });
    }
    let interval = estimate.interval(1.0 - 2.0 * alpha)?;
    Ok(TwoOneSided {
        p_lower: estimate.p_above(margins.low),
        p_upper: estimate.p_below(margins.high),
        equivalent: interval.low > margins.low && interval.high < margins.high,
        interval,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn margins_in_the_wrong_order_are_refused_and_one_may_be_infinite() {
        let estimate = Estimate {
            value: 0.1,
            standard_error: 0.2,
            df: 10.0,
        };
        let margins = |low, high| Interval { low, high };
        assert!(test_equivalence(&estimate, margins(1.0, -1.0), 0.05).is_err());
        assert!(test_equivalence(&estimate, margins(-1.0, 1.0), 0.6).is_err());
        let one_sided = test_equivalence(&estimate, margins(-1.0, f64::INFINITY), 0.05);
        assert!(one_sided.is_ok_and(|t| t.equivalent && t.p_upper <= 0.0 && t.p() < 1e-3));
    }
}
