//! Questions that any fitted model answers.

use crate::numerics::error::FitError;
use crate::numerics::estimate::{Estimate, FisherTest};

/// A fitted model that answers weights over its coefficients.
pub trait Contrasts {
    /// Returns the weighted sum of the coefficients with its standard error and degrees of freedom.
    ///
    /// # Errors
    /// `Lengths` for weights of another design, `NotEstimable` where the data cannot answer.
    fn contrast(&self, weights: &[f64]) -> Result<Estimate, FitError>;

    /// Returns the covariance of two weighted sums of the coefficients.
    ///
    /// # Errors
    /// As [`Contrasts::contrast`].
    fn covariance(&self, left: &[f64], right: &[f64]) -> Result<f64, FitError>;

    /// Returns the test that all `hypotheses` (weights of independent contrasts) are zero.
    ///
    /// # Errors
    /// As [`Contrasts::contrast`]; `TooFew` without a hypothesis.
    fn test(&self, hypotheses: &[Vec<f64>]) -> Result<FisherTest, FitError>;

    /// Observed minus fitted response of each observation, random effects included in the fit.
    fn residuals(&self) -> &[f64];
}

/// Returns the weights of one question minus those of another.
pub fn difference_of(left: &[f64], right: &[f64]) -> Vec<f64> {
    left.iter().zip(right).map(|(l, r)| l - r).collect()
}
