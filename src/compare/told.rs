//! Numbers and phrases for the plain sentence of a verdict.

use crate::record::ClaimContrast;
use crate::schema::Verdict;
use crate::study::{PlannedClaim, Scale};

/// A contrast ready to be said.
pub(super) struct Told<'a> {
    pub claim: &'a PlannedClaim,
    pub contrast: &'a ClaimContrast,
}

/// Returns `value` with the decimals that `width` deserves: two figures of the width.
pub(super) fn rounded(value: f64, width: f64) -> String {
    let places = match width.is_finite() && width > 0.0 {
        true => (1.0 - libm::floor(libm::log10(width))).clamp(0.0, 6.0),
        false => 3.0,
    };
    let text = format!("{value:.*}", places as usize);
    // Minus zero is zero.
    match text
        .trim_start_matches('-')
        .chars()
        .all(|c| c == '0' || c == '.')
    {
        true => text.trim_start_matches('-').to_owned(),
        false => text,
    }
}

/// Returns a number as an author writes it: no more digits than it has.
pub(super) fn short(value: f64) -> String {
    let text = format!("{value:.6}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

impl Told<'_> {
    fn width(&self) -> f64 {
        match (self.contrast.low, self.contrast.high) {
            (Some(low), Some(high)) => 0.5 * (high - low),
            _ => 0.1 * self.contrast.estimate.abs(),
        }
    }

    /// Returns the size of the estimate without its sign.
    pub fn size(&self) -> String {
        rounded(self.contrast.estimate.abs(), self.width())
    }

    /// Returns the estimate of a ratio in percent.
    pub fn percent(&self) -> String {
        rounded(100.0 * self.contrast.estimate, 100.0 * self.width())
    }

    /// Returns the interval, `between … and … with 90 % confidence`.
    pub fn between(&self) -> String {
        self.between_times(1.0, "")
    }

    /// Returns the interval of a ratio in percent.
    pub fn between_percent(&self) -> String {
        self.between_times(100.0, " %")
    }

    fn between_times(&self, factor: f64, unit: &str) -> String {
        let confidence = short((1000.0 * self.contrast.confidence).round() / 10.0);
        let end = |value: f64| rounded(factor * value, factor * self.width());
        match (self.contrast.low, self.contrast.high) {
            (Some(low), Some(high)) => format!(
                "between {}{unit} and {}{unit} with {confidence} % confidence",
                end(low),
                end(high)
            ),
            (Some(low), None) => format!("above {}{unit} with {confidence} % confidence", end(low)),
            (None, Some(high)) => {
                format!("below {}{unit} with {confidence} % confidence", end(high))
            }
            (None, None) => format!("without bounds at {confidence} % confidence"),
        }
    }

    /// Returns the unit with a space before it; nothing for a pure number.
    pub fn unit(&self) -> String {
        match self.contrast.unit.word() {
            "1" => String::new(),
            word => format!(" {word}"),
        }
    }

    /// Returns the metric's contrast in words: a difference, or a ratio in percent.
    pub fn comparison(&self) -> String {
        let (one, other) = (&self.claim.treatment, &self.claim.reference);
        match self.claim.question.scale() {
            Scale::Linear => {
                let side = match self.contrast.estimate >= 0.0 {
                    true => "above",
                    false => "below",
                };
                format!(
                    "{one} lies {}{} {side} {other} ({})",
                    self.size(),
                    self.unit(),
                    self.between()
                )
            }
            Scale::Log => format!(
                "{one} comes to {} % of {other} ({})",
                self.percent(),
                self.between_percent()
            ),
        }
    }
}

/// Returns what a verdict means for the sentence before it.
pub(super) fn meaning(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Supported => "All of that range is on the claimed side.",
        Verdict::Contradicted => "All of that range is on the other side.",
        Verdict::Undecided => "That range reaches across the limit, so these doughs do not decide.",
        Verdict::Refused => "",
    }
}

/// Returns the verdict as the first word of a sentence.
pub(super) fn opening(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Supported => "Supported",
        Verdict::Contradicted => "Contradicted",
        Verdict::Undecided => "Undecided",
        Verdict::Refused => "Not answerable",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_rounded_to_two_figures_of_their_width() {
        assert_eq!(rounded(412.34, 23.0), "412");
        assert_eq!(rounded(0.9712, 0.031), "0.971");
        assert_eq!(rounded(-0.0001, 0.5), "0.00");
        assert_eq!(rounded(1.0, f64::INFINITY), "1.000");
        assert_eq!(short(0.9), "0.9");
        assert_eq!(short(90.0), "90");
    }
}
