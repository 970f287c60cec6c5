//! Whether values could come from one normal distribution.

use crate::numerics::distribution::{normal_cdf, normal_quantile};
use crate::numerics::error::{FitError, require_count, require_finite};
use std::f64::consts::{FRAC_1_SQRT_2, FRAC_PI_2, FRAC_PI_3};

/// The test of Shapiro and Wilk.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Normality {
    /// W: 1 for values that lie as normal ones are expected to.
    pub statistic: f64,
    /// Probability of so small a W if the values were normal.
    pub p: f64,
}

/// Returns the test of Shapiro and Wilk in the form of Royston 1995 (Appl. Stat. 44:547, algorithm
/// AS R94) for 3 to 5000 values. For residuals of a model it is a guide only: they are not
/// independent, and a large p proves nothing.
///
/// # Errors
/// `TooFew` or `OutOfRange` outside 3 to 5000 values, `NotFinite`, `NoVariation`.
pub fn shapiro_wilk(values: &[f64]) -> Result<Normality, FitError> {
    require_count("observations", 3, values.len())?;
    if values.len() > 5000 {
        return Err(FitError::OutOfRange {
            what: "number of observations",
            found: values.len() as f64,
        });
    }
    require_finite(values)?;
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    let range = sorted[n - 1] - sorted[0];
    if range <= 1e-14 * sorted[n - 1].abs().max(sorted[0].abs()) {
        return Err(FitError::NoVariation);
    }
    let weights = upper_weights(n);
    let spread: f64 = weights
        .iter()
        .enumerate()
        .map(|(i, weight)| weight * (sorted[n - 1 - i] - sorted[i]) / range)
        .sum();
    let mean = sorted.iter().sum::<f64>() / n as f64;
    let square: f64 = sorted
        .iter()
        .map(|v| ((v - mean) / range) * ((v - mean) / range))
        .sum();
    let statistic = (spread * spread / square).min(1.0);
    Ok(Normality {
        statistic,
        p: p_value(statistic, n),
    })
}

fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

/// Returns the weights of the upper half of the sample, greatest value first.
fn upper_weights(n: usize) -> Vec<f64> {
    if n == 3 {
        return vec![FRAC_1_SQRT_2];
    }
    let half = n / 2;
    let scores: Vec<f64> = (1..=half)
        .map(|i| -normal_quantile((i as f64 - 0.375) / (n as f64 + 0.25)).unwrap_or(0.0))
        .collect();
    let square = |count: usize| scores.iter().take(count).map(|m| m * m).sum::<f64>();
    let total = 2.0 * square(half);
    let root = 1.0 / (n as f64).sqrt();
    let first = polynomial(
        &[0.0, 0.221157, -0.147981, -2.07119, 4.434685, -2.706056],
        root,
    ) + scores[0] / total.sqrt();
    let mut leading = vec![first];
    if n > 5 {
        leading.push(
            polynomial(
                &[0.0, 0.042981, -0.293762, -1.752461, 5.682633, -3.582633],
                root,
            ) + scores[1] / total.sqrt(),
        );
    }
    let taken: f64 = leading.iter().map(|a| a * a).sum();
    let scale = ((total - 2.0 * square(leading.len())) / (1.0 - 2.0 * taken)).sqrt();
    let rest = scores.iter().skip(leading.len()).map(|m| m / scale);
    leading.iter().copied().chain(rest).collect()
}

fn p_value(w: f64, n: usize) -> f64 {
    let size = n as f64;
    if n == 3 {
        return ((libm::asin(w.sqrt()) - FRAC_PI_3) * 3.0 / FRAC_PI_2).clamp(0.0, 1.0);
    }
    let y = libm::log(1.0 - w);
    let (y, mean, deviation) = if n <= 11 {
        let limit = polynomial(&[-2.273, 0.459], size);
        if y >= limit {
            return 0.0;
        }
        (
            -libm::log(limit - y),
            polynomial(&[0.544, -0.39978, 0.025054, -6.714e-4], size),
            libm::exp(polynomial(&[1.3822, -0.77857, 0.062767, -0.0020322], size)),
        )
    } else {
        let log_size = libm::log(size);
        (
            y,
            polynomial(&[-1.5861, -0.31082, -0.083751, 0.0038915], log_size),
            libm::exp(polynomial(&[-0.4803, -0.082676, 0.0030302], log_size)),
        )
    };
    normal_cdf(-(y - mean) / deviation)
}
