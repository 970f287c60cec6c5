//! The band of a kneading torque: supplied traces, raw contours, and what slow sampling misses.

use crate::numerics::{median_of_some, rolling_extent, rolling_mean};
use crate::record::Run;
use crate::schema::Channel;

/// Three traces that a file supplies itself.
pub(super) struct SuppliedTraces<'r> {
    /// Upper contour.
    pub upper: &'r [f64],
    /// Middle: as supplied, else the mean of the two.
    pub middle: Vec<f64>,
    /// Lower contour.
    pub lower: &'r [f64],
}

/// Returns the traces of a file that supplies its contours, each of `points` points.
pub(super) fn supplied_traces(run: &Run, points: usize) -> Option<SuppliedTraces<'_>> {
    let trace = |channel| run.curve(channel).filter(|c| c.points() == points);
    let (upper, lower) = (trace(Channel::Upper)?.y(), trace(Channel::Lower)?.y());
    let middle = match trace(Channel::Middle) {
        Some(middle) => middle.y().to_vec(),
        None => upper
            .iter()
            .zip(lower)
            .map(|(a, b)| 0.5 * (a + b))
            .collect(),
    };
    Some(SuppliedTraces {
        upper,
        middle,
        lower,
    })
}

/// Returns the raw upper and lower contour of `y`: the extremes, within `half_s` of each point, of
/// the residual from a mean over the same stretch, so that a steep rise does not widen the band.
pub(super) fn raw_contours(t: &[f64], y: &[f64], half_s: f64) -> (Vec<f64>, Vec<f64>) {
    let trend = rolling_mean(t, y, half_s);
    let residual: Vec<f64> = y.iter().zip(&trend).map(|(a, b)| a - b).collect();
    let (top, bottom) = rolling_extent(t, &residual, half_s);
    let add =
        |extreme: &[f64]| -> Vec<f64> { trend.iter().zip(extreme).map(|(a, b)| a + b).collect() };
    (add(&top), add(&bottom))
}

/// Returns the median distance of two contours; 0 for none.
pub(super) fn median_width(upper: &[f64], lower: &[f64]) -> f64 {
    let widths: Vec<f64> = upper.iter().zip(lower).map(|(a, b)| a - b).collect();
    median_of_some(&widths).unwrap_or(0.0)
}

/// Returns the standard uncertainty of the level of a contour that was read over `2 half_s` and
/// spans a band of `width`, of which sampling may miss the share `missed` of either half.
///
/// Noise lifts the highest of many readings above the crest: the band gains again, from the window
/// to one twice as long, about a third of what it gained in the window. Readings fall at any distance
/// from a crest up to half the largest gap between their phases, so that on average a third of the
/// worst share is missed: a rectangle.
pub(super) fn u_side(t: &[f64], y: &[f64], half_s: f64, (width, missed): (f64, f64)) -> f64 {
    let (upper, lower) = raw_contours(t, y, 2.0 * half_s);
    let gained = 3.0 * 0.5 * (median_width(&upper, &lower) - width).max(0.0);
    gained.hypot(0.5 * width * missed / 3.0 / 3.0_f64.sqrt())
}

/// How a kneading tool ripples the torque.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ripple {
    /// Time after which the tool stands as before, s.
    pub period_s: f64,
    /// Swings of the fastest ripple in that time.
    pub fastest: f64,
}

impl Ripple {
    /// Returns the share of a half band that sampling every `dt` can miss when looked at over
    /// `window_s`: readings fall on phases of the period, and the largest gap between two phases
    /// hides at most `1 - cos(pi * gap * fastest)` of the fastest component.
    pub fn missed_share(&self, dt: f64, window_s: f64) -> f64 {
        // More readings than this leave no gap worth the name.
        let count = (window_s / dt).floor().clamp(0.0, 5000.0) as usize;
        let mut phases: Vec<f64> = (0..=count)
            .map(|i| (i as f64 * dt / self.period_s).fract())
            .collect();
        phases.sort_unstable_by(f64::total_cmp);
        let wrap = 1.0 + phases.first().copied().unwrap_or(0.0);
        let mut gap: f64 = 0.0;
        for pair in phases.windows(2) {
            gap = gap.max(pair[1] - pair[0]);
        }
        gap = gap.max(wrap - phases.last().copied().unwrap_or(0.0));
        1.0 - libm::cos((std::f64::consts::PI * self.fastest * gap).min(std::f64::consts::PI))
    }

    /// Returns half the length, a multiple of `dt`, of a window of at least `least_s` whose mean takes
    /// the ripple out best: of the windows up to three times as long, the one that passes least of
    /// the first and second swing (Dirichlet's kernel).
    pub fn quiet_half_s(&self, dt: f64, least_s: f64) -> f64 {
        let least = (0.5 * (least_s / dt - 1.0)).ceil().clamp(1.0, 1e4) as u32;
        let passed = |half: u32| {
            let count = f64::from(2 * half + 1);
            let of = |swings: f64| {
                let phase = std::f64::consts::PI * swings * dt / self.period_s;
                let below = count * libm::sin(phase);
                if below.abs() < 1e-9 {
                    1.0
                } else {
                    (libm::sin(count * phase) / below).abs()
                }
            };
            of(1.0) + of(2.0)
        };
        let best = (least..=3 * least).min_by(|a, b| passed(*a).total_cmp(&passed(*b)));
        f64::from(best.unwrap_or(least)) * dt
    }

    /// Returns the fewest periods in `range` over which a band can be read at sampling `dt`, with
    /// the share it may miss; `None` when even the most leave more than `tolerated` unseen.
    pub fn periods_for(
        &self,
        dt: f64,
        range: std::ops::RangeInclusive<u32>,
        tolerated: f64,
    ) -> Option<(u32, f64)> {
        range
            .map(|periods| {
                let window_s = f64::from(periods) * self.period_s;
                (periods, self.missed_share(dt, window_s))
            })
            .find(|(_, missed)| *missed <= tolerated)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quiet_window_holds_whole_turns_of_a_sampled_ripple() {
        let blades = Ripple {
            period_s: 0.75,
            fastest: 2.0,
        };
        // In step with the blades, three phases come again and again: 3, 6, 9 readings.
        assert!((blades.quiet_half_s(1.0, 2.25) - 1.0).abs() < 1e-12);
        assert!((blades.quiet_half_s(0.5, 2.25) - 2.0).abs() < 1e-12);
        // 15 readings of 0.2 s are four turns.
        assert!((blades.quiet_half_s(0.2, 2.25) - 1.4).abs() < 1e-12);
    }
}
