//! Timing taken out of curves without landmarks, by clocks that only ever run forwards.

use super::landmarks::squares_about_mean;
use super::{fit_together, mean_curve, trapezoid};
use crate::numerics::maximize::maximize_by_differences;
use crate::numerics::value_at;
use nalgebra::DMatrix;

/// How freely clocks may run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Warp {
    /// Pieces of equal length on each of which a clock runs at one speed.
    pub pieces: usize,
    /// Price of running fast or slow: weight of the mean square of the logarithm of speed, against
    /// the mean squared misfit as a share of the template's variance.
    pub stiffness: f64,
    /// How often template and clocks are fitted in turn.
    pub rounds: usize,
}

impl Default for Warp {
    /// Four pieces, stiffness 0.02, six rounds (a choice; no source).
    fn default() -> Self {
        Self {
            pieces: 4,
            stiffness: 0.02,
            rounds: 6,
        }
    }
}

/// Curves on a common clock, and how each ran.
#[derive(Debug, Clone, PartialEq)]
pub struct Warped {
    /// The curves on the common clock, at the times given.
    pub curves: Vec<Vec<f64>>,
    /// Own time of each curve at each time of the common clock.
    pub clocks: Vec<Vec<f64>>,
    /// Mean over the record of own less common time: above 0 for a curve that is late.
    pub lateness: Vec<f64>,
    /// Share of the squares about the mean curve that timing explained.
    pub explained: f64,
}

/// Returns the curves with their timing taken out by continuous registration to their mean: each
/// clock is monotone and piecewise linear, begins and ends with the record, and is the one that
/// brings the curve, its height scaled freely, closest to the template; clocks that run fast or
/// slow are priced. The mean of all clocks is made the common one, so that the template itself has
/// no timing (Ramsay and Li 1998, J. R. Stat. Soc. B 60:351, with a simpler family of clocks; from
/// memory).
///
/// Use landmarks where there are any: a registration that chooses its clocks can also take out
/// differences of shape. `None` when lists differ in length, times do not rise, there are fewer
/// than two curves, or a curve does not vary.
pub fn register_continuously(times: &[f64], curves: &[Vec<f64>], warp: Warp) -> Option<Warped> {
    if !fit_together(times, curves) || curves.len() < 2 || warp.pieces < 2 {
        return None;
    }
    let mut speeds = vec![vec![0.0; warp.pieces]; curves.len()];
    let mut registered = curves.to_vec();
    for _ in 0..warp.rounds {
        let template = mean_curve(&registered);
        for (speed, curve) in speeds.iter_mut().zip(curves) {
            *speed = fit_clock(times, curve, &template, speed, warp)?;
        }
        let clocks = common_clocks(times, &speeds)?;
        registered = read_off(times, curves, &clocks)?;
    }
    let clocks = common_clocks(times, &speeds)?;
    let weights = trapezoid(times);
    let total: f64 = weights.iter().sum();
    let late = |clock: &Vec<f64>| {
        let terms = clock.iter().zip(times).zip(&weights);
        terms.map(|((own, t), w)| w * (own - t)).sum::<f64>() / total
    };
    Some(Warped {
        lateness: clocks.iter().map(late).collect(),
        explained: 1.0 - squares_about_mean(&registered) / squares_about_mean(curves),
        curves: registered,
        clocks,
    })
}

/// Returns own time at each common time for logarithms of the speed of each piece, which are
/// scaled so that the clock ends with the record.
fn clock(times: &[f64], log_speeds: &[f64]) -> Vec<f64> {
    let (first, last) = (times[0], times[times.len() - 1]);
    let speeds: Vec<f64> = log_speeds.iter().map(|s| libm::exp(*s)).collect();
    let sum: f64 = speeds.iter().sum();
    let mut knots = vec![0.0];
    let mut reached = 0.0;
    for speed in &speeds {
        reached += speed / sum;
        knots.push(reached);
    }
    let pieces = speeds.len() as f64;
    let own = |t: &f64| {
        let place = pieces * (t - first) / (last - first);
        let piece = (place.floor() as usize).min(speeds.len() - 1);
        let share = place - piece as f64;
        let reached = knots[piece] + share * (knots[piece + 1] - knots[piece]);
        // Rounding must not carry the last time beyond the record.
        (first + (last - first) * reached).clamp(first, last)
    };
    times.iter().map(own).collect()
}

/// Returns the logarithms of speed that bring `curve` closest to `template`.
fn fit_clock(
    times: &[f64],
    curve: &[f64],
    template: &[f64],
    start: &[f64],
    warp: Warp,
) -> Option<Vec<f64>> {
    let weights = trapezoid(times);
    let total: f64 = weights.iter().sum();
    let mean = template
        .iter()
        .zip(&weights)
        .map(|(v, w)| v * w)
        .sum::<f64>()
        / total;
    let spread = |v: &f64| (v - mean) * (v - mean);
    let variance = template
        .iter()
        .zip(&weights)
        .map(|(v, w)| w * spread(v))
        .sum::<f64>()
        / total;
    if variance.is_nan() || variance <= 0.0 {
        return None;
    }
    let merit = |log_speeds: &[f64]| {
        let clock = clock(times, log_speeds);
        let warped: Option<Vec<f64>> = clock
            .iter()
            .map(|own| value_at(times, curve, *own))
            .collect();
        let Some(warped) = warped else {
            return f64::NEG_INFINITY;
        };
        let product = |a: &[f64], b: &[f64]| -> f64 {
            a.iter()
                .zip(b)
                .zip(&weights)
                .map(|((x, y), w)| w * x * y)
                .sum()
        };
        let (both, own) = (product(template, &warped), product(&warped, &warped));
        // Height is free: least squares of the template on the warped curve.
        let misfit = (product(template, template) - both * both / own) / (total * variance);
        let mean_log = log_speeds.iter().sum::<f64>() / log_speeds.len() as f64;
        let price: f64 = log_speeds.iter().map(|s| s * s).sum::<f64>() / log_speeds.len() as f64;
        // The mean of the logarithms does nothing to the clock; its price keeps it at 0.
        -(misfit + warp.stiffness * (price + mean_log * mean_log))
    };
    let guess = DMatrix::identity(start.len(), start.len());
    let found = maximize_by_differences(start, guess, merit)?;
    Some(found.0)
}

/// Returns the clocks on a common clock that is their mean.
fn common_clocks(times: &[f64], speeds: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let clocks: Vec<Vec<f64>> = speeds.iter().map(|s| clock(times, s)).collect();
    let mean = mean_curve(&clocks);
    // At common time t the template's own clock stands where the mean clock reaches t.
    let inverse: Option<Vec<f64>> = times
        .iter()
        .map(|t| {
            let (first, last) = (mean.first()?, mean.last()?);
            value_at(&mean, times, t.clamp(*first, *last))
        })
        .collect();
    let inverse = inverse?;
    clocks
        .iter()
        .map(|clock| inverse.iter().map(|t| value_at(times, clock, *t)).collect())
        .collect()
}

/// Returns each curve read at its own times.
fn read_off(times: &[f64], curves: &[Vec<f64>], clocks: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let read = |(curve, clock): (&Vec<f64>, &Vec<f64>)| {
        clock
            .iter()
            .map(|own| value_at(times, curve, *own))
            .collect()
    };
    curves.iter().zip(clocks).map(read).collect()
}
