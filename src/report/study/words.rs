//! A contrast as words: estimate, interval and margin with the digits that the interval deserves.

use crate::record::{ClaimContrast, ContrastUnit};
use crate::schema::Unit;

/// A contrast as tables and charts print it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ContrastWords {
    /// Estimate.
    pub estimate: String,
    /// Interval, such as `0.93 to 1.01`, `above 0.93`, or that it has no bounds.
    pub interval: String,
    /// Values for which the claim is true, such as `above 0.9` or `0.85 to 1.15`.
    pub margin: String,
    /// Confidence of the interval, such as `90 %`.
    pub confidence: String,
    /// Unit; empty for a pure number.
    pub unit: &'static str,
}

impl ContrastWords {
    /// Returns estimate, interval and unit on one line.
    pub fn value(&self) -> String {
        let gap = if self.unit.is_empty() { "" } else { " " };
        format!("{}{gap}{} [{}]", self.estimate, self.unit, self.interval)
    }
}

/// Returns `contrast` in words.
pub fn contrast_words(contrast: &ClaimContrast) -> ContrastWords {
    let places = places(half_width(contrast));
    let number = |value: f64| fixed(value, places);
    ContrastWords {
        estimate: number(contrast.estimate),
        interval: match (contrast.low, contrast.high) {
            (Some(low), Some(high)) => format!("{} to {}", number(low), number(high)),
            (Some(low), None) => format!("above {}", number(low)),
            (None, Some(high)) => format!("below {}", number(high)),
            (None, None) => "without bounds".to_owned(),
        },
        margin: match (contrast.margin_low, contrast.margin_high) {
            (Some(low), Some(high)) => format!("{} to {}", short(low), short(high)),
            (Some(low), None) => format!("above {}", short(low)),
            (None, Some(high)) => format!("below {}", short(high)),
            (None, None) => "none".to_owned(),
        },
        confidence: format!("{} %", short((1000.0 * contrast.confidence).round() / 10.0)),
        unit: unit(contrast.unit),
    }
}

/// Returns the unit as it stands behind a number: a ratio has none.
fn unit(unit: ContrastUnit) -> &'static str {
    match unit {
        ContrastUnit::Metric(Unit::One) | ContrastUnit::Ratio | ContrastUnit::Probability => "",
        other => other.word(),
    }
}

fn half_width(contrast: &ClaimContrast) -> f64 {
    match (contrast.low, contrast.high) {
        (Some(low), Some(high)) => 0.5 * (high - low),
        _ => 0.1 * contrast.estimate.abs(),
    }
}

/// Decimals that show two figures of `width`.
fn places(width: f64) -> usize {
    match width.is_finite() && width > 0.0 {
        true => (1.0 - libm::floor(libm::log10(width))).clamp(0.0, 6.0) as usize,
        false => 3,
    }
}

/// Returns `value` with `places` decimals and a true minus sign.
fn fixed(value: f64, places: usize) -> String {
    with_minus(&format!("{value:.places$}"))
}

/// Returns a number with no more digits than it was written with.
fn short(value: f64) -> String {
    let text = format!("{value:.4}");
    with_minus(text.trim_end_matches('0').trim_end_matches('.'))
}

/// Minus zero is zero.
fn with_minus(text: &str) -> String {
    match text.strip_prefix('-') {
        Some(bare) if bare.contains(|c: char| matches!(c, '1'..='9')) => format!("\u{2212}{bare}"),
        Some(bare) => bare.to_owned(),
        None => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn contrast(estimate: f64, low: Option<f64>, high: Option<f64>) -> ClaimContrast {
        ClaimContrast {
            estimate,
            low,
            high,
            confidence: 0.9,
            margin_low: Some(-12.5),
            margin_high: None,
            unit: ContrastUnit::Metric(Unit::Fu),
            df: Some(5.0),
            p: Some(0.01),
        }
    }

    #[test]
    fn digits_follow_the_width_of_the_interval() {
        let words = contrast_words(&contrast(-8.26, Some(-20.11), Some(3.6)));
        assert_eq!(words.value(), "−8 FU [−20 to 4]");
        assert_eq!(
            (words.margin.as_str(), words.confidence.as_str()),
            ("above −12.5", "90 %")
        );
        let fine = contrast_words(&contrast(0.0371, Some(0.0352), Some(0.039)));
        assert_eq!(fine.interval, "0.0352 to 0.0390");
    }

    #[test]
    fn an_open_interval_says_so() {
        assert_eq!(
            contrast_words(&contrast(2.0, None, None)).interval,
            "without bounds"
        );
        assert_eq!(
            contrast_words(&contrast(2.0, Some(1.0), None)).interval,
            "above 1.00"
        );
        let mut adjusted = contrast(-0.001, Some(-1.0), Some(1.0));
        adjusted.confidence = 1.0 - 2.0 * 0.05 / 3.0;
        let words = contrast_words(&adjusted);
        assert_eq!(
            (words.estimate.as_str(), words.confidence.as_str()),
            ("0.0", "96.7 %")
        );
    }
}
