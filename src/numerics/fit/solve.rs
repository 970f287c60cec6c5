//! The search for the minimum.

use super::found::{Judgement, Standing};
use super::{Fit, FitError, Problem};
use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::storage::Owned;
use nalgebra::{DMatrix, DVector, Dyn};
use rand_chacha::ChaCha8Rng;
use rand_core::{Rng, SeedableRng};

/// Stands in for a residual where the model has no value, so that a step there is rejected
/// rather than ending the search; its square is still a number.
const FORBIDDEN: f64 = 1e100;
/// Evaluations allowed per search and parameter.
const PATIENCE: usize = 300;
/// The same for a search that starts next to its minimum.
const NEARBY_PATIENCE: usize = 30;
/// First step bounds tried, relative to the parameters: the customary one, then a careful one for
/// starts whose first long step lands on a plateau.
const STEP_BOUNDS: [f64; 2] = [100.0, 0.1];
/// Widest spread of further starts about the given one, in powers of ten.
const WIDEST: f64 = 3.0;
/// Two fits are the same minimum when their sums of squares agree this well.
const SAME_MINIMUM: f64 = 1e-6;
/// Steps of Gauss and Newton that finish a search.
const FINISHING_STEPS: usize = 12;

impl Problem<'_> {
    /// Returns the least-squares fit reached from `start`.
    ///
    /// Where `start` does not lead to an identified minimum, `restarts` further starts are drawn
    /// about it with a fixed seed, ever wider; the lowest minimum found wins, and the search ends
    /// early once that has been found twice.
    ///
    /// # Errors
    ///
    /// [`FitError::BadStart`], [`FitError::NoMinimum`] and [`FitError::NotIdentified`].
    pub fn fit(&self, start: &[f64]) -> Result<Fit, FitError> {
        let count = self.model.count();
        if start.len() != count {
            return Err(FitError::BadStart {
                parameter: start.len().min(count),
            });
        }
        if let Some(parameter) = (0..count).find(|&j| !self.bound(j).holds(start[j])) {
            return Err(FitError::BadStart { parameter });
        }
        let mut evaluations = 0;
        let mut vague = None;
        match self.search(start, &mut evaluations) {
            Some(Ok(standing)) => return Ok(standing.into_fit(self, evaluations, 1)),
            Some(Err(parameter)) => vague = Some(parameter),
            None => {}
        }
        let mut rng = ChaCha8Rng::seed_from_u64(0);
        let mut best: Option<Standing> = None;
        let mut starts = 1;
        for round in 1..=self.options.restarts {
            let spread = WIDEST * round as f64 / self.options.restarts as f64;
            starts += 1;
            match self.search(&self.draw_start(start, spread, &mut rng), &mut evaluations) {
                Some(Ok(standing)) => {
                    let twice = best.as_ref().is_some_and(|b| {
                        (standing.sum_of_squares / b.sum_of_squares - 1.0).abs() < SAME_MINIMUM
                    });
                    if best
                        .as_ref()
                        .is_none_or(|b| standing.sum_of_squares < b.sum_of_squares)
                    {
                        best = Some(standing);
                    }
                    if twice {
                        break;
                    }
                }
                Some(Err(parameter)) => vague = vague.or(Some(parameter)),
                None => {}
            }
        }
        match (best, vague) {
            (Some(standing), _) => Ok(standing.into_fit(self, evaluations, starts)),
            (None, Some(parameter)) => Err(FitError::NotIdentified {
                parameter: self.model.name(parameter),
            }),
            (None, None) => Err(FitError::NoMinimum { starts }),
        }
    }

    /// Returns a start near the given one: each parameter scaled by a power of ten, or moved when
    /// it is nought; now and then its sign turns where it may.
    fn draw_start(&self, start: &[f64], spread: f64, rng: &mut ChaCha8Rng) -> Vec<f64> {
        let mut uniform = || (rng.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
        start
            .iter()
            .enumerate()
            .map(|(j, &value)| {
                let power = spread * (2.0 * uniform() - 1.0);
                let sign = if uniform() < 0.1 { -1.0 } else { 1.0 };
                let drawn = if value.abs() > 0.0 {
                    sign * value * libm::exp10(power)
                } else {
                    power
                };
                if self.bound(j).holds(drawn) {
                    drawn
                } else if self.bound(j).holds(sign * drawn) {
                    sign * drawn
                } else {
                    value
                }
            })
            .collect()
    }

    /// Searches from one start. `None`: no minimum; `Some(Err(j))`: a minimum that does not settle
    /// parameter `j`.
    fn search(&self, start: &[f64], evaluations: &mut usize) -> Option<Result<Standing, usize>> {
        let mut vague = None;
        for bound in STEP_BOUNDS {
            let (parameters, spent) = self.descend(start, bound, PATIENCE)?;
            *evaluations += spent;
            match self.judge(&parameters) {
                Judgement::Settled(standing) => return Some(Ok(standing)),
                Judgement::Vague(parameter) => vague = Some(Err(parameter)),
                Judgement::Moving => {}
            }
        }
        vague
    }

    /// Follows the trust region down from a start; returns where it stopped, be it a minimum or
    /// not, and how often the model was evaluated. `None` for a start outside the bounds.
    fn descend(
        &self,
        start: &[f64],
        step_bound: f64,
        patience: usize,
    ) -> Option<(Vec<f64>, usize)> {
        let target = Target {
            problem: self,
            place: self.coordinates(start)?,
        };
        let (target, report) = LevenbergMarquardt::new()
            .with_stepbound(step_bound)
            .with_patience(patience)
            .minimize(target);
        let parameters = self.finish(target.parameters());
        Some((parameters, report.number_of_evaluations))
    }

    /// Returns the sum of squares where a search from `start` stops, and where that is; it need not
    /// settle the parameters. For starts next to a minimum: there is one search, and a short one.
    pub(super) fn lowest(&self, start: &[f64]) -> Option<(f64, Vec<f64>)> {
        let (parameters, _) = self.descend(start, STEP_BOUNDS[0], NEARBY_PATIENCE)?;
        let height = self.sum_of_squares(&parameters);
        height.is_finite().then_some((height, parameters))
    }

    /// Returns the coordinates searched over.
    fn coordinates(&self, parameters: &[f64]) -> Option<DVector<f64>> {
        let all: Option<Vec<f64>> = parameters
            .iter()
            .enumerate()
            .map(|(j, &value)| self.bound(j).coordinate(value))
            .collect();
        all.map(DVector::from_vec)
    }

    /// Takes a few more full steps, as long as they lower the sum of squares: the trust region
    /// stops at a relative change of the sum, which leaves the last digits of the parameters open.
    fn finish(&self, mut parameters: Vec<f64>) -> Vec<f64> {
        let mut height = self.sum_of_squares(&parameters);
        for _ in 0..FINISHING_STEPS {
            let Some(step) = self.step(&parameters) else {
                break;
            };
            let next: Vec<f64> = parameters.iter().zip(&step).map(|(p, s)| p + s).collect();
            let inside = (0..next.len()).all(|j| self.bound(j).holds(next[j]));
            let there = self.sum_of_squares(&next);
            if !(inside && there <= height) {
                break;
            }
            let lowered = there < height;
            (parameters, height) = (next, there);
            if !lowered {
                break;
            }
        }
        parameters
    }

    /// Returns the weighted Jacobian at `parameters`, by the parameters themselves.
    pub(super) fn jacobian(&self, parameters: &[f64]) -> DMatrix<f64> {
        let mut jacobian = DMatrix::zeros(self.x.len(), parameters.len());
        let mut row = vec![0.0; parameters.len()];
        for i in 0..self.x.len() {
            self.model.gradient(self.x[i], parameters, &mut row);
            let weight = self.root_weight(i);
            for (j, slope) in row.iter().enumerate() {
                jacobian[(i, j)] = weight * slope;
            }
        }
        jacobian
    }
}

/// The problem as the trust region sees it: residuals over unbounded coordinates.
struct Target<'p, 'a> {
    problem: &'p Problem<'a>,
    place: DVector<f64>,
}

impl Target<'_, '_> {
    fn parameters(&self) -> Vec<f64> {
        let place = self.place.iter().enumerate();
        place
            .map(|(j, &u)| self.problem.bound(j).value(u))
            .collect()
    }
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Target<'_, '_> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, x: &DVector<f64>) {
        self.place.copy_from(x);
    }

    fn params(&self) -> DVector<f64> {
        self.place.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        let mut residuals = self.problem.residuals(&self.parameters());
        for value in &mut residuals {
            if !value.is_finite() {
                *value = FORBIDDEN;
            }
        }
        Some(DVector::from_vec(residuals))
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let parameters = self.parameters();
        let mut jacobian = self.problem.jacobian(&parameters);
        for (j, mut column) in jacobian.column_iter_mut().enumerate() {
            let stretch = self.problem.bound(j).stretch(parameters[j]);
            for value in column.iter_mut() {
                *value *= stretch;
            }
        }
        jacobian.iter().all(|v| v.is_finite()).then_some(jacobian)
    }
}
