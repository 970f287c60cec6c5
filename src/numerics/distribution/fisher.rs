//! Fisher's F distribution.

use statrs::function::beta::beta_reg;
use statrs::function::gamma::gamma_ur;

/// Up to this the library's continued fraction of the incomplete beta function is exact.
const LARGE_DF: f64 = 2000.0;

/// Returns the probability that F with `numerator` and `denominator` degrees of freedom exceeds
/// `f` (Abramowitz and Stegun 1964, 26.6.2). NaN unless both are positive.
pub fn fisher_upper(f: f64, numerator: f64, denominator: f64) -> f64 {
    if f.is_nan() || !(numerator > 0.0 && denominator > 0.0) {
        return f64::NAN;
    }
    if f <= 0.0 {
        return 1.0;
    }
    if denominator > LARGE_DF {
        return beyond_large_df(f, numerator, denominator);
    }
    by_beta(f, numerator, denominator)
}

/// Returns the upper tail by the incomplete beta function.
fn by_beta(f: f64, numerator: f64, denominator: f64) -> f64 {
    let x = denominator / (denominator + numerator * f);
    beta_reg(0.5 * denominator, 0.5 * numerator, x.clamp(0.0, 1.0))
}

/// Returns the upper tail for many degrees of freedom below: the logarithm of the tail is smooth in
/// their reciprocal, and a parabola through infinity (chi-squared), 2000 and 1000 gives it.
fn beyond_large_df(f: f64, numerator: f64, denominator: f64) -> f64 {
    let log_at = |df: f64| libm::log(by_beta(f, numerator, df));
    let endless = libm::log(gamma_ur(0.5 * numerator, 0.5 * numerator * f));
    let (large, half) = (log_at(LARGE_DF), log_at(0.5 * LARGE_DF));
    let x = LARGE_DF / denominator;
    let curvature = 0.5 * (endless - 2.0 * large + half);
    let slope = large - endless - curvature;
    let tail = libm::exp(endless + x * (slope + x * curvature));
    if tail.is_nan() { 0.0 } else { tail }
}

/// Returns the value below which F with `numerator` and `denominator` degrees of freedom lies with
/// `probability`, by bisection on the logarithm; `None` unless both degrees of freedom are positive
/// and the probability lies strictly between 0 and 1.
pub fn fisher_quantile(probability: f64, numerator: f64, denominator: f64) -> Option<f64> {
    let defined = numerator > 0.0 && denominator > 0.0;
    if !(defined && probability > 0.0 && probability < 1.0) {
        return None;
    }
    let tail = 1.0 - probability;
    let (mut low, mut high) = (-700.0_f64, 700.0_f64);
    // 64 halvings of the range leave less than the last digit of the logarithm.
    for _ in 0..64 {
        let middle = 0.5 * (low + high);
        if fisher_upper(libm::exp(middle), numerator, denominator) > tail {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(libm::exp(0.5 * (low + high)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_printed_points() {
        // Abramowitz and Stegun 1964, table 26.9: upper 5 % and 1 % points.
        for (p, a, b, wanted) in [
            (0.95, 1.0, 10.0, 4.96),
            (0.95, 5.0, 20.0, 2.71),
            (0.99, 3.0, 12.0, 5.95),
            (0.99, 8.0, 60.0, 2.82),
        ] {
            let f = fisher_quantile(p, a, b).unwrap_or(0.0);
            assert!((f - wanted).abs() < 0.005, "{a} {b}: {f}");
            assert!((fisher_upper(f, a, b) - (1.0 - p)).abs() < 1e-12);
        }
        // F with 2 and d degrees of freedom: P(F > f) = (1 + 2 f / d)^(-d/2).
        let exact = libm::pow(1.0 + 2.0 * 3.0 / 14.0, -7.0);
        assert!((fisher_upper(3.0, 2.0, 14.0) / exact - 1.0).abs() < 1e-12);
        assert_eq!(fisher_quantile(0.5, 0.0, 1.0), None);
    }

    #[test]
    fn many_degrees_of_freedom_agree_with_the_closed_form() {
        for d in [3000.0, 2e4, 1e7] {
            let exact = libm::exp(-0.5 * d * libm::log1p(2.0 * 3.0 / d));
            let found = fisher_upper(3.0, 2.0, d);
            assert!((found / exact - 1.0).abs() < 1e-8, "{d}: {found} {exact}");
        }
    }
}
