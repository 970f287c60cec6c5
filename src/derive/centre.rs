//! The line through a smooth but noisy record that numbers are read from.

use crate::numerics::{least_step, local_linear};

/// A record as it is read: smoothed where it is noisy, unchanged where it is quiet.
#[derive(Debug, Clone)]
pub(super) struct Centre {
    /// Ordinates.
    pub y: Vec<f64>,
    /// Standard uncertainty of one of them from noise; twice as much at the ends of the record,
    /// where the window is one-sided.
    pub u_reading: f64,
    /// How far smoothing may have lowered the maximum.
    pub u_top: f64,
}

impl Centre {
    /// Returns the centre of readings `y` at increasing `x`: their local linear regression over
    /// `half_width` to each side, unless their `noise` is at most `quiet`.
    pub fn of(x: &[f64], y: &[f64], (noise, quiet): (f64, f64), half_width: f64) -> Centre {
        if noise <= quiet || x.len() < 2 {
            return Centre {
                y: y.to_vec(),
                u_reading: noise,
                u_top: 0.0,
            };
        }
        let smoothed = local_linear(x, y, half_width);
        let highest = |values: &[f64]| values.iter().copied().fold(f64::MIN, f64::max);
        let closer = highest(&local_linear(x, y, 0.5 * half_width));
        let middle = x[x.len() / 2];
        let near = x.iter().filter(|v| (*v - middle).abs() <= half_width);
        Centre {
            u_reading: noise / (near.count().max(1) as f64).sqrt(),
            u_top: (closer - highest(&smoothed)).abs(),
            y: smoothed,
        }
    }
}

/// Returns the standard uncertainty from the resolution of a record: rectangular over one step
/// (JCGM 100, 4.3.7).
pub(super) fn resolution_u(y: &[f64]) -> f64 {
    least_step(y) / 12.0_f64.sqrt()
}
