//! Axes: round tick values and the map from data to the page.

/// One axis of a panel.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Axis {
    low: f64,
    high: f64,
    ticks: Ticks,
}

#[derive(Debug, Clone, PartialEq)]
enum Ticks {
    /// Round multiples of a step.
    Every(f64),
    /// Round multiples of a step on a logarithmic scale, for ratios.
    Ratio(f64),
    /// Names in places of equal width.
    Named(Vec<String>),
}

impl Axis {
    /// Returns an axis that covers `low..high` and ends on round values.
    pub fn round(low: f64, high: f64, ticks: usize) -> Axis {
        let (low, high) = spread_out(low, high);
        let step = step_of(low, high, ticks);
        Axis {
            low: (low / step + 1e-9).floor() * step,
            high: (high / step - 1e-9).ceil() * step,
            ticks: Ticks::Every(step),
        }
    }

    /// Returns an axis that covers exactly `low..high`, for time and other running variables.
    pub fn tight(low: f64, high: f64, ticks: usize) -> Axis {
        let (low, high) = spread_out(low, high);
        let step = step_of(low, high, ticks);
        Axis {
            low,
            high,
            ticks: Ticks::Every(step),
        }
    }

    /// Returns the axis of the values `low..high`, starting at zero when zero is not far off, and
    /// ending on half a step.
    pub fn for_values(low: f64, high: f64, ticks: usize) -> Axis {
        let (low, high) = if high >= low { (low, high) } else { (0.0, 1.0) };
        let reach = high - low;
        let near_zero = low >= 0.0 && low < reach.max(high * 0.3);
        let from = if near_zero { 0.0 } else { low - reach * 0.04 };
        let (from, to) = spread_out(from, high + reach * 0.04);
        let step = step_of(from, to, ticks);
        let half = step / 2.0;
        // Noise around zero does not earn half a step of empty paper below it.
        let dips = low < 0.0 && low > -0.08 * high;
        Axis {
            low: match dips {
                true => from.max(-half),
                false => (from / half + 1e-9).floor() * half,
            },
            high: (to / half - 1e-9).ceil() * half,
            ticks: Ticks::Every(step),
        }
    }

    /// Returns the axis of all `values`; see [`Axis::for_values`].
    pub fn over(values: impl IntoIterator<Item = f64>, ticks: usize) -> Axis {
        let (low, high) = range(values.into_iter());
        Axis::for_values(low, high, ticks)
    }

    /// Returns a logarithmic axis of the positive values `low..high` with a little room around.
    pub fn ratio(low: f64, high: f64, ticks: usize) -> Axis {
        let (low, high) = (low.max(1e-9), high.max(2e-9));
        let room = libm::pow((high / low).max(1.02), 0.06);
        let (low, high) = (low / room, high * room);
        Axis {
            low,
            high,
            ticks: Ticks::Ratio(step_of(low, high, ticks)),
        }
    }

    /// Returns an axis of places for `names`; the place of name `i` is `i + 0.5`.
    pub fn named(names: impl IntoIterator<Item = impl Into<String>>) -> Axis {
        let names: Vec<String> = names.into_iter().map(Into::into).collect();
        Axis {
            low: 0.0,
            high: names.len().max(1) as f64,
            ticks: Ticks::Named(names),
        }
    }

    /// Returns whether the axis has names instead of numbers.
    pub fn is_named(&self) -> bool {
        matches!(self.ticks, Ticks::Named(_))
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
        match self.ticks {
            Ticks::Ratio(_) => {
                let at = |v: f64| libm::log(v.max(1e-12) / self.low);
                at(value) / at(self.high)
            }
            _ => (value - self.low) / (self.high - self.low),
        }
    }

    /// Returns the tick values with their texts.
    pub fn ticks(&self) -> Vec<(f64, String)> {
        let step = match &self.ticks {
            Ticks::Every(step) | Ticks::Ratio(step) => *step,
            Ticks::Named(names) => {
                let places = names.iter().enumerate();
                return places
                    .map(|(i, name)| (i as f64 + 0.5, name.clone()))
                    .collect();
            }
        };
        let decimals = (-(libm::log10(step) + 1e-9).floor()).max(0.0) as usize;
        // 2.5 needs one decimal more than its power of ten says.
        let scaled = step * libm::pow(10.0, decimals as f64);
        let decimals = decimals + usize::from((scaled - scaled.round()).abs() > 1e-6);
        let first = (self.low / step - 1e-9).ceil();
        let count = ((self.high / step + 1e-9).floor() - first).max(0.0) as usize;
        (0..=count)
            .map(|i| {
                let value = (first + i as f64) * step;
                (value, number(value, decimals))
            })
            .collect()
    }
}

/// Returns the ends of a scale for `low..high`: a constant still needs one to stand on.
fn spread_out(low: f64, high: f64) -> (f64, f64) {
    if !(low.is_finite() && high.is_finite()) {
        (0.0, 1.0)
    } else if high - low > f64::EPSILON * low.abs().max(high.abs()) * 16.0 {
        (low, high)
    } else {
        let half = (low.abs() * 0.05).max(0.5);
        (low - half, low + half)
    }
}

/// Returns the round step that gives `low..high` about `ticks` ticks.
fn step_of(low: f64, high: f64, ticks: usize) -> f64 {
    round_step((high - low) / ticks.max(1) as f64)
}

/// Returns the least and greatest of `values`; infinities the wrong way round when there is none.
pub(super) fn range(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
        (low.min(v), high.max(v))
    })
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
    fn ratios_lie_on_a_logarithmic_scale() {
        let axis = Axis::ratio(0.8, 1.25, 6);
        // 0.8 and 1.25 are reciprocal: one lies in the middle.
        assert!((axis.share(1.0) - 0.5).abs() < 1e-12);
        assert!(axis.ticks().iter().any(|t| t.1 == "1.0"));
    }

    #[test]
    fn no_data_or_infinite_data_still_give_an_axis() {
        assert!(Axis::over([], 5).ticks().len() >= 2);
        assert!(Axis::over([f64::INFINITY, 1.0], 5).ticks().len() < 20);
    }

    #[test]
    fn numbers_read_as_print() {
        assert_eq!(number(-12345.5, 1), "−12\u{a0}345.5");
        assert_eq!(number(-0.0001, 2), "0.00");
        assert_eq!(number(1234.0, 0), "1234");
    }
}
