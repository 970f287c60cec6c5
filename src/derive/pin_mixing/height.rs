//! Metrics at the two peaks, and the width of the band at fixed times.

use super::items::Item;
use super::prepare::{FoundPeak, PeakState, Prepared};
use super::settings::U_TORQUE_SHARE;
use crate::derive::{Metric, Reading, clock, metric, or_outcome};
use crate::record::Outcome;
use crate::schema::Unit;

/// One of the two peaks, with its items.
#[derive(Clone, Copy)]
enum Curve {
    Centre,
    UpperEdge,
}

impl Curve {
    fn peak(self, p: &Prepared) -> Result<FoundPeak, Outcome> {
        if let Some(reason) = &p.rejected {
            return Err(Outcome::Rejected(reason.clone()));
        }
        let found = match self {
            Curve::Centre => &p.centre_peak,
            Curve::UpperEdge => &p.edge_peak,
        };
        found.clone().map_err(Outcome::NotComputable)
    }

    fn items(self) -> (Item, Item, Item) {
        match self {
            Curve::Centre => (Item::CentreTime, Item::CentreHeight, Item::CentreWidth),
            Curve::UpperEdge => (Item::EdgeTime, Item::EdgeHeight, Item::EdgeWidth),
        }
    }
}

/// Returns the centre peak when the record shows that it was passed, else what stands for a number
/// that needs it.
pub(super) fn passed_peak(p: &Prepared) -> Result<FoundPeak, Outcome> {
    passed(p, Curve::Centre.peak(p)?)
}

fn passed(p: &Prepared, peak: FoundPeak) -> Result<FoundPeak, Outcome> {
    match peak.state {
        PeakState::Passed => Ok(peak),
        PeakState::NotPassed => Err(Outcome::NotComputable(format!(
            "the peak is not passed: the record ends at {:.1} min without a clear fall",
            p.end_s() / 60.0
        ))),
        PeakState::BeforeStart => Err(Outcome::NotComputable(
            "the curve falls from the end of wetting on: the peak lies before".into(),
        )),
    }
}

/// Returns an item's value with its uncertainty in the printed unit: noise, the step of the record,
/// `u_level` for what else is uncertain of its level, and the calibration where it was applied.
pub(super) fn in_printed_unit(p: &Prepared, item: Item, u_level: f64) -> Outcome {
    let Some(value) = p.value(item) else {
        return Outcome::NotComputable("the record does not show it".into());
    };
    let u = p.u_noise(item).hypot(u_level).hypot(p.u_reading);
    match p.torque_per_unit_nm() {
        Some(torque) if p.unit == Unit::Percent => {
            let u = (u * torque).hypot(value * torque * U_TORQUE_SHARE);
            Outcome::exact(value * torque, u)
        }
        _ => Outcome::exact(value, u),
    }
}

fn u_side(p: &Prepared) -> f64 {
    p.band.as_ref().map_or(0.0, |band| band.u_side)
}

fn read_time(p: &Prepared, curve: Curve) -> Reading {
    let peak = or_outcome!(curve.peak(p));
    let start = p.settings.wetting_s;
    match peak.state {
        PeakState::NotPassed => {
            Reading::of(Outcome::Above(p.end_s() / 60.0)).over(start, p.end_s())
        }
        PeakState::BeforeStart => Reading::of(Outcome::Below(peak.at_s / 60.0)).over(0.0, start),
        PeakState::Passed => {
            let half = 2.0 * p.u_noise(curve.items().0);
            let interval = (peak.at_s - half, peak.at_s + half);
            let outcome = clock::time_outcome(p.u_time_s(), peak.at_s, interval);
            around(p, Reading::of(outcome), peak.at_s)
        }
    }
}

fn read_height(p: &Prepared, curve: Curve) -> Reading {
    let peak = or_outcome!(curve.peak(p));
    let item = curve.items().1;
    let u_level = match curve {
        Curve::Centre => 0.0,
        Curve::UpperEdge => u_side(p),
    };
    let outcome = in_printed_unit(p, item, u_level);
    let outcome = match (peak.state, outcome) {
        (PeakState::Passed, outcome) => outcome,
        (_, Outcome::Exact(estimate)) => Outcome::Above(estimate.value()),
        (_, other) => other,
    };
    around(p, Reading::of(outcome), peak.at_s)
}

fn read_width(p: &Prepared, curve: Curve) -> Reading {
    let peak = or_outcome!(curve.peak(p));
    let peak = or_outcome!(passed(p, peak));
    if let Err(reason) = &p.band {
        return Reading::of(Outcome::NotComputable(reason.clone()));
    }
    let outcome = in_printed_unit(p, curve.items().2, 2.0 * u_side(p));
    around(p, Reading::of(outcome), peak.at_s)
}

/// Returns the reading with the stretch that smoothing took it from.
fn around(p: &Prepared, reading: Reading, at_s: f64) -> Reading {
    let half = p.settings.smoothing_half_width_s;
    reading.over(at_s - half, at_s + half)
}

metric! {
    /// Time from the start of mixing (water contact, or the zero of the record's clock) to the
    /// maximum of the centre: the mean of the smoothed upper and lower contour.
    CENTRE_PEAK_TIME for Prepared {
        id: "pin-mixing.centre_peak_time", symbol: "tp", name: "centre peak time",
        unit: Unit::Minute, decimals: 2, revision: 1,
        source: ("AACC 54-40", "peak time", FromMemoryHigh),
        variants: [], read: read_centre_time,
    }
}

fn read_centre_time(p: &Prepared, _: &'static str) -> Reading {
    read_time(p, Curve::Centre)
}

metric! {
    /// Height of the centre at its maximum, in % of full scale; in N m where the file or run sheet
    /// states the torque of one percent.
    CENTRE_PEAK_HEIGHT for Prepared {
        id: "pin-mixing.centre_peak_height", symbol: "hp", name: "centre peak height",
        unit: Unit::Percent, decimals: 2, revision: 1,
        source: ("AACC 54-40", "peak height", FromMemoryHigh),
        variants: [], read: read_centre_height,
    }
}

fn read_centre_height(p: &Prepared, _: &'static str) -> Reading {
    read_height(p, Curve::Centre)
}

metric! {
    /// Width of the band at the centre peak: upper contour minus lower contour, in % of full scale
    /// or N m like the height.
    CENTRE_PEAK_WIDTH for Prepared {
        id: "pin-mixing.centre_peak_width", symbol: "wp", name: "band width at the centre peak",
        unit: Unit::Percent, decimals: 2, revision: 1,
        source: ("AACC 54-40", "peak width", FromMemoryHigh),
        variants: [], read: read_centre_width,
    }
}

fn read_centre_width(p: &Prepared, _: &'static str) -> Reading {
    read_width(p, Curve::Centre)
}

metric! {
    /// Time from the start of mixing to the maximum of the upper contour.
    EDGE_PEAK_TIME for Prepared {
        id: "pin-mixing.edge_peak_time", symbol: "te", name: "upper-edge peak time",
        unit: Unit::Minute, decimals: 2, revision: 1,
        source: ("AACC 54-40", "peak time", FromMemoryHigh),
        variants: [], read: read_edge_time,
    }
}

fn read_edge_time(p: &Prepared, _: &'static str) -> Reading {
    read_time(p, Curve::UpperEdge)
}

metric! {
    /// Height of the upper contour at its maximum, in % of full scale or N m.
    EDGE_PEAK_HEIGHT for Prepared {
        id: "pin-mixing.edge_peak_height", symbol: "he", name: "upper-edge peak height",
        unit: Unit::Percent, decimals: 2, revision: 1,
        source: ("AACC 54-40", "peak height", FromMemoryHigh),
        variants: [], read: read_edge_height,
    }
}

fn read_edge_height(p: &Prepared, _: &'static str) -> Reading {
    read_height(p, Curve::UpperEdge)
}

metric! {
    /// Width of the band at the upper-edge peak, in % of full scale or N m.
    EDGE_PEAK_WIDTH for Prepared {
        id: "pin-mixing.edge_peak_width", symbol: "we", name: "band width at the upper-edge peak",
        unit: Unit::Percent, decimals: 2, revision: 1,
        source: ("AACC 54-40", "peak width", FromMemoryHigh),
        variants: [], read: read_edge_width,
    }
}

fn read_edge_width(p: &Prepared, _: &'static str) -> Reading {
    read_width(p, Curve::UpperEdge)
}

metric! {
    /// Width of the band a fixed time into the test, in % of full scale or N m: how much the dough
    /// still resists when overmixed.
    WIDTH_8MIN for Prepared {
        id: "pin-mixing.width_8min", symbol: "w8", name: "band width at 8 min",
        unit: Unit::Percent, decimals: 2, revision: 1,
        source: ("AACC 54-40", "width at a fixed time", FromMemoryMedium),
        variants: [
            ("8-min", "8 min after the start of mixing"),
            ("peak-plus-2-min", "2 min after the centre peak"),
        ],
        read: read_width_8min,
    }
}

fn read_width_8min(p: &Prepared, variant: &'static str) -> Reading {
    if let Some(reason) = &p.rejected {
        return Reading::of(Outcome::Rejected(reason.clone()));
    }
    if let Err(reason) = &p.band {
        return Reading::of(Outcome::NotComputable(reason.clone()));
    }
    if p.facts.saturated_points > 0 {
        return Reading::of(Outcome::NotComputable(
            "the recorder reached its full scale: the upper contour is cut off".into(),
        ));
    }
    let (item, at_s) = if variant == "peak-plus-2-min" {
        let peak = or_outcome!(passed_peak(p));
        let later = 60.0 * p.settings.width_after_peak_min;
        (Item::WidthAfterPeak, peak.at_s + later)
    } else {
        (Item::WidthFixed, 60.0 * p.settings.width_at_min)
    };
    if at_s > p.end_s() {
        return Reading::of(too_short(p, at_s));
    }
    let outcome = in_printed_unit(p, item, 2.0 * u_side(p));
    around(p, Reading::of(outcome), at_s)
}

/// Returns the outcome of a number read later than the record goes.
pub(super) fn too_short(p: &Prepared, needed_s: f64) -> Outcome {
    Outcome::NotComputable(format!(
        "record too short: it has {:.1} min, {:.1} min are needed",
        p.end_s() / 60.0,
        needed_s / 60.0
    ))
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] = &[
    &CENTRE_PEAK_TIME,
    &CENTRE_PEAK_HEIGHT,
    &CENTRE_PEAK_WIDTH,
    &EDGE_PEAK_TIME,
    &EDGE_PEAK_HEIGHT,
    &EDGE_PEAK_WIDTH,
    &WIDTH_8MIN,
];
