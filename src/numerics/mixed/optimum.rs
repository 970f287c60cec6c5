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

/// Returns the profile of least deviance. Ratios that want to be negative are exactly zero. The
/// deviance may have several dips: from the bottom of one, better points are looked for at zero, off
/// zero and with two ratios exchanged.
///
/// # Errors
/// `NoResidual` where the error variance vanishes, `NotConverged`.
pub(super) fn minimise(effects: &Effects) -> Result<Profile<'_>, FitError> {
    let mut best = descend(effects, start(effects)?)?;
    for _ in 0..20 {
        match escape(effects, &best) {
            Some(better) => best = descend(effects, better)?,
            None => return Ok(best),
        }
    }
    Err(FitError::NotConverged)
}

/// Returns the bottom below `best`, by Newton steps on the logarithms of the ratios above zero.
fn descend<'e>(effects: &'e Effects, mut best: Profile<'e>) -> Result<Profile<'e>, FitError> {
    for _ in 0..200 {
        best = settle_at_zero(effects, best);
        let gradient = best.gradient(best.error_variance);
        let free: Vec<usize> = (0..gradient.len())
            .filter(|i| best.ratios[*i] > 0.0)
            .collect();
        let slopes = free.iter().map(|i| gradient[*i] * best.ratios[*i]);
        let slopes = DVector::from_iterator(free.len(), slopes);
        if free.is_empty() || slopes.amax() < FLAT {
            return Ok(best);
        }
        let step = newton_step(effects, &best, &free, &slopes)?;
        match search(effects, &best, (&free, &step), step.dot(&slopes)) {
            Some(next) => best = next,
            // No step improves: rounding is all that is left.
            None if slopes.amax() < 1e-5 => return Ok(best),
            None => return Err(FitError::NotConverged),
        }
        if best.ratios.iter().any(|r| *r > GREATEST_RATIO) {
            return Err(FitError::NoResidual);
        }
    }
    Err(FitError::NotConverged)
}

/// Returns a better point than the bottom `from` outside its dip; `None` if none is found.
fn escape<'e>(effects: &'e Effects, from: &Profile<'e>) -> Option<Profile<'e>> {
    let gradient = from.gradient(from.error_variance);
    let mut tried: Vec<Vec<f64>> = Vec::new();
    let mut with = |changes: &[(usize, f64)]| {
        let mut ratios = from.ratios.clone();
        for (i, ratio) in changes {
            ratios[*i] = *ratio;
        }
        tried.push(ratios);
    };
    for (i, slope) in gradient.iter().enumerate() {
        if from.ratios[i] > 0.0 {
            with(&[(i, 0.0)]);
        } else {
            for ratio in [3.0, 1.0, 0.3, 0.1, 0.03] {
                with(&[(i, ratio)]);
            }
            // Where the deviance falls from zero, ever shorter steps must find it lower.
            let depth = if *slope < 0.0 { 50 } else { 0 };
            for halvings in 0..depth {
                with(&[(i, 0.02 * libm::exp2(-f64::from(halvings)))]);
            }
        }
        for j in 0..i {
            with(&[(i, from.ratios[j]), (j, from.ratios[i])]);
        }
    }
    let enough = from.deviance - 1e-10 * (1.0 + from.deviance.abs());
    tried
        .iter()
        .filter_map(|ratios| Profile::at(effects, ratios))
        .find(|profile| profile.deviance < enough)
}

/// Returns the best of a few equal ratios.
fn start(effects: &Effects) -> Result<Profile<'_>, FitError> {
    let count = effects.spans.len();
    [0.1, 1.0, 0.01, 10.0]
        .iter()
        .filter_map(|ratio| Profile::at(effects, &vec![*ratio; count]))
        .min_by(|a, b| a.deviance.total_cmp(&b.deviance))
        .ok_or(FitError::NoVariation)
}

/// Returns the profile with every small, falling ratio at zero where zero is better and the
/// deviance rises from there.
fn settle_at_zero<'e>(effects: &'e Effects, mut best: Profile<'e>) -> Profile<'e> {
    for i in 0..best.ratios.len() {
        if best.ratios[i] <= 0.0 || best.ratios[i] > SMALL_RATIO {
            continue;
        }
        let mut ratios = best.ratios.clone();
        ratios[i] = 0.0;
        let Some(at_zero) = Profile::at(effects, &ratios) else {
            continue;
        };
        if at_zero.deviance <= best.deviance && at_zero.gradient(at_zero.error_variance)[i] >= 0.0 {
            best = at_zero;
        }
    }
    best
}

/// Returns the Newton step of the logarithms of the `free` ratios; directions of negative
/// curvature are turned round.
fn newton_step(
    effects: &Effects,
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
            let profile = Profile::at(effects, &ratios)?;
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
    // A ratio near zero bends the deviance little over its logarithm; below this is rounding.
    let least = (1e-12 * eigen.eigenvalues.amax()).max(1e-9);
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
    at: &Profile<'e>,
    (free, step): (&[usize], &DVector<f64>),
    promised: f64,
) -> Option<Profile<'e>> {
    let mut length = 1.0;
    for _ in 0..40 {
        let mut ratios = at.ratios.clone();
        for (i, change) in free.iter().zip(step.iter()) {
            ratios[*i] *= libm::exp(length * change);
        }
        if let Some(next) = Profile::at(effects, &ratios) {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::linear::{Coding, Design, Factor, Variable};

    /// Numbers between 0 and 1, the same on each run.
    struct Dice(u64);

    impl Dice {
        fn next(&mut self) -> f64 {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005);
            self.0 = self.0.wrapping_add(1_442_695_040_888_963_407);
            (self.0 >> 11) as f64 / (1_u64 << 53) as f64
        }

        fn below(&mut self, count: usize) -> usize {
            (self.next() * count as f64) as usize
        }

        fn normal(&mut self) -> f64 {
            (0..12).map(|_| self.next()).sum::<f64>() - 6.0
        }
    }

    /// Returns a small unbalanced study: a treatment fixed; lot, day and batch in day random, each of
    /// a size that may be zero.
    fn study(dice: &mut Dice) -> (Design, Vec<Factor>, Vec<f64>) {
        let rows = 12 + dice.below(30);
        let mut codes = |count: usize| Factor::new((0..rows).map(|_| dice.below(count)).collect());
        let (treatment, lot, day, batch) = (codes(3), codes(4), codes(5), codes(3));
        let mut groupings = vec![lot, day.clone(), batch.nested_in(&day)];
        groupings.truncate(1 + dice.below(3));
        let sizes = [0.0, 0.3, 1.0, 4.0];
        let mut response: Vec<f64> = (0..rows).map(|_| dice.normal()).collect();
        for grouping in &groupings {
            let size = sizes[dice.below(4)];
            let levels: Vec<f64> = (0..grouping.levels())
                .map(|_| size * dice.normal())
                .collect();
            for (y, code) in response.iter_mut().zip(grouping.codes()) {
                *y += levels[*code];
            }
        }
        let variable = Variable::Factor(treatment, Coding::Sum);
        let design = Design::new(vec![variable], vec![vec![0]]);
        #[expect(clippy::unwrap_used, reason = "three treatments over a dozen rows")]
        (design.unwrap(), groupings, response)
    }

    #[test]
    fn no_grid_point_is_better_than_the_optimum() {
        let mut dice = Dice(42);
        let grid = [0.0, 0.01, 0.1, 0.5, 1.0, 3.0, 10.0, 100.0];
        let (mut fitted, mut zeros) = (0, 0);
        for case in 0..400 {
            let (design, groupings, response) = study(&mut dice);
            let (_, residuals) = design.basis.split(&response);
            let restricted = case % 4 > 0;
            let Ok(effects) = Effects::of(&design, &groupings, &residuals, restricted) else {
                continue;
            };
            let found = minimise(&effects);
            assert!(found.is_ok(), "{case}: {:?}", found.err());
            let Ok(best) = found else { continue };
            fitted += 1;
            zeros += best.ratios.iter().filter(|r| **r <= 0.0).count();
            let count = groupings.len() as u32;
            for point in 0..grid.len().pow(count) {
                let at = |i: u32| grid[point / grid.len().pow(i) % grid.len()];
                let ratios: Vec<f64> = (0..count).map(at).collect();
                if let Some(there) = Profile::at(&effects, &ratios) {
                    let gap = best.deviance - there.deviance;
                    assert!(
                        gap < 1e-8,
                        "{case}: {:?} against {ratios:?}: {gap}",
                        best.ratios
                    );
                }
            }
        }
        assert!(fitted > 380 && zeros > 50, "{fitted} fitted, {zeros} zeros");
    }

    #[test]
    fn a_variance_just_above_zero_is_reached() {
        // Balanced, 6 blocks of 9 in 18 units of 3: the variances follow from mean squares, and
        // blocks get 1e-4 of the error's.
        let noise = |i: usize, k: usize| ((i * k) % 17) as f64 - 8.0;
        let unit: Vec<f64> = (0..18).map(|u| 0.2 * noise(u, 5)).collect();
        let means: Vec<f64> = (0..6)
            .map(|b| unit[3 * b..3 * b + 3].iter().sum::<f64>() / 3.0)
            .collect();
        let centre = means.iter().sum::<f64>() / 6.0;
        let squares =
            |own: &dyn Fn(usize) -> f64, n: usize| (0..n).map(|i| own(i) * own(i)).sum::<f64>();
        let within = squares(&|u| unit[u] - means[u / 3], 18) / 12.0;
        let between = 3.0 * squares(&|b| means[b] - centre, 6) / 5.0;
        let piece = [-1.0, 0.2, 0.8];
        let error = squares(&|p| piece[p], 3) / 2.0;
        // Stretch the blocks' means until their mean square is that of units plus 3e-4 errors.
        let stretch = ((within + 3e-4 * error) / between).sqrt();
        let y: Vec<f64> = (0..54)
            .map(|i| {
                let (u, b) = (i / 3, i / 9);
                unit[u] - means[b] + stretch * (means[b] - centre) + piece[i % 3]
            })
            .collect();
        let groupings = [9, 3].map(|size| Factor::new((0..54).map(|i| i / size).collect()));
        #[expect(clippy::unwrap_used, reason = "54 rows")]
        let design = Design::mean_only(54).unwrap();
        let (_, residuals) = design.basis.split(&y);
        let ratios = Effects::of(&design, &groupings, &residuals, true)
            .and_then(|effects| minimise(&effects).map(|best| best.ratios));
        assert!(
            ratios
                .as_ref()
                .is_ok_and(|r| (r[0] / 1e-4 - 1.0).abs() < 1e-2),
            "{ratios:?}"
        );
    }
}
