//! The power of one test.

use crate::numerics::distribution::{
    mean_over_scale, noncentral_t_upper, normal_cdf, student_quantile,
};
use crate::numerics::error::{FitError, require_open_unit, require_positive};
use crate::numerics::estimate::Interval;

/// What a study is to show about a contrast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Aim {
    /// That it differs from a value, in either direction: two-sided test.
    Differs(f64),
    /// That it lies above a value (gain of at least so much, or no worse than a lower margin).
    Above(f64),
    /// That it lies below a value.
    Below(f64),
    /// That it lies between two margins: two one-sided tests, alpha each.
    Within(Interval),
}

/// Returns the probability that the test of `aim` at level `alpha` succeeds when the contrast is
/// truly `truth` and its estimate has `standard_error` (the true one) with `df` degrees of freedom:
/// noncentral t for one bound or both tails; for two margins the exact power of both tests together
/// (Phillips 1990, J. Pharmacokin. Biopharm. 18:137), not the sum of each one's.
///
/// # Errors
/// `OutOfRange` unless alpha lies in 0..0.5, the standard error and the degrees of freedom are
/// positive and margins are in order.
pub fn power(
    aim: Aim,
    truth: f64,
    standard_error: f64,
    df: f64,
    alpha: f64,
) -> Result<f64, FitError> {
    require_open_unit("twice alpha", 2.0 * alpha)?;
    require_positive("standard error", standard_error)?;
    let point = |tail: f64| {
        student_quantile(1.0 - tail, df).ok_or(FitError::OutOfRange {
            what: "degrees of freedom",
            found: df,
        })
    };
    let shift = |bound: f64| (truth - bound) / standard_error;
    match aim {
        Aim::Above(bound) => Ok(noncentral_t_upper(point(alpha)?, df, shift(bound))),
        Aim::Below(bound) => Ok(noncentral_t_upper(point(alpha)?, df, -shift(bound))),
        Aim::Differs(value) => {
            let t = point(0.5 * alpha)?;
            let shift = shift(value);
            Ok(noncentral_t_upper(t, df, shift) + noncentral_t_upper(t, df, -shift))
        }
        Aim::Within(margins) => {
            if margins.low.is_nan() || margins.high.is_nan() || margins.low >= margins.high {
                return Err(FitError::OutOfRange {
                    what: "lower margin",
                    found: margins.low,
                });
            }
            let t = point(alpha)?;
            // Beyond this estimated error no estimate is far enough from both margins.
            let limit = (margins.high - margins.low) / (2.0 * standard_error * t);
            mean_over_scale(df, limit, |s| {
                let high = (margins.high - truth) / standard_error - t * s;
                let low = (margins.low - truth) / standard_error + t * s;
                (normal_cdf(high) - normal_cdf(low)).max(0.0)
            })
        }
    }
}
