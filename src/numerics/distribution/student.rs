//! Student's t distribution.

use super::normal::{normal_cdf, normal_quantile};
use statrs::function::beta::beta_reg;
use statrs::function::gamma::ln_gamma;
use std::f64::consts::PI;

/// Above this the normalising transformation of Hill is exact to double precision, while the
/// continued fraction of the incomplete beta function needs more steps than the library allows.
const LARGE_DF: f64 = 2000.0;

/// Returns the probability that |T| exceeds |`t`| for Student's T with `df` degrees of freedom
/// (Abramowitz and Stegun 1964, 26.7.1; for more than 2000 degrees of freedom the normalising
/// transformation of Hill 1970, Comm. ACM 13:617). NaN unless `df` is positive.
pub fn student_two_sided(t: f64, df: f64) -> f64 {
    let t = t.abs();
    if df.is_nan() || df <= 0.0 || t.is_nan() {
        return f64::NAN;
    }
    if t.is_infinite() {
        return 0.0;
    }
    if df.is_infinite() {
        return 2.0 * normal_cdf(-t);
    }
    if df > LARGE_DF {
        return 2.0 * normal_cdf(-normalised(t, df));
    }
    beta_reg(0.5 * df, 0.5, df / (df + t * t))
}

/// Returns the probability that Student's T with `df` degrees of freedom exceeds `t`.
pub fn student_upper(t: f64, df: f64) -> f64 {
    let tail = 0.5 * student_two_sided(t, df);
    if t >= 0.0 { tail } else { 1.0 - tail }
}

/// Returns the `t` below which Student's T with `df` degrees of freedom lies with `probability`;
/// `None` unless `df` is positive and the probability lies strictly between 0 and 1.
pub fn student_quantile(probability: f64, df: f64) -> Option<f64> {
    if !(df > 0.0 && probability > 0.0 && probability < 1.0) {
        return None;
    }
    let tail = probability.min(1.0 - probability);
    let sign = if probability < 0.5 { -1.0 } else { 1.0 };
    let normal = -normal_quantile(tail)?;
    if df.is_infinite() || normal.abs() < 1e-300 {
        return Some(sign * normal);
    }
    Some(sign * upper_point(tail, df, normal))
}

/// Returns the positive `t` that is exceeded with probability `tail` (below one half), by Newton
/// steps on the logarithm of the tail, kept inside a bracket.
fn upper_point(tail: f64, df: f64, start: f64) -> f64 {
    let (mut low, mut high) = (0.0_f64, f64::INFINITY);
    let mut t = start;
    for _ in 0..200 {
        let found = student_upper(t, df);
        if found > tail {
            low = t;
        } else {
            high = t;
        }
        let step = found * libm::log(found / tail) / density(t, df);
        let mut next = t + step;
        if !next.is_finite() || next <= low || next >= high {
            next = if high.is_finite() {
                0.5 * (low + high)
            } else {
                2.0 * t.max(1.0)
            };
        }
        if (next - t).abs() <= 4.0 * f64::EPSILON * t {
            return next;
        }
        t = next;
    }
    t
}

/// Returns the density of Student's T with `df` degrees of freedom at `t`.
fn density(t: f64, df: f64) -> f64 {
    let constant = ln_gamma(0.5 * (df + 1.0)) - ln_gamma(0.5 * df) - 0.5 * libm::log(df * PI);
    libm::exp(constant - 0.5 * (df + 1.0) * libm::log1p(t * t / df))
}

/// Returns the normal deviate with the same tail as `t` (Hill 1970, Comm. ACM 13:617).
fn normalised(t: f64, df: f64) -> f64 {
    let a = df - 0.5;
    let b = 48.0 * a * a;
    let y = a * libm::log1p(t * t / df);
    let correction =
        (((-0.4 * y - 3.3) * y - 24.0) * y - 85.5) / (0.8 * y * y + 100.0 + b) + y + 3.0;
    (correction / b + 1.0) * y.sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_printed_points() {
        // Abramowitz and Stegun 1964, table 26.10: upper 2.5 % and 0.05 % points.
        for (df, upper) in [(1.0, 12.706), (4.0, 2.776), (10.0, 2.228), (120.0, 1.980)] {
            let t = student_quantile(0.975, df).unwrap_or(0.0);
            assert!((t - upper).abs() < 5e-4, "{df}: {t}");
        }
        assert!((student_quantile(0.9995, 3.0).unwrap_or(0.0) - 12.924).abs() < 5e-4);
        assert_eq!(student_quantile(0.5, 3.0), Some(0.0));
        assert_eq!(student_quantile(0.9, 0.0), None);
    }

    #[test]
    fn closed_forms_are_exact() {
        // df 1: P(T > t) = 1/2 - atan(t)/pi. df 2: 1/2 - t/(2 sqrt(2 + t^2)).
        for t in [0.1, 1.0, 3.0, 40.0] {
            let one = 0.5 - libm::atan(t) / PI;
            assert!((student_upper(t, 1.0) / one - 1.0).abs() < 2e-13, "{t}");
            let two = 0.5 - t / (2.0 * (2.0 + t * t).sqrt());
            assert!((student_upper(t, 2.0) - two).abs() < 1e-14, "{t}");
        }
    }

    #[test]
    fn quantiles_reproduce_their_probability_and_the_two_ways_meet() {
        for df in [0.7, 2.5, 8.0, 216.9, 1999.0, 5000.0, 1e7] {
            for p in [1e-9, 0.01, 0.3, 0.6, 0.95, 0.9999] {
                let t = student_quantile(p, df).unwrap_or(f64::NAN);
                let back = 1.0 - student_upper(t, df);
                assert!((back / p - 1.0).abs() < 1e-7, "{df} {p}: {back}");
            }
        }
        for t in [0.5, 2.0, 5.0] {
            let beta = beta_reg(0.5 * LARGE_DF, 0.5, LARGE_DF / (LARGE_DF + t * t));
            let hill = 2.0 * normal_cdf(-normalised(t, LARGE_DF));
            assert!((beta / hill - 1.0).abs() < 1e-10, "{t}: {beta} {hill}");
        }
    }
}
