//! Avrami's law of firming.

use super::Model;

/// The exponent of Avrami's law.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AvramiIndex {
    /// Fitted.
    Free,
    /// Held at one (Cornford, Axford and Elton 1964, Cereal Chem. 41:216; HANDBOOK §10).
    One,
}

/// Avrami's law of firming: `F(t) = Finf - (Finf - F0) exp(-k tⁿ)` (HANDBOOK §10).
///
/// Parameters: `F0`, `Finf`, `k` (time to the power -n), and `n` last where it is free. Fit `k`
/// and `n` within [`Bound::Positive`](super::Bound::Positive).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Avrami {
    /// Its exponent.
    pub index: AvramiIndex,
}

impl Avrami {
    fn exponent(self, p: &[f64]) -> f64 {
        match self.index {
            AvramiIndex::Free => p[3],
            AvramiIndex::One => 1.0,
        }
    }

    /// Returns the time at which half the firming is done, `(ln 2 / k)^(1/n)`.
    pub fn half_time(self, p: &[f64]) -> f64 {
        libm::pow(std::f64::consts::LN_2 / p[2], 1.0 / self.exponent(p))
    }
}

impl Model for Avrami {
    fn count(&self) -> usize {
        match self.index {
            AvramiIndex::Free => 4,
            AvramiIndex::One => 3,
        }
    }

    fn name(&self, index: usize) -> &'static str {
        ["F0", "Finf", "k", "n"].get(index).copied().unwrap_or("")
    }

    fn value(&self, x: f64, p: &[f64]) -> f64 {
        let power = libm::pow(x, self.exponent(p));
        p[1] - (p[1] - p[0]) * libm::exp(-p[2] * power)
    }

    fn gradient(&self, x: f64, p: &[f64], out: &mut [f64]) {
        let power = libm::pow(x, self.exponent(p));
        let left = libm::exp(-p[2] * power);
        out[0] = left;
        out[1] = 1.0 - left;
        out[2] = (p[1] - p[0]) * power * left;
        if self.index == AvramiIndex::Free {
            out[3] = if x > 0.0 {
                out[2] * p[2] * libm::log(x)
            } else {
                0.0
            };
        }
    }
}

/// Returns a start for [`Avrami`]: the extremes of the firmness a little widened, and the rate that
/// puts half the firming at the first time it is seen. `None` without a change after time zero.
pub fn avrami_start(model: Avrami, t: &[f64], firmness: &[f64]) -> Option<Vec<f64>> {
    let first = *firmness.first()?;
    let last = *firmness.last()?;
    let span = last - first;
    if span.abs() <= 0.0 {
        return None;
    }
    let plateau = last + 0.1 * span;
    let half = 0.5 * (first + plateau);
    let done = |value: f64| (value - half) * span.signum() >= 0.0;
    let mut seen = t.iter().zip(firmness);
    let (&half_time, _) = seen.find(|(t, f)| **t > 0.0 && done(**f))?;
    let mut start = vec![first, plateau, std::f64::consts::LN_2 / half_time];
    if model.index == AvramiIndex::Free {
        start.push(1.0);
    }
    Some(start)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_handbook_s_values_come_back() {
        // HANDBOOK V-S1.
        let one = Avrami {
            index: AvramiIndex::One,
        };
        let p = [2.0, 10.0, 0.30];
        for (day, wanted) in [(1.0, 4.0735), (3.0, 6.7474), (5.0, 8.2150), (7.0, 9.0203)] {
            assert!((one.value(day, &p) - wanted).abs() < 5e-5);
        }
        assert!((one.half_time(&p) - 2.3105).abs() < 5e-5);
        let free = Avrami {
            index: AvramiIndex::Free,
        };
        let p = [2.0, 10.0, 0.30, 0.9];
        for (day, wanted) in [(1.0, 4.0735), (3.0, 6.4282), (5.0, 7.7690), (7.0, 8.5798)] {
            assert!((free.value(day, &p) - wanted).abs() < 5e-5);
        }
        assert!((free.half_time(&p) - 2.5358).abs() < 5e-5);
    }
}
