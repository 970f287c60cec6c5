//! The line between two instruments from the slopes of all pairs of items, without assumptions on
//! the errors' distribution.

use crate::numerics::Interval;
use crate::numerics::distribution::normal_quantile;
use crate::numerics::robust::median;

/// A line through pairs of values of the same quantity, with errors in both.
#[derive(Debug, Clone, PartialEq)]
pub struct PassingBablok {
    /// Slope of second on first.
    pub slope: f64,
    /// Its 95 % interval.
    pub slope_interval: Interval,
    /// Intercept, in the unit of the second.
    pub intercept: f64,
    /// Its 95 % interval.
    pub intercept_interval: Interval,
    /// Slopes of pairs used.
    pub slopes: usize,
    /// Slopes below −1, by which the median is shifted.
    pub shift: usize,
    /// Ranks, before the shift and counted from 1, of the slopes that bound the interval.
    pub ranks: (usize, usize),
    /// Largest cumulative sum of the signs of residuals along the line, over its scale.
    pub linearity: f64,
    /// p of that sum (Kolmogorov): a small one says the relation is no line.
    pub linearity_p: f64,
}

/// Returns the line by which `second` follows `first` (Passing and Bablok 1983, J. Clin. Chem.
/// Clin. Biochem. 21:709; check value HANDBOOK §15, V-PB1).
///
/// Only for the same quantity from two instruments, which must rise together. `None` for fewer
/// than five pairs, lists of different length, values that do not rise together, or too few slopes
/// to bound an interval.
pub fn passing_bablok(first: &[f64], second: &[f64]) -> Option<PassingBablok> {
    let n = first.len();
    if n != second.len() || n < 5 {
        return None;
    }
    let slopes = pair_slopes(first, second);
    let count = slopes.len();
    let shift = slopes.iter().filter(|s| **s < -1.0).count();
    let n_f = n as f64;
    let reach = normal_quantile(0.975)? * (n_f * (n_f - 1.0) * (2.0 * n_f + 5.0) / 18.0).sqrt();
    let lower_rank = ((count as f64 - reach) / 2.0).round();
    if lower_rank < 1.0 {
        return None;
    }
    let ranks = (lower_rank as usize, count + 1 - lower_rank as usize);
    let at = |rank: usize| slopes.get(rank + shift - 1).copied();
    let slope = if count % 2 == 1 {
        at(count / 2 + 1)?
    } else {
        0.5 * (at(count / 2)? + at(count / 2 + 1)?)
    };
    let (low, high) = (at(ranks.0)?, at(ranks.1)?);
    if !(slope > 0.0 && slope.is_finite()) {
        return None;
    }
    let intercept_for = |slope: f64| {
        let rests: Vec<f64> = first
            .iter()
            .zip(second)
            .map(|(x, y)| y - slope * x)
            .collect();
        median(&rests)
    };
    let intercept = intercept_for(slope)?;
    let linearity = linearity(first, second, slope, intercept);
    Some(PassingBablok {
        slope,
        slope_interval: Interval { low, high },
        intercept,
        intercept_interval: Interval {
            low: intercept_for(high)?,
            high: intercept_for(low)?,
        },
        slopes: count,
        shift,
        ranks,
        linearity,
        linearity_p: kolmogorov_above(linearity),
    })
}

/// Returns the slopes of all pairs in rising order, without those of equal points and of −1. Equal
/// abscissae give an infinite slope.
fn pair_slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let mut slopes = Vec::with_capacity(x.len() * (x.len() - 1) / 2);
    for i in 0..x.len() {
        for j in i + 1..x.len() {
            let (run, rise) = (x[j] - x[i], y[j] - y[i]);
            if run.abs() <= 0.0 && rise.abs() <= 0.0 {
                continue;
            }
            let slope = if run.abs() <= 0.0 {
                rise.signum() * f64::INFINITY
            } else {
                rise / run
            };
            // A slope of −1 shifts neither way (Passing and Bablok 1983, 2.2).
            if (slope + 1.0).abs() > 0.0 {
                slopes.push(slope);
            }
        }
    }
    slopes.sort_by(f64::total_cmp);
    slopes
}

/// Returns the largest absolute cumulative sum of weighted signs of residuals, points taken along
/// the line, over √(L + 1) of the L points below it (Passing and Bablok 1983, 3.2; from memory).
fn linearity(x: &[f64], y: &[f64], slope: f64, intercept: f64) -> f64 {
    let rest = |(x, y): (&f64, &f64)| y - intercept - slope * x;
    let rests: Vec<f64> = x.iter().zip(y).map(rest).collect();
    let above = rests.iter().filter(|r| **r > 0.0).count() as f64;
    let below = rests.iter().filter(|r| **r < 0.0).count() as f64;
    if above <= 0.0 || below <= 0.0 {
        return 0.0;
    }
    // Distance along the line from its foot, up to a constant factor.
    let along = |i: usize| y[i] - intercept + x[i] / slope;
    let mut order: Vec<usize> = (0..x.len()).collect();
    order.sort_by(|a, b| along(*a).total_cmp(&along(*b)));
    let (mut sum, mut largest) = (0.0_f64, 0.0_f64);
    for i in order {
        if rests[i] > 0.0 {
            sum += (below / above).sqrt();
        } else if rests[i] < 0.0 {
            sum -= (above / below).sqrt();
        }
        largest = largest.max(sum.abs());
    }
    largest / (below + 1.0).sqrt()
}

/// Returns the probability that Kolmogorov's statistic exceeds `h`: 2 Σ (−1)^(k−1) exp(−2k²h²).
fn kolmogorov_above(h: f64) -> f64 {
    if h < 0.2 {
        // The series alternates without end there; the probability is 1 to 12 digits.
        return 1.0;
    }
    let term = |k: i32| {
        let k = f64::from(k);
        let sign = if k as i32 % 2 == 1 { 2.0 } else { -2.0 };
        sign * libm::exp(-2.0 * k * k * h * h)
    };
    (1..=100).map(term).sum::<f64>().clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kolmogorov_agrees_with_a_general_library() {
        // scipy 1.17.1: special.kolmogorov(1.36) and (0.5).
        assert!((kolmogorov_above(1.36) - 0.049_485_876_755_378).abs() < 1e-12);
        assert!((kolmogorov_above(0.5) - 0.963_945_243_664_875).abs() < 1e-12);
    }
}
