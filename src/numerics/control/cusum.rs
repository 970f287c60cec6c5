//! Cumulative sums: how long and how far the values have leant to one side.

use super::Side;

/// When a cumulative sum alarms.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cusum {
    /// Slack k taken off each step, in standard deviations: half the shift to be found.
    pub slack: f64,
    /// Decision interval h, in standard deviations.
    pub decision: f64,
}

impl Default for Cusum {
    /// k 0.5 and h 5 (HANDBOOK §11.4: 0.5; 4 or 5).
    fn default() -> Self {
        Self {
            slack: 0.5,
            decision: 5.0,
        }
    }
}

/// Both sums after one more value, in standard deviations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CusumPoint {
    /// C⁺ = max(0, C⁺ + z − k).
    pub high: f64,
    /// C⁻ = max(0, C⁻ − z − k).
    pub low: f64,
    /// The side whose sum exceeds h, if any; the larger one if both do.
    pub signal: Option<Side>,
    /// Index of the first value of the lean of that side, an estimate of when the shift began
    /// (Page 1954, Biometrika 41:100; from memory); `None` when neither leans.
    pub since: Option<usize>,
    /// Estimated shift from the centre since then, in standard deviations: ±(k + C/N) over the N
    /// values of the lean (Montgomery, Statistical Quality Control, ch. 9; from memory); 0 when
    /// neither leans.
    pub shift: f64,
}

/// A sum that starts over whenever it falls to zero.
#[derive(Clone, Copy, Default)]
struct Lean {
    sum: f64,
    since: usize,
    length: usize,
}

impl Lean {
    fn add(&mut self, step: f64, index: usize) {
        self.sum = (self.sum + step).max(0.0);
        if self.sum > 0.0 {
            if self.length == 0 {
                self.since = index;
            }
            self.length += 1;
        } else {
            self.length = 0;
        }
    }

    fn shift(&self, slack: f64) -> f64 {
        if self.length == 0 {
            0.0
        } else {
            slack + self.sum / self.length as f64
        }
    }
}

/// Returns both standardised sums after each value (ISO 7870-4; HANDBOOK §11.4). They are not
/// reset by an alarm: the chart shows how far the lean went.
///
/// `None` unless σ and h are above 0 and k is not negative.
pub fn cusum(values: &[f64], centre: f64, sigma: f64, chart: Cusum) -> Option<Vec<CusumPoint>> {
    let Cusum { slack, decision } = chart;
    if !(sigma > 0.0 && decision > 0.0 && slack >= 0.0) {
        return None;
    }
    let (mut high, mut low) = (Lean::default(), Lean::default());
    let point = |(index, value): (usize, &f64)| {
        let z = (value - centre) / sigma;
        high.add(z - slack, index);
        low.add(-z - slack, index);
        let (side, lean, sign) = if high.sum >= low.sum {
            (Side::High, high, 1.0)
        } else {
            (Side::Low, low, -1.0)
        };
        CusumPoint {
            high: high.sum,
            low: low.sum,
            signal: (lean.sum > decision).then_some(side),
            since: (lean.length > 0).then_some(lean.since),
            shift: sign * lean.shift(slack),
        }
    };
    Some(values.iter().enumerate().map(point).collect())
}
