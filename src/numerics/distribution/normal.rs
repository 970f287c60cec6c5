//! The standard normal distribution.

use statrs::function::erf::erfc_inv;
use std::f64::consts::{FRAC_1_SQRT_2, PI, SQRT_2};

/// Returns the probability that a standard normal variable is at most `z`
/// (Abramowitz and Stegun 1964, 26.2.29, by the complementary error function).
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * libm::erfc(-z * FRAC_1_SQRT_2)
}

/// Returns the density of the standard normal distribution at `z`.
pub fn normal_density(z: f64) -> f64 {
    libm::exp(-0.5 * z * z) / (2.0 * PI).sqrt()
}

/// Returns the `z` below which a standard normal variable lies with `probability`; infinite at 0
/// and 1, `None` outside 0..=1.
pub fn normal_quantile(probability: f64) -> Option<f64> {
    if !(0.0..=1.0).contains(&probability) {
        return None;
    }
    if probability <= 0.0 {
        return Some(f64::NEG_INFINITY);
    }
    if probability >= 1.0 {
        return Some(f64::INFINITY);
    }
    // The smaller tail is exact; the other one is its mirror.
    let tail = probability.min(1.0 - probability);
    let mut z = -SQRT_2 * erfc_inv(2.0 * tail);
    for _ in 0..2 {
        z -= (normal_cdf(z) - tail) / normal_density(z).max(f64::MIN_POSITIVE);
    }
    Some(if probability <= 0.5 { z } else { -z })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_printed_points() {
        // Abramowitz and Stegun 1964, tables 26.1 and 26.5.
        for (p, z) in [
            (0.975, 1.959_963_984_540_054),
            (0.95, 1.644_853_626_951_473),
        ] {
            assert!((normal_quantile(p).unwrap_or(0.0) - z).abs() < 1e-13);
            assert!((normal_cdf(z) - p).abs() < 1e-14);
        }
        assert!((normal_density(1.0) - 0.241_970_724_519_143_37).abs() < 1e-15);
        assert!((normal_cdf(-6.0) / 9.865_876_450_376_98e-10 - 1.0).abs() < 1e-12);
        assert_eq!(normal_quantile(1.5), None);
    }
}
