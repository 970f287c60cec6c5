//! The band of a kneading torque: supplied traces, raw contours, and what slow sampling misses.

use crate::numerics::{rolling_extent, rolling_mean};
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
