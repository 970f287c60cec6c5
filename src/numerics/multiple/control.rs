//! All treatments against one control.

use super::pairs::falling_root;
use crate::numerics::distribution::{mean_over_scale, normal_cdf, normal_nodes};
use crate::numerics::error::{FitError, require_count, require_open_unit};
use crate::numerics::estimate::{Estimate, Interval};
use crate::numerics::linear::Contrasts;

/// Whether differences count in both directions.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sides {
    /// Above or below the control.
    Two,
    /// On one side only, named before the data.
    One,
}

/// Correlations between several estimates judged together: each pair's is the product of the two
/// loadings (Dunnett 1955, J. Am. Stat. Assoc. 50:1096; Hsu 1992, J. Comput. Graph. Stat. 1:151).
#[derive(Debug, Clone, PartialEq)]
pub struct Control {
    loadings: Vec<f64>,
    /// Greatest difference between a correlation and the product that stands for it; zero where
    /// observations are independent and of one variance, as in groups and complete blocks.
    pub discrepancy: f64,
}

impl Control {
    /// Returns the correlations of differences from a control, for `control` observations of it and
    /// `counts` of each treatment, all independent.
    ///
    /// # Errors
    /// `TooFew` without treatments or for a group without observations.
    pub fn of_counts(control: usize, counts: &[usize]) -> Result<Self, FitError> {
        require_count("treatments", 1, counts.len())?;
        let least = counts.iter().copied().min().unwrap_or(0);
        require_count("observations", 1, least.min(control))?;
        let share = |count: &usize| (*count as f64 / (*count + control) as f64).sqrt();
        Ok(Self {
            loadings: counts.iter().map(share).collect(),
            discrepancy: 0.0,
        })
    }

    /// Returns the correlations of the contrasts `weights` of any fit: exactly where they have the
    /// form of products, else by the products nearest to them, with the discrepancy told.
    ///
    /// # Errors
    /// As [`Contrasts::covariance`]; `TooFew` without contrasts, `NoVariation` where one has none.
    pub fn of_fit(fit: &impl Contrasts, weights: &[Vec<f64>]) -> Result<Self, FitError> {
        require_count("contrasts", 1, weights.len())?;
        let size = weights.len();
        let mut correlations = vec![vec![1.0; size]; size];
        let mut deviations = Vec::with_capacity(size);
        for own in weights {
            deviations.push(fit.covariance(own, own)?.sqrt());
        }
        if deviations.iter().any(|d| d.is_nan() || *d <= 0.0) {
            return Err(FitError::NoVariation);
        }
        for i in 0..size {
            for j in 0..i {
                let found = fit.covariance(&weights[i], &weights[j])?;
                let correlation = found / (deviations[i] * deviations[j]);
                correlations[i][j] = correlation;
                correlations[j][i] = correlation;
            }
        }
        Ok(Self::of_correlations(&correlations))
    }

    /// Returns the loadings whose products come nearest to `correlations`, each improved in turn.
    fn of_correlations(correlations: &[Vec<f64>]) -> Self {
        let size = correlations.len();
        if size == 1 {
            return Self {
                loadings: vec![0.0],
                discrepancy: 0.0,
            };
        }
        // Signs follow the first contrast; sizes start alike.
        let mut loadings: Vec<f64> = (0..size)
            .map(|i| correlations[0][i].signum() * correlations[0][i].abs().min(0.5).sqrt())
            .collect();
        for _ in 0..1000 {
            let mut moved = 0.0_f64;
            for i in 0..size {
                let others = (0..size).filter(|j| *j != i);
                let (above, below) = others.fold((0.0, 0.0), |(above, below), j| {
                    let own = loadings[j];
                    (above + correlations[i][j] * own, below + own * own)
                });
                let next = if below > 0.0 {
                    (above / below).clamp(-0.999, 0.999)
                } else {
                    0.0
                };
                moved = moved.max((next - loadings[i]).abs());
                loadings[i] = next;
            }
            if moved < 1e-14 {
                break;
            }
        }
        let pairs = (0..size).flat_map(|i| (0..i).map(move |j| (i, j)));
        let discrepancy = pairs
            .map(|(i, j)| (correlations[i][j] - loadings[i] * loadings[j]).abs())
            .fold(0.0, f64::max);
        Self {
            loadings,
            discrepancy,
        }
    }

    /// Returns the probability that any of the t statistics exceeds `t` if no treatment differs
    /// from the control; `df` degrees of freedom of the one estimated error.
    ///
    /// # Errors
    /// `OutOfRange` unless `df` is positive and `t` is a number.
    pub fn upper(&self, t: f64, df: f64, sides: Sides) -> Result<f64, FitError> {
        if t.is_nan() {
            return Err(FitError::OutOfRange {
                what: "t",
                found: t,
            });
        }
        if t.is_infinite() || (sides == Sides::Two && t <= 0.0) {
            return Ok(if t > 0.0 { 0.0 } else { 1.0 });
        }
        let upper = mean_over_scale(df, f64::INFINITY, |s| {
            let outside = normal_nodes().iter().map(|node| {
                let within = self.loadings.iter().map(|loading| {
                    let own = (1.0 - loading * loading).sqrt();
                    let high = normal_cdf((t * s - loading * node.z) / own);
                    match sides {
                        Sides::One => high,
                        Sides::Two => high - normal_cdf((-t * s - loading * node.z) / own),
                    }
                });
                node.weight * (1.0 - within.product::<f64>())
            });
            outside.sum()
        })?;
        Ok(upper.clamp(0.0, 1.0))
    }

    /// Returns the t that none of the statistics exceeds with `confidence` (above one half for one
    /// side).
    ///
    /// # Errors
    /// As [`Control::upper`]; `OutOfRange` unless confidence lies strictly between 0 (one half for
    /// one side) and 1.
    pub fn quantile(&self, confidence: f64, df: f64, sides: Sides) -> Result<f64, FitError> {
        require_open_unit("confidence", confidence)?;
        if sides == Sides::One && 1.0 - confidence >= self.upper(0.0, df, sides)? {
            return Err(FitError::OutOfRange {
                what: "confidence",
                found: confidence,
            });
        }
        falling_root(1.0 - confidence, |t| self.upper(t, df, sides))
    }

    /// Returns the p-value of one difference from the control among all of them; for one side, of
    /// being above it.
    ///
    /// # Errors
    /// As [`Control::upper`].
    pub fn p(&self, difference: &Estimate, sides: Sides) -> Result<f64, FitError> {
        let t = difference.statistic(0.0);
        let t = if sides == Sides::Two { t.abs() } else { t };
        self.upper(t, difference.df, sides)
    }

    /// Returns the two-sided interval of one difference such that those of all treatments hold
    /// together with `confidence`.
    ///
    /// # Errors
    /// As [`Control::quantile`].
    pub fn interval(&self, difference: &Estimate, confidence: f64) -> Result<Interval, FitError> {
        let t = self.quantile(confidence, difference.df, Sides::Two)?;
        let half = t * difference.standard_error;
        Ok(Interval {
            low: difference.value - half,
            high: difference.value + half,
        })
    }
}
