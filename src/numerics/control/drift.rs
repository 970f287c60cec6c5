//! The steady ageing of a reference flour told from jumps of the instrument.

use crate::numerics::bootstrap::{Resampling, shuffle};
use crate::numerics::regression::{Regression, regress};
use rand_chacha::ChaCha8Rng;
use rand_core::SeedableRng;

/// How jumps are looked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JumpSearch {
    /// A jump counts when chance would make one so large less often than this.
    pub level: f64,
    /// Fewest values between two jumps, and before the first and after the last.
    pub shortest: usize,
    /// Most jumps looked for.
    pub most: usize,
    /// How residuals are shuffled to see what chance makes.
    pub resampling: Resampling,
}

impl Default for JumpSearch {
    /// Level 0.01, at least 5 values a stretch, at most 6 jumps, 999 shuffles (a choice; common
    /// practice, no source).
    fn default() -> Self {
        Self {
            level: 0.01,
            shortest: 5,
            most: 6,
            resampling: Resampling {
                times: 999,
                seed: 1,
            },
        }
    }
}

/// A sudden change of level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jump {
    /// Index of the first value after it.
    pub index: usize,
    /// Its size, in the unit of the values.
    pub size: f64,
    /// Standard error of the size, its place taken as known.
    pub standard_error: f64,
    /// Share of shuffles in which the best place fits at least as well, when it was added.
    pub p: f64,
}

/// A line with jumps.
#[derive(Debug, Clone, PartialEq)]
pub struct Drift {
    /// Change a unit of time, the same before and after every jump.
    pub slope: f64,
    /// Its standard error.
    pub slope_error: f64,
    /// Level at the first time.
    pub start: f64,
    /// The jumps, in order of time.
    pub jumps: Vec<Jump>,
    /// Residual standard deviation about the line with its jumps.
    pub residual_sd: f64,
    /// Degrees of freedom of the slope and of the residual standard deviation.
    pub degrees: usize,
    /// Values less the line with its jumps.
    pub residuals: Vec<f64>,
}

/// Returns one line with jumps through `values`, measured at `times` that never fall: ageing is the
/// slope, a jump is a step (regression with steps at unknown places; Bai and Perron 1998,
/// Econometrica 66:47, places one at a time and then each again given the others; from memory).
/// A step is kept when the gain of the best place exceeds what shuffled residuals give
/// (permutation of the supremum statistic). The values are taken as independent about the line.
///
/// `None` when times fall or never change, when lists differ in length, or for fewer than twice
/// `shortest` (or six) values.
pub fn separate_drift(times: &[f64], values: &[f64], search: JumpSearch) -> Option<Drift> {
    let n = values.len();
    let rises = times.windows(2).all(|w| w[1] >= w[0]);
    if times.len() != n || !rises || n < (2 * search.shortest).max(6) {
        return None;
    }
    let mut rng = ChaCha8Rng::seed_from_u64(search.resampling.seed);
    // Residuals this small are rounding: the line with its jumps fits exactly.
    let nothing = 1e-24 * squares(values);
    let mut places: Vec<(usize, f64)> = Vec::new();
    while places.len() < search.most {
        let known: Vec<usize> = places.iter().map(|p| p.0).collect();
        let steps = Steps::new(times, &known, search.shortest);
        let residuals = regress(&columns(times, &known), values)?.residuals;
        let best = steps
            .best(&residuals)
            .filter(|_| squares(&residuals) > nothing);
        let Some((place, gain)) = best else {
            break;
        };
        let p = steps.share_reaching(gain, &residuals, search.resampling.times, &mut rng);
        if p > search.level {
            break;
        }
        places.push((place, p));
        refine(times, values, &mut places, search.shortest)?;
    }
    places.sort_by_key(|p| p.0);
    let known: Vec<usize> = places.iter().map(|p| p.0).collect();
    let fit = regress(&columns(times, &known), values)?;
    Some(drift(fit, &places))
}

/// Returns the fit of the columns of [`columns`] as a line with jumps.
fn drift(fit: Regression, places: &[(usize, f64)]) -> Drift {
    let jump = |(k, (index, p)): (usize, &(usize, f64))| Jump {
        index: *index,
        size: fit.coefficients[2 + k],
        standard_error: fit.standard_errors[2 + k],
        p: *p,
    };
    Drift {
        slope: fit.coefficients[1],
        slope_error: fit.standard_errors[1],
        start: fit.coefficients[0],
        jumps: places.iter().enumerate().map(jump).collect(),
        residual_sd: fit.residual_sd,
        degrees: fit.degrees,
        residuals: fit.residuals,
    }
}

/// Returns the constant, the time since the first value, and a step at each place.
fn columns(times: &[f64], places: &[usize]) -> Vec<Vec<f64>> {
    let n = times.len();
    let first = times.first().copied().unwrap_or_default();
    let mut columns = vec![vec![1.0; n], times.iter().map(|t| t - first).collect()];
    columns.extend(places.iter().map(|place| step_at(*place, n)));
    columns
}

fn squares(values: &[f64]) -> f64 {
    values.iter().map(|v| v * v).sum()
}

fn step_at(place: usize, n: usize) -> Vec<f64> {
    (0..n).map(|i| f64::from(u8::from(i >= place))).collect()
}

/// Moves each place to where it fits best given the others, until none moves.
fn refine(
    times: &[f64],
    values: &[f64],
    places: &mut [(usize, f64)],
    shortest: usize,
) -> Option<()> {
    for _ in 0..10 {
        let mut moved = false;
        for k in 0..places.len() {
            let others: Vec<usize> = (0..places.len())
                .filter(|i| *i != k)
                .map(|i| places[i].0)
                .collect();
            let residuals = regress(&columns(times, &others), values)?.residuals;
            let best = Steps::new(times, &others, shortest).best(&residuals);
            if let Some((place, _)) = best.filter(|(place, _)| *place != places[k].0) {
                places[k].0 = place;
                moved = true;
            }
        }
        if !moved {
            break;
        }
    }
    Some(())
}

/// Every place at which one more step may stand, and what is left of that step once the columns
/// already in the model are taken out of it.
struct Steps {
    basis: Vec<Vec<f64>>,
    /// Place, and squared length of what is left of its step.
    candidates: Vec<(usize, f64)>,
}

impl Steps {
    fn new(times: &[f64], known: &[usize], shortest: usize) -> Self {
        let n = times.len();
        let basis = orthonormal(&columns(times, known));
        let taken: Vec<usize> = known.iter().copied().chain([0, n]).collect();
        let room = |place: usize| taken.iter().all(|t| t.abs_diff(place) >= shortest);
        let candidates = (1..n)
            .filter(|place| room(*place))
            .filter_map(|place| {
                let explained: f64 = basis
                    .iter()
                    .map(|q| {
                        let share: f64 = q[place..].iter().sum();
                        share * share
                    })
                    .sum();
                let left = (n - place) as f64 - explained;
                (left > 1e-9 * n as f64).then_some((place, left))
            })
            .collect();
        Self { basis, candidates }
    }

    /// Returns the place whose step takes most off the sum of squares of `residuals`, which must
    /// be orthogonal to the basis, and what it takes off.
    fn best(&self, residuals: &[f64]) -> Option<(usize, f64)> {
        let mut tail = vec![0.0; residuals.len() + 1];
        for (i, residual) in residuals.iter().enumerate().rev() {
            tail[i] = tail[i + 1] + residual;
        }
        let gain = |(place, left): &(usize, f64)| (*place, tail[*place] * tail[*place] / left);
        let gains = self.candidates.iter().map(gain);
        gains.fold(None, |best, found| match best {
            Some((_, most)) if found.1 <= most => best,
            _ => Some(found),
        })
    }

    /// Returns the share of shuffles, with the data counted as one, whose best gain relative to
    /// their own sum of squares reaches that of the data.
    fn share_reaching(
        &self,
        gain: f64,
        residuals: &[f64],
        times: usize,
        rng: &mut ChaCha8Rng,
    ) -> f64 {
        let wanted = gain / squares(residuals) * (1.0 - 1e-12);
        let mut shuffled = residuals.to_vec();
        let mut reaching = 1;
        for _ in 0..times {
            shuffle(&mut shuffled, rng);
            let mut rest = shuffled.clone();
            for q in &self.basis {
                let share: f64 = q.iter().zip(&rest).map(|(a, b)| a * b).sum();
                rest.iter_mut().zip(q).for_each(|(r, a)| *r -= share * a);
            }
            let found = self.best(&rest).map_or(0.0, |(_, g)| g / squares(&rest));
            reaching += usize::from(found >= wanted);
        }
        reaching as f64 / (times + 1) as f64
    }
}

/// Returns orthonormal columns that span the same space (modified Gram–Schmidt); a column that
/// depends on those before it is left out.
fn orthonormal(columns: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let mut basis: Vec<Vec<f64>> = Vec::new();
    for column in columns {
        let length = |v: &[f64]| v.iter().map(|x| x * x).sum::<f64>().sqrt();
        let mut rest = column.clone();
        for q in &basis {
            let share: f64 = q.iter().zip(&rest).map(|(a, b)| a * b).sum();
            rest.iter_mut().zip(q).for_each(|(r, a)| *r -= share * a);
        }
        let left = length(&rest);
        if left > 1e-9 * length(column) {
            basis.push(rest.iter().map(|v| v / left).collect());
        }
    }
    basis
}
