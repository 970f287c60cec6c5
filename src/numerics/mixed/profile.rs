//! The deviance as a function of the variance ratios, with its gradient.

use super::effects::Effects;
use super::sparse::Factors;
use crate::numerics::linear::dot;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use std::f64::consts::PI;

/// The deviance at given ratios of each grouping's variance to the error variance; fixed effects
/// and error variance are those that fit best there.
#[derive(Debug, Clone)]
pub(super) struct Profile<'e> {
    effects: &'e Effects,
    pub ratios: Vec<f64>,
    scale: Vec<f64>,
    factors: Factors,
    /// Factor of Q'V⁻¹Q, V in units of the error variance.
    pub information: Cholesky<f64, Dyn>,
    /// Change of the fixed coordinates from least squares.
    pub change: Vec<f64>,
    /// Weighted residual sum of squares over its degrees of freedom.
    pub error_variance: f64,
    /// Twice the negative log-likelihood, without the constant of the design's coding.
    pub deviance: f64,
}

impl<'e> Profile<'e> {
    /// Returns the profile at `ratios`; `None` where rounding leaves no positive error variance.
    pub fn at(effects: &'e Effects, ratios: &[f64]) -> Option<Self> {
        let scale = effects.scale(ratios);
        let factors = effects.pattern.factorise(&scale);
        let solved = |column: &[f64]| {
            let mut vector: Vec<f64> = column.iter().zip(&scale).map(|(c, s)| c * s).collect();
            factors.forward(&mut vector);
            vector
        };
        let design: Vec<Vec<f64>> = effects.with_design.iter().map(|c| solved(c)).collect();
        let residuals = solved(&effects.with_residuals);
        let product = |a: &[f64], b: &[f64]| {
            let terms = a.iter().zip(b).zip(&factors.diagonal);
            terms.map(|((a, b), d)| a * b / d).sum::<f64>()
        };
        let rank = design.len();
        let information = DMatrix::from_fn(rank, rank, |i, j| {
            f64::from(u8::from(i == j)) - product(&design[i], &design[j])
        });
        let score = DVector::from_fn(rank, |i, _| -product(&design[i], &residuals));
        let information = information.cholesky()?;
        let change = information.solve(&score);
        let weighted_sum =
            effects.residual_sum - product(&residuals, &residuals) - score.dot(&change);
        let of_design: f64 = (0..rank)
            .map(|i| 2.0 * libm::log(information.l_dirty()[(i, i)]))
            .sum();
        let df = effects.df;
        let error_variance = weighted_sum / df;
        if error_variance.is_nan() || error_variance <= 0.0 {
            return None;
        }
        let deviance = df * (1.0 + libm::log(2.0 * PI * error_variance))
            + factors.log_determinant()
            + if effects.restricted { of_design } else { 0.0 };
        Some(Self {
            effects,
            ratios: ratios.to_vec(),
            factors,
            information,
            change: change.iter().copied().collect(),
            error_variance,
            deviance,
            scale,
        })
    }

    /// Returns Z'V⁻¹x for x given as Z'x.
    fn weighted(&self, column: &[f64]) -> Vec<f64> {
        let mut vector: Vec<f64> = column.iter().zip(&self.scale).map(|(c, s)| c * s).collect();
        self.factors.forward(&mut vector);
        self.factors.backward(&mut vector);
        for (value, s) in vector.iter_mut().zip(&self.scale) {
            *value *= s;
        }
        let taken = self.effects.cross.times(&vector);
        column.iter().zip(taken).map(|(c, t)| c - t).collect()
    }

    /// Returns Z'V⁻¹Q by columns.
    pub fn weighted_design(&self) -> Vec<Vec<f64>> {
        let columns = &self.effects.with_design;
        columns.iter().map(|c| self.weighted(c)).collect()
    }

    /// Returns Z'V⁻¹(y - Qγ): times its variance ratio, the predicted effect of each level.
    pub fn weighted_residuals(&self) -> Vec<f64> {
        let mut rest = self.effects.with_residuals.clone();
        for (column, change) in self.effects.with_design.iter().zip(&self.change) {
            for (value, w) in rest.iter_mut().zip(column) {
                *value -= change * w;
            }
        }
        self.weighted(&rest)
    }

    /// Returns, for each grouping, the trace of Z'PZ (of Z'V⁻¹Z for full likelihood) and the square
    /// of Z'Py: half the derivatives of the two parts of the deviance.
    pub fn parts(&self) -> Vec<(f64, f64)> {
        let residuals = self.weighted_residuals();
        let design = if self.effects.restricted {
            self.weighted_design()
        } else {
            Vec::new()
        };
        let inverse = self.factors.inverse_diagonal();
        let spans = self.effects.spans.iter().zip(&self.ratios);
        spans
            .map(|(span, ratio)| {
                let own = &residuals[span.clone()];
                let mut trace = if *ratio > 0.0 {
                    let missing: f64 = inverse[span.clone()].iter().map(|d| 1.0 - d).sum();
                    missing / ratio
                } else {
                    self.trace_at_zero(span.clone())
                };
                if self.effects.restricted {
                    trace -= self.design_share(&design, span.clone());
                }
                (trace, dot(own, own))
            })
            .collect()
    }

    /// Returns the trace of the information's inverse times the products of Z'V⁻¹Q in `span`.
    fn design_share(&self, design: &[Vec<f64>], span: std::ops::Range<usize>) -> f64 {
        let rank = design.len();
        let products = DMatrix::from_fn(rank, rank, |i, j| {
            dot(&design[i][span.clone()], &design[j][span.clone()])
        });
        self.information.solve(&products).trace()
    }

    /// Returns the trace of Z'V⁻¹Z over the levels of a grouping whose variance is zero, level by
    /// level.
    fn trace_at_zero(&self, span: std::ops::Range<usize>) -> f64 {
        let cross = &self.effects.cross;
        let mut trace = 0.0;
        for level in span {
            let mut unit = vec![0.0; cross.size()];
            unit[level] = 1.0;
            let mut column = cross.times(&unit);
            for (value, s) in column.iter_mut().zip(&self.scale) {
                *value *= s;
            }
            self.factors.forward(&mut column);
            let taken = column.iter().zip(&self.factors.diagonal);
            trace += cross.diagonal[level] - taken.map(|(v, d)| v * v / d).sum::<f64>();
        }
        trace
    }

    /// Returns the derivatives of the deviance by the ratios for `error_variance`.
    pub fn gradient(&self, error_variance: f64) -> Vec<f64> {
        let parts = self.parts();
        parts.iter().map(|(t, s)| t - s / error_variance).collect()
    }
}
