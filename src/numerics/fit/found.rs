//! What is known at a minimum: parameters, their scatter and their intervals.

use super::Problem;
use crate::numerics::distribution::student_quantile;
use nalgebra::{DMatrix, DVector};

/// Smallest ratio of singular values (columns of unit length) at which the parameters count as
/// told apart.
const RANK: f64 = 1e-13;
/// Largest share of the residuals that a further step could still explain, as a multiple of the
/// scatter (relative offset, Bates and Watts 1988, section 2.2.3; from memory, their bound is 1e-3).
const OFFSET: f64 = 1e-5;
/// A step this small against its parameter is no step, where residuals are rounding only.
const NO_STEP: f64 = 1e-9;
/// Step of numerical derivatives, in standard errors.
const NUDGE: f64 = 1e-3;

/// A number read from a fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Value.
    pub value: f64,
    /// Standard error.
    pub standard_error: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// A least-squares fit at an identified minimum.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Parameters in the order of the model.
    pub parameters: Vec<f64>,
    /// Standard error of each.
    pub standard_errors: Vec<f64>,
    /// Their covariance, row by row: residual variance times the inverse of the normal matrix.
    pub covariance: Vec<Vec<f64>>,
    /// Weighted sum of squared residuals.
    pub sum_of_squares: f64,
    /// Residual standard deviation: root of the sum over the degrees of freedom.
    pub residual_deviation: f64,
    /// Points less parameters.
    pub degrees_of_freedom: usize,
    /// Largest over smallest singular value of the Jacobian with columns of unit length: 1 for
    /// parameters that the points tell apart perfectly; above about 1e4 two of them trade off.
    pub condition: f64,
    /// Evaluations of the model over all points, in all searches.
    pub evaluations: usize,
    /// Starts tried.
    pub starts: usize,
}

/// A place in the search that is a minimum.
pub(super) struct Standing {
    pub(super) sum_of_squares: f64,
    parameters: Vec<f64>,
    inverse: DMatrix<f64>,
    condition: f64,
}

/// What a place in the search is worth.
pub(super) enum Judgement {
    /// A minimum that settles every parameter.
    Settled(Standing),
    /// Here a direction changes nothing; the parameter with the largest part in it.
    Vague(usize),
    /// Not a minimum.
    Moving,
}

/// The singular values of a Jacobian with columns of unit length.
struct Split {
    lengths: Vec<f64>,
    values: DVector<f64>,
    left: DMatrix<f64>,
    right: DMatrix<f64>,
}

impl Problem<'_> {
    /// Judges whether `parameters` are a minimum, and what it settles.
    pub(super) fn judge(&self, parameters: &[f64]) -> Judgement {
        let sum_of_squares = self.sum_of_squares(parameters);
        if !sum_of_squares.is_finite() {
            return Judgement::Moving;
        }
        let split = match self.split(parameters) {
            Ok(split) => split,
            Err(None) => return Judgement::Moving,
            Err(Some(parameter)) => return Judgement::Vague(parameter),
        };
        let (most, least) = (split.values.max(), split.values.min());
        if least <= RANK * most {
            return Judgement::Vague(split.weakest());
        }
        let residuals = DVector::from_vec(self.residuals(parameters));
        let explained = split.left.tr_mul(&residuals).norm_squared();
        let degrees = (self.x.len() - parameters.len()) as f64;
        let left_over = (sum_of_squares - explained).max(0.0);
        let offset = (explained / parameters.len() as f64).sqrt();
        let still = offset <= OFFSET * (left_over / degrees).sqrt() || {
            let step = split.step(&residuals);
            step.iter()
                .zip(parameters)
                .all(|(s, p)| s.abs() <= NO_STEP * p.abs())
        };
        if !still {
            return Judgement::Moving;
        }
        Judgement::Settled(Standing {
            sum_of_squares,
            parameters: parameters.to_vec(),
            inverse: split.inverse(),
            condition: most / least,
        })
    }

    /// Returns the full step of Gauss and Newton from `parameters`, where there is one.
    pub(super) fn step(&self, parameters: &[f64]) -> Option<Vec<f64>> {
        let split = self.split(parameters).ok()?;
        let residuals = DVector::from_vec(self.residuals(parameters));
        let step = split.step(&residuals);
        step.iter().all(|s| s.is_finite()).then_some(step)
    }

    /// Takes the Jacobian apart. `Err(Some(j))` when parameter `j` changes nothing at all,
    /// `Err(None)` when it is not finite.
    fn split(&self, parameters: &[f64]) -> Result<Split, Option<usize>> {
        let mut jacobian = self.jacobian(parameters);
        if jacobian.iter().any(|v| !v.is_finite()) {
            return Err(None);
        }
        let lengths: Vec<f64> = jacobian.column_iter().map(|c| c.norm()).collect();
        if let Some(idle) = lengths.iter().position(|&length| length <= 0.0) {
            return Err(Some(idle));
        }
        for (j, mut column) in jacobian.column_iter_mut().enumerate() {
            for value in column.iter_mut() {
                *value /= lengths[j];
            }
        }
        let svd = jacobian.try_svd(true, true, f64::EPSILON, 0).ok_or(None)?;
        match (svd.u, svd.v_t) {
            (Some(left), Some(right)) => Ok(Split {
                lengths,
                values: svd.singular_values,
                left,
                right,
            }),
            _ => Err(None),
        }
    }
}

impl Split {
    /// Returns the parameter with the largest part in the weakest direction.
    fn weakest(&self) -> usize {
        let row = self.right.row(self.values.imin());
        let mut largest = 0;
        for j in 1..row.len() {
            if row[j].abs() > row[largest].abs() {
                largest = j;
            }
        }
        largest
    }

    /// Returns the step that the residuals (model less observation) ask for.
    fn step(&self, residuals: &DVector<f64>) -> Vec<f64> {
        let mut along = self.left.tr_mul(residuals);
        for (part, value) in along.iter_mut().zip(self.values.iter()) {
            *part /= -value;
        }
        let step = self.right.tr_mul(&along);
        step.iter().zip(&self.lengths).map(|(s, l)| s / l).collect()
    }

    /// Returns the inverse of the normal matrix.
    fn inverse(&self) -> DMatrix<f64> {
        let n = self.lengths.len();
        DMatrix::from_fn(n, n, |i, j| {
            let sum: f64 = (0..n)
                .map(|k| {
                    self.right[(k, i)] * self.right[(k, j)] / (self.values[k] * self.values[k])
                })
                .sum();
            sum / (self.lengths[i] * self.lengths[j])
        })
    }
}

impl Standing {
    /// Returns the fit that stands here.
    pub(super) fn into_fit(self, problem: &Problem<'_>, evaluations: usize, starts: usize) -> Fit {
        let n = self.parameters.len();
        let degrees_of_freedom = problem.x.len() - n;
        let variance = self.sum_of_squares / degrees_of_freedom as f64;
        let covariance: Vec<Vec<f64>> = (0..n)
            .map(|i| (0..n).map(|j| variance * self.inverse[(i, j)]).collect())
            .collect();
        Fit {
            standard_errors: (0..n).map(|j| covariance[j][j].sqrt()).collect(),
            covariance,
            parameters: self.parameters,
            sum_of_squares: self.sum_of_squares,
            residual_deviation: variance.sqrt(),
            degrees_of_freedom,
            condition: self.condition,
            evaluations,
            starts,
        }
    }
}

impl Fit {
    /// Returns half the width of a 95 % interval in standard errors: Student's t at the degrees
    /// of freedom.
    pub fn coverage_factor(&self) -> f64 {
        // There is always a degree of freedom; the normal value is never used.
        let degrees = self.degrees_of_freedom as f64;
        student_quantile(0.975, degrees).unwrap_or(1.959_963_984_540_054)
    }

    /// Returns a parameter with its interval from Student's t; `None` when there is no such
    /// parameter.
    pub fn parameter(&self, index: usize) -> Option<Estimate> {
        let value = *self.parameters.get(index)?;
        Some(self.widen(value, *self.standard_errors.get(index)?))
    }

    /// Returns a function of the parameters with its interval by the delta method: its variance is
    /// the covariance of the parameters between its derivatives, taken numerically
    /// (JCGM 100:2008, 5.1.3 and 5.2.2). `None` when it is not finite at or about the parameters.
    pub fn function(&self, f: impl Fn(&[f64]) -> f64) -> Option<Estimate> {
        let value = f(&self.parameters);
        let slopes: Vec<f64> = (0..self.parameters.len())
            .map(|j| {
                let nudge = NUDGE * self.standard_errors[j];
                let nudge = nudge.max(1e-7 * self.parameters[j].abs());
                if nudge <= 0.0 {
                    return 0.0;
                }
                let mut moved = self.parameters.clone();
                moved[j] += nudge;
                let above = f(&moved);
                moved[j] = self.parameters[j] - nudge;
                (above - f(&moved)) / (2.0 * nudge)
            })
            .collect();
        let mut variance = 0.0;
        for (a, row) in slopes.iter().zip(&self.covariance) {
            for (b, shared) in slopes.iter().zip(row) {
                variance += a * b * shared;
            }
        }
        let found = self.widen(value, variance.max(0.0).sqrt());
        (found.value.is_finite() && found.standard_error.is_finite()).then_some(found)
    }

    /// Returns the share of the scatter of `y` about its mean that the fit explains; `None` when
    /// `y` does not vary. For a nonlinear model it is a description, not a test.
    pub fn explained(&self, y: &[f64]) -> Option<f64> {
        let mean = y.iter().sum::<f64>() / y.len() as f64;
        let total: f64 = y.iter().map(|v| (v - mean) * (v - mean)).sum();
        (total > 0.0).then(|| 1.0 - self.sum_of_squares / total)
    }

    fn widen(&self, value: f64, standard_error: f64) -> Estimate {
        let half = self.coverage_factor() * standard_error;
        Estimate {
            value,
            standard_error,
            low: value - half,
            high: value + half,
        }
    }
}
