//! Diffusion into a sphere whose surface is at equilibrium from the start.

use super::Model;
use std::f64::consts::PI;

/// Fourier number below which the form for short times is summed, above it the series; either is
/// exact to rounding there with a handful of terms.
const SHORT: f64 = 0.1;
/// Terms summed of either form: at the change-over the last ones are below 1e-40.
const TERMS: usize = 10;

/// Returns the unaccomplished change `(Me - M)/(Me - M0)` of a sphere at Fourier number `D t / r²`:
/// `(6/π²) Σ n⁻² exp(-n² π² Fo)`, for short times its equivalent
/// `1 - 6 √Fo (1/√π + 2 Σ ierfc(n/√Fo)) + 3 Fo` (Crank, The Mathematics of Diffusion, 6.3.1, from
/// memory; HANDBOOK §9). One before the start.
pub fn sphere_unaccomplished(fourier: f64) -> f64 {
    if fourier <= 0.0 {
        return 1.0;
    }
    if fourier > SHORT {
        let sum: f64 = (1..=TERMS)
            .rev()
            .map(|n| libm::exp(-((n * n) as f64) * PI * PI * fourier) / (n * n) as f64)
            .sum();
        return 6.0 / (PI * PI) * sum;
    }
    let root = fourier.sqrt();
    let images: f64 = (1..=TERMS)
        .rev()
        .map(|n| integrated_erfc(n as f64 / root))
        .sum();
    1.0 - 6.0 * root * (1.0 / PI.sqrt() + 2.0 * images) + 3.0 * fourier
}

/// Returns the unaccomplished change for short times only: `1 - 6 √(Fo/π) + 3 Fo`, within 5e-6 up
/// to a Fourier number of 0.1.
pub fn sphere_unaccomplished_at_short_times(fourier: f64) -> f64 {
    1.0 - 6.0 * (fourier.max(0.0) / PI).sqrt() + 3.0 * fourier.max(0.0)
}

/// Returns the derivative of [`sphere_unaccomplished`] by the Fourier number, at or above zero.
fn unaccomplished_slope(fourier: f64) -> f64 {
    if fourier > SHORT {
        let sum: f64 = (1..=TERMS)
            .rev()
            .map(|n| libm::exp(-((n * n) as f64) * PI * PI * fourier))
            .sum();
        return -6.0 * sum;
    }
    let images: f64 = (1..=TERMS)
        .rev()
        .map(|n| libm::exp(-((n * n) as f64) / fourier))
        .sum();
    3.0 - 3.0 / (PI * fourier).sqrt() * (1.0 + 2.0 * images)
}

/// Returns the integral of the complementary error function from `x` up.
fn integrated_erfc(x: f64) -> f64 {
    libm::exp(-x * x) / PI.sqrt() - x * libm::erfc(x)
}

/// Uptake of a sphere: `M(t) = Me - (Me - M0) E(d t)` with `E` of [`sphere_unaccomplished`].
///
/// Parameters: equilibrium `Me`, `d = D / r²` (per unit of time), and `M0` last where it is free.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SphereUptake {
    /// Moisture at the start, in the unit of the curve; `None` to fit it.
    pub initial: Option<f64>,
}

impl Model for SphereUptake {
    fn count(&self) -> usize {
        2 + usize::from(self.initial.is_none())
    }

    fn name(&self, index: usize) -> &'static str {
        ["Me", "D/r2", "M0"].get(index).copied().unwrap_or("")
    }

    fn value(&self, x: f64, p: &[f64]) -> f64 {
        if p[1] <= 0.0 {
            return f64::NAN;
        }
        let initial = self.initial.unwrap_or_else(|| p[2]);
        p[0] - (p[0] - initial) * sphere_unaccomplished(p[1] * x)
    }

    fn gradient(&self, x: f64, p: &[f64], out: &mut [f64]) {
        let initial = self.initial.unwrap_or_else(|| p[2]);
        let left = sphere_unaccomplished(p[1] * x);
        out[0] = 1.0 - left;
        out[1] = if x > 0.0 {
            -(p[0] - initial) * x * unaccomplished_slope(p[1] * x)
        } else {
            0.0
        };
        if self.initial.is_none() {
            out[2] = left;
        }
    }
}

/// Returns a start for [`SphereUptake`]: the largest moisture for the equilibrium, and the rate at
/// which half the change is done at the first time it is seen (Fourier number 0.0305). `None`
/// without a rise after time zero.
pub fn sphere_start(model: SphereUptake, t: &[f64], moisture: &[f64]) -> Option<Vec<f64>> {
    let initial = model.initial.or_else(|| moisture.first().copied())?;
    let most = moisture.iter().copied().fold(initial, f64::max);
    if most <= initial {
        return None;
    }
    let half = 0.5 * (initial + most);
    let at = t.iter().zip(moisture);
    let (&half_time, _) = at.into_iter().find(|(t, m)| **t > 0.0 && **m >= half)?;
    let mut start = vec![most + 0.05 * (most - initial), 0.0305 / half_time];
    if model.initial.is_none() {
        start.push(initial);
    }
    Some(start)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_handbook_s_values_come_back() {
        // HANDBOOK V-U3.
        assert!((sphere_unaccomplished(0.01) - 0.69149).abs() < 5e-6);
        assert!((sphere_unaccomplished(0.1) - 0.22952).abs() < 5e-6);
        assert!((sphere_unaccomplished_at_short_times(0.01) - 0.69149).abs() < 5e-6);
        let short = sphere_unaccomplished_at_short_times(0.1);
        assert!((short - sphere_unaccomplished(0.1)).abs() < 5e-6);
    }

    #[test]
    fn both_forms_and_their_slopes_agree_where_they_meet() {
        // Analytic: the two forms are one function.
        let (below, above) = (SHORT, SHORT * (1.0 + 1e-12));
        let (low, high) = (sphere_unaccomplished(below), sphere_unaccomplished(above));
        assert!((low - high).abs() < 1e-12, "{low} {high}");
        let (low, high) = (unaccomplished_slope(below), unaccomplished_slope(above));
        assert!((low - high).abs() < 1e-10, "{low} {high}");
        for fourier in [0.003, 0.05, 0.2, 0.7] {
            let step = 1e-6;
            let chord = (sphere_unaccomplished(fourier + step)
                - sphere_unaccomplished(fourier - step))
                / (2.0 * step);
            assert!((chord / unaccomplished_slope(fourier) - 1.0).abs() < 1e-5);
        }
    }
}
