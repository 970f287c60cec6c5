//! The variance ratios of least deviance.

use super::effects::Effects;
use super::profile::Profile;
use crate::numerics::error::FitError;
use nalgebra::{DMatrix, DVector, SymmetricEigen};

/// Greatest slope of the deviance over the logarithm of a ratio that counts as flat.
const FLAT: f64 = 1e-9;

/// Step of the logarithm of a ratio by which the curvature is taken from the gradient.
const CURVATURE_STEP: f64 = 1e-3;

/// Longest step of the logarithm of a ratio.
const LONGEST_STEP: f64 = 2.0;

/// A ratio below this is tried at zero.
const SMALL_RATIO: f64 = 0.05;

/// A ratio above this leaves no error variance.
const GREATEST_RATIO: f64 = 1e10;

/// Returns the profile of least deviance, by Newton steps on the logarithms of the ratios; ratios
/// that want to be negative are exactly zero, which the slope of the deviance there confirms.
///
/// # Errors
/// `NoResidual` where the error variance vanishes, `NotConverged`.
pub(super) fn minimise(effects: &Effects, restricted: bool) -> Result<Profile<'_>, FitError> {
    let mut best = start(effects, restricted)?;
    for _ in 0..200 {
        best = settle_at_zero(effects, restricted, best);
        let gradient = best.gradient(best.error_variance);
        let free: Vec<usize> = (0..gradient.len())
            .filter(|i| best.ratios[*i] > 0.0)
            .collect();
        let slope = |i: usize| gradient[i] * best.ratios[i];
        if free.iter().all(|i| slope(*i).abs() < FLAT) {
            let Some(leaving) = leaves_zero(&gradient, &best.ratios) else {
                return Ok(best);
            };
            best = release(effects, restricted, best, leaving)?;
            continue;
        }
        let slopes = DVector::from_iterator(free.len(), free.iter().map(|i| slope(*i)));
        let step = newton_step(effects, restricted, &best, &free, &slopes)?;
        match search(effects, restricted, &best, &free, &step, step.dot(&slopes)) {
            Some(next) => best = next,
            // No step improves: rounding is all that is left.
            None if slopes.amax() < 1e-5 => match leaves_zero(&gradient, &best.ratios) {
                None => return Ok(best),
                Some(leaving) => best = release(effects, restricted, best, leaving)?,
            },
            None => return Err(FitError::NotConverged),
        }
        if best.ratios.iter().any(|r| *r > GREATEST_RATIO) {
            return Err(FitError::NoResidual);
        }
    }
    Err(FitError::NotConverged)
}

/// Returns the best of a few equal ratios.
fn start(effects: &Effects, restricted: bool) -> Result<Profile<'_>, FitError> {
    let count = effects.spans.len();
    [0.1, 1.0, 0.01, 10.0]
        .iter()
        .filter_map(|ratio| Profile::at(effects, &vec![*ratio; count], restricted))
        .min_by(|a, b| a.deviance.total_cmp(&b.deviance))
        .ok_or(FitError::NoVariation)
}

/// Returns the profile with every small, falling ratio at zero where zero is better and the
/// deviance rises from there.
fn settle_at_zero<'e>(
    effects: &'e Effects,
    restricted: bool,
    mut best: Profile<'e>,
) -> Profile<'e> {
    for i in 0..best.ratios.len() {
        if best.ratios[i] <= 0.0 || best.ratios[i] > SMALL_RATIO {
            continue;
        }
        let mut ratios = best.ratios.clone();
        ratios[i] = 0.0;
        let Some(at_zero) = Profile::at(effects, &ratios, restricted) else {
            continue;
        };
        if at_zero.deviance <= best.deviance && at_zero.gradient(at_zero.error_variance)[i] >= 0.0 {
            best = at_zero;
        }
    }
    best
}

/// Returns a grouping at zero whose deviance falls from there.
fn leaves_zero(gradient: &[f64], ratios: &[f64]) -> Option<usize> {
    (0..ratios.len()).find(|i| ratios[*i] <= 0.0 && gradient[*i] < 0.0)
}

/// Returns the profile with one ratio moved off zero, as far as the deviance falls.
fn release<'e>(
    effects: &'e Effects,
    restricted: bool,
    from: Profile<'e>,
    grouping: usize,
) -> Result<Profile<'e>, FitError> {
    let mut ratios = from.ratios.clone();
    ratios[grouping] = SMALL_RATIO;
    for _ in 0..60 {
        if let Some(next) = Profile::at(effects, &ratios, restricted)
            && next.deviance < from.deviance
        {
            return Ok(next);
        }
        ratios[grouping] *= 0.5;
    }
    // The fall is lost in rounding: zero it is.
    Ok(from)
}

/// Returns the Newton step of the logarithms of the `free` ratios; directions of negative
/// curvature are turned round.
fn newton_step(
    effects: &Effects,
    restricted: bool,
    at: &Profile<'_>,
    free: &[usize],
    slopes: &DVector<f64>,
) -> Result<DVector<f64>, FitError> {
    let size = free.len();
    let mut curvature = DMatrix::zeros(size, size);
    for (column, moved) in free.iter().enumerate() {
        let slopes_at = |step: f64| {
            let mut ratios = at.ratios.clone();
            ratios[*moved] *= libm::exp(step);
            let profile = Profile::at(effects, &ratios, restricted)?;
            let gradient = profile.gradient(profile.error_variance);
            Some(DVector::from_iterator(
                size,
                free.iter().map(|i| gradient[*i] * profile.ratios[*i]),
            ))
        };
        let (Some(up), Some(down)) = (slopes_at(CURVATURE_STEP), slopes_at(-CURVATURE_STEP)) else {
            return Err(FitError::NoResidual);
        };
        curvature.set_column(column, &((up - down) / (2.0 * CURVATURE_STEP)));
    }
    let eigen = SymmetricEigen::new((&curvature + curvature.transpose()) * 0.5);
    let least = 1e-6 * eigen.eigenvalues.amax().max(1e-3);
    let mut along = eigen.eigenvectors.tr_mul(slopes);
    for (value, curvature) in along.iter_mut().zip(eigen.eigenvalues.iter()) {
        *value /= -curvature.abs().max(least);
    }
    let step = &eigen.eigenvectors * along;
    let longest = step.amax();
    Ok(if longest > LONGEST_STEP {
        step * (LONGEST_STEP / longest)
    } else {
        step
    })
}

/// Returns the first of ever shorter steps that lowers the deviance; `None` if none does.
fn search<'e>(
    effects: &'e Effects,
    restricted: bool,
    at: &Profile<'e>,
    free: &[usize],
    step: &DVector<f64>,
    promised: f64,
) -> Option<Profile<'e>> {
    let mut length = 1.0;
    for _ in 0..40 {
        let mut ratios = at.ratios.clone();
        for (i, change) in free.iter().zip(step.iter()) {
            ratios[*i] *= libm::exp(length * change);
        }
        if let Some(next) = Profile::at(effects, &ratios, restricted) {
            let enough = at.deviance + 1e-4 * length * promised;
            // Close to the optimum the fall drowns in rounding; the full step is right there.
            let rounding = 1e-11 * (1.0 + at.deviance.abs());
            if next.deviance <= enough || (promised.abs() < rounding && length >= 1.0) {
                return Some(next);
            }
        }
        length *= 0.5;
    }
    None
}
