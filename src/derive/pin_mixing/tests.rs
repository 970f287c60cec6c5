//! Analytic curves whose answers are exact, and the outcomes of awkward ones.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "tests may stop at the first surprise"
)]

use super::*;
use crate::record::{
    Curve, FieldValue, Metadata, Origin, Outcome, ProfileStamp, RawFile, RowRange,
};
use crate::schema::{Axis, Channel, Digest, Field, RunId, Status, Test};

/// A run over the given centre with a band of ±8 %, supplied as three traces.
fn traces(end_min: f64, centre: impl Fn(f64) -> f64, facts: &[(Field, &str)]) -> Run {
    let count = (end_min * 60.0 / 0.5).round() as usize;
    let t: Vec<f64> = (0..=count).map(|i| i as f64 * 0.5).collect();
    let curve = |channel, offset: f64| {
        let y = t.iter().map(|s| centre(s / 60.0) + offset).collect();
        Curve::new(channel, Axis::Time, Unit::Percent, t.clone(), y).unwrap()
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
        id: RunId::new("pin").unwrap(),
        test: Test::PinMixing,
        file: RawFile {
            name: "pin.csv".into(),
            sha256: Digest::of(b"pin"),
            bytes: 3,
        },
        profile: ProfileStamp {
            id: "test".into(),
            sha256: Digest::of(b""),
        },
        selector: String::new(),
        rows: RowRange {
            first: 11,
            last: 11 + count as u64,
        },
        metadata,
        curves: vec![
            curve(Channel::Upper, 8.0),
            curve(Channel::Middle, 0.0),
            curve(Channel::Lower, -8.0),
        ],
        lines: Vec::new(),
        missing_cells: 0,
    }
}

/// Rises to 50 % in 4 min, then falls by 5 % a minute.
fn roof(minute: f64) -> f64 {
    if minute < 4.0 {
        12.5 * minute
    } else {
        50.0 - 5.0 * (minute - 4.0)
    }
}

fn unsmoothed() -> Settings {
    Settings {
        smoothing_half_width_s: 0.0,
        ..Settings::default()
    }
}

fn result(run: &Run, id: &str, variant: &str) -> crate::record::MetricResult {
    let all = derive_with(run, Arc::new(run.conditions()), unsmoothed()).results;
    let found = all
        .into_iter()
        .find(|r| r.metric.id == format!("pin-mixing.{id}") && r.variant == variant);
    found.unwrap_or_else(|| panic!("no {id} {variant}"))
}

fn outcome(run: &Run, id: &str, variant: &str) -> Outcome {
    result(run, id, variant).outcome
}

#[track_caller]
fn near(run: &Run, id: &str, variant: &str, wanted: f64) {
    let found = outcome(run, id, variant);
    let value = found.value().unwrap_or_else(|| panic!("{id}: {found:?}"));
    assert!(
        (value - wanted).abs() < 1e-6 * wanted.abs().max(1.0),
        "{id} {variant}: {value}, wanted {wanted}"
    );
}

#[test]
fn a_roof_is_read_exactly() {
    // Analytic: definitions of HANDBOOK §2 on two straight lines.
    let run = traces(10.0, roof, &[]);
    near(&run, "centre_peak_time", "", 4.0);
    near(&run, "centre_peak_height", "", 50.0);
    near(&run, "centre_peak_width", "", 16.0);
    near(&run, "edge_peak_time", "", 4.0);
    near(&run, "edge_peak_height", "", 58.0);
    near(&run, "edge_peak_width", "", 16.0);
    for variant in ["regression-1-min", "regression-2-min", "chord"] {
        near(&run, "slope_before_peak", variant, 12.5);
        near(&run, "slope_after_peak", variant, -5.0);
    }
    near(&run, "width_8min", "8-min", 16.0);
    near(&run, "width_8min", "peak-plus-2-min", 16.0);
    near(&run, "area_to_peak", "", 100.0);
    near(&run, "area_to_end", "", 310.0);
    for id in ["work_to_peak", "specific_work_to_end"] {
        let found = outcome(&run, id, "");
        assert!(
            matches!(&found, Outcome::NotComputable(why) if why.contains("torque_per_percent_nm"))
        );
    }
    assert_eq!(result(&run, "centre_peak_height", "").unit, Unit::Percent);
}

#[test]
fn a_calibrated_run_is_read_in_newton_metres_and_joules() {
    // Analytic: 0.01 N m/% and 88/min; W = 100 % min × 0.01 × 2π × 88 = 552.92 J.
    let facts = [
        (Field::TorquePerPercentNm, "0.01"),
        (Field::SpeedPerMin, "88"),
        (Field::DoughG, "16"),
    ];
    let run = traces(10.0, roof, &facts);
    near(&run, "centre_peak_height", "", 0.5);
    near(&run, "slope_after_peak", "chord", -0.05);
    near(&run, "area_to_end", "", 3.1);
    let joule = std::f64::consts::TAU * 88.0;
    near(&run, "work_to_peak", "", joule);
    near(&run, "work_to_end", "", 3.1 * joule);
    near(&run, "specific_work_to_peak", "", joule / 16.0);
    for (id, variant, unit) in [
        ("centre_peak_width", "", Unit::NewtonMetre),
        ("slope_before_peak", "chord", Unit::NewtonMetrePerMinute),
        ("area_to_peak", "", Unit::NewtonMetreMinute),
        ("work_to_peak", "", Unit::Joule),
        ("absorption_hint", "", Unit::MillilitrePer100Gram),
    ] {
        assert_eq!(result(&run, id, variant).unit, unit, "{id}");
    }
    // 1 % rectangular for the calibration, 0.5/min for the speed: u/W = 0.00664.
    let estimate = outcome(&run, "work_to_end", "").estimate().unwrap();
    let share = estimate.std_uncertainty() / estimate.value();
    assert!((share - 0.006_64).abs() < 1e-4, "{share}");
    let unstated = traces(10.0, roof, &facts[..1]);
    let found = outcome(&unstated, "work_to_peak", "");
    assert!(matches!(&found, Outcome::NotComputable(why) if why.contains("speed_per_min")));
}

#[test]
fn a_curve_that_still_rises_gives_bounds_and_reasons() {
    let run = traces(3.9, roof, &[]);
    assert!(
        matches!(outcome(&run, "centre_peak_time", ""), Outcome::Above(b) if (b - 3.9).abs() < 1e-9)
    );
    assert!(
        matches!(outcome(&run, "centre_peak_height", ""), Outcome::Above(b) if (b - 48.75).abs() < 1e-9)
    );
    assert!(matches!(
        outcome(&run, "area_to_peak", ""),
        Outcome::Above(_)
    ));
    assert_eq!(outcome(&run, "area_to_end", "").status(), Status::Exact);
    for (id, variant) in [
        ("centre_peak_width", ""),
        ("slope_before_peak", "chord"),
        ("slope_after_peak", "chord"),
        ("width_8min", "peak-plus-2-min"),
    ] {
        let found = outcome(&run, id, variant);
        assert!(
            matches!(&found, Outcome::NotComputable(why) if why.contains("not passed")),
            "{id}"
        );
    }
    // A plateau that never falls by 1 % is no passed peak either.
    let flat = traces(9.0, |m| 12.5 * m.min(4.0), &[]);
    assert_eq!(
        outcome(&flat, "centre_peak_time", "").status(),
        Status::Above
    );
    let falling = traces(9.0, |m| 50.0 - 3.0 * m, &[]);
    assert_eq!(
        outcome(&falling, "centre_peak_time", "").status(),
        Status::Below
    );
}

#[test]
fn a_record_too_short_or_a_peak_too_early_says_so() {
    let short = traces(4.8, roof, &[]);
    for (id, variant) in [
        ("width_8min", "8-min"),
        ("width_8min", "peak-plus-2-min"),
        ("slope_after_peak", "regression-1-min"),
    ] {
        let found = outcome(&short, id, variant);
        assert!(
            matches!(&found, Outcome::NotComputable(why) if why.starts_with("record too short")),
            "{id}: {found:?}"
        );
    }
    let early = traces(
        9.0,
        |m| {
            if m < 1.2 {
                40.0 * m
            } else {
                48.0 - 4.0 * (m - 1.2)
            }
        },
        &[],
    );
    let found = outcome(&early, "slope_before_peak", "regression-1-min");
    assert!(
        matches!(&found, Outcome::NotComputable(why) if why.contains("wetting")),
        "{found:?}"
    );
    near(&early, "slope_after_peak", "regression-1-min", -4.0);
}

#[test]
fn readings_at_full_scale_hide_the_peak() {
    let run = traces(10.0, |m| (2.2 * roof(m)).min(100.0), &[]);
    for id in ["centre_peak_time", "edge_peak_height", "area_to_end"] {
        let found = outcome(&run, id, "");
        assert!(
            matches!(&found, Outcome::NotComputable(why) if why.contains("full scale")),
            "{id}"
        );
    }
}

#[test]
fn without_contours_there_is_a_centre_and_no_band() {
    let mut run = traces(10.0, roof, &[]);
    run.curves
        .retain(|curve| curve.channel() == Channel::Middle);
    assert_eq!(
        outcome(&run, "centre_peak_time", "").status(),
        Status::Exact
    );
    for id in ["centre_peak_width", "edge_peak_time", "edge_peak_height"] {
        assert_eq!(
            outcome(&run, id, "").status(),
            Status::NotComputable,
            "{id}"
        );
    }
}

#[test]
fn the_hint_needs_protein_on_the_14_percent_basis() {
    // HANDBOOK §2 (Finney and Shogren 1972; from memory): 1.5 × 12.0 + 43.6 = 61.6.
    let stated = |basis: &'static str| {
        let facts = [
            (Field::ProteinPct, "12.0"),
            (Field::ProteinBasis, basis),
            (Field::FlourMoisturePct, "13"),
        ];
        outcome(&traces(10.0, roof, &facts), "absorption_hint", "")
    };
    assert!(
        stated("14 %")
            .value()
            .is_some_and(|v| (v - 61.6).abs() < 1e-9)
    );
    // HANDBOOK §15, V-T6: 12.0 % at 13 % moisture is 11.862 % on the 14 % basis.
    assert!(matches!(stated("as is"), Outcome::NotComputable(why) if why.contains("11.86 %")));
    assert!(matches!(stated("dry"), Outcome::NotComputable(why) if why.contains("10.32 %")));
    assert!(matches!(stated("13.5 %"), Outcome::NotComputable(why) if why.contains("13.5 %")));
    let none = traces(10.0, roof, &[]);
    assert!(matches!(
        outcome(&none, "absorption_hint", ""),
        Outcome::NotComputable(_)
    ));
}

#[test]
fn shifting_and_scaling_move_what_they_should() {
    let plain = traces(10.0, roof, &[]);
    let mut late = plain.clone();
    for curve in &mut late.curves {
        let x = curve.x().iter().map(|x| x + 37.0).collect();
        let y = curve.y().iter().map(|y| 1.5 * y).collect();
        *curve = Curve::new(curve.channel(), curve.axis(), curve.unit(), x, y).unwrap();
    }
    late.metadata.state(
        Field::WaterContactS,
        FieldValue::Number(37.0),
        Origin::Profile,
    );
    for (id, variant, factor) in [
        ("centre_peak_time", "", 1.0),
        ("edge_peak_time", "", 1.0),
        ("centre_peak_height", "", 1.5),
        ("width_8min", "8-min", 1.5),
        ("slope_before_peak", "regression-2-min", 1.5),
        ("area_to_end", "", 1.5),
    ] {
        let before = outcome(&plain, id, variant).value().unwrap();
        near(&late, id, variant, factor * before);
    }
}

#[test]
fn results_name_the_lines_they_were_read_from() {
    let run = traces(10.0, roof, &[]);
    // Point i is on line 11 + i, 0.5 s apart: 4 to 5 min are points 480 to 600.
    let rows = result(&run, "slope_after_peak", "chord").rows.unwrap();
    assert_eq!((rows.first, rows.last), (491, 611));
}

#[test]
fn odd_records_have_an_outcome_for_every_metric() {
    let mut run = traces(10.0, roof, &[]);
    for points in [
        vec![(0.0, 1.0)],
        vec![(0.0, 1.0), (1.0, 2.0)],
        vec![(5.0, 3.0), (5.0, 3.0)],
    ] {
        let (x, y) = points.into_iter().unzip();
        run.curves = vec![Curve::new(Channel::Signal, Axis::Time, Unit::Percent, x, y).unwrap()];
        let all = derive(&run, Arc::new(run.conditions())).results;
        let readings: usize = metrics().iter().map(|m| m.card.variants.len().max(1)).sum();
        assert_eq!(all.len(), readings);
        assert!(all.iter().all(|r| r.outcome.value().is_none()), "{all:#?}");
    }
}
