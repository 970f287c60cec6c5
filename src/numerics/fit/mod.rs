//! Nonlinear least squares, what comes with a fit, and the laws that dough tests fit.
//!
//! A [`Problem`] is a [`Model`], its points and [`Options`]; [`Problem::fit`] returns a [`Fit`]
//! only when it stands at a minimum whose parameters the points tell apart, and a [`FitError`]
//! otherwise: never a last iterate dressed as an answer. The steps are those of Moré's
//! trust-region form of Levenberg and Marquardt (crate `levenberg-marquardt`, after MINPACK), with
//! further starts in front of it where the given one leads nowhere. Which minimum is found is a
//! matter of the start; certified answers are tested in `tests/fitting.rs`.

mod avrami;
mod bound;
mod error;
mod found;
mod hardening;
mod peleg;
mod profile;
mod solve;
mod sphere;

pub use avrami::{Avrami, AvramiIndex, avrami_start};
pub use bound::Bound;
pub use error::FitError;
pub use found::{Estimate, Fit};
pub use hardening::{HardeningLaw, fit_exponential_law, fit_power_law};
pub use peleg::{Peleg, peleg_start};
pub use profile::Profile;
pub use sphere::{
    SphereUptake, sphere_start, sphere_unaccomplished, sphere_unaccomplished_at_short_times,
};

/// A function of one abscissa and a few parameters, with its derivatives.
pub trait Model {
    /// Returns how many parameters it has.
    fn count(&self) -> usize;

    /// Returns the name of a parameter, as errors print it.
    fn name(&self, index: usize) -> &'static str;

    /// Returns the value at `x`; anything not finite marks parameters the model does not allow.
    fn value(&self, x: f64, parameters: &[f64]) -> f64;

    /// Writes the derivative at `x` by each parameter into `out` (as long as `parameters`).
    fn gradient(&self, x: f64, parameters: &[f64], out: &mut [f64]);
}

/// How a fit is made.
#[derive(Debug, Clone, Copy, Default)]
pub struct Options<'a> {
    /// Weight of each point: its inverse variance, up to a common factor; `None` for equal ones.
    pub weights: Option<&'a [f64]>,
    /// Where each parameter may lie; those beyond the slice are free.
    pub bounds: &'a [Bound],
    /// Further starts to try where the given one does not lead to an identified minimum.
    pub restarts: usize,
}

/// A model, the points it is fitted to, and how.
pub struct Problem<'a> {
    model: &'a dyn Model,
    x: &'a [f64],
    y: &'a [f64],
    options: Options<'a>,
}

impl<'a> Problem<'a> {
    /// Returns the problem.
    ///
    /// # Errors
    ///
    /// [`FitError::Ragged`] when abscissae, ordinates and weights differ in number,
    /// [`FitError::NotFinite`] for a point or weight that is not a finite number (a weight must
    /// also be positive), [`FitError::TooFewPoints`] when there are no more points than parameters.
    pub fn new(
        model: &'a dyn Model,
        x: &'a [f64],
        y: &'a [f64],
        options: Options<'a>,
    ) -> Result<Self, FitError> {
        let weights = options.weights.map_or(x.len(), <[f64]>::len);
        if x.len() != y.len() || x.len() != weights {
            return Err(FitError::Ragged {
                abscissae: x.len(),
                ordinates: y.len(),
                weights,
            });
        }
        let odd = (0..x.len()).find(|&i| {
            let weight = options.weights.map_or(1.0, |w| w[i]);
            !(x[i].is_finite() && y[i].is_finite() && weight.is_finite() && weight > 0.0)
        });
        if let Some(point) = odd {
            return Err(FitError::NotFinite { point });
        }
        if x.len() <= model.count() {
            return Err(FitError::TooFewPoints {
                points: x.len(),
                parameters: model.count(),
            });
        }
        Ok(Self {
            model,
            x,
            y,
            options,
        })
    }

    /// Returns the square root of a point's weight.
    fn root_weight(&self, point: usize) -> f64 {
        self.options.weights.map_or(1.0, |w| w[point].sqrt())
    }

    /// Returns where a parameter may lie.
    fn bound(&self, parameter: usize) -> Bound {
        self.options
            .bounds
            .get(parameter)
            .copied()
            .unwrap_or_default()
    }

    /// Returns the weighted residuals at `parameters`, model less observation.
    fn residuals(&self, parameters: &[f64]) -> Vec<f64> {
        (0..self.x.len())
            .map(|i| self.root_weight(i) * (self.model.value(self.x[i], parameters) - self.y[i]))
            .collect()
    }

    /// Returns the weighted sum of squared residuals.
    fn sum_of_squares(&self, parameters: &[f64]) -> f64 {
        self.residuals(parameters).iter().map(|r| r * r).sum()
    }
}

/// Returns the least-squares fit of `model` to the points, from `start`; short for
/// [`Problem::new`] and [`Problem::fit`].
///
/// # Errors
///
/// Those of both.
pub fn fit_nonlinear(
    model: &dyn Model,
    x: &[f64],
    y: &[f64],
    start: &[f64],
    options: Options<'_>,
) -> Result<Fit, FitError> {
    Problem::new(model, x, y, options)?.fit(start)
}
