//! Analytic curves whose answers are exact, the handbook's check values, and awkward outcomes.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "tests may stop at the first surprise"
)]

use super::water::{Series, hydration_on_14, make_up};
use super::*;
use crate::derive::basis::Basis;
use crate::record::{
    Curve, FieldValue, Metadata, Origin, Outcome, ProfileStamp, RawFile, RowRange,
};
use crate::schema::{Axis, Channel, Digest, Field, RunId, Status, Test, Unit};

/// Corners of a curve: minutes and N m.
const CORNERS: [(f64, f64); 7] = [
    (0.0, 0.0),
    (3.0, 1.1),
    (8.0, 1.0),
    (16.0, 0.5),
    (24.0, 1.8),
    (29.0, 1.4),
    (45.0, 3.0),
];

fn through(corners: &[(f64, f64)], minute: f64) -> f64 {
    let next = corners
        .partition_point(|c| c.0 < minute)
        .clamp(1, corners.len() - 1);
    let ((t0, y0), (t1, y1)) = (corners[next - 1], corners[next]);
    y0 + (y1 - y0) * (minute - t0) / (t1 - t0)
}

/// A run through the corners with a band of ±0.05 N m, supplied as three traces; the dough is at
/// 28 °C plus 1 °C for every minute.
fn traces(corners: &[(f64, f64)], facts: &[(Field, &str)]) -> Run {
    let end = corners.last().unwrap().0;
    let count = (end * 60.0).round() as usize;
    let t: Vec<f64> = (0..=count).map(|i| i as f64).collect();
    let line = |channel, unit, value: &dyn Fn(f64) -> f64| {
        let y = t.iter().map(|s| value(s / 60.0)).collect();
        Curve::new(channel, Axis::Time, unit, t.clone(), y).unwrap()
    };
    let torque = |channel, offset: f64| {
        line(channel, Unit::NewtonMetre, &move |m| {
            through(corners, m) + offset
        })
    };
    let mut metadata = Metadata::default();
    for (field, text) in facts {
        let value = match text.parse() {
            Ok(number) => FieldValue::Number(number),
            Err(_) => FieldValue::Text((*text).to_owned()),
        };
        metadata.state(*field, value, Origin::Profile);
    }
    Run {
        id: RunId::new("heating").unwrap(),
        test: Test::Heating,
        file: RawFile {
            name: "heating.csv".into(),
            sha256: Digest::of(b"heating"),
            bytes: 7,
        },
        profile: ProfileStamp {
            id: "test".into(),
            sha256: Digest::of(b""),
        },
        selector: String::new(),
        rows: RowRange {
            first: 2,
            last: 2 + count as u64,
        },
        metadata,
        curves: vec![
            torque(Channel::Upper, 0.05),
            torque(Channel::Middle, 0.0),
            torque(Channel::Lower, -0.05),
            line(Channel::Temperature, Unit::Celsius, &|m| 28.0 + m),
        ],
        lines: Vec::new(),
        missing_cells: 0,
    }
}

fn outcome(run: &Run, id: &str, variant: &str) -> Outcome {
    let settings = Settings {
        smoothing_half_width_s: 0.0,
        ..Settings::default()
    };
    let all = derive_with(run, Arc::new(run.conditions()), settings).results;
    let found = all
        .into_iter()
        .find(|r| r.metric.id == format!("heating.{id}") && r.variant == variant);
    found.unwrap_or_else(|| panic!("no {id} {variant}")).outcome
}

#[track_caller]
fn near(run: &Run, id: &str, variant: &str, wanted: f64) {
    let found = outcome(run, id, variant);
    let value = found.value().unwrap_or_else(|| panic!("{id}: {found:?}"));
    assert!(
        (value - wanted).abs() < 1e-6,
        "{id} {variant}: {value}, wanted {wanted}"
    );
}

#[test]
fn dough_make_up_and_levels_agree_with_the_handbook() {
    // HANDBOOK §15, V-H1 (derived): 75 g, H 55 %, M 12.5 -> F14 48.387, F 47.558, W 27.442 g.
    let masses = make_up(55.0, 12.5);
    assert!((masses.flour_14_g - 48.387).abs() < 5e-4);
    assert!((masses.flour_g - 47.558).abs() < 5e-4);
    assert!((masses.water_g - 27.442).abs() < 5e-4);
    // V-H2: C1 1.10 -> stability level 0.979 N m. V-H3: phases 8+15+7+10+5 = 45 min.
    let s = Settings::default();
    assert!((s.stability_share * TARGET_NM - 0.979).abs() < 1e-12);
    let ends = [
        s.constant_end_min,
        s.heating_end_min,
        s.hot_end_min,
        s.cooling_end_min,
        s.end_min,
    ];
    let lengths: Vec<f64> = std::iter::once(ends[0])
        .chain(ends.windows(2).map(|w| w[1] - w[0]))
        .collect();
    for (length, wanted) in lengths.iter().zip([8.0, 15.0, 7.0, 10.0, 5.0]) {
        assert!((length - wanted).abs() < 1e-12, "{lengths:?}");
    }
    assert!((ends[4] - 45.0).abs() < 1e-12);
    let facts = [
        (Field::HydrationPct, "55"),
        (Field::HydrationBasis, "14 %"),
        (Field::FlourMoisturePct, "12.5"),
    ];
    let run = traces(&CORNERS, &facts);
    assert!((outcome(&run, "flour_to_weigh", "").value().unwrap() - 47.558).abs() < 5e-4);
    assert!((outcome(&run, "water_to_weigh", "").value().unwrap() - 27.442).abs() < 5e-4);
    let unstated = traces(&CORNERS, &facts[..1]);
    let found = outcome(&unstated, "flour_to_weigh", "");
    assert!(matches!(&found, Outcome::NotComputable(why) if why.contains("hydration_basis")));
}

#[test]
fn one_dough_has_one_hydration_on_each_basis() {
    // Analytic: V-H1's dough of 47.558 g flour at 12.5 % and 27.442 g water.
    let masses = make_up(55.0, 12.5);
    let as_is = 100.0 * masses.water_g / masses.flour_g;
    assert!((hydration_on_14(as_is, Basis::AsIs, 12.5) - 55.0).abs() < 1e-9);
    let dry = masses.flour_g * 0.875;
    let on_dry = 100.0 * (75.0 - dry) / dry;
    assert!((hydration_on_14(on_dry, Basis::Dry, 12.5) - 55.0).abs() < 1e-9);
    assert!((hydration_on_14(55.0, Basis::Moisture14, 12.5) - 55.0).abs() < 1e-12);
}

#[test]
fn straight_lines_are_read_exactly() {
    // Analytic: definitions of HANDBOOK §3 on six straight lines.
    let run = traces(&CORNERS, &[]);
    for (id, height, minute) in [
        (1, 1.1, 3.0),
        (2, 0.5, 16.0),
        (3, 1.8, 24.0),
        (4, 1.4, 29.0),
        (5, 3.0, 45.0),
    ] {
        near(&run, &format!("c{id}"), "", height);
        near(&run, &format!("t{id}"), "", minute);
        near(&run, &format!("d{id}"), "", 28.0 + minute);
    }
    near(&run, "cs", "", 1.0);
    near(&run, "amplitude", "", 0.1);
    // 0.89 × 1.1 = 0.979: reached at 2.67 min, left 0.021/0.0625 min after 8 min.
    near(&run, "stability", "", 8.0 + 0.021 / 0.0625 - 2.67);
    for variant in ["regression", "chord", "max-derivative"] {
        near(&run, "alpha", variant, -0.0625);
        near(&run, "beta", variant, 0.1625);
        near(&run, "gamma", variant, -0.08);
    }
    near(&run, "c1_minus_c2", "", 0.6);
    near(&run, "c3_minus_c2", "", 1.3);
    near(&run, "c3_minus_c4", "", 0.4);
    near(&run, "c5_minus_c4", "", 1.6);
}

#[test]
fn the_three_readings_of_a_bent_slope_differ() {
    let mut bent = CORNERS.to_vec();
    bent.insert(3, (10.0, 0.6));
    let run = traces(&bent, &[]);
    near(&run, "alpha", "chord", -0.0625);
    near(&run, "alpha", "max-derivative", -0.2);
    // scipy 1.17.1: linregress of the same 385 points from 8.8 to 15.2 min.
    near(&run, "alpha", "regression", -0.033_721_163);
}

#[test]
fn no_minimum_after_c3_leaves_c4_unreached_and_gamma_not_computable() {
    let stiff = [
        (0.0, 0.0),
        (3.0, 1.1),
        (8.0, 1.0),
        (16.0, 0.5),
        (30.0, 1.9),
        (45.0, 3.0),
    ];
    let run = traces(&stiff, &[]);
    near(&run, "c3", "", 1.9);
    for id in ["c4", "t4", "d4"] {
        assert_eq!(outcome(&run, id, "").status(), Status::NotReached, "{id}");
    }
    for id in ["gamma", "c3_minus_c4", "c5_minus_c4"] {
        let variant = if id == "gamma" { "chord" } else { "" };
        let found = outcome(&run, id, variant);
        assert!(
            matches!(&found, Outcome::NotComputable(why) if why.contains("C4")),
            "{id}: {found:?}"
        );
    }
    near(&run, "c3_minus_c2", "", 1.4);
}

#[test]
fn much_amylase_does_not_move_c2_behind_c3() {
    let weak = [
        (0.0, 0.0),
        (3.0, 1.1),
        (8.0, 1.0),
        (16.0, 0.5),
        (22.0, 0.9),
        (30.0, 0.3),
        (45.0, 0.6),
    ];
    let run = traces(&weak, &[]);
    near(&run, "c2", "", 0.5);
    near(&run, "c3", "", 0.9);
    near(&run, "c4", "", 0.3);
    near(&run, "t4", "", 30.0);
}

#[test]
fn what_the_record_does_not_show_has_a_reason() {
    let undeveloped = traces(
        &[
            (0.0, 0.0),
            (9.0, 1.2),
            (16.0, 0.5),
            (24.0, 1.8),
            (45.0, 2.0),
        ],
        &[],
    );
    assert!(matches!(outcome(&undeveloped, "c1", ""), Outcome::Above(b) if b > 1.0));
    assert!(matches!(outcome(&undeveloped, "t1", ""), Outcome::Above(b) if (b - 8.0).abs() < 1e-9));
    for id in ["stability", "amplitude", "d1"] {
        assert_eq!(
            outcome(&undeveloped, id, "").status(),
            Status::NotComputable,
            "{id}"
        );
    }
    let dead = traces(&[(0.0, 0.0), (3.0, 1.1), (45.0, 0.2)], &[]);
    let found = outcome(&dead, "c3", "");
    assert!(matches!(&found, Outcome::NotReached(why) if why.contains("no gelatinisation")));
    let short = traces(
        &[(0.0, 0.0), (3.0, 1.1), (8.0, 1.0), (16.0, 0.5), (20.0, 0.9)],
        &[],
    );
    near(&short, "c1", "", 1.1);
    for id in ["c2", "c5", "c1_minus_c2"] {
        let found = outcome(&short, id, "");
        assert!(
            matches!(&found, Outcome::NotComputable(why) if why.starts_with("record too short")),
            "{id}"
        );
    }
    // A record that ends where the torque still stands above the level bounds the stability.
    let standing = traces(&[(0.0, 0.0), (3.0, 1.1), (10.0, 1.08)], &[]);
    assert!(
        matches!(outcome(&standing, "stability", ""), Outcome::Above(b) if (b - 7.33).abs() < 0.01)
    );
    let mut cold = traces(&CORNERS, &[]);
    cold.curves.retain(|c| c.channel() != Channel::Temperature);
    let found = outcome(&cold, "d2", "");
    assert!(matches!(&found, Outcome::NotComputable(why) if why.contains("no dough temperature")));
    let mut percent = traces(&CORNERS, &[]);
    let (x, y) = (
        percent.curves[1].x().to_vec(),
        percent.curves[1].y().to_vec(),
    );
    percent.curves = vec![Curve::new(Channel::Signal, Axis::Time, Unit::Percent, x, y).unwrap()];
    assert_eq!(outcome(&percent, "c1", "").status(), Status::Rejected);
}

#[test]
fn odd_records_have_an_outcome_for_every_metric() {
    let mut run = traces(&CORNERS, &[]);
    for points in [
        vec![(0.0, 1.0)],
        vec![(0.0, 1.0), (1.0, 2.0)],
        vec![(5.0, 3.0), (5.0, 3.0)],
    ] {
        let (x, y) = points.into_iter().unzip();
        run.curves =
            vec![Curve::new(Channel::Signal, Axis::Time, Unit::NewtonMetre, x, y).unwrap()];
        let all = derive(&run, Arc::new(run.conditions())).results;
        let readings: usize = metrics().iter().map(|m| m.card.variants.len().max(1)).sum();
        assert_eq!(all.len(), readings);
        assert!(all.iter().all(|r| r.outcome.value().is_none()), "{all:#?}");
    }
}

fn series(trials: &[(f64, f64)]) -> Series {
    let mut series = Series {
        moisture_pct: 12.5,
        ..Series::default()
    };
    for (hydration, c1) in trials {
        series.add(*hydration, *c1, 0.002);
    }
    series
}

#[test]
fn the_absorption_lies_on_the_line_between_the_bracketing_runs() {
    // Analytic: 1.20 at 56 % and 1.04 at 60 %: 1.10 is 0.10/0.16 of the way, 58.5 %.
    let bracket = series(&[(60.0, 1.04), (56.0, 1.20), (52.0, 1.40)])
        .bracket()
        .unwrap();
    assert!((bracket.hydration_at(TARGET_NM) - 58.5).abs() < 1e-9);
    assert!(bracket.beyond_nm.abs() < 1e-12);
    // Runs at one hydration are averaged: 1.06 and 1.02 at 60 % are 1.04.
    let averaged = series(&[(60.0, 1.06), (56.0, 1.20), (60.0, 1.02)])
        .bracket()
        .unwrap();
    assert!((averaged.hydration_at(TARGET_NM) - 58.5).abs() < 1e-9);
    // Moisture 0.1 % moves the hydration by (100 + H)/(100 − M) × 0.1 = 0.181; the torque's
    // calibration of 0.58 % by 1.1 × 25 × 0.0058 = 0.159 (derived, as in V-GUM).
    let u = bracket.u_hydration(12.5);
    assert!((0.24..0.29).contains(&u), "{u}");
}

#[test]
fn no_more_than_a_tenth_of_a_newton_metre_is_extrapolated() {
    // The line of 1.30 at 54 % and 1.18 at 57 % comes to 1.10 at 59 %, 0.08 N m on.
    let near = series(&[(54.0, 1.30), (57.0, 1.18)]).bracket().unwrap();
    assert!((near.beyond_nm - 0.08).abs() < 1e-12);
    assert!((near.hydration_at(TARGET_NM) - 59.0).abs() < 1e-9);
    let far = series(&[(54.0, 1.34), (57.0, 1.21)]).bracket();
    assert!(far.is_err_and(|why| why.contains("1.210 N m") && why.contains("0.110 N m")));
    let low = series(&[(60.0, 0.99), (62.0, 0.92)]).bracket();
    assert!(low.is_err_and(|why| why.contains("0.990 N m")));
    let one = series(&[(58.0, 1.09)]).bracket();
    assert!(one.is_err_and(|why| why.contains("one hydration only")));
    let odd = series(&[(56.0, 1.05), (58.0, 1.15)]).bracket();
    assert!(odd.is_err_and(|why| why.contains("more water did not give less torque")));
}
