//! Analytic curves whose answers are exact, and the outcomes of awkward ones.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "tests may stop at the first surprise"
)]

use super::*;
use crate::record::{
    Curve, FieldValue, Metadata, MetricResult, Origin, Outcome, ProfileStamp, RawFile, RowRange,
};
use crate::schema::{Axis, Channel, Digest, Field, RunId, Status, Test};

/// Returns a run of the given points, with the facts stated.
fn run_of(points: &[(f64, f64)], axis: Axis, unit: Unit, facts: &[(Field, &str)]) -> Run {
    let mut metadata = Metadata::default();
    for (field, text) in facts {
        let value = match text.parse() {
            Ok(number) => FieldValue::Number(number),
            Err(_) => FieldValue::Text((*text).to_owned()),
        };
        metadata.state(*field, value, Origin::Profile);
    }
    let (x, y) = points.iter().copied().unzip();
    let curve = Curve::new(Channel::Signal, axis, unit, x, y).unwrap();
    Run {
        id: RunId::new("piece").unwrap(),
        test: Test::Extension,
        file: RawFile {
            name: "piece.csv".into(),
            sha256: Digest::of(b"piece"),
            bytes: 5,
        },
        profile: ProfileStamp {
            id: "test".into(),
            sha256: Digest::of(b""),
        },
        selector: String::new(),
        rows: RowRange {
            first: 11,
            last: 10 + points.len() as u64,
        },
        metadata,
        curves: vec![curve],
        lines: Vec::new(),
        missing_cells: 0,
    }
}

fn results(run: &Run) -> Vec<MetricResult> {
    derive(run, Arc::new(run.conditions())).results
}

fn outcome(run: &Run, metric: &str) -> Outcome {
    let found = results(run).into_iter().find(|r| r.metric.id == metric);
    found.unwrap().outcome
}

fn value(run: &Run, metric: &str) -> f64 {
    let outcome = outcome(run, metric);
    outcome
        .value()
        .unwrap_or_else(|| panic!("{metric}: {outcome:?}"))
}

const SCALE: &[(Field, &str)] = &[(Field::EuPerCm, "50"), (Field::Break, "middle")];

/// Samples `force` every `step` mm up to rupture, then lets it fall to 2 EU within 1.5 mm.
fn sampled(force: impl Fn(f64) -> f64, slack: f64, rupture: f64, step: f64) -> Vec<(f64, f64)> {
    let count = ((slack + rupture + 9.0) / step).round() as usize;
    (0..=count)
        .map(|i| {
            let at = i as f64 * step;
            let x = at - slack;
            let y = if x <= 0.0 && slack > 0.0 {
                0.0
            } else if x <= rupture + 1e-9 {
                force(x)
            } else {
                let torn = ((x - rupture) / 1.5).min(1.0);
                force(rupture) + torn * (2.0 - force(rupture))
            };
            (at, y)
        })
        .collect()
}

/// V-E1: 0→400 EU over 0–100 mm, 400→300 EU over 100–150 mm.
fn two_lines(x: f64) -> f64 {
    if x <= 100.0 {
        4.0 * x
    } else {
        400.0 - 2.0 * (x - 100.0)
    }
}

#[test]
fn two_straight_lines_agree_with_the_handbook() {
    // HANDBOOK §15, V-E1 (derived): R50 200, Rm 400, E 150, R50/E 1.333, Rm/E 2.667, 75.0 cm² at
    // 50 EU/cm, 1.0289 J; at any sampling, and however fast the trace falls.
    let mut abrupt: Vec<(f64, f64)> = (0..=150)
        .map(|x| (f64::from(x), two_lines(f64::from(x))))
        .collect();
    abrupt.extend([(151.0, 0.0), (152.0, 0.0)]);
    let curves = [
        abrupt,
        sampled(two_lines, 0.0, 150.0, 0.1),
        sampled(two_lines, 0.0, 150.0, 0.5),
        sampled(two_lines, 4.0, 150.0, 0.5),
        sampled(two_lines, 3.7, 150.0, 0.1),
    ];
    for (number, points) in curves.iter().enumerate() {
        let run = run_of(points, Axis::ChartMm, Unit::Eu, SCALE);
        for (metric, wanted, tolerance) in [
            ("extension.resistance_50mm", 200.0, 1e-6),
            ("extension.maximum_resistance", 400.0, 1e-6),
            ("extension.extensibility", 150.0, 1e-6),
            ("extension.ratio_r50_e", 1.333, 5e-4),
            ("extension.ratio_rm_e", 2.667, 5e-4),
            ("extension.energy_area", 75.0, 1e-6),
            ("extension.energy_work", 1.0289, 5e-5),
        ] {
            let found = value(&run, metric);
            assert!(
                (found - wanted).abs() < tolerance,
                "curve {number}, {metric}: {found}, wanted {wanted}"
            );
        }
    }
}

#[test]
fn a_constant_force_agrees_with_the_handbook() {
    // HANDBOOK §15, V-E2: 300 EU over 150 mm is 1.2347 J; 500 EU are 6.15 N.
    let points = sampled(|_| 300.0, 0.0, 150.0, 0.5);
    let run = run_of(&points, Axis::ChartMm, Unit::Eu, &[]);
    assert!((value(&run, "extension.energy_work") - 1.2347).abs() < 5e-5);
    assert!((value(&run, "extension.extensibility") - 150.0).abs() < 1e-9);
    assert!((500.0 * MILLINEWTON_PER_EU.0 / 1000.0 - 6.15).abs() < 1e-12);
}

#[test]
fn a_power_law_rise_and_a_linear_fall_are_read_to_a_thousandth() {
    for power in [0.5, 0.8, 1.0, 1.3] {
        for step in [0.05, 0.1, 0.2] {
            let (top, peak, rupture, end) = (350.0, 110.0, 145.0, 280.0);
            let force = |x: f64| {
                if x <= peak {
                    top * libm::pow(x.max(0.0) / peak, power)
                } else {
                    top + (end - top) * (x - peak) / (rupture - peak)
                }
            };
            let area = top * peak / (power + 1.0) + 0.5 * (top + end) * (rupture - peak);
            let r50 = top * libm::pow(50.0 / peak, power);
            for slack in [0.0, 6.03] {
                let points = sampled(force, slack, rupture, step);
                let run = run_of(&points, Axis::ChartMm, Unit::Eu, SCALE);
                for (metric, wanted) in [
                    ("extension.resistance_50mm", r50),
                    ("extension.maximum_resistance", top),
                    ("extension.extensibility", rupture),
                    ("extension.energy_area", area / 500.0),
                    ("extension.energy_work", area * 0.0123 * 14.5 / 6.5 / 1000.0),
                    ("extension.ratio_r50_e", r50 / rupture),
                    ("extension.ratio_rm_e", top / rupture),
                ] {
                    let off = value(&run, metric) / wanted - 1.0;
                    // Where slack comes first, contact is known to a sampling step only, and twice
                    // as much for a ratio whose two parts both move.
                    let limit = if slack > 0.0 {
                        0.001_f64.max(2.0 * step / 145.0)
                    } else {
                        0.001
                    };
                    assert!(
                        off.abs() < limit,
                        "{metric}, {power}, {step}, {slack}: {off:.6}"
                    );
                }
            }
        }
    }
}

#[test]
fn a_short_piece_has_no_resistance_at_50_mm() {
    let points = sampled(|x| 5.0 * x, 3.0, 44.0, 0.5);
    let run = run_of(&points, Axis::ChartMm, Unit::Eu, SCALE);
    let r50 = outcome(&run, "extension.resistance_50mm");
    assert!(
        matches!(&r50, Outcome::NotReached(why) if why.contains("44.0 mm")),
        "{r50:?}"
    );
    let ratio = outcome(&run, "extension.ratio_r50_e");
    assert_eq!(ratio.status(), Status::NotComputable);
    assert_eq!(
        outcome(&run, "extension.extensibility").status(),
        Status::Exact
    );
    assert_eq!(
        outcome(&run, "extension.ratio_rm_e").status(),
        Status::Exact
    );
}

#[test]
fn a_slipped_or_clamped_piece_is_rejected_whole() {
    for word in ["slipped", "clamp"] {
        let points = sampled(two_lines, 4.0, 150.0, 0.5);
        let facts = [(Field::EuPerCm, "50"), (Field::Break, word)];
        let run = run_of(&points, Axis::ChartMm, Unit::Eu, &facts);
        for result in results(&run) {
            assert_eq!(
                result.outcome.status(),
                Status::Rejected,
                "{}",
                result.metric.id
            );
        }
        let derived = derive(&run, Arc::new(run.conditions()));
        assert!(derived.facts.rupture_mm.is_some(), "still drawn and judged");
    }
}

#[test]
fn the_chart_area_needs_its_scale_and_a_chart() {
    let points = sampled(two_lines, 4.0, 150.0, 0.5);
    let run = run_of(&points, Axis::ChartMm, Unit::Eu, &[]);
    let area = outcome(&run, "extension.energy_area");
    assert!(matches!(&area, Outcome::NotComputable(why) if why.contains("EU per cm")));
    let run = run_of(&points, Axis::HookTravelMm, Unit::Eu, SCALE);
    let area = outcome(&run, "extension.energy_area");
    assert!(matches!(&area, Outcome::NotComputable(why) if why.contains("hook travel")));
    // On hook travel nothing is converted but EU to newton: 37500 EU mm are 0.46125 J.
    assert!((value(&run, "extension.energy_work") - 0.461_25).abs() < 1e-6);
    let run = run_of(&points, Axis::Time, Unit::Eu, SCALE);
    for result in results(&run) {
        assert_eq!(
            result.outcome.status(),
            Status::NotComputable,
            "time is no extension"
        );
    }
}

#[test]
fn a_record_that_ends_before_rupture_gives_bounds() {
    let whole = sampled(two_lines, 0.0, 150.0, 0.5);
    let rising = run_of(&whole[..160], Axis::ChartMm, Unit::Eu, SCALE);
    for metric in [
        "maximum_resistance",
        "extensibility",
        "energy_area",
        "energy_work",
    ] {
        let outcome = outcome(&rising, &format!("extension.{metric}"));
        assert_eq!(outcome.status(), Status::Above, "{metric}");
    }
    let ratio = outcome(&rising, "extension.ratio_r50_e");
    assert!(matches!(ratio, Outcome::Below(bound) if (bound - 200.0 / 79.5).abs() < 1e-9));
    assert_eq!(
        outcome(&rising, "extension.ratio_rm_e").status(),
        Status::NotComputable
    );
    let falling = run_of(&whole[..260], Axis::ChartMm, Unit::Eu, SCALE);
    assert_eq!(
        outcome(&falling, "extension.maximum_resistance").status(),
        Status::Exact
    );
    let short = run_of(&whole[..60], Axis::ChartMm, Unit::Eu, SCALE);
    assert_eq!(
        outcome(&short, "extension.resistance_50mm").status(),
        Status::NotReached
    );
}

#[test]
fn awkward_records_have_reasons_and_no_values() {
    let flat: Vec<(f64, f64)> = (0..100).map(|i| (f64::from(i), 1.0)).collect();
    let run = run_of(&flat, Axis::ChartMm, Unit::Eu, SCALE);
    let e = outcome(&run, "extension.extensibility");
    assert!(
        matches!(&e, Outcome::NotReached(why) if why.contains("no contact")),
        "{e:?}"
    );
    let mut back = sampled(two_lines, 0.0, 150.0, 0.5);
    back.swap(40, 41);
    let run = run_of(&back, Axis::ChartMm, Unit::Eu, SCALE);
    for result in results(&run) {
        assert!(
            matches!(&result.outcome, Outcome::Rejected(why) if why.contains("line 52")),
            "{:?}",
            result.outcome
        );
    }
    for points in [
        vec![(0.0, 7.0)],
        vec![(0.0, -3.0), (1.0, -2.0)],
        vec![(1.0, 9.0), (1.0, 0.0)],
    ] {
        let run = run_of(&points, Axis::ChartMm, Unit::Eu, SCALE);
        assert_eq!(results(&run).len(), 7, "no panic, an outcome each");
    }
}

#[test]
fn moving_and_scaling_the_curve_moves_and_scales_what_it_should() {
    let points = sampled(two_lines, 4.0, 150.0, 0.5);
    let twice: Vec<(f64, f64)> = points.iter().map(|(x, y)| (x + 20.0, 2.0 * y)).collect();
    let one = run_of(&points, Axis::ChartMm, Unit::Eu, SCALE);
    let two = run_of(&twice, Axis::ChartMm, Unit::Eu, SCALE);
    let ratio = |metric: &str| value(&two, metric) / value(&one, metric);
    assert!((ratio("extension.extensibility") - 1.0).abs() < 1e-9);
    for metric in [
        "resistance_50mm",
        "maximum_resistance",
        "energy_area",
        "ratio_rm_e",
    ] {
        let found = ratio(&format!("extension.{metric}"));
        assert!((found - 2.0).abs() < 1e-9, "{metric}: {found}");
    }
}

#[test]
fn results_name_the_lines_they_were_read_from() {
    let points = sampled(two_lines, 4.0, 150.0, 0.5);
    let run = run_of(&points, Axis::ChartMm, Unit::Eu, SCALE);
    let all = results(&run);
    let rows = |metric: &str| {
        let found = all.iter().find(|r| r.metric.id == metric);
        found.and_then(|r| r.rows).map(|r| (r.first, r.last))
    };
    // Point i is on line 11 + i; contact at 4 mm is point 8, rupture at 154 mm is point 308.
    assert_eq!(rows("extension.extensibility"), Some((19, 319)));
    // 48.5 to 51.5 mm from contact: points 105 to 111.
    assert_eq!(rows("extension.resistance_50mm"), Some((116, 122)));
}

#[test]
fn a_sudden_loss_of_load_is_seen() {
    let mut points = sampled(two_lines, 4.0, 150.0, 0.5);
    for point in &mut points[120..123] {
        point.1 *= 0.7;
    }
    let run = run_of(&points, Axis::ChartMm, Unit::Eu, SCALE);
    let loss = derive(&run, Arc::new(run.conditions())).facts.sudden_loss;
    assert!(
        loss.is_some_and(|(at, share)| (117..=120).contains(&at) && share > 0.15),
        "{loss:?}"
    );
    let calm = run_of(
        &sampled(two_lines, 4.0, 150.0, 0.5),
        Axis::ChartMm,
        Unit::Eu,
        SCALE,
    );
    assert_eq!(
        derive(&calm, Arc::new(calm.conditions())).facts.sudden_loss,
        None
    );
}
