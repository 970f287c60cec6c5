//! Readings that are no dough: spikes, drop-outs, the operator's hand, the recorder's full scale.

use crate::numerics::find_outliers;
use crate::record::{Conditions, SignalFacts, Spike};

/// How spikes and drop-outs are told from the dough.
pub(super) struct SpikeFilter {
    /// Half width of the neighbourhood, s.
    pub half_window_s: f64,
    /// Robust standard deviations beyond which a reading stands apart.
    pub limit: f64,
    /// Smallest scatter assumed, in the unit of the curve.
    pub floor: f64,
    /// Readings before this time are left alone, s.
    pub from_s: f64,
}

/// Returns the signal with spikes and drop-outs set to the value between their neighbours, and
/// notes them in the facts; the recorded signal itself is kept as it is. `zero` is the time zero
/// of `t` on the record's clock.
pub(super) fn bridge_spikes(
    t: &[f64],
    y: &[f64],
    filter: &SpikeFilter,
    zero: f64,
    facts: &mut SignalFacts,
) -> Vec<f64> {
    let found: Vec<usize> = find_outliers(t, y, filter.half_window_s, filter.limit, filter.floor)
        .into_iter()
        .filter(|&i| t[i] >= filter.from_s)
        .collect();
    let mut cleaned = y.to_vec();
    let mut k = 0;
    while k < found.len() {
        let from = found[k];
        let mut to = from;
        while k + 1 < found.len() && found[k + 1] == to + 1 {
            k += 1;
            to = found[k];
        }
        k += 1;
        let left = from.checked_sub(1).map(|i| y[i]);
        let right = y.get(to + 1).copied();
        let bridge = match (left, right) {
            (Some(a), Some(b)) => 0.5 * (a + b),
            (Some(a), None) | (None, Some(a)) => a,
            (None, None) => y[from],
        };
        for i in from..=to {
            facts.spikes.push(Spike {
                index: i,
                at_s: t[i] + zero,
                height: y[i] - bridge,
            });
            cleaned[i] = bridge;
        }
    }
    cleaned
}

/// Sets the readings around each operator marker to the straight line between those beside them:
/// what the operator's hand did is no consistency, and smoothing would spread it.
pub(super) fn bridge_markers(
    t: &[f64],
    y: &mut [f64],
    conditions: &Conditions,
    (zero, mask): (f64, f64),
) {
    for marker in conditions.markers_s.iter().map(|m| m - zero) {
        let from = t.partition_point(|v| *v < marker - mask);
        let to = t.partition_point(|v| *v <= marker + mask);
        let (Some(before), Some(after)) = (from.checked_sub(1), t.get(to).map(|_| to)) else {
            continue;
        };
        let (y0, y1, span) = (y[before], y[after], t[after] - t[before]);
        for i in from..to {
            y[i] = y0 + (y1 - y0) * ((t[i] - t[before]) / span.max(f64::MIN_POSITIVE));
        }
    }
}

/// Counts readings at the recorder's full scale among `kept`, the readings after wetting without
/// spikes. Where no full scale is stated, flat runs at the highest value: one reading at the top is
/// the maximum, `least` or more in a row look clipped.
pub(super) fn count_saturated(kept: &[f64], full_scale: Option<f64>, least: usize) -> usize {
    let top = kept.iter().copied().fold(f64::MIN, f64::max);
    let ceiling = full_scale.unwrap_or(top);
    let at_top = |v: &f64| *v >= ceiling - 1e-9 * ceiling.abs();
    if full_scale.is_some() {
        let count = kept.iter().filter(|v| at_top(v)).count();
        return if count >= least { count } else { 0 };
    }
    let runs = kept.chunk_by(|a, b| at_top(a) == at_top(b));
    let clipped: usize = runs
        .filter(|run| at_top(&run[0]) && run.len() >= least)
        .map(<[f64]>::len)
        .sum();
    // A coarse or constant record repeats its highest value without being clipped.
    if clipped >= LEAST_CLIPPED && clipped * 10 < kept.len() {
        clipped
    } else {
        0
    }
}

/// Readings in flat runs that make a record look clipped where no full scale is stated.
const LEAST_CLIPPED: usize = 20;

/// Returns the standard uncertainty of one reading from the step in which the record writes its
/// values: the smallest difference between two of them, rectangular (JCGM 100, F.2.2.1).
pub(super) fn u_resolution(y: &[f64]) -> f64 {
    let mut sorted: Vec<f64> = y.iter().copied().take(LOOKED_AT).collect();
    sorted.sort_by(f64::total_cmp);
    let steps = sorted.windows(2).map(|w| w[1] - w[0]);
    // Differences of decimal fractions differ in their last bits; those are no steps.
    let scale = sorted.last().map_or(0.0, |v| v.abs());
    let step = steps.filter(|s| *s > 1e-9 * scale).fold(f64::MAX, f64::min);
    if step < f64::MAX {
        step / 12.0_f64.sqrt()
    } else {
        0.0
    }
}

/// Readings that suffice to see the step of a record.
const LOOKED_AT: usize = 2000;
