//! The five points of the curve, their times and dough temperatures, and their differences.

use super::items::{Item, Point};
use super::prepare::Prepared;
use super::settings::U_DOUGH_C;
use crate::derive::{Metric, Reading, clock, metric, or_outcome};
use crate::numerics::value_at;
use crate::record::{Estimate, Outcome};
use crate::schema::Unit;

/// Returns why nothing may be read at all, if nothing may.
pub(super) fn readable(p: &Prepared) -> Result<(), Outcome> {
    match &p.rejected {
        Some(reason) => Err(Outcome::Rejected(reason.clone())),
        None => Ok(()),
    }
}

/// Returns the outcome of a number read later than the record goes.
pub(super) fn too_short(p: &Prepared, needed_min: f64) -> Outcome {
    Outcome::NotComputable(format!(
        "record too short: it has {:.1} min, {needed_min:.1} min are needed",
        p.end_s() / 60.0
    ))
}

/// Returns time (s) and height of a point that the record shows, or what stands for them.
pub(super) fn shown(p: &Prepared, point: Point) -> Result<(f64, f64), Outcome> {
    readable(p)?;
    let s = &p.settings;
    let needed_min = match point {
        Point::C1 => s.constant_end_min,
        Point::C2 | Point::C3 | Point::C4 => s.hot_end_min,
        Point::C5 => s.end_min - s.end_slack_s / 60.0,
    };
    if p.end_s() < 60.0 * needed_min {
        return Err(too_short(p, needed_min));
    }
    if p.facts.saturated_points > 0 {
        return Err(Outcome::NotComputable(format!(
            "{} readings at the recorder's full scale: the curve is cut off",
            p.facts.saturated_points
        )));
    }
    let found = p.value(Item::Time(point)).zip(p.value(Item::Height(point)));
    let (at_s, height) = found.ok_or_else(|| missing(p, point))?;
    if point == Point::C4 {
        fell_after_third(p)?;
    }
    Ok((at_s, height))
}

/// Returns why a point is not on the curve.
fn missing(p: &Prepared, point: Point) -> Outcome {
    match point {
        Point::C4 if p.value(Item::Time(Point::C3)).is_some() => Outcome::NotReached(
            "C3 lies at the end of the hot phase: no minimum follows it before the cooling (very \
             low amylase activity)"
                .into(),
        ),
        Point::C1 | Point::C5 => Outcome::NotComputable("the record has no reading there".into()),
        _ => Outcome::NotReached(format!(
            "the torque never rises by {:.2} N m between {:.0} and {:.0} min: there is no gelatinisation to read",
            p.settings.least_change_nm, p.settings.constant_end_min, p.settings.hot_end_min
        )),
    }
}

/// Returns an error where the curve does not fall after C3 by more than its own uncertainty.
fn fell_after_third(p: &Prepared) -> Result<(), Outcome> {
    let fall = Item::Difference(Point::C3, Point::C4);
    match p.value(fall) {
        Some(value) if value > 2.0 * p.u_noise(fall) => Ok(()),
        _ => Err(Outcome::NotReached(
            "the torque does not fall after C3 by more than its uncertainty: no minimum can be told"
                .into(),
        )),
    }
}

/// Returns the outcome of a height-like item: noise and the step of the record.
pub(super) fn level(p: &Prepared, item: Item) -> Outcome {
    let factor = match item {
        Item::Height(Point::C5) | Item::Difference(Point::C5, _) => p.end_factor,
        _ => 1.0,
    };
    match p.value(item) {
        Some(value) => Outcome::exact(value, (factor * p.u_noise(item)).hypot(p.u_reading)),
        None => Outcome::NotComputable("the record does not show it".into()),
    }
}

fn around(p: &Prepared, reading: Reading, at_s: f64) -> Reading {
    let half = p.settings.smoothing_half_width_s;
    reading.over(at_s - half, at_s + half)
}

fn read_height(p: &Prepared, point: Point) -> Reading {
    let (at_s, height) = or_outcome!(shown(p, point));
    let outcome = match level(p, Item::Height(point)) {
        Outcome::Exact(_) if point == Point::C1 && p.rising_at_constant_end => {
            Outcome::Above(height)
        }
        other => other,
    };
    around(p, Reading::of(outcome), at_s)
}

fn read_time(p: &Prepared, point: Point) -> Reading {
    let (at_s, _) = or_outcome!(shown(p, point));
    if point == Point::C1 && p.rising_at_constant_end {
        let end = p.settings.constant_end_min;
        return Reading::of(Outcome::Above(end)).over(0.0, 60.0 * end);
    }
    let half = 2.0 * p.u_noise(Item::Time(point));
    let outcome = clock::time_outcome(p.u_time_s(), at_s, (at_s - half, at_s + half));
    around(p, Reading::of(outcome), at_s)
}

fn read_temperature(p: &Prepared, point: Point) -> Reading {
    let (at_s, _) = or_outcome!(shown(p, point));
    if point == Point::C1 && p.rising_at_constant_end {
        return Reading::of(Outcome::NotComputable(
            "C1 is not passed within the constant phase".into(),
        ));
    }
    let Some(dough) = &p.dough else {
        let hint = match &p.block {
            Some(_) => "; the block's temperature is not the dough's",
            None => "",
        };
        return Reading::of(Outcome::NotComputable(format!(
            "the record has no dough temperature{hint}"
        )));
    };
    let Some(value) = value_at(&dough.t, &dough.c, at_s) else {
        return Reading::of(Outcome::NotComputable(format!(
            "the dough temperature is not recorded at {:.1} min",
            at_s / 60.0
        )));
    };
    let u_time = p.u_noise(Item::Time(point)).hypot(p.u_time_s());
    let near = |by: f64| value_at(&dough.t, &dough.c, at_s + by);
    let moved = match (near(-u_time), near(u_time)) {
        (Some(a), Some(b)) => 0.5 * (b - a).abs(),
        _ => 0.0,
    };
    around(
        p,
        Reading::of(Outcome::exact(value, U_DOUGH_C.hypot(moved))),
        at_s,
    )
}

macro_rules! point_metrics {
    ($($(#[doc = $doc:literal])+ $height:ident $time:ident $temperature:ident: $point:ident,
        $h_id:literal $h_symbol:literal $h_name:literal,
        $t_id:literal $t_symbol:literal $t_name:literal $t_doc:literal,
        $d_id:literal $d_symbol:literal $d_name:literal $d_doc:literal;)+) => {$(
        metric! {
            $(#[doc = $doc])+
            $height for Prepared {
                id: $h_id, symbol: $h_symbol, name: $h_name,
                unit: Unit::NewtonMetre, decimals: 3, revision: 1,
                source: ("ISO 17718", "points of the curve", FromMemoryHigh),
                variants: [], read: heights::$point,
            }
        }

        metric! {
            #[doc = $t_doc]
            $time for Prepared {
                id: $t_id, symbol: $t_symbol, name: $t_name,
                unit: Unit::Minute, decimals: 2, revision: 1,
                source: ("ISO 17718", "points of the curve", FromMemoryHigh),
                variants: [], read: times::$point,
            }
        }

        metric! {
            #[doc = $d_doc]
            $temperature for Prepared {
                id: $d_id, symbol: $d_symbol, name: $d_name,
                unit: Unit::Celsius, decimals: 1, revision: 1,
                source: ("ISO 17718", "points of the curve", FromMemoryHigh),
                variants: [], read: temperatures::$point,
            }
        }
    )+};
}

macro_rules! readers {
    ($module:ident, $read:ident) => {
        mod $module {
            use super::{Point, Prepared, Reading};

            pub(super) fn first(p: &Prepared, _: &'static str) -> Reading {
                super::$read(p, Point::C1)
            }

            pub(super) fn second(p: &Prepared, _: &'static str) -> Reading {
                super::$read(p, Point::C2)
            }

            pub(super) fn third(p: &Prepared, _: &'static str) -> Reading {
                super::$read(p, Point::C3)
            }

            pub(super) fn fourth(p: &Prepared, _: &'static str) -> Reading {
                super::$read(p, Point::C4)
            }

            pub(super) fn fifth(p: &Prepared, _: &'static str) -> Reading {
                super::$read(p, Point::C5)
            }
        }
    };
}

readers!(heights, read_height);
readers!(times, read_time);
readers!(temperatures, read_temperature);

point_metrics! {
    /// Greatest torque of the smoothed centre in the first 8 min, at 30 °C. Where the centre still
    /// rises at their end, the dough is not developed and C1 is only known to be larger.
    C1 T1 D1: first,
        "heating.c1" "C1" "first maximum",
        "heating.t1" "T1" "time of C1" "Time from the start of mixing to C1: the greatest torque of the 30 °C phase.",
        "heating.d1" "D1" "dough temperature at C1"
        "Temperature of the dough, not of the block, at the time of C1; the thermometer is taken to be right within 0.5 °C.";
    /// Least torque between the end of the 30 °C phase and C3: where the greatest rise of the
    /// heating and hot phases begins. A deeper fall after C3 is not taken for it.
    C2 T2 D2: second,
        "heating.c2" "C2" "minimum before gelatinisation",
        "heating.t2" "T2" "time of C2" "Time from the start of mixing to C2: the least torque before the gelatinisation.",
        "heating.d2" "D2" "dough temperature at C2"
        "Temperature of the dough, not of the block, at the time of C2; the thermometer is taken to be right within 0.5 °C.";
    /// Greatest torque of the heating and hot phases after C2: where their greatest rise ends.
    C3 T3 D3: third,
        "heating.c3" "C3" "gelatinisation maximum",
        "heating.t3" "T3" "time of C3" "Time from the start of mixing to C3: the greatest torque of the gelatinisation.",
        "heating.d3" "D3" "dough temperature at C3"
        "Temperature of the dough, not of the block, at the time of C3; the thermometer is taken to be right within 0.5 °C.";
    /// Least torque between C3 and the start of the cooling. A C3 in the last 20 s of the hot
    /// phase, or a fall after it that its own uncertainty hides, has no C4: it was not reached.
    C4 T4 D4: fourth,
        "heating.c4" "C4" "minimum before the cooling",
        "heating.t4" "T4" "time of C4" "Time from the start of mixing to C4: the least torque between C3 and the start of the cooling.",
        "heating.d4" "D4" "dough temperature at C4"
        "Temperature of the dough, not of the block, at the time of C4; the thermometer is taken to be right within 0.5 °C.";
    /// Torque at the end of the 50 °C phase, 45 min after the start.
    C5 T5 D5: fifth,
        "heating.c5" "C5" "torque at the end of the test",
        "heating.t5" "T5" "time of C5" "Time from the start of mixing to C5: the end of the 50 °C phase, at which C5 is read.",
        "heating.d5" "D5" "dough temperature at C5"
        "Temperature of the dough, not of the block, at the time of C5; the thermometer is taken to be right within 0.5 °C.";
}

metric! {
    /// Torque of the smoothed centre at the end of the 30 °C phase, 8 min after the start.
    CS for Prepared {
        id: "heating.cs", symbol: "CS", name: "torque at the end of the 30 °C phase",
        unit: Unit::NewtonMetre, decimals: 3, revision: 1,
        source: ("ISO 17718", "torque at 8 min", FromMemoryMedium),
        variants: [], read: read_cs,
    }
}

fn read_cs(p: &Prepared, _: &'static str) -> Reading {
    // C1 needs the same stretch of the record.
    or_outcome!(shown(p, Point::C1));
    around(
        p,
        Reading::of(level(p, Item::Cs)),
        60.0 * p.settings.constant_end_min,
    )
}

metric! {
    /// C1 minus C2: torque that the proteins lose while the dough is kneaded and heated.
    WEAKENING for Prepared {
        id: "heating.c1_minus_c2", symbol: "C1−C2", name: "weakening, C1 − C2",
        unit: Unit::NewtonMetre, decimals: 3, revision: 1,
        source: ("", "", CommonPractice),
        variants: [], read: read_weakening,
    }
}

metric! {
    /// C3 minus C2: torque that the starch gains while it gelatinises.
    GELATINISATION for Prepared {
        id: "heating.c3_minus_c2", symbol: "C3−C2", name: "gelatinisation, C3 − C2",
        unit: Unit::NewtonMetre, decimals: 3, revision: 1,
        source: ("", "", CommonPractice),
        variants: [], read: read_gelatinisation,
    }
}

metric! {
    /// C3 minus C4: torque that the gel loses while it is kept hot; needs a C4.
    BREAKDOWN for Prepared {
        id: "heating.c3_minus_c4", symbol: "C3−C4", name: "breakdown, C3 − C4",
        unit: Unit::NewtonMetre, decimals: 3, revision: 1,
        source: ("", "", CommonPractice),
        variants: [], read: read_breakdown,
    }
}

metric! {
    /// C5 minus C4: torque that the starch gains while it cools, its setback; needs a C4.
    SETBACK for Prepared {
        id: "heating.c5_minus_c4", symbol: "C5−C4", name: "setback, C5 − C4",
        unit: Unit::NewtonMetre, decimals: 3, revision: 1,
        source: ("", "", CommonPractice),
        variants: [], read: read_setback,
    }
}

fn read_weakening(p: &Prepared, _: &'static str) -> Reading {
    read_difference(p, Point::C1, Point::C2)
}

fn read_gelatinisation(p: &Prepared, _: &'static str) -> Reading {
    read_difference(p, Point::C3, Point::C2)
}

fn read_breakdown(p: &Prepared, _: &'static str) -> Reading {
    read_difference(p, Point::C3, Point::C4)
}

fn read_setback(p: &Prepared, _: &'static str) -> Reading {
    read_difference(p, Point::C5, Point::C4)
}

/// Reads first height minus second height; a difference of points that were not reached is not
/// computable.
fn read_difference(p: &Prepared, a: Point, b: Point) -> Reading {
    let lacking = |point, outcome: Outcome| match outcome {
        Outcome::NotReached(reason) => {
            Outcome::NotComputable(format!("{}: {reason}", Point::name(point)))
        }
        other => other,
    };
    let (from, _) = or_outcome!(shown(p, a).map_err(|outcome| lacking(a, outcome)));
    let (to, _) = or_outcome!(shown(p, b).map_err(|outcome| lacking(b, outcome)));
    let outcome = level(p, Item::Difference(a, b));
    let outcome = match outcome {
        Outcome::Exact(estimate) if a == Point::C1 && p.rising_at_constant_end => {
            Outcome::Above(Estimate::value(&estimate))
        }
        other => other,
    };
    let half = p.settings.smoothing_half_width_s;
    Reading::of(outcome).over(from.min(to) - half, from.max(to) + half)
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] = &[
    &C1,
    &C2,
    &C3,
    &C4,
    &C5,
    &CS,
    &T1,
    &T2,
    &T3,
    &T4,
    &T5,
    &D1,
    &D2,
    &D3,
    &D4,
    &D5,
    &WEAKENING,
    &GELATINISATION,
    &BREAKDOWN,
    &SETBACK,
];
