//! Readings that are no dough: spikes, drop-outs, the operator's hand, the recorder's full scale.

use super::prepare::Prepared;
use super::settings::Settings;
use crate::numerics::find_outliers;
use crate::record::{Conditions, SignalFacts, Spike};

/// Returns the signal with spikes and drop-outs set to the value between their neighbours; the
/// recorded signal itself is kept as it is.
pub(super) fn clean(
    t: &[f64],
    y: &[f64],
    settings: &Settings,
    (scale, zero): (f64, f64),
    facts: &mut SignalFacts,
) -> Vec<f64> {
    let half = 0.5 * f64::from(settings.outlier_periods) * super::settings::BLADE_PERIOD_S;
    let floor = settings.least_scatter_fu * scale.max(f64::MIN_POSITIVE);
    let found: Vec<usize> = find_outliers(t, y, half, settings.outlier_limit, floor)
        .into_iter()
        .filter(|&i| t[i] >= settings.wetting_s)
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

/// Counts readings at the recorder's full scale, after wetting and without spikes. Where no full
/// scale is stated, flat runs at the highest value: one reading at the top is the maximum, several
/// in a row look clipped.
pub(super) fn count_saturation(p: &Prepared, cleaned: &[f64]) -> usize {
    let kept = &cleaned[p.start.min(cleaned.len())..];
    let top = kept.iter().copied().fold(f64::MIN, f64::max);
    let ceiling = p.conditions.full_scale.unwrap_or(top);
    let at_top = |v: &f64| *v >= ceiling - 1e-9 * ceiling.abs();
    let least = p.settings.clipped_readings as usize;
    if p.conditions.full_scale.is_some() {
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
