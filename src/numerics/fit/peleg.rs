//! Peleg's law of water uptake.

use super::Model;
use crate::numerics::fit_line;

/// Peleg's law: `M(t) = M0 + t / (k1 + k2 t)` (Peleg 1988, J. Food Sci. 53:1216, from memory;
/// HANDBOOK §9). The initial rate is `1/k1`, the gain at equilibrium `1/k2`.
///
/// Parameters: `k1`, `k2`, and `M0` last where it is free.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peleg {
    /// Moisture at the start, in the unit of the curve; `None` to fit it.
    pub initial: Option<f64>,
}

impl Model for Peleg {
    fn count(&self) -> usize {
        2 + usize::from(self.initial.is_none())
    }

    fn name(&self, index: usize) -> &'static str {
        ["k1", "k2", "M0"].get(index).copied().unwrap_or("")
    }

    fn value(&self, x: f64, p: &[f64]) -> f64 {
        self.initial.unwrap_or_else(|| p[2]) + x / (p[0] + p[1] * x)
    }

    fn gradient(&self, x: f64, p: &[f64], out: &mut [f64]) {
        let below = p[0] + p[1] * x;
        let slope = -x / (below * below);
        out[0] = slope;
        out[1] = slope * x;
        if self.initial.is_none() {
            out[2] = 1.0;
        }
    }
}

/// Returns a start for [`Peleg`] from the straight line `t / (M - M0) = k1 + k2 t`, which
/// overweights late points and is therefore no fit. Without an initial moisture the first point's
/// stands for it. `None` without two points that rose.
pub fn peleg_start(model: Peleg, t: &[f64], moisture: &[f64]) -> Option<Vec<f64>> {
    let initial = model.initial.or_else(|| moisture.first().copied())?;
    let rose = t
        .iter()
        .zip(moisture)
        .filter(|(t, m)| **t > 0.0 && **m > initial);
    let (at, turned): (Vec<f64>, Vec<f64>) = rose.map(|(t, m)| (*t, t / (m - initial))).unzip();
    let line = fit_line(&at, &turned)?;
    // A line through scatter may cross zero; a start must not.
    let last = at.iter().copied().fold(0.0, f64::max);
    let least = 1e-3 * line.at(last).abs();
    let mut start = vec![line.at(0.0).max(least), line.slope.max(least / last)];
    if model.initial.is_none() {
        start.push(initial);
    }
    Some(start)
}
