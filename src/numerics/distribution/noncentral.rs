//! Student's t about a shifted centre.

use super::normal_cdf;
use super::scale::mean_over_scale;

/// Returns the probability that a noncentral t lies below `t`: the normal probability of
/// `t·s − δ`, averaged over the distribution of s = √(χ²/ν) (Johnson, Kotz and Balakrishnan 1995,
/// ch. 31; from memory). NaN unless the degrees of freedom are positive.
pub fn noncentral_t_cdf(t: f64, degrees: f64, shift: f64) -> f64 {
    let below = |s: f64| normal_cdf(t * s - shift);
    mean_over_scale(degrees, f64::INFINITY, below).unwrap_or(f64::NAN)
}

/// Returns the probability that a noncentral t exceeds `t`, exact where it is small. NaN unless the
/// degrees of freedom are positive.
pub fn noncentral_t_upper(t: f64, degrees: f64, shift: f64) -> f64 {
    let above = |s: f64| normal_cdf(shift - t * s);
    mean_over_scale(degrees, f64::INFINITY, above).unwrap_or(f64::NAN)
}

/// Returns the value below which a noncentral t with `degrees` of freedom and noncentrality
/// `shift` lies with probability `p`, by bisection; `None` for fewer than two degrees of freedom.
pub fn noncentral_t_quantile(p: f64, degrees: f64, shift: f64) -> Option<f64> {
    if !(degrees >= 2.0 && p > 0.0 && p < 1.0 && shift.is_finite()) {
        return None;
    }
    let (mut low, mut high) = (shift - 1.0, shift + 1.0);
    for _ in 0..60 {
        if noncentral_t_cdf(low, degrees, shift) <= p {
            break;
        }
        low -= 2.0 * (high - low);
    }
    for _ in 0..60 {
        if noncentral_t_cdf(high, degrees, shift) >= p {
            break;
        }
        high += 2.0 * (high - low);
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if noncentral_t_cdf(middle, degrees, shift) < p {
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
    fn noncentral_t_agrees_with_a_general_library() {
        // scipy 1.17.1: nct.cdf(3, 9, 2), nct.ppf(0.975, 16, 1.96 * 17 ** 0.5), nct.ppf(.025, 4, 5).
        assert!((noncentral_t_cdf(3.0, 9.0, 2.0) - 0.773_273_421_287_62).abs() < 1e-9);
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
