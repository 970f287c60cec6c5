//! Integrals over the error of an estimated standard deviation.

use super::error::{FitError, require_positive};
use super::normal::{normal_cdf, normal_density};
use statrs::function::gamma::ln_gamma;
use std::f64::consts::{LN_2, PI};
use std::sync::OnceLock;

const ORDER: usize = 16;

/// Nodes and weights of the Gauss–Legendre rule of order 16 on -1..1 (Abramowitz and Stegun 1964,
/// 25.4.30), by Newton steps on the Legendre polynomial.
fn rule() -> &'static [(f64, f64); ORDER] {
    static RULE: OnceLock<[(f64, f64); ORDER]> = OnceLock::new();
    RULE.get_or_init(|| {
        std::array::from_fn(|i| {
            let n = ORDER as f64;
            let mut x = -libm::cos(PI * (i as f64 + 0.75) / (n + 0.5));
            let mut slope = 1.0;
            for _ in 0..8 {
                let (mut before, mut value) = (1.0, x);
                for k in 2..=ORDER {
                    let k = k as f64;
                    let next = ((2.0 * k - 1.0) * x * value - (k - 1.0) * before) / k;
                    (before, value) = (value, next);
                }
                slope = n * (x * value - before) / (x * x - 1.0);
                x -= value / slope;
            }
            (x, 2.0 / ((1.0 - x * x) * slope * slope))
        })
    })
}

/// Returns the integral of `function` over each stretch between successive `ends`.
fn integrate(ends: &[f64], mut function: impl FnMut(f64) -> f64) -> f64 {
    let mut total = 0.0;
    for pair in ends.windows(2) {
        let (half, middle) = (0.5 * (pair[1] - pair[0]), 0.5 * (pair[1] + pair[0]));
        let sum: f64 = rule()
            .iter()
            .map(|(x, w)| w * function(middle + half * x))
            .sum();
        total += half * sum;
    }
    total
}

/// A standard normal value as a node of integration.
#[derive(Debug, Clone, Copy)]
pub(in crate::numerics) struct NormalNode {
    pub z: f64,
    /// Probability below z.
    pub below: f64,
    /// Density at z times the weight of the node.
    pub weight: f64,
}

/// Returns nodes for means over a standard normal variable, of functions that vary no faster than
/// its own probability: five Gauss–Legendre panels, beyond which 1e-13 is left.
pub(in crate::numerics) fn normal_nodes() -> &'static [NormalNode] {
    static NODES: OnceLock<Vec<NormalNode>> = OnceLock::new();
    NODES.get_or_init(|| {
        let mut nodes = Vec::new();
        for pair in [-7.5, -4.0, -1.5, 1.0, 3.75, 7.5].windows(2) {
            let (half, middle) = (0.5 * (pair[1] - pair[0]), 0.5 * (pair[1] + pair[0]));
            nodes.extend(rule().iter().map(|(x, w)| {
                let z = middle + half * x;
                NormalNode {
                    z,
                    below: normal_cdf(z),
                    weight: half * w * normal_density(z),
                }
            }));
        }
        nodes
    })
}

/// Returns the mean of `function` over s, where s² df follows the chi-squared distribution with
/// `df` degrees of freedom: s is the estimated standard deviation over the true one. Only s up to
/// `limit` counts. With infinite degrees of freedom s is 1. By Gauss–Legendre panels; for functions
/// between 0 and 1 that vary no faster than a normal probability the error is below 1e-10.
///
/// # Errors
/// `OutOfRange` unless `df` is positive.
pub fn mean_over_scale(
    df: f64,
    limit: f64,
    mut function: impl FnMut(f64) -> f64,
) -> Result<f64, FitError> {
    if df.is_infinite() && df > 0.0 {
        return Ok(if limit >= 1.0 { function(1.0) } else { 0.0 });
    }
    require_positive("degrees of freedom", df)?;
    // Nine standard deviations on either side hold all but 1e-12 of s.
    let spread = 9.0 / (2.0 * df).sqrt();
    let (low, high) = ((1.0 - spread).max(0.0), (1.0 + spread).min(limit));
    if high <= low {
        return Ok(0.0);
    }
    let even = (0..=6).map(|i| low + (high - low) * f64::from(i) / 6.0);
    let ends: Vec<f64> = if low > 0.0 {
        even.collect()
    } else {
        // The density is a power of s near zero, broken for odd df: panels halved until what is
        // left of it does not count.
        let halvings = (50.0 / df).ceil().clamp(3.0, 40.0) as i32;
        let fine = (1..=halvings)
            .rev()
            .map(|i| high / 6.0 * libm::exp2(-f64::from(i)));
        std::iter::once(0.0)
            .chain(fine)
            .chain(even.skip(1))
            .collect()
    };
    let constant = LN_2 + 0.5 * df * libm::log(0.5 * df) - ln_gamma(0.5 * df);
    Ok(integrate(&ends, |s| {
        let density = constant + (df - 1.0) * libm::log(s) - 0.5 * df * s * s;
        libm::exp(density) * function(s)
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_whole_is_one_and_the_mean_square_too() {
        for df in [1.0, 1.5, 2.0, 5.0, 30.0, 71.9, 72.1, 1000.0, 1e5] {
            let mean = |function: fn(f64) -> f64| mean_over_scale(df, f64::INFINITY, function);
            for found in [mean(|_| 1.0), mean(|s| s * s)] {
                let near = matches!(found, Ok(w) if (w - 1.0).abs() < 1e-10);
                assert!(near, "{df}: {found:?}");
            }
        }
        assert!(mean_over_scale(0.0, 1.0, |_| 1.0).is_err());
    }
}
