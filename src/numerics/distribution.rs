//! Distribution functions and quantiles, each given once for all of this room.
//!
//! Quantiles of the normal, t, chi-squared and F distributions come from the crate `statrs`; the
//! noncentral t is integrated here. A wrong parameter (degrees of freedom below zero) gives `None`.

use statrs::distribution::{ChiSquared, ContinuousCDF, Normal, StudentsT};

/// Returns the probability that a standard normal value lies below `z`.
pub(crate) fn normal_below(z: f64) -> f64 {
    0.5 * libm::erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}

/// Returns the density of the standard normal distribution.
pub(crate) fn normal_density(z: f64) -> f64 {
    const ROOT_TWO_PI: f64 = 2.506_628_274_631_000_5;
    libm::exp(-0.5 * z * z) / ROOT_TWO_PI
}

/// Returns the two-sided p of a standard normal value.
pub(crate) fn normal_two_sided(z: f64) -> f64 {
    libm::erfc(z.abs() * std::f64::consts::FRAC_1_SQRT_2)
}

/// Returns the standard normal value below which the share `p` lies; `None` outside (0, 1).
pub(crate) fn normal_quantile(p: f64) -> Option<f64> {
    let inside = p > 0.0 && p < 1.0;
    let normal = Normal::new(0.0, 1.0).ok().filter(|_| inside)?;
    // One Newton step takes the library's approximation to the last digits.
    let rough = normal.inverse_cdf(p);
    Some(rough - (normal_below(rough) - p) / normal_density(rough))
}

/// Returns the value of Student's t with `degrees` of freedom below which the share `p` lies.
pub(crate) fn t_quantile(p: f64, degrees: f64) -> Option<f64> {
    let t = StudentsT::new(0.0, 1.0, degrees).ok();
    t.filter(|_| p > 0.0 && p < 1.0)
        .map(|t| t.inverse_cdf(p))
        .filter(|q| q.is_finite())
}

/// Returns the two-sided p of a value of Student's t.
pub(crate) fn t_two_sided(t: f64, degrees: f64) -> Option<f64> {
    let distribution = StudentsT::new(0.0, 1.0, degrees).ok()?;
    Some((2.0 * distribution.cdf(-t.abs())).min(1.0))
}

/// Returns the probability that chi-squared with `degrees` of freedom exceeds `x`.
pub(crate) fn chi_squared_above(x: f64, degrees: f64) -> Option<f64> {
    let distribution = ChiSquared::new(degrees).ok()?;
    Some(if x <= 0.0 { 1.0 } else { distribution.sf(x) })
}

/// Returns the probability that a noncentral t lies below `t`: the normal probability of
/// `t·s − δ`, averaged over the distribution of s = √(χ²/ν) (Johnson, Kotz and Balakrishnan 1995,
/// ch. 31; from memory), by Simpson's rule.
fn noncentral_t_below(t: f64, degrees: f64, shift: f64) -> f64 {
    const STEPS: usize = 600;
    // s lies within ten of its standard deviations of 1 to far less than a rounding error.
    let half = 10.0 / (2.0 * degrees).sqrt();
    let (from, to) = ((1.0 - half).max(0.0), 1.0 + half);
    let step = (to - from) / STEPS as f64;
    let half_degrees = 0.5 * degrees;
    let constant = std::f64::consts::LN_2 + half_degrees * libm::log(half_degrees)
        - libm::lgamma(half_degrees);
    let integrand = |s: f64| {
        if s <= 0.0 {
            return 0.0;
        }
        let density = constant + (degrees - 1.0) * libm::log(s) - half_degrees * s * s;
        libm::exp(density) * normal_below(t * s - shift)
    };
    let sum: f64 = (0..=STEPS)
        .map(|i| {
            let weight = match i {
                0 | STEPS => 1.0,
                _ if i % 2 == 1 => 4.0,
                _ => 2.0,
            };
            weight * integrand(from + step * i as f64)
        })
        .sum();
    sum * step / 3.0
}

/// Returns the value below which a noncentral t with `degrees` of freedom and noncentrality
/// `shift` lies with probability `p`, by bisection; `None` for fewer than two degrees of freedom.
pub(crate) fn noncentral_t_quantile(p: f64, degrees: f64, shift: f64) -> Option<f64> {
    if !(degrees >= 2.0 && p > 0.0 && p < 1.0 && shift.is_finite()) {
        return None;
    }
    let (mut low, mut high) = (shift - 1.0, shift + 1.0);
    for _ in 0..60 {
        if noncentral_t_below(low, degrees, shift) <= p {
            break;
        }
        low -= 2.0 * (high - low);
    }
    for _ in 0..60 {
        if noncentral_t_below(high, degrees, shift) >= p {
            break;
        }
        high += 2.0 * (high - low);
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if noncentral_t_below(middle, degrees, shift) < p {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(0.5 * (low + high))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: Option<f64>, wanted: f64, within: f64) {
        assert!(
            found.is_some_and(|f| (f - wanted).abs() < within),
            "{found:?} for {wanted}"
        );
    }

    #[test]
    fn agrees_with_a_general_library() {
        // scipy 1.17.1: norm.ppf, t.ppf, t.sf, chi2.sf.
        close(normal_quantile(0.975), 1.959_963_984_540_054, 1e-13);
        close(normal_quantile(1e-6), -4.753_424_308_822_899, 1e-11);
        close(t_quantile(0.975, 4.0), 2.776_445_105_197_793, 1e-9);
        close(t_quantile(0.95, 11.3), 1.791_531_767_4, 1e-8);
        close(t_two_sided(2.5, 7.0), 0.040_992_218_6, 1e-9);
        close(chi_squared_above(7.2, 3.0), 0.065_789_052_7, 1e-9);
        assert_eq!(normal_quantile(1.0), None);
        assert_eq!(t_quantile(0.9, 0.0), None);
    }

    #[test]
    fn noncentral_t_agrees_with_a_general_library() {
        // scipy 1.17.1: nct.cdf(3, 9, 2), nct.ppf(0.975, 16, 1.96 * 17 ** 0.5), nct.ppf(.025, 4, 5).
        assert!((noncentral_t_below(3.0, 9.0, 2.0) - 0.773_273_421_287_62).abs() < 1e-9);
        close(
            noncentral_t_quantile(0.975, 16.0, 1.96 * 17.0_f64.sqrt()),
            12.980_871_542_805,
            1e-6,
        );
        close(
            noncentral_t_quantile(0.025, 4.0, 5.0),
            2.503_653_286_636,
            1e-6,
        );
    }
}
