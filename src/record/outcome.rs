//! How a metric came out: a value with its uncertainty, a bound, or a reason.

use crate::schema::Status;
use thiserror::Error;

/// A value that cannot be an outcome.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum OutcomeError {
    /// NaN or infinite.
    #[error("a result must be finite, found {0}")]
    NotFinite(f64),
    /// A negative standard uncertainty.
    #[error("a standard uncertainty must not be negative, found {0}")]
    NegativeUncertainty(f64),
}

/// A value with its 95 % interval and standard uncertainty, in the metric's unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    value: f64,
    low: f64,
    high: f64,
    std_uncertainty: f64,
}

/// Coverage factor of the printed intervals: U = 2 u (JCGM 100, HANDBOOK 11.5).
const COVERAGE_FACTOR: f64 = 2.0;

impl Estimate {
    /// Returns the estimate `value` with the interval `value ± 2 u`.
    ///
    /// # Errors
    /// [`OutcomeError`] unless both are finite and `std_uncertainty` is not negative.
    pub fn new(value: f64, std_uncertainty: f64) -> Result<Estimate, OutcomeError> {
        let half = COVERAGE_FACTOR * std_uncertainty;
        Estimate::with_interval(value, value - half, value + half, std_uncertainty)
    }

    /// Returns the estimate with an interval of its own, for quantities with skewed uncertainty.
    ///
    /// # Errors
    /// [`OutcomeError`] unless all are finite and `std_uncertainty` is not negative.
    pub fn with_interval(
        value: f64,
        low: f64,
        high: f64,
        std_uncertainty: f64,
    ) -> Result<Estimate, OutcomeError> {
        if let Some(bad) = [value, low, high, std_uncertainty]
            .into_iter()
            .find(|v| !v.is_finite())
        {
            return Err(OutcomeError::NotFinite(bad));
        }
        if std_uncertainty < 0.0 {
            return Err(OutcomeError::NegativeUncertainty(std_uncertainty));
        }
        Ok(Estimate {
            value,
            low: low.min(high),
            high: high.max(low),
            std_uncertainty,
        })
    }

    /// Returns the value.
    pub fn value(&self) -> f64 {
        self.value
    }

    /// Returns the lower end of the 95 % interval.
    pub fn low(&self) -> f64 {
        self.low
    }

    /// Returns the upper end of the 95 % interval.
    pub fn high(&self) -> f64 {
        self.high
    }

    /// Returns the standard uncertainty.
    pub fn std_uncertainty(&self) -> f64 {
        self.std_uncertainty
    }
}

/// How a metric came out. There is no NaN, no zero and no record end standing in for a reading.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// The value was read.
    Exact(Estimate),
    /// The true value is above this bound.
    Above(f64),
    /// The true value is below this bound.
    Below(f64),
    /// The curve never came to the point asked for; the reason says how far it came.
    NotReached(String),
    /// An input is missing; the reason names it.
    NotComputable(String),
    /// A rule or a person rejected it; the reason says why.
    Rejected(String),
}

impl Outcome {
    /// Returns `Exact` for a finite value, and `NotComputable` saying so for anything else.
    pub fn exact(value: f64, std_uncertainty: f64) -> Outcome {
        match Estimate::new(value, std_uncertainty) {
            Ok(estimate) => Outcome::Exact(estimate),
            Err(error) => Outcome::NotComputable(error.to_string()),
        }
    }

    /// Returns the status word.
    pub fn status(&self) -> Status {
        match self {
            Outcome::Exact(_) => Status::Exact,
            Outcome::Above(_) => Status::Above,
            Outcome::Below(_) => Status::Below,
            Outcome::NotReached(_) => Status::NotReached,
            Outcome::NotComputable(_) => Status::NotComputable,
            Outcome::Rejected(_) => Status::Rejected,
        }
    }

    /// Returns the estimate of an exact outcome.
    pub fn estimate(&self) -> Option<Estimate> {
        match self {
            Outcome::Exact(estimate) => Some(*estimate),
            _ => None,
        }
    }

    /// Returns the value of an exact outcome.
    pub fn value(&self) -> Option<f64> {
        self.estimate().map(|e| e.value())
    }

    /// Returns the value, or the bound of an outcome that is known to one side.
    pub fn value_or_bound(&self) -> Option<f64> {
        match self {
            Outcome::Exact(estimate) => Some(estimate.value()),
            Outcome::Above(bound) | Outcome::Below(bound) => Some(*bound),
            _ => None,
        }
    }

    /// Returns the reason of an outcome without a value.
    pub fn reason(&self) -> Option<&str> {
        match self {
            Outcome::NotReached(r) | Outcome::NotComputable(r) | Outcome::Rejected(r) => Some(r),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_finite_never_becomes_a_value() {
        assert!(Estimate::new(f64::NAN, 0.1).is_err());
        assert!(Estimate::new(1.0, -0.1).is_err());
        assert_eq!(
            Outcome::exact(f64::INFINITY, 0.0).status(),
            Status::NotComputable
        );
    }

    #[test]
    fn interval_is_two_standard_uncertainties_each_way() {
        let e = Estimate::new(10.0, 0.5).map(|e| (e.low(), e.high()));
        assert_eq!(e, Ok((9.0, 11.0)));
    }
}
