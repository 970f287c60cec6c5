//! The ratio of two contrasts of one fit, at any error rate (Fieller 1954).

use super::inference::Inference;
use crate::numerics::dose_response::ratio_of_contrasts;
use crate::numerics::linear::Contrasts;
use crate::numerics::{Estimate, FisherTest, FitError, Interval};

/// Two contrasts of one fit with their covariance, and the shared uncertainty of what they measure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Fieller {
    above: Estimate,
    below: Estimate,
    covariance: f64,
    /// Shared standard uncertainty, in the unit of the numerator.
    shared: f64,
}

const NUMERATOR: [f64; 2] = [1.0, 0.0];
const DENOMINATOR: [f64; 2] = [0.0, 1.0];

impl Fieller {
    /// Returns the ratio of the contrasts `above` and `below` of `fit`. `shared` is the standard
    /// uncertainty that all data share in the numerator's unit, and in the ratio's unit.
    ///
    /// # Errors
    /// As [`Contrasts::contrast`]; `NoVariation` where the denominator is zero.
    pub fn of(
        fit: &impl Contrasts,
        above: &[f64],
        below: &[f64],
        shared: (f64, f64),
    ) -> Result<Self, FitError> {
        let found = Self {
            above: fit.contrast(above)?,
            below: fit.contrast(below)?,
            covariance: fit.covariance(above, below)?,
            shared: 0.0,
        };
        if found.below.value.abs() <= 0.0 {
            return Err(FitError::NoVariation);
        }
        let (response, ratio) = shared;
        Ok(Self {
            shared: libm::hypot(response, ratio * found.below.value),
            ..found
        })
    }

    /// The denominator.
    pub fn slope(&self) -> f64 {
        self.below.value
    }
}

impl Contrasts for Fieller {
    fn contrast(&self, weights: &[f64]) -> Result<Estimate, FitError> {
        let own = self.own_covariance(weights, weights)?;
        let shared = weights.first().map_or(0.0, |w| w * self.shared);
        let value = |w: &[f64]| match w {
            [a, b] => a * self.above.value + b * self.below.value,
            _ => f64::NAN,
        };
        Estimate {
            value: value(weights),
            standard_error: own.max(0.0).sqrt(),
            df: self.above.df,
        }
        .with_shared_uncertainty(shared.abs())
    }

    fn covariance(&self, left: &[f64], right: &[f64]) -> Result<f64, FitError> {
        let of = |weights: &[f64]| weights.first().map_or(0.0, |w| w * self.shared);
        Ok(self.own_covariance(left, right)? + of(left) * of(right))
    }

    fn test(&self, _hypotheses: &[Vec<f64>]) -> Result<FisherTest, FitError> {
        Err(FitError::NotEstimable)
    }

    fn residuals(&self) -> &[f64] {
        &[]
    }
}

impl Fieller {
    fn own_covariance(&self, left: &[f64], right: &[f64]) -> Result<f64, FitError> {
        let ([a, b], [c, d]) = (left, right) else {
            return Err(FitError::Lengths {
                expected: 2,
                found: left.len().min(right.len()),
            });
        };
        let square = |e: &Estimate| e.standard_error * e.standard_error;
        Ok(a * c * square(&self.above)
            + b * d * square(&self.below)
            + (a * d + b * c) * self.covariance)
    }
}

impl Inference for Fieller {
    fn value(&self) -> f64 {
        self.above.value / self.below.value
    }

    fn interval(&self, alpha: f64) -> Option<Interval> {
        let ratio = ratio_of_contrasts(self, &NUMERATOR, &DENOMINATOR, 1.0 - 2.0 * alpha);
        ratio.ok()?.limits.bounded()
    }

    fn df(&self) -> Option<f64> {
        Some(self.above.df)
    }
}
