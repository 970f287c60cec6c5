//! Metrics of the curve's shape: development time, softening, tolerance index, breakdown, band.

use super::contours::{Contour, Contours};
use super::prepare::{CountedPeak, Prepared};
use crate::derive::{Metric, Reading, clock, metric, or_outcome};
use crate::numerics::{argmax, first_fall_below_for, value_at};
use crate::record::{Estimate, Outcome};
use crate::schema::Unit;

/// Returns the counted peak, or the outcome that says why there is none.
pub(super) fn counted_peak(p: &Prepared) -> Result<CountedPeak, Outcome> {
    if let Some(reason) = &p.rejected {
        return Err(Outcome::Rejected(reason.clone()));
    }
    p.peak.clone().map_err(Outcome::NotComputable)
}

/// Returns both contours, or the outcome that says why they are not known.
pub(super) fn contour_pair(p: &Prepared) -> Result<(&Contour, &Contour), Outcome> {
    p.contours
        .pair()
        .map_err(|reason| Outcome::NotComputable(reason.to_owned()))
}

/// Returns an exact time in minutes from seconds, with an interval in seconds and the resolution of
/// the record added in quadrature.
pub(super) fn time_outcome(p: &Prepared, at_s: f64, interval_s: (f64, f64)) -> Outcome {
    clock::time_outcome(p.u_time_s(), at_s, interval_s)
}

/// Returns the development time in seconds (ISO-modelled reading), or why it is not exact.
pub(super) fn development_s(p: &Prepared) -> Result<(CountedPeak, f64), Outcome> {
    let peak = counted_peak(p)?;
    if peak.falling_from_start {
        return Err(Outcome::NotComputable(
            "the centre falls from the end of wetting on: the development time is not exact".into(),
        ));
    }
    match peak.plateau_end_s {
        Some(at) => Ok((peak, at)),
        None => Err(Outcome::NotComputable(format!(
            "the development time is not exact: the record ends at {:.1} min without a confirmed fall",
            p.end_s() / 60.0
        ))),
    }
}

metric! {
    /// Consistency at the peak: the mean of the maximum of the upper contour and the maximum of
    /// the lower contour (they need not occur at the same time). Where the record holds no band,
    /// the maximum of the smoothed centre line. Of two peaks the second counts.
    CONSISTENCY for Prepared {
        id: "mixing.consistency", symbol: "C", name: "maximum consistency",
        unit: Unit::Fu, decimals: 0, revision: 1,
        source: ("ISO 5530-1", "maximum consistency", FromMemoryHigh),
        variants: [], read: read_consistency,
    }
}

fn read_consistency(p: &Prepared, _: &'static str) -> Reading {
    let peak = or_outcome!(counted_peak(p));
    if let Some(reason) = &p.centre.height_unknown {
        return Reading::of(Outcome::NotComputable(reason.clone()));
    }
    if peak.rising_at_end {
        return Reading::of(Outcome::Above(peak.consistency)).over(p.t[p.start], p.end_s());
    }
    let at = p.t[peak.index];
    let half = p.settings.smoothing_half_width_s;
    Reading::of(Outcome::exact(peak.consistency, u_consistency(p))).over(at - half, at + half)
}

/// Standard uncertainty of the consistency: level of the contours, and what slow sampling missed.
pub(super) fn u_consistency(p: &Prepared) -> f64 {
    match &p.contours {
        Contours::Read { upper, lower, .. } | Contours::Supplied { upper, lower } => {
            let at = p.peak.as_ref().map_or(0, |peak| peak.index);
            0.5 * upper.u_at(&p.t, at).hypot(lower.u_at(&p.t, at))
        }
        Contours::Unknown(_) => p
            .centre
            .u_at(&p.t, p.peak.as_ref().map_or(0, |peak| peak.index)),
    }
}

metric! {
    /// Time from first water contact to the point just before the first sign of decrease of
    /// consistency. Of two peaks the second counts; the spike of the first wetting never does.
    DEVELOPMENT_TIME for Prepared {
        id: "mixing.development_time", symbol: "DDT", name: "development time",
        unit: Unit::Minute, decimals: 1, revision: 1,
        source: ("ISO 5530-1 and ICC 115/1", "dough development time", FromMemoryHigh),
        variants: [
            ("iso", "end of the plateau: the last time in the contiguous run around the maximum at which the centre is within delta of it; delta = max(2 FU, 2 × noise of the centre), which sets the time late by delta over the slope"),
            ("centre-max", "time of the maximum of the smoothed centre line, as for high-speed mixing in ICC 184"),
            ("flat-top", "mean of the middle of the flat part of the upper contour and the time of the maximum of the lower contour (AACC 54-21; from memory, medium confidence)"),
        ],
        read: read_development_time,
    }
}

fn read_development_time(p: &Prepared, variant: &'static str) -> Reading {
    let peak = or_outcome!(counted_peak(p));
    let remark = format!("delta={:.2}", peak.delta);
    if peak.falling_from_start {
        let start = p.t[p.start];
        return Reading::of(Outcome::Below(start / 60.0))
            .over(p.t[0], start)
            .with_remark(remark);
    }
    let Some(end) = peak.plateau_end_s else {
        let end = p.end_s();
        let outcome = if variant == "iso" || peak.rising_at_end {
            Outcome::Above(end / 60.0)
        } else {
            Outcome::NotReached(format!(
                "the centre stays within {:.1} of its maximum to the end of the record at {:.1} min: the peak is not confirmed",
                peak.delta,
                end / 60.0
            ))
        };
        return Reading::of(outcome)
            .over(p.t[p.start], end)
            .with_remark(remark);
    };
    match variant {
        "centre-max" => read_centre_maximum(p, peak),
        "flat-top" => read_flat_top(p, peak),
        _ => Reading::of(time_outcome(p, end, peak.plateau_end_interval_s)).over(
            p.t[peak.index] - p.settings.smoothing_half_width_s,
            end + p.settings.smoothing_half_width_s,
        ),
    }
    .with_remark(remark)
}

/// The maximum may lie anywhere the centre is within its own uncertainty of it.
fn read_centre_maximum(p: &Prepared, peak: CountedPeak) -> Reading {
    let span = top_span(
        &p.centre.y,
        peak.index,
        2.0 * p.centre.u_at(&p.t, peak.index),
    );
    let half = p.settings.smoothing_half_width_s;
    let at = p.t[peak.index];
    Reading::of(time_outcome(p, at, (p.t[span.0], p.t[span.1]))).over(at - half, at + half)
}

/// First and last index of the contiguous run around `index` within `tolerance` of the value there.
fn top_span(y: &[f64], index: usize, tolerance: f64) -> (usize, usize) {
    let level = y[index] - tolerance;
    let from = y[..index]
        .iter()
        .rposition(|v| *v < level)
        .map_or(0, |i| i + 1);
    let to = y[index..]
        .iter()
        .position(|v| *v < level)
        .map_or(y.len() - 1, |i| index + i - 1);
    (from, to.max(index))
}

fn read_flat_top(p: &Prepared, peak: CountedPeak) -> Reading {
    let (upper, lower) = or_outcome!(contour_pair(p));
    let free = |i: usize| i >= p.start;
    let range = p.start..p.t.len();
    let (Some(top), Some(bottom)) = (
        argmax(&upper.y, range.clone(), free),
        argmax(&lower.y, range, free),
    ) else {
        return Reading::of(Outcome::NotComputable("no reading after wetting".into()));
    };
    let (flat_from, flat_to) = top_span(&upper.y, top, peak.delta);
    let middle = 0.5 * (p.t[flat_from] + p.t[flat_to]);
    let at = 0.5 * (middle + p.t[bottom]);
    // Each part may move within the region its own noise cannot tell from the top.
    let wide = top_span(&upper.y, top, peak.delta + 2.0 * upper.u_at(&p.t, top));
    let low_span = top_span(&lower.y, bottom, 2.0 * lower.u_at(&p.t, bottom));
    let top_shift = 0.25 * ((p.t[wide.1] - p.t[flat_to]) + (p.t[flat_from] - p.t[wide.0]));
    let low_shift = 0.25 * (p.t[low_span.1] - p.t[low_span.0]);
    let shift = top_shift.hypot(low_shift);
    Reading::of(time_outcome(p, at, (at - shift, at + shift))).over(p.t[flat_from], p.t[flat_to])
}

metric! {
    /// Height of the centre at its maximum minus its height a fixed time later: 12 min after the
    /// development time. Height and time are two things: the height is that of the maximum, the
    /// time is the ISO-modelled development time.
    SOFTENING_12MIN for Prepared {
        id: "mixing.softening_12min", symbol: "DS12", name: "degree of softening, 12 min after the peak",
        unit: Unit::Fu, decimals: 0, revision: 1,
        source: ("ISO 5530-1 and ICC 115/1", "degree of softening", FromMemoryHigh),
        variants: [], read: read_softening_12min,
    }
}

fn read_softening_12min(p: &Prepared, _: &'static str) -> Reading {
    let (peak, tp) = or_outcome!(development_s(p));
    let u_tp = (peak.plateau_end_interval_s.1 - peak.plateau_end_interval_s.0) / 4.0;
    read_drop(p, peak, tp + 12.0 * 60.0, u_tp)
}

/// Reads the fall of the centre from its maximum to its value at `at_s`, whose own standard
/// uncertainty is `u_at_s`.
fn read_drop(p: &Prepared, peak: CountedPeak, at_s: f64, u_at_s: f64) -> Reading {
    let Some(later) = p.centre_at(at_s) else {
        return Reading::of(Outcome::NotComputable(format!(
            "record too short: it has {:.1} min, {:.1} min are needed",
            p.end_s() / 60.0,
            at_s / 60.0
        )));
    };
    let slope = slope_at(p, &p.centre.y, at_s);
    let u_later = p.centre.u_at(&p.t, index_at(p, at_s));
    let u = p
        .centre
        .u_at(&p.t, peak.index)
        .hypot(u_later)
        .hypot(slope * u_at_s);
    let half = p.settings.smoothing_half_width_s;
    Reading::of(Outcome::exact(peak.height - later, u)).over(p.t[peak.index] - half, at_s + half)
}

/// Index of the first point at or after `at_s`.
fn index_at(p: &Prepared, at_s: f64) -> usize {
    p.t.partition_point(|t| *t < at_s)
        .min(p.t.len().saturating_sub(1))
}

/// Slope of a smoothed line at `at_s`, per second, over its smoothing half width.
fn slope_at(p: &Prepared, y: &[f64], at_s: f64) -> f64 {
    let reach = p
        .settings
        .smoothing_half_width_s
        .max(2.0 * p.facts.sampling_s);
    let (from, to) = ((at_s - reach).max(p.t[0]), (at_s + reach).min(p.end_s()));
    match (value_at(&p.t, y, from), value_at(&p.t, y, to)) {
        (Some(a), Some(b)) if to > from => (b - a) / (to - from),
        _ => 0.0,
    }
}

metric! {
    /// Height of the centre at its maximum minus its height 10 min after first water contact: the
    /// older convention for softening.
    SOFTENING_10MIN for Prepared {
        id: "mixing.softening_10min", symbol: "DS10", name: "degree of softening, 10 min after the start",
        unit: Unit::Fu, decimals: 0, revision: 1,
        source: ("older convention of ISO 5530-1", "degree of softening", FromMemoryMedium),
        variants: [], read: read_softening_10min,
    }
}

fn read_softening_10min(p: &Prepared, _: &'static str) -> Reading {
    read_drop_from_start(p, 10.0)
}

metric! {
    /// Height of the centre at its maximum minus its height 20 min after first water contact.
    DROP_20MIN for Prepared {
        id: "mixing.drop_20min", symbol: "D20", name: "20-minute drop",
        unit: Unit::Fu, decimals: 0, revision: 1,
        source: ("AACC 54-21", "20-minute drop", FromMemoryMedium),
        variants: [], read: read_drop_20min,
    }
}

fn read_drop_20min(p: &Prepared, _: &'static str) -> Reading {
    read_drop_from_start(p, 20.0)
}

fn read_drop_from_start(p: &Prepared, minutes: f64) -> Reading {
    let peak = or_outcome!(counted_peak(p));
    if peak.rising_at_end {
        return Reading::of(Outcome::NotComputable(
            "the centre is still rising at the end of the record: its maximum is not known".into(),
        ));
    }
    let at = minutes * 60.0;
    if at < p.t[peak.index] {
        return Reading::of(Outcome::NotComputable(format!(
            "the maximum lies at {:.1} min, after the {minutes:.0} min at which the drop is read",
            p.t[peak.index] / 60.0
        )));
    }
    read_drop(p, peak, at, p.u_time_s())
}

metric! {
    /// Height of the upper contour at the development time minus its height 5 min later: the top
    /// of the curve at the peak minus the top of the curve 5 min after it.
    TOLERANCE_INDEX for Prepared {
        id: "mixing.tolerance_index", symbol: "MTI", name: "mixing tolerance index",
        unit: Unit::Fu, decimals: 0, revision: 1,
        source: ("AACC 54-21", "mixing tolerance index", Published),
        variants: [], read: read_tolerance_index,
    }
}

fn read_tolerance_index(p: &Prepared, _: &'static str) -> Reading {
    let (peak, tp) = or_outcome!(development_s(p));
    let (upper, _) = or_outcome!(contour_pair(p));
    let later = tp + 5.0 * 60.0;
    let (Some(top), Some(bottom)) = (
        value_at(&p.t, &upper.y, tp),
        value_at(&p.t, &upper.y, later),
    ) else {
        return Reading::of(Outcome::NotComputable(format!(
            "record too short: it has {:.1} min, {:.1} min are needed",
            p.end_s() / 60.0,
            later / 60.0
        )));
    };
    let u_tp = (peak.plateau_end_interval_s.1 - peak.plateau_end_interval_s.0) / 4.0;
    let slope = slope_at(p, &upper.y, tp) - slope_at(p, &upper.y, later);
    let u_top = upper.u_at(&p.t, index_at(p, tp));
    let u = u_top
        .hypot(upper.u_at(&p.t, index_at(p, later)))
        .hypot(slope * u_tp);
    let half = p.settings.smoothing_half_width_s;
    Reading::of(Outcome::exact(top - bottom, u)).over(tp - half, later + half)
}

metric! {
    /// Time from first water contact to the moment the centre has fallen 30 FU below its maximum.
    BREAKDOWN_TIME for Prepared {
        id: "mixing.breakdown_time", symbol: "TB", name: "time to breakdown",
        unit: Unit::Minute, decimals: 1, revision: 1,
        source: ("AACC 54-21 and ICC 115/1", "time to breakdown", FromMemoryHigh),
        variants: [], read: read_breakdown_time,
    }
}

fn read_breakdown_time(p: &Prepared, _: &'static str) -> Reading {
    breakdown(p, 1.0)
}

metric! {
    /// Chart length at 1 cm/min from first water contact to the moment the centre has fallen 30 FU
    /// below its maximum: ten times the time to breakdown in minutes.
    QUALITY_NUMBER for Prepared {
        id: "mixing.quality_number", symbol: "QN", name: "quality number",
        unit: Unit::Millimetre, decimals: 0, revision: 1,
        source: ("ISO 5530-1 and ICC 115/1", "quality number", FromMemoryHigh),
        variants: [], read: read_quality_number,
    }
}

fn read_quality_number(p: &Prepared, _: &'static str) -> Reading {
    // 1 cm/min of chart: 10 mm a minute.
    breakdown(p, 10.0)
}

/// Fall that ends the quality number, FU (AACC/ICC; from memory, high confidence).
const BREAKDOWN_FALL_FU: f64 = 30.0;

fn breakdown(p: &Prepared, per_minute: f64) -> Reading {
    let peak = or_outcome!(counted_peak(p));
    if p.unit != Unit::Fu {
        return Reading::of(Outcome::NotComputable(format!(
            "the unit of the record is {}: a fall of 30 FU cannot be told",
            p.unit
        )));
    }
    let end = p.end_s();
    let fall = |level: f64| {
        first_fall_below_for(&p.t, &p.centre.y, level, peak.index + 1, 0.0).map(|c| c.at)
    };
    let level = peak.height - BREAKDOWN_FALL_FU;
    let Some(at) = fall(level).filter(|_| !peak.rising_at_end) else {
        return Reading::of(Outcome::Above(end / 60.0 * per_minute)).over(p.t[peak.index], end);
    };
    let u_there = p.centre.u_at(&p.t, index_at(p, at));
    let spread = 2.0 * p.centre.u_at(&p.t, peak.index).hypot(u_there);
    let interval = (
        fall(level + spread).unwrap_or(at),
        fall(level - spread).unwrap_or(end),
    );
    let outcome = match time_outcome(p, at, interval) {
        Outcome::Exact(e) => match Estimate::with_interval(
            e.value() * per_minute,
            e.low() * per_minute,
            e.high() * per_minute,
            e.std_uncertainty() * per_minute,
        ) {
            Ok(scaled) => Outcome::Exact(scaled),
            Err(error) => Outcome::NotComputable(error.to_string()),
        },
        other => other,
    };
    let half = p.settings.smoothing_half_width_s;
    Reading::of(outcome).over(p.t[peak.index] - half, at + half)
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] = &[
    &CONSISTENCY,
    &DEVELOPMENT_TIME,
    &TOLERANCE_INDEX,
    &SOFTENING_12MIN,
    &SOFTENING_10MIN,
    &DROP_20MIN,
    &BREAKDOWN_TIME,
    &QUALITY_NUMBER,
];
