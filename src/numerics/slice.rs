//! The probability that a logistic or a normal value lies between two cuts, exact far out.

use super::distribution::{normal_cdf, normal_density};

/// Returns 1/(1 + e^−x).
fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + libm::exp(-x))
}

/// Returns ln(1/(1 + e^−x)) without overflow.
fn log_logistic(x: f64) -> f64 {
    if x > 0.0 {
        -libm::log1p(libm::exp(-x))
    } else {
        x - libm::log1p(libm::exp(x))
    }
}

/// Log-probability of a slice, with its slopes and curvatures.
pub(crate) struct Slice {
    /// The logarithm of the probability.
    pub log_p: f64,
    /// Its slope on the upper cut.
    pub upper: f64,
    /// Its slope on the lower cut.
    pub lower: f64,
    /// Its curvature, negated, as weights of three squares: of the upper cut, of the lower cut, and
    /// of their distance.
    pub curved: [f64; 3],
}

const NOTHING: Slice = Slice {
    log_p: 0.0,
    upper: 0.0,
    lower: 0.0,
    curved: [0.0; 3],
};

/// Returns the slice of the logistic distribution between `lower` and `upper` (`None`: without
/// end); `None` when it is empty. F(a) − F(b) = F(a)·F(−b)·(1 − e^(b−a)), so that each part is exact
/// far out.
pub(crate) fn logistic_slice(upper: Option<f64>, lower: Option<f64>) -> Option<Slice> {
    let mut s = NOTHING;
    if let Some(a) = upper {
        s.log_p += log_logistic(a);
        s.upper += logistic(-a);
        s.curved[0] = logistic(a) * logistic(-a);
    }
    if let Some(b) = lower {
        s.log_p += log_logistic(-b);
        s.lower -= logistic(b);
        s.curved[1] = logistic(b) * logistic(-b);
    }
    if let (Some(a), Some(b)) = (upper, lower) {
        if a <= b {
            return None;
        }
        let odds = 1.0 / libm::expm1(a - b);
        s.log_p += libm::log(-libm::expm1(b - a));
        s.upper += odds;
        s.lower -= odds;
        s.curved[2] = odds * (1.0 + odds);
    }
    s.log_p.is_finite().then_some(s)
}

/// Returns the logarithm of the logistic density at `x`, as a slice whose upper cut is `x`.
pub(crate) fn logistic_point(x: f64) -> Slice {
    Slice {
        log_p: log_logistic(x) + log_logistic(-x),
        upper: logistic(-x) - logistic(x),
        curved: [2.0 * logistic(x) * logistic(-x), 0.0, 0.0],
        ..NOTHING
    }
}

/// Returns the logarithm of the normal density at `x`, as a slice whose upper cut is `x`.
pub(crate) fn normal_point(x: f64) -> Slice {
    Slice {
        log_p: log_density(x),
        upper: -x,
        curved: [1.0, 0.0, 0.0],
        ..NOTHING
    }
}

fn log_density(x: f64) -> f64 {
    const HALF_LOG_TWO_PI: f64 = 0.918_938_533_204_672_7;
    -0.5 * x * x - HALF_LOG_TWO_PI
}

/// Returns the normal density over the probability below `x`; below −6 by Laplace's continued
/// fraction, where the probability itself would run out of digits.
fn density_over_below(x: f64) -> f64 {
    if x > -6.0 {
        return normal_density(x) / normal_cdf(x);
    }
    let y = -x;
    (1..=60).rev().fold(y, |tail, k| y + f64::from(k) / tail)
}

/// Returns the logarithm of the normal probability below `x`.
fn log_below(x: f64) -> f64 {
    if x > -6.0 {
        libm::log(normal_cdf(x))
    } else {
        log_density(x) - libm::log(density_over_below(x))
    }
}

/// Returns the slice of the normal distribution between `lower` and `upper` (`None`: without end);
/// `None` when it is empty.
pub(crate) fn normal_slice(upper: Option<f64>, lower: Option<f64>) -> Option<Slice> {
    let slice = match (upper, lower) {
        (None, None) => NOTHING,
        (Some(a), None) => {
            let slope = density_over_below(a);
            Slice {
                log_p: log_below(a),
                upper: slope,
                curved: [slope * (slope + a), 0.0, 0.0],
                ..NOTHING
            }
        }
        (None, Some(b)) => {
            let slope = density_over_below(-b);
            Slice {
                log_p: log_below(-b),
                lower: -slope,
                curved: [0.0, slope * (slope - b), 0.0],
                ..NOTHING
            }
        }
        (Some(a), Some(b)) => {
            if a <= b {
                return None;
            }
            // In the upper half the same slice mirrored keeps its digits.
            let (high, low) = if b > 0.0 { (-b, -a) } else { (a, b) };
            let fallen = log_below(low) - log_below(high);
            let log_p = log_below(high) + libm::log(-libm::expm1(fallen));
            let upper = libm::exp(log_density(a) - log_p);
            let lower = libm::exp(log_density(b) - log_p);
            // −∂²/∂a², −∂²/∂b² and −∂²/∂a∂b = −(upper·lower), as squares of a, b and a − b.
            let both = upper * lower;
            Slice {
                log_p,
                upper,
                lower: -lower,
                curved: [upper * (upper + a) - both, lower * (lower - b) - both, both],
            }
        }
    };
    slice.log_p.is_finite().then_some(slice)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn normal_tails_agree_with_a_general_library() {
        // scipy 1.17.1: norm.logcdf(-5.9), (-6.1), (-40), and log of a slice from 8 to 9.
        for (x, wanted) in [
            (-5.9, -20.125_799_580_203_18),
            (-6.1, -21.357_498_419_215_563),
            (-40.0, -804.608_442_013_753_9),
        ] {
            assert!(
                (log_below(x) / wanted - 1.0).abs() < 1e-12,
                "{x}: {}",
                log_below(x)
            );
        }
        let slice = normal_slice(Some(9.0), Some(8.0));
        assert!(slice.is_some_and(|s| (s.log_p / -35.013_618_593_437_16 - 1.0).abs() < 1e-10));
    }

    /// Slopes and curvatures against differences of the value.
    #[test]
    fn slopes_and_curvatures_are_those_of_the_value() {
        type Law = fn(Option<f64>, Option<f64>) -> Option<Slice>;
        let laws: [Law; 2] = [logistic_slice, normal_slice];
        for law in laws {
            for (a, b) in [(0.7, -0.4), (3.0, 2.5), (-1.0, -4.0)] {
                let at = |a: f64, b: f64| law(Some(a), Some(b));
                let Some(s) = at(a, b) else { continue };
                let h = 1e-4;
                let value = |a: f64, b: f64| at(a, b).map_or(f64::NAN, |s| s.log_p);
                let slope_a = (value(a + h, b) - value(a - h, b)) / (2.0 * h);
                let slope_b = (value(a, b + h) - value(a, b - h)) / (2.0 * h);
                assert!((s.upper - slope_a).abs() < 1e-6, "{} {slope_a}", s.upper);
                assert!((s.lower - slope_b).abs() < 1e-6, "{} {slope_b}", s.lower);
                let upper = |a: f64, b: f64| at(a, b).map_or(f64::NAN, |s| s.upper);
                let lower = |a: f64, b: f64| at(a, b).map_or(f64::NAN, |s| s.lower);
                let aa = -(upper(a + h, b) - upper(a - h, b)) / (2.0 * h);
                let bb = -(lower(a, b + h) - lower(a, b - h)) / (2.0 * h);
                let ab = -(upper(a, b + h) - upper(a, b - h)) / (2.0 * h);
                assert!((s.curved[0] + s.curved[2] - aa).abs() < 1e-6);
                assert!((s.curved[1] + s.curved[2] - bb).abs() < 1e-6);
                assert!((-s.curved[2] - ab).abs() < 1e-6);
            }
        }
    }
}
