//! A fitted mixed model.

use super::effects::Effects;
use super::optimum::minimise;
use super::satterthwaite::Satterthwaite;
use crate::numerics::error::{FitError, require_count, require_finite, require_length};
use crate::numerics::estimate::{Estimate, FisherTest};
use crate::numerics::linear::{Contrasts, Design, Factor, dot, test_term};
use nalgebra::{Cholesky, DMatrix, DVector, Dyn, SymmetricEigen};

/// What is made as likely as possible.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Criterion {
    /// The residuals' likelihood (REML: Patterson and Thompson 1971, Biometrika 58:545): variances
    /// are not shrunk by the fixed effects that were fitted. The usual choice.
    Restricted,
    /// The likelihood of the data: deviances of models with different fixed effects may be compared.
    Full,
}

/// A linear mixed model with random intercepts.
#[derive(Debug, Clone)]
pub struct MixedFit<'d> {
    design: &'d Design,
    /// Variance of each grouping, in the order given; exactly zero where the data ask for it.
    pub variances: Vec<f64>,
    /// Variance of the error within all groupings.
    pub error_variance: f64,
    /// Twice the negative logarithm of the likelihood of the criterion. The restricted one depends
    /// on the coding of the design's factors.
    pub deviance: f64,
    /// Predicted effect of each level of each grouping (Henderson 1975, Biometrics 31:423).
    pub effects: Vec<Vec<f64>>,
    coordinates: Vec<f64>,
    residuals: Vec<f64>,
    information: Cholesky<f64, Dyn>,
    satterthwaite: Satterthwaite,
}

/// Fits `response` on the fixed effects of `design` and a random intercept for each of
/// `groupings`; what no grouping shares is the error. Do not list a grouping whose levels are the
/// single observations: that is the error itself.
///
/// # Errors
/// `Lengths`, `NotFinite`; `TooFew` without a grouping or for one with a single level; `NoResidual`
/// where nothing is left for the error; `NotEstimable` for a grouping that cannot be told from
/// another, from the error or from the fixed effects; `NoVariation` where the fixed effects
/// describe the response exactly; `NotConverged`.
pub fn fit_mixed<'d>(
    design: &'d Design,
    groupings: &[Factor],
    response: &[f64],
    criterion: Criterion,
) -> Result<MixedFit<'d>, FitError> {
    require_length(design.rows(), response.len())?;
    require_finite(response)?;
    require_count("groupings", 1, groupings.len())?;
    if design.rank() >= design.rows() {
        return Err(FitError::NoResidual);
    }
    let (mut coordinates, residuals) = design.basis.split(response);
    if dot(&residuals, &residuals) <= 1e-24 * dot(response, response) {
        return Err(FitError::NoVariation);
    }
    let restricted = criterion == Criterion::Restricted;
    let products = Effects::of(design, groupings, &residuals, restricted)?;
    let optimum = minimise(&products)?;
    for (sum, change) in coordinates.iter_mut().zip(&optimum.change) {
        *sum += change;
    }
    let weighted = optimum.weighted_residuals();
    let effects: Vec<Vec<f64>> = products
        .spans
        .iter()
        .zip(&optimum.ratios)
        .map(|(span, ratio)| weighted[span.clone()].iter().map(|w| ratio * w).collect())
        .collect();
    let residuals = conditional_residuals(design, groupings, residuals, &optimum.change, &effects);
    let of_coding = if restricted {
        design.basis.log_determinant()
    } else {
        0.0
    };
    Ok(MixedFit {
        design,
        variances: optimum
            .ratios
            .iter()
            .map(|ratio| ratio * optimum.error_variance)
            .collect(),
        error_variance: optimum.error_variance,
        deviance: optimum.deviance + of_coding,
        satterthwaite: Satterthwaite::of(&products, &optimum)?,
        information: optimum.information,
        coordinates,
        residuals,
        effects,
    })
}

/// Returns the residuals of least squares less the change of the fixed effects and the predicted
/// random ones.
fn conditional_residuals(
    design: &Design,
    groupings: &[Factor],
    mut residuals: Vec<f64>,
    change: &[f64],
    effects: &[Vec<f64>],
) -> Vec<f64> {
    for (column, change) in design.basis.columns.iter().zip(change) {
        for (residual, value) in residuals.iter_mut().zip(column) {
            *residual -= change * value;
        }
    }
    for (grouping, levels) in groupings.iter().zip(effects) {
        for (residual, code) in residuals.iter_mut().zip(grouping.codes()) {
            *residual -= levels[*code];
        }
    }
    residuals
}

impl MixedFit<'_> {
    /// The design of the fixed effects.
    pub fn design(&self) -> &Design {
        self.design
    }

    /// Returns the test that all coefficients of a term are zero (denominator degrees of freedom
    /// after Satterthwaite and Fai and Cornelius 1996, J. Stat. Comput. Simul. 54:363): type III
    /// where factors have [`Coding::Sum`](crate::numerics::linear::Coding::Sum).
    ///
    /// # Errors
    /// `Unknown` for a term the design does not have, `NotEstimable` where cells are empty.
    pub fn test_term(&self, term: usize) -> Result<FisherTest, FitError> {
        test_term(self, self.design, term)
    }

    fn solve(&self, weights: &[f64]) -> Vec<f64> {
        let solved = self.information.solve(&DVector::from_column_slice(weights));
        solved.iter().copied().collect()
    }

    /// Returns the estimate for weights over the basis.
    fn along(&self, weights: &[f64]) -> Estimate {
        let solved = self.solve(weights);
        Estimate {
            value: dot(weights, &self.coordinates),
            standard_error: (self.error_variance * dot(weights, &solved)).sqrt(),
            df: self.satterthwaite.df(weights, &solved, self.error_variance),
        }
    }
}

impl Contrasts for MixedFit<'_> {
    fn contrast(&self, weights: &[f64]) -> Result<Estimate, FitError> {
        Ok(self.along(&self.design.basis.project(weights)?))
    }

    fn covariance(&self, left: &[f64], right: &[f64]) -> Result<f64, FitError> {
        let left = self.design.basis.project(left)?;
        let right = self.design.basis.project(right)?;
        Ok(self.error_variance * dot(&left, &self.solve(&right)))
    }

    fn test(&self, hypotheses: &[Vec<f64>]) -> Result<FisherTest, FitError> {
        require_count("hypotheses", 1, hypotheses.len())?;
        let mut directions = Vec::with_capacity(hypotheses.len());
        for weights in hypotheses {
            directions.push(self.design.basis.project(weights)?);
        }
        let size = directions.len();
        let solved: Vec<Vec<f64>> = directions.iter().map(|d| self.solve(d)).collect();
        let covariance = DMatrix::from_fn(size, size, |i, j| {
            self.error_variance * dot(&directions[i], &solved[j])
        });
        // Independent contrasts: the directions turned to the axes of their own covariance.
        let eigen = SymmetricEigen::new((&covariance + covariance.transpose()) * 0.5);
        let least = 1e-10 * eigen.eigenvalues.amax();
        let mut squares = Vec::new();
        for (axis, variance) in eigen
            .eigenvectors
            .column_iter()
            .zip(eigen.eigenvalues.iter())
        {
            if *variance <= least {
                continue;
            }
            let mut turned = vec![0.0; self.coordinates.len()];
            for (direction, share) in directions.iter().zip(axis.iter()) {
                for (sum, value) in turned.iter_mut().zip(direction) {
                    *sum += share * value;
                }
            }
            let estimate = self.along(&turned);
            let t = estimate.statistic(0.0);
            squares.push((t * t, estimate.df));
        }
        if squares.is_empty() {
            return Err(FitError::NotEstimable);
        }
        let df = squares.len() as f64;
        let statistic = squares.iter().map(|(square, _)| square).sum::<f64>() / df;
        Ok(FisherTest::new(statistic, df, denominator_df(&squares)))
    }

    fn residuals(&self) -> &[f64] {
        &self.residuals
    }
}

/// Returns the degrees of freedom below of the mean of squared independent t statistics, so that
/// F has the mean that they have together (Fai and Cornelius 1996).
fn denominator_df(squares: &[(f64, f64)]) -> f64 {
    let first = squares.first().map_or(0.0, |(_, df)| *df);
    if squares
        .iter()
        .all(|(_, df)| (df - first).abs() < 1e-8 * first)
    {
        return first;
    }
    let count = squares.len() as f64;
    // A t with two or fewer degrees of freedom has no finite mean square: 2 is then the limit.
    if squares.iter().any(|(_, df)| *df <= 2.0) {
        return 2.0;
    }
    let expected: f64 = squares.iter().map(|(_, df)| df / (df - 2.0)).sum();
    2.0 * expected / (expected - count)
}
