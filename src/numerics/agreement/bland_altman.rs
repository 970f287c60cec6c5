//! Differences between two instruments that measure the same quantity.

use crate::numerics::Interval;
use crate::numerics::distribution::{
    noncentral_t_quantile, normal_quantile, student_quantile, student_two_sided,
};
use crate::numerics::regression::regress;

/// How something changes with the size of the quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    /// Change a unit of the mean of both instruments.
    pub slope: f64,
    /// Its 95 % interval (Student's t).
    pub interval: Interval,
    /// Two-sided p against no change.
    pub p: f64,
}

/// Bias between two instruments and the limits within which 95 % of differences lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlandAltman {
    /// Pairs.
    pub pairs: usize,
    /// Mean of first minus second, in the unit of the values.
    pub bias: f64,
    /// Its 95 % interval (Student's t).
    pub bias_interval: Interval,
    /// Standard deviation of the differences.
    pub sd: f64,
    /// Lower limit of agreement: bias − 1.96 standard deviations.
    pub lower: f64,
    /// Its exact 95 % interval.
    pub lower_interval: Interval,
    /// Upper limit of agreement: bias + 1.96 standard deviations.
    pub upper: f64,
    /// Its exact 95 % interval.
    pub upper_interval: Interval,
    /// Trend of the difference on the mean: a bias that grows with the quantity. The limits hold
    /// only where there is none. `None` when all means are the same.
    pub trend: Option<Trend>,
    /// Trend of the size of the residuals about that trend: a scatter that grows with the quantity
    /// (then compare logarithms). `None` when all means are the same.
    pub spread: Option<Trend>,
}

impl BlandAltman {
    /// Returns the approximate standard error of a limit, s·√(1/n + z²/(2(n−1))) (Bland and Altman
    /// 1999, Stat. Methods Med. Res. 8:135; from memory), beside the exact interval.
    pub fn approximate_limit_error(&self) -> f64 {
        let n = self.pairs as f64;
        let z = (self.upper - self.bias) / self.sd;
        self.sd * (1.0 / n + z * z / (2.0 * (n - 1.0))).sqrt()
    }
}

/// Returns bias and limits of agreement of two instruments from one pair of values an item (Bland
/// and Altman 1986, Lancet 327:307; multiple 1.96, HANDBOOK §18 D18). Intervals of the limits are
/// exact for normal differences (noncentral t; Carkeet 2015, Optom. Vis. Sci. 92:e71).
///
/// Only for the same quantity from two instruments; items are independent doughs or flours, and
/// repeats of an item are averaged before. `None` for fewer than four pairs, lists of different
/// length, or differences that are all the same.
pub fn bland_altman(first: &[f64], second: &[f64]) -> Option<BlandAltman> {
    let pairs = first.len();
    if pairs != second.len() || pairs < 4 {
        return None;
    }
    let n = pairs as f64;
    let differences: Vec<f64> = first.iter().zip(second).map(|(a, b)| a - b).collect();
    let means: Vec<f64> = first
        .iter()
        .zip(second)
        .map(|(a, b)| 0.5 * (a + b))
        .collect();
    let bias = differences.iter().sum::<f64>() / n;
    let squares: f64 = differences.iter().map(|d| (d - bias) * (d - bias)).sum();
    let sd = (squares / (n - 1.0)).sqrt();
    if !(sd > 0.0 && sd.is_finite()) {
        return None;
    }
    let z = normal_quantile(0.975)?;
    let error = sd / n.sqrt();
    let near = noncentral_t_quantile(0.025, n - 1.0, z * n.sqrt())? * error;
    let far = noncentral_t_quantile(0.975, n - 1.0, z * n.sqrt())? * error;
    let (trend, spread) = trends(&means, &differences);
    Some(BlandAltman {
        pairs,
        bias,
        bias_interval: Interval::around(bias, student_quantile(0.975, n - 1.0)? * error),
        sd,
        lower: bias - z * sd,
        lower_interval: Interval {
            low: bias - far,
            high: bias - near,
        },
        upper: bias + z * sd,
        upper_interval: Interval {
            low: bias + near,
            high: bias + far,
        },
        trend,
        spread,
    })
}

/// Returns the trend of the differences and that of the size of their residuals.
fn trends(means: &[f64], differences: &[f64]) -> (Option<Trend>, Option<Trend>) {
    let centre = means.iter().sum::<f64>() / means.len() as f64;
    let columns = vec![
        vec![1.0; means.len()],
        means.iter().map(|m| m - centre).collect(),
    ];
    let trend_of = |y: &[f64]| {
        let fit = regress(&columns, y)?;
        let degrees = fit.degrees as f64;
        let (slope, error) = (fit.coefficients[1], fit.standard_errors[1]);
        let trend = Trend {
            slope,
            interval: Interval::around(slope, student_quantile(0.975, degrees)? * error),
            p: student_two_sided(slope / error, degrees),
        };
        Some((trend, fit.residuals))
    };
    let Some((trend, residuals)) = trend_of(differences) else {
        return (None, None);
    };
    let sizes: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
    (Some(trend), trend_of(&sizes).map(|(spread, _)| spread))
}
