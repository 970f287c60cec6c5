//! Slopes beside the peak, areas under the centre, and the work they stand for.

use super::height::{in_printed_unit, passed_peak, too_short};
use super::items::Item;
use super::prepare::{PeakState, Prepared};
use super::settings::{U_DOUGH_G, U_SPEED_PER_MIN, U_TORQUE_SHARE};
use crate::derive::{Metric, Reading, metric, or_outcome};
use crate::record::Outcome;
use crate::schema::Unit;

metric! {
    /// Slope of the centre before its peak, in % of full scale per min, or N m per min.
    SLOPE_BEFORE_PEAK for Prepared {
        id: "pin-mixing.slope_before_peak", symbol: "sL", name: "slope before the peak",
        unit: Unit::PercentPerMinute, decimals: 2, revision: 1,
        source: ("AACC 54-40", "slopes beside the peak", FromMemoryMedium),
        variants: [
            ("regression-1-min", "line of least squares through the minute before the centre peak"),
            ("regression-2-min", "line of least squares through the two minutes before it"),
            ("chord", "from the height a minute before the peak to the height at the peak"),
        ],
        read: read_slope_before,
    }
}

metric! {
    /// Slope of the centre after its peak, in % of full scale per min, or N m per min; negative
    /// where the curve falls.
    SLOPE_AFTER_PEAK for Prepared {
        id: "pin-mixing.slope_after_peak", symbol: "sR", name: "slope after the peak",
        unit: Unit::PercentPerMinute, decimals: 2, revision: 1,
        source: ("AACC 54-40", "slopes beside the peak", FromMemoryMedium),
        variants: [
            ("regression-1-min", "line of least squares through the minute after the centre peak"),
            ("regression-2-min", "line of least squares through the two minutes after it"),
            ("chord", "from the height at the peak to the height a minute after it"),
        ],
        read: read_slope_after,
    }
}

/// Returns why slopes and areas of this run have no unit, where they have none.
fn without_unit(p: &Prepared) -> Result<(), Outcome> {
    match p.unit {
        Unit::Percent | Unit::NewtonMetre => Ok(()),
        other => Err(Outcome::NotComputable(format!(
            "the unit of the record is {other}: neither % of full scale nor N m"
        ))),
    }
}

fn window_s(variant: &str) -> f64 {
    if variant == "regression-2-min" {
        120.0
    } else {
        60.0
    }
}

fn read_slope_before(p: &Prepared, variant: &'static str) -> Reading {
    let peak = or_outcome!(passed_peak(p));
    or_outcome!(without_unit(p));
    let from = peak.at_s - window_s(variant);
    if from < p.settings.wetting_s {
        return Reading::of(Outcome::NotComputable(format!(
            "the peak at {:.1} min lies too early: the {:.0} min before it reach into the wetting of {:.0} s",
            peak.at_s / 60.0,
            window_s(variant) / 60.0,
            p.settings.wetting_s
        )));
    }
    let item = match variant {
        "regression-2-min" => Item::Before2,
        "chord" => Item::BeforeChord,
        _ => Item::Before1,
    };
    Reading::of(in_printed_unit(p, item, 0.0)).over(from, peak.at_s)
}

fn read_slope_after(p: &Prepared, variant: &'static str) -> Reading {
    let peak = or_outcome!(passed_peak(p));
    or_outcome!(without_unit(p));
    let to = peak.at_s + window_s(variant);
    if to > p.end_s() {
        return Reading::of(too_short(p, to));
    }
    let item = match variant {
        "regression-2-min" => Item::After2,
        "chord" => Item::AfterChord,
        _ => Item::After1,
    };
    Reading::of(in_printed_unit(p, item, 0.0)).over(peak.at_s, to)
}

metric! {
    /// Area under the centre from the start of mixing to the centre peak, in % of full scale times
    /// min, or N m times min.
    AREA_TO_PEAK for Prepared {
        id: "pin-mixing.area_to_peak", symbol: "Ap", name: "area to the peak",
        unit: Unit::PercentMinute, decimals: 1, revision: 1,
        source: ("AACC 54-40", "area below the curve", Derived),
        variants: [], read: read_area_to_peak,
    }
}

metric! {
    /// Area under the centre from the start of mixing to the end of the record, in % of full scale
    /// times min, or N m times min. Compare only records of one length.
    AREA_TO_END for Prepared {
        id: "pin-mixing.area_to_end", symbol: "A", name: "area to the end of the record",
        unit: Unit::PercentMinute, decimals: 1, revision: 1,
        source: ("AACC 54-40", "area below the curve", Derived),
        variants: [], read: read_area_to_end,
    }
}

/// How far an area or work goes.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Reach {
    Peak,
    End,
}

/// Returns item and end of an area; `Err` with a bound's item where the peak was not passed.
fn extent(p: &Prepared, reach: Reach) -> Result<(Item, f64, bool), Outcome> {
    if let Some(reason) = &p.rejected {
        return Err(Outcome::Rejected(reason.clone()));
    }
    if p.facts.saturated_points > 0 {
        return Err(Outcome::NotComputable(
            "the recorder reached its full scale: the area above it is missing".into(),
        ));
    }
    if reach == Reach::End {
        return Ok((Item::AreaToEnd, p.end_s(), true));
    }
    let peak = p.centre_peak.clone().map_err(Outcome::NotComputable)?;
    match peak.state {
        PeakState::Passed => Ok((Item::AreaToPeak, peak.at_s, true)),
        PeakState::NotPassed => Ok((Item::AreaToEnd, p.end_s(), false)),
        PeakState::BeforeStart => passed_peak(p).map(|peak| (Item::AreaToPeak, peak.at_s, true)),
    }
}

fn read_area(p: &Prepared, reach: Reach) -> Reading {
    let (item, end, reached) = or_outcome!(extent(p, reach));
    or_outcome!(without_unit(p));
    let outcome = bounded(in_printed_unit(p, item, 0.0), reached);
    Reading::of(outcome).over(0.0, end)
}

/// Returns the outcome, or its value as a lower bound where the peak was not reached.
fn bounded(outcome: Outcome, reached: bool) -> Outcome {
    match outcome {
        Outcome::Exact(estimate) if !reached => Outcome::Above(estimate.value()),
        other => other,
    }
}

fn read_area_to_peak(p: &Prepared, _: &'static str) -> Reading {
    read_area(p, Reach::Peak)
}

fn read_area_to_end(p: &Prepared, _: &'static str) -> Reading {
    read_area(p, Reach::End)
}

metric! {
    /// Mechanical work at the tool from the start of mixing to the centre peak: the area times the
    /// torque of one percent and the angular speed. Needs a stated torque calibration and a stated
    /// or recorded speed.
    WORK_TO_PEAK for Prepared {
        id: "pin-mixing.work_to_peak", symbol: "Wp", name: "work to the peak",
        unit: Unit::Joule, decimals: 0, revision: 1,
        source: ("integral of torque times angular speed", "work", Derived),
        variants: [], read: read_work_to_peak,
    }
}

metric! {
    /// Mechanical work at the tool from the start of mixing to the end of the record.
    WORK_TO_END for Prepared {
        id: "pin-mixing.work_to_end", symbol: "W", name: "work to the end of the record",
        unit: Unit::Joule, decimals: 0, revision: 1,
        source: ("integral of torque times angular speed", "work", Derived),
        variants: [], read: read_work_to_end,
    }
}

metric! {
    /// Mechanical work to the centre peak per kg of dough: the stated dough mass, else flour and
    /// water dosed.
    SPECIFIC_WORK_TO_PEAK for Prepared {
        id: "pin-mixing.specific_work_to_peak", symbol: "ep", name: "specific work to the peak",
        unit: Unit::KilojoulePerKilogram, decimals: 1, revision: 1,
        source: ("integral of torque times angular speed", "work", Derived),
        variants: [], read: read_specific_work_to_peak,
    }
}

metric! {
    /// Mechanical work to the end of the record per kg of dough.
    SPECIFIC_WORK_TO_END for Prepared {
        id: "pin-mixing.specific_work_to_end", symbol: "e", name: "specific work to the end of the record",
        unit: Unit::KilojoulePerKilogram, decimals: 1, revision: 1,
        source: ("integral of torque times angular speed", "work", Derived),
        variants: [], read: read_specific_work_to_end,
    }
}

/// Returns work in J with its standard uncertainty, its end, and whether the peak was reached.
fn work_j(p: &Prepared, reach: Reach) -> Result<(f64, f64, f64, bool), Outcome> {
    let (item, end, reached) = extent(p, reach)?;
    let torque = p.torque_per_unit_nm().ok_or_else(|| {
        Outcome::NotComputable(
            "no torque calibration stated: state torque_per_percent_nm in the file or run sheet"
                .into(),
        )
    })?;
    let speed = p.stated.speed_per_min.filter(|s| *s > 0.0).ok_or_else(|| {
        Outcome::NotComputable(
            "speed neither recorded nor stated: state speed_per_min in the file or run sheet"
                .into(),
        )
    })?;
    let area = p
        .value(item)
        .ok_or_else(|| Outcome::NotComputable("the record does not show it".into()))?;
    // Area in unit × min; 60 s a minute, 2π rad a turn, 1/60 min a second.
    let per_area = torque * std::f64::consts::TAU * speed;
    let calibrated = if p.unit == Unit::Percent {
        U_TORQUE_SHARE
    } else {
        0.0
    };
    let share = calibrated.hypot(U_SPEED_PER_MIN / speed);
    let u = (p.u_noise(item) * per_area).hypot(area * per_area * share);
    Ok((area * per_area, u, end, reached))
}

fn read_work(p: &Prepared, reach: Reach) -> Reading {
    let (work, u, end, reached) = or_outcome!(work_j(p, reach));
    Reading::of(bounded(Outcome::exact(work, u), reached)).over(0.0, end)
}

fn read_specific_work(p: &Prepared, reach: Reach) -> Reading {
    let (work, u, end, reached) = or_outcome!(work_j(p, reach));
    let c = &p.conditions;
    let dosed = c
        .flour_g
        .zip(c.water_ml)
        .map(|(flour, water)| flour + water);
    let Some(dough_g) = c.dough_g.or(dosed).filter(|mass| *mass > 0.0) else {
        return Reading::of(Outcome::NotComputable(
            "dough mass not stated, nor flour and water from which it follows".into(),
        ));
    };
    // J/g are kJ/kg.
    let specific = work / dough_g;
    let u = (u / dough_g).hypot(specific * U_DOUGH_G / dough_g);
    Reading::of(bounded(Outcome::exact(specific, u), reached)).over(0.0, end)
}

fn read_work_to_peak(p: &Prepared, _: &'static str) -> Reading {
    read_work(p, Reach::Peak)
}

fn read_work_to_end(p: &Prepared, _: &'static str) -> Reading {
    read_work(p, Reach::End)
}

fn read_specific_work_to_peak(p: &Prepared, _: &'static str) -> Reading {
    read_specific_work(p, Reach::Peak)
}

fn read_specific_work_to_end(p: &Prepared, _: &'static str) -> Reading {
    read_specific_work(p, Reach::End)
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] = &[
    &SLOPE_BEFORE_PEAK,
    &SLOPE_AFTER_PEAK,
    &AREA_TO_PEAK,
    &AREA_TO_END,
    &WORK_TO_PEAK,
    &SPECIFIC_WORK_TO_PEAK,
    &WORK_TO_END,
    &SPECIFIC_WORK_TO_END,
];
