//! Axes: round tick values and the map from data to the page.

/// One axis of a panel.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Axis {
    low: f64,
    high: f64,
    step: f64,
}

impl Axis {
    /// Returns an axis that covers `low..high` and ends on round values.
    pub fn round(low: f64, high: f64, ticks: usize) -> Axis {
        let tight = Axis::tight(low, high, ticks);
        Axis {
            low: (tight.low / tight.step + 1e-9).floor() * tight.step,
            high: (tight.high / tight.step - 1e-9).ceil() * tight.step,
            step: tight.step,
        }
    }

    /// Returns an axis that covers exactly `low..high`, for time and other running variables.
    pub fn tight(low: f64, high: f64, ticks: usize) -> Axis {
        let (low, high) = if high - low > f64::EPSILON * low.abs().max(high.abs()) * 16.0 {
            (low, high)
        } else {
            // A constant still needs a scale to stand on.
            let half = (low.abs() * 0.05).max(0.5);
            (low - half, low + half)
        };
        Axis {
            low,
            high,
            step: round_step((high - low) / ticks.max(1) as f64),
        }
    }

    /// Returns the axis of the values `low..high`, starting at zero when zero is not far off, and
    /// ending on half a step.
    pub fn for_values(low: f64, high: f64, ticks: usize) -> Axis {
        let reach = high - low;
        let near_zero = low >= 0.0 && low < reach.max(high * 0.3);
        let from = if near_zero { 0.0 } else { low - reach * 0.04 };
        let tight = Axis::tight(from, high + reach * 0.04, ticks);
        let half = tight.step / 2.0;
        Axis {
            low: (tight.low / half + 1e-9).floor() * half,
            high: (tight.high / half - 1e-9).ceil() * half,
            ..tight
        }
    }

    /// Returns the lower end.
    pub fn low(&self) -> f64 {
        self.low
    }

    /// Returns the upper end.
    pub fn high(&self) -> f64 {
        self.high
    }

    /// Returns where `value` lies, 0 at the lower end and 1 at the upper.
    pub fn share(&self, value: f64) -> f64 {
        (value - self.low) / (self.high - self.low)
    }

    /// Returns the tick values with their texts.
    pub fn ticks(&self) -> Vec<(f64, String)> {
        let decimals = (-(libm::log10(self.step) + 1e-9).floor()).max(0.0) as usize;
        // 2.5 needs one decimal more than its power of ten says.
        let scaled = self.step * libm::pow(10.0, decimals as f64);
        let decimals = decimals + usize::from((scaled - scaled.round()).abs() > 1e-6);
        let first = (self.low / self.step - 1e-9).ceil();
        let count = ((self.high / self.step + 1e-9).floor() - first).max(0.0) as usize;
        (0..=count)
            .map(|i| {
                let value = (first + i as f64) * self.step;
                (value, number(value, decimals))
            })
            .collect()
    }
}

/// Returns `value` with a true minus sign and, from 10 000 on, thin groups of three digits.
pub(super) fn number(value: f64, decimals: usize) -> String {
    let text = format!("{:.decimals$}", value.abs());
    let (whole, fraction) = text.split_once('.').unwrap_or((&text, ""));
    let mut grouped = String::new();
    for (i, digit) in whole.chars().enumerate() {
        if whole.len() > 4 && i > 0 && (whole.len() - i) % 3 == 0 {
            grouped.push('\u{a0}');
        }
        grouped.push(digit);
    }
    let zero = text.chars().all(|c| matches!(c, '0' | '.'));
    let sign = if value < 0.0 && !zero { "−" } else { "" };
    if fraction.is_empty() {
        format!("{sign}{grouped}")
    } else {
        format!("{sign}{grouped}.{fraction}")
    }
}

/// Returns the round step (1, 2, 2.5 or 5 times a power of ten) next above `raw`.
fn round_step(raw: f64) -> f64 {
    let power = libm::pow(10.0, libm::log10(raw.max(1e-300)).floor());
    [1.0, 2.0, 2.5, 5.0]
        .into_iter()
        .map(|m| m * power)
        .find(|step| *step >= raw * (1.0 - 1e-9))
        .unwrap_or(10.0 * power)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_cover_the_data() {
        let axis = Axis::for_values(0.0, 548.0, 6);
        let texts: Vec<String> = axis.ticks().into_iter().map(|t| t.1).collect();
        assert_eq!(texts, ["0", "100", "200", "300", "400", "500", "600"]);
        let fine = Axis::round(1.2, 2.3, 4);
        assert_eq!(
            fine.ticks().first().map(|t| t.1.clone()),
            Some("1.0".into())
        );
        assert!(fine.high() >= 2.3);
    }

    #[test]
    fn a_constant_gets_a_scale() {
        let axis = Axis::for_values(62.0, 62.0, 4);
        assert!(axis.low() < 62.0 && axis.high() > 62.0 && axis.ticks().len() >= 2);
    }

    #[test]
    fn numbers_read_as_print() {
        assert_eq!(number(-12345.5, 1), "−12\u{a0}345.5");
        assert_eq!(number(-0.0001, 2), "0.00");
        assert_eq!(number(1234.0, 0), "1234");
    }
}
