//! Exponentially weighted moving average: slow to alarm at one wild value, quick at a small shift.

use super::Side;

/// How the average is formed and how wide its limits are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ewma {
    /// Weight λ of the newest value, above 0 and at most 1.
    pub weight: f64,
    /// Half width L of the limits, in standard deviations of the average.
    pub width: f64,
}

impl Default for Ewma {
    /// λ 0.2 and L 2.7 (HANDBOOK §11.4: 0.2, 2.7 to 3).
    fn default() -> Self {
        Self {
            weight: 0.2,
            width: 2.7,
        }
    }
}

/// The average after one more value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EwmaPoint {
    /// z_i = λ x_i + (1 − λ) z_(i−1), in the unit of the values.
    pub average: f64,
    /// Lower limit at this point.
    pub lower: f64,
    /// Upper limit at this point.
    pub upper: f64,
    /// The limit it lies beyond, if any.
    pub signal: Option<Side>,
}

/// Returns the average after each value, started at `centre`, with the exact limits
/// `centre ± L σ √(λ/(2−λ)·[1−(1−λ)^(2i)])` (ISO 7870-6; HANDBOOK §11.4).
///
/// `None` unless λ lies in (0, 1], and σ and L are above 0.
pub fn ewma(values: &[f64], centre: f64, sigma: f64, chart: Ewma) -> Option<Vec<EwmaPoint>> {
    let Ewma { weight, width } = chart;
    if !(weight > 0.0 && weight <= 1.0 && sigma > 0.0 && width > 0.0) {
        return None;
    }
    let settled = weight / (2.0 - weight);
    let kept = (1.0 - weight) * (1.0 - weight);
    let (mut average, mut left) = (centre, 1.0);
    let point = |value: &f64| {
        average = weight * value + (1.0 - weight) * average;
        left *= kept;
        let reach = width * sigma * (settled * (1.0 - left)).sqrt();
        let (lower, upper) = (centre - reach, centre + reach);
        let signal = if average > upper {
            Some(Side::High)
        } else if average < lower {
            Some(Side::Low)
        } else {
            None
        };
        EwmaPoint {
            average,
            lower,
            upper,
            signal,
        }
    };
    Some(values.iter().map(point).collect())
}
