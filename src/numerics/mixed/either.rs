//! One model whose blocks are fixed, random or absent.

use super::fit::{Criterion, MixedFit, fit_mixed};
use crate::numerics::error::FitError;
use crate::numerics::estimate::{Estimate, FisherTest};
use crate::numerics::linear::{Contrasts, Design, Factor, LinearFit, fit_linear, test_term};

/// How blocks enter a model.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Blocks {
    /// There are none.
    None,
    /// As a term of the design: comparisons within blocks only.
    Fixed(Factor),
    /// As random intercepts of one or more groupings: inference to blocks like these, and what
    /// incomplete blocks say between them is recovered.
    Random(Vec<Factor>),
}

/// A fit by least squares or by restricted likelihood, whichever the blocks need.
#[derive(Debug, Clone)]
pub enum Fit<'d> {
    /// No random effect.
    Linear(LinearFit<'d>),
    /// Random intercepts.
    Mixed(Box<MixedFit<'d>>),
}

impl<'d> Fit<'d> {
    /// Fits `response` on `design`; random blocks are added, fixed ones are part of the design.
    ///
    /// # Errors
    /// As [`fit_linear`] and [`fit_mixed`].
    pub fn of(design: &'d Design, blocks: &Blocks, response: &[f64]) -> Result<Self, FitError> {
        Ok(match blocks {
            Blocks::None | Blocks::Fixed(_) => Fit::Linear(fit_linear(design, response)?),
            Blocks::Random(groupings) => Fit::Mixed(Box::new(fit_mixed(
                design,
                groupings,
                response,
                Criterion::Restricted,
            )?)),
        })
    }

    /// Returns the test that all coefficients of a term are zero, all other terms kept.
    ///
    /// # Errors
    /// `Unknown` for a term the design does not have, `NotEstimable` where cells are empty.
    pub fn test_term(&self, term: usize) -> Result<FisherTest, FitError> {
        let design = match self {
            Fit::Linear(fit) => fit.design(),
            Fit::Mixed(fit) => fit.design(),
        };
        test_term(self, design, term)
    }
}

impl Contrasts for Fit<'_> {
    fn contrast(&self, weights: &[f64]) -> Result<Estimate, FitError> {
        match self {
            Fit::Linear(fit) => fit.contrast(weights),
            Fit::Mixed(fit) => fit.contrast(weights),
        }
    }

    fn covariance(&self, left: &[f64], right: &[f64]) -> Result<f64, FitError> {
        match self {
            Fit::Linear(fit) => fit.covariance(left, right),
            Fit::Mixed(fit) => fit.covariance(left, right),
        }
    }

    fn test(&self, hypotheses: &[Vec<f64>]) -> Result<FisherTest, FitError> {
        match self {
            Fit::Linear(fit) => fit.test(hypotheses),
            Fit::Mixed(fit) => fit.test(hypotheses),
        }
    }

    fn residuals(&self) -> &[f64] {
        match self {
            Fit::Linear(fit) => fit.residuals(),
            Fit::Mixed(fit) => fit.residuals(),
        }
    }
}
