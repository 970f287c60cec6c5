//! Where the force of a noisy record leaves zero: a power law fitted to the first millimetres.

use super::settings::{BACK_MM, RISE_MM};
use crate::derive::place::Place;

/// Powers tried: from a steep, concave onset to a slightly convex one (project choice).
const POWERS: (f64, f64) = (0.4, 1.3);

/// Places and powers tried on the first grid.
const GRID: (usize, usize) = (48, 10);

/// The readings around the onset, and the force of the recorder's zero.
pub(super) struct Onset<'a> {
    x: &'a [f64],
    y: &'a [f64],
    zero: f64,
}

impl<'a> Onset<'a> {
    /// Returns the readings around reading `above`, the first past the contact threshold.
    pub fn around(x: &'a [f64], y: &'a [f64], above: usize, zero: f64) -> Onset<'a> {
        let at = x[above];
        let from = x.partition_point(|v| *v < at - BACK_MM);
        let to = x.partition_point(|v| *v <= at + RISE_MM);
        Onset {
            x: &x[from..to],
            y: &y[from..to],
            zero,
        }
    }

    /// Returns the place from which a power law fits best by least squares, with all places whose
    /// fit is no worse than by chance: a sum of squares at most 4 variances of the noise larger
    /// (two standard deviations; Bates and Watts 1988, ch. 6, from memory).
    pub fn contact(&self, latest: f64, noise: f64) -> Place {
        let first = self.x.first().copied().unwrap_or(latest);
        let step = (latest - first) / GRID.0 as f64;
        let power = |j: usize| POWERS.0 + (POWERS.1 - POWERS.0) * j as f64 / (GRID.1 - 1) as f64;
        let mut best = (f64::MAX, latest, 1.0);
        let mut profile = Vec::with_capacity(GRID.0 + 1);
        for k in 0..=GRID.0 {
            let at = first + step * k as f64;
            let mut least = f64::MAX;
            for j in 0..GRID.1 {
                let misfit = self.misfit(at, power(j));
                least = least.min(misfit);
                if misfit < best.0 {
                    best = (misfit, at, power(j));
                }
            }
            profile.push((at, least));
        }
        let best = self.refine(best, (step, 0.5 * (power(1) - power(0))), (first, latest));
        let limit = best.0 + 4.0 * noise * noise;
        let fitting = || profile.iter().filter(|(_, least)| *least <= limit);
        let low = fitting().next().map_or(best.1, |(at, _)| *at);
        let high = fitting().next_back().map_or(best.1, |(at, _)| *at);
        Place {
            at: best.1,
            low: (low.min(best.1) - 0.5 * step).max(first),
            high: (high.max(best.1) + 0.5 * step).min(latest),
        }
    }

    /// Returns the best of ever finer grids of 5 × 5 around the best so far.
    fn refine(
        &self,
        mut best: (f64, f64, f64),
        (mut step, mut power_step): (f64, f64),
        (first, latest): (f64, f64),
    ) -> (f64, f64, f64) {
        for _ in 0..5 {
            step *= 0.5;
            power_step *= 0.5;
            let (_, at, power) = best;
            for i in -2..=2_i32 {
                for j in -2..=2_i32 {
                    let at = (at + step * f64::from(i)).clamp(first, latest);
                    let power = power + power_step * f64::from(j);
                    let misfit = self.misfit(at, power);
                    if misfit < best.0 {
                        best = (misfit, at, power);
                    }
                }
            }
        }
        best
    }

    /// Returns the sum of squares about zero before `at` and the best multiple of the power law
    /// after it.
    fn misfit(&self, at: f64, power: f64) -> f64 {
        let (mut squares, mut joint, mut shape) = (0.0, 0.0, 0.0);
        for (x, y) in self.x.iter().zip(self.y) {
            let force = y - self.zero;
            squares += force * force;
            if *x > at {
                let f = libm::pow(x - at, power);
                joint += force * f;
                shape += f * f;
            }
        }
        if shape > 0.0 {
            squares - joint * joint / shape
        } else {
            squares
        }
    }
}
