//! The interval of one parameter from the profile of the sum of squares.

use super::{Bound, Fit, Model, Options, Problem};

/// Steps outward before a side counts as open, each twice the one before.
const STEPS_OUT: usize = 14;
/// Halvings between the last point inside and the first outside.
const HALVINGS: usize = 60;
/// A standard error below this share of its parameter is rounding: the points lie on the model.
const ROUNDING: f64 = 1e-9;
/// An end is found when it is known to this share of the standard error.
const CLOSE: f64 = 1e-6;

/// An interval that need not be symmetric, nor closed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Profile {
    /// Lower end; `None` when the points rule out no small value, as far as the profile could be
    /// followed.
    pub low: Option<f64>,
    /// Upper end; `None` when the points rule out no large value, with the same reserve.
    pub high: Option<f64>,
}

/// A model with one parameter held.
struct Held<'a> {
    model: &'a dyn Model,
    index: usize,
    at: f64,
}

impl Held<'_> {
    /// Returns all parameters, the held one in its place.
    fn complete(&self, others: &[f64]) -> Vec<f64> {
        let mut all = others.to_vec();
        all.insert(self.index.min(all.len()), self.at);
        all
    }
}

impl Model for Held<'_> {
    fn count(&self) -> usize {
        self.model.count() - 1
    }

    fn name(&self, index: usize) -> &'static str {
        self.model.name(index + usize::from(index >= self.index))
    }

    fn value(&self, x: f64, others: &[f64]) -> f64 {
        self.model.value(x, &self.complete(others))
    }

    fn gradient(&self, x: f64, others: &[f64], out: &mut [f64]) {
        let all = self.complete(others);
        let mut slopes = vec![0.0; all.len()];
        self.model.gradient(x, &all, &mut slopes);
        slopes.remove(self.index);
        out.copy_from_slice(&slopes);
    }
}

impl Problem<'_> {
    /// Returns the 95 % interval of a parameter by profiling: all values at which the sum of
    /// squares, minimised over the other parameters, exceeds its minimum by no more than
    /// `t²` times the residual variance (Bates and Watts 1988, section 6.1; from memory). Unlike
    /// the interval from the standard error it follows the curvature of the model, and says when a
    /// side is open.
    ///
    /// `None` when there is no such parameter, or its standard error is no more than rounding.
    pub fn profile(&self, fit: &Fit, index: usize) -> Option<Profile> {
        let error = *fit.standard_errors.get(index)?;
        let rounding = ROUNDING * fit.parameters.get(index)?.abs();
        if !(error > rounding && error.is_finite()) {
            return None;
        }
        Some(Profile {
            low: self.find_end(fit, index, -error),
            high: self.find_end(fit, index, error),
        })
    }

    /// Searches for an end of the interval in steps of `step`, which carries the direction.
    fn find_end(&self, fit: &Fit, index: usize, step: f64) -> Option<f64> {
        let variance = fit.sum_of_squares / fit.degrees_of_freedom as f64;
        let limit = fit.sum_of_squares + fit.coverage_factor().powi(2) * variance;
        let mut inside = fit.parameters[index];
        let mut others = fit.parameters.clone();
        others.remove(index);
        let mut reach = step * fit.coverage_factor();
        let mut outside = None;
        for _ in 0..STEPS_OUT {
            let next = self.toward(index, inside, inside + reach)?;
            match self.lowest_with(index, next, &others) {
                Some((height, there)) if height <= limit => (inside, others) = (next, there),
                Some(_) => {
                    outside = Some(next);
                    break;
                }
                None => return None,
            }
            reach *= 2.0;
        }
        let mut outside = outside?;
        for _ in 0..HALVINGS {
            if (outside - inside).abs() <= CLOSE * step.abs() {
                break;
            }
            let middle = 0.5 * (inside + outside);
            match self.lowest_with(index, middle, &others) {
                Some((height, there)) if height <= limit => (inside, others) = (middle, there),
                Some(_) => outside = middle,
                None => return None,
            }
        }
        Some(0.5 * (inside + outside))
    }

    /// Returns the next value on the way out: halfway to the limit where the step would cross it;
    /// `None` once there is no way left.
    fn toward(&self, index: usize, from: f64, to: f64) -> Option<f64> {
        let bound = self.bound(index);
        let next = match bound {
            _ if bound.holds(to) => to,
            Bound::Free => return None,
            Bound::Positive => 0.5 * from,
            Bound::Between(low, high) => 0.5 * (from + if to < from { low } else { high }),
        };
        let moved = (next - from).abs() > f64::EPSILON * from.abs();
        (moved && bound.holds(next)).then_some(next)
    }

    /// Returns the lowest sum of squares with a parameter held, and the other parameters there.
    fn lowest_with(&self, index: usize, at: f64, others: &[f64]) -> Option<(f64, Vec<f64>)> {
        let held = Held {
            model: self.model,
            index,
            at,
        };
        if others.is_empty() {
            let height = self.sum_of_squares(&[at]);
            return height.is_finite().then(|| (height, Vec::new()));
        }
        let mut bounds: Vec<Bound> = (0..self.model.count()).map(|j| self.bound(j)).collect();
        bounds.remove(index);
        let options = Options {
            bounds: &bounds,
            ..self.options
        };
        let problem = Problem::new(&held, self.x, self.y, options).ok()?;
        problem.lowest(others)
    }
}
