//! Least squares.

use super::basis::{Basis, dot};
use super::contrasts::Contrasts;
use super::design::Design;
use crate::numerics::error::{FitError, require_count, require_finite, require_length};
use crate::numerics::estimate::{Estimate, FisherTest, SumOfSquares};

/// A linear model fitted by least squares.
#[derive(Debug, Clone)]
pub struct LinearFit<'d> {
    design: &'d Design,
    coordinates: Vec<f64>,
    residuals: Vec<f64>,
    error: SumOfSquares,
}

/// Fits `response` by ordinary least squares on an orthonormal basis of the design's columns.
///
/// # Errors
/// `Lengths` unless there is one response per row, `NotFinite` for a response that is none,
/// `NoResidual` where the model leaves no degree of freedom for the error.
pub fn fit_linear<'d>(design: &'d Design, response: &[f64]) -> Result<LinearFit<'d>, FitError> {
    require_length(design.rows(), response.len())?;
    require_finite(response)?;
    if design.rank() >= design.rows() {
        return Err(FitError::NoResidual);
    }
    let (coordinates, residuals) = design.basis.split(response);
    Ok(LinearFit {
        error: SumOfSquares {
            sum: dot(&residuals, &residuals),
            df: (design.rows() - design.rank()) as f64,
        },
        design,
        coordinates,
        residuals,
    })
}

impl LinearFit<'_> {
    /// Returns the coefficients, intercept first, in the order of the terms; zero for columns that
    /// were set aside. Columns of variables far from zero make single coefficients less exact than
    /// contrasts.
    pub fn coefficients(&self) -> Vec<f64> {
        self.design.basis.coefficients(&self.coordinates)
    }

    /// The design that was fitted.
    pub fn design(&self) -> &Design {
        self.design
    }

    /// The squares of the residuals; their mean square is the estimated error variance.
    pub fn error(&self) -> SumOfSquares {
        self.error
    }

    /// Returns the sum of squares that each term adds to the intercept and the terms before it
    /// (type I).
    pub fn sequential_sums(&self) -> Vec<SumOfSquares> {
        let spans = (0..self.design.terms().len()).filter_map(|t| self.design.term_columns(t).ok());
        spans
            .map(|span| {
                let of_term = self
                    .basis()
                    .kept
                    .iter()
                    .zip(&self.coordinates)
                    .filter(|(place, _)| span.contains(*place));
                of_term.fold(SumOfSquares { sum: 0.0, df: 0.0 }, |sum, (_, c)| {
                    SumOfSquares {
                        sum: sum.sum + c * c,
                        df: sum.df + 1.0,
                    }
                })
            })
            .collect()
    }

    /// Returns the test that all coefficients of a term are zero, all other terms kept in the model:
    /// type III where factors have [`Coding::Sum`](super::Coding::Sum) and no cell is empty.
    ///
    /// # Errors
    /// `Unknown` for a term the design does not have, `NotEstimable` where cells are empty.
    pub fn test_term(&self, term: usize) -> Result<FisherTest, FitError> {
        test_term(self, self.design, term)
    }

    /// Returns the residuals divided by their own standard deviation (internally studentised: Cook
    /// and Weisberg 1982, Residuals and Influence in Regression, 2.2.1); zero where an observation
    /// determines its own fit.
    pub fn standardised_residuals(&self) -> Vec<f64> {
        let scale = self.error.mean_square().sqrt();
        self.residuals
            .iter()
            .enumerate()
            .map(|(row, residual)| {
                let leverage: f64 = self.basis().columns.iter().map(|c| c[row] * c[row]).sum();
                let spread = scale * (1.0 - leverage).max(0.0).sqrt();
                if spread > 1e-9 * scale {
                    residual / spread
                } else {
                    0.0
                }
            })
            .collect()
    }

    fn basis(&self) -> &Basis {
        &self.design.basis
    }
}

impl Contrasts for LinearFit<'_> {
    fn contrast(&self, weights: &[f64]) -> Result<Estimate, FitError> {
        let z = self.basis().project(weights)?;
        Ok(Estimate {
            value: dot(&z, &self.coordinates),
            standard_error: (dot(&z, &z) * self.error.mean_square()).sqrt(),
            df: self.error.df,
        })
    }

    fn covariance(&self, left: &[f64], right: &[f64]) -> Result<f64, FitError> {
        let (left, right) = (self.basis().project(left)?, self.basis().project(right)?);
        Ok(dot(&left, &right) * self.error.mean_square())
    }

    fn test(&self, hypotheses: &[Vec<f64>]) -> Result<FisherTest, FitError> {
        require_count("hypotheses", 1, hypotheses.len())?;
        let mut directions = Vec::with_capacity(hypotheses.len());
        for weights in hypotheses {
            directions.push(self.basis().project(weights)?);
        }
        // The sum of squares of the hypotheses is the length of the fit in their own space.
        let space = Basis::of(&directions);
        let (along, _) = space.split(&self.coordinates);
        let df = space.rank() as f64;
        if df < 1.0 {
            return Err(FitError::NotEstimable);
        }
        let mean_square = dot(&along, &along) / df;
        Ok(FisherTest::new(
            mean_square / self.error.mean_square(),
            df,
            self.error.df,
        ))
    }

    fn residuals(&self) -> &[f64] {
        &self.residuals
    }
}

/// Returns the test that all coefficients of `term` are zero in any fit of `design`.
pub(crate) fn test_term(
    fit: &impl Contrasts,
    design: &Design,
    term: usize,
) -> Result<FisherTest, FitError> {
    let hypotheses: Vec<Vec<f64>> = design
        .term_columns(term)?
        .map(|column| {
            let mut weights = vec![0.0; design.width()];
            weights[column] = 1.0;
            weights
        })
        .collect();
    fit.test(&hypotheses)
}
