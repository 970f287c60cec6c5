//! Degrees of freedom of contrasts.

use super::effects::Effects;
use super::profile::Profile;
use crate::numerics::error::FitError;
use crate::numerics::linear::dot;
use nalgebra::{DMatrix, DVector};

/// Relative step of a ratio for the second derivatives of the deviance.
const STEP: f64 = 0.02;

/// What the degrees of freedom of any contrast follow from (Satterthwaite 1946, Biometrics Bull.
/// 2:110; for mixed models Giesbrecht and Burns 1985, Biometrics 41:477): the variance of a
/// contrast is itself estimated, with the variance that the curvature of the deviance gives to the
/// variance components. Components at zero take no part.
#[derive(Debug, Clone)]
pub(super) struct Satterthwaite {
    /// Covariance of the error variance and the ratios above zero.
    covariance: DMatrix<f64>,
    /// Z'V⁻¹Q by columns, for each such ratio.
    weighted: Vec<Vec<Vec<f64>>>,
}

impl Satterthwaite {
    /// Returns the terms at the optimum `profile`.
    ///
    /// # Errors
    /// `NotConverged` where the deviance is flat: two components cannot be told apart.
    pub fn of(effects: &Effects, profile: &Profile<'_>) -> Result<Self, FitError> {
        let free: Vec<usize> = (0..profile.ratios.len())
            .filter(|i| profile.ratios[*i] > 0.0)
            .collect();
        let size = free.len() + 1;
        let variance = profile.error_variance;
        let mut curvature = DMatrix::zeros(size, size);
        curvature[(0, 0)] = effects.df / (variance * variance);
        let parts = profile.parts();
        for (column, moved) in free.iter().enumerate() {
            let cross = parts[*moved].1 / (variance * variance);
            curvature[(0, column + 1)] = cross;
            curvature[(column + 1, 0)] = cross;
            let slopes = second_derivatives(effects, profile, *moved)?;
            for (row, i) in free.iter().enumerate() {
                curvature[(row + 1, column + 1)] = slopes[*i];
            }
        }
        let curvature = (&curvature + curvature.transpose()) * 0.5;
        let covariance = curvature.cholesky().ok_or(FitError::NotConverged)?;
        let columns = profile.weighted_design();
        let weighted = free
            .iter()
            .map(|i| {
                let span = effects.spans[*i].clone();
                columns.iter().map(|c| c[span.clone()].to_vec()).collect()
            })
            .collect();
        Ok(Self {
            covariance: covariance.inverse() * 2.0,
            weighted,
        })
    }

    /// Returns the degrees of freedom of the contrast whose weights over the basis are `weights`,
    /// for `solved` = information⁻¹ `weights`.
    pub fn df(&self, weights: &[f64], solved: &[f64], error_variance: f64) -> f64 {
        let unit = dot(weights, solved);
        let mut slopes = vec![unit];
        for columns in &self.weighted {
            let levels = columns.first().map_or(0, Vec::len);
            let mut sums = vec![0.0; levels];
            for (column, weight) in columns.iter().zip(solved) {
                for (sum, value) in sums.iter_mut().zip(column) {
                    *sum += value * weight;
                }
            }
            slopes.push(error_variance * dot(&sums, &sums));
        }
        let slopes = DVector::from_vec(slopes);
        let variance = error_variance * unit;
        2.0 * variance * variance / slopes.dot(&(&self.covariance * &slopes))
    }
}

/// Returns the derivatives of the deviance's gradient by one ratio, error variance held: central
/// differences at two steps, extrapolated (Richardson 1911).
fn second_derivatives(
    effects: &Effects,
    profile: &Profile<'_>,
    moved: usize,
) -> Result<DVector<f64>, FitError> {
    let difference = |relative: f64| {
        let step = relative * profile.ratios[moved];
        let gradient_at = |change: f64| {
            let mut ratios = profile.ratios.clone();
            ratios[moved] += change;
            let there = Profile::at(effects, &ratios);
            let there = there.ok_or(FitError::NotConverged)?;
            Ok(DVector::from_vec(there.gradient(profile.error_variance)))
        };
        Ok((gradient_at(step)? - gradient_at(-step)?) / (2.0 * step))
    };
    let (coarse, fine) = (difference(STEP)?, difference(0.5 * STEP)?);
    Ok((fine * 4.0 - coarse) / 3.0)
}
