//! Strips whose answers are exact, and the outcomes of awkward ones.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "tests may stop at the first surprise"
)]

use super::*;
use crate::record::{
    Curve, FieldValue, Metadata, MetricResult, Origin, Outcome, ProfileStamp, RawFile, RowRange,
};
use crate::schema::{Axis, Channel, Digest, Field, RunId, Status, Test, Unit};

const STATED: &[(Field, &str)] = &[
    (Field::HalfGapMm, "9"),
    (Field::SagMm, "0"),
    (Field::StripAreaMm2, "12"),
    (Field::HookSpeedMmS, "3.3"),
    (Field::Break, "middle"),
];

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
    Run {
        id: RunId::new("strip").unwrap(),
        test: Test::Strip,
        file: RawFile {
            name: "strip.csv".into(),
            sha256: Digest::of(b"strip"),
            bytes: 5,
        },
        profile: ProfileStamp {
            id: "test".into(),
            sha256: Digest::of(b""),
        },
        selector: String::new(),
        rows: RowRange {
            first: 21,
            last: 20 + points.len() as u64,
        },
        metadata,
        curves: vec![Curve::new(Channel::Signal, axis, unit, x, y).unwrap()],
        lines: Vec::new(),
        missing_cells: 0,
    }
}

fn hook_run(points: &[(f64, f64)]) -> Run {
    run_of(points, Axis::HookTravelMm, Unit::Newton, STATED)
}

fn results(run: &Run) -> Vec<MetricResult> {
    derive(run, Arc::new(run.conditions())).results
}

fn outcome(run: &Run, metric: &str, variant: &str) -> Outcome {
    let mut all = results(run).into_iter();
    let found = all.find(|r| r.metric.id == metric && r.variant == variant);
    found
        .unwrap_or_else(|| panic!("{metric} {variant}"))
        .outcome
}

#[track_caller]
fn assert_value(run: &Run, metric: &str, variant: &str, wanted: f64, tolerance: f64) {
    let found = outcome(run, metric, variant);
    let off = found.value().map(|v| (v - wanted).abs());
    assert!(
        off.is_some_and(|off| off <= tolerance),
        "{metric} {variant}: {found:?}, wanted {wanted}"
    );
}

/// Force on the hook, N, of a strip (a 9 mm, A0 12 mm²) whose stress (kPa) is `law` of strain.
fn force(y: f64, law: impl Fn(f64) -> f64) -> f64 {
    let length = 2.0 * 9.0_f64.hypot(y);
    let strain = libm::log(length / 18.0);
    law(strain) / 1000.0 * 4.0 * y * 216.0 / (length * length)
}

/// A pull of 0.1 mm steps that tears right after `rupture` mm, with readings before touch.
fn pull(rupture: f64, law: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
    (-20..=(10.0 * rupture) as i32 + 30)
        .map(|i| {
            let y = f64::from(i) / 10.0;
            let torn = y > rupture + 1e-9;
            (
                y,
                if torn || y <= 0.0 {
                    0.0
                } else {
                    force(y, &law)
                },
            )
        })
        .collect()
}

#[test]
fn an_exponential_strip_agrees_with_the_handbook_and_its_law() {
    // HANDBOOK §15, V-E3 geometry; law of V-E4: sigma = 2 exp(1.8 eps), here to y = 40 mm, where
    // eps = 1.51635 (V-E3).
    let law = |eps: f64| 2.0 * libm::exp(1.8 * eps);
    let run = hook_run(&pull(40.0, law));
    assert_value(&run, "strip.failure_strain", "", 1.516_35, 5e-6);
    assert_value(&run, "strip.failure_stress", "", law(1.516_347_5), 1e-2);
    assert_value(&run, "strip.n_exp", "", 1.8, 1e-9);
    assert_value(&run, "strip.k_exp", "", 2.0, 1e-8);
    assert_value(&run, "strip.strain_rate", "at-failure", 0.078_52, 5e-6);
    // 4 (y + y0) v / l² has its maximum v / (2a) at y = a, eps = ln sqrt 2 = 0.347, in the range.
    assert_value(&run, "strip.strain_rate", "greatest", 3.3 / 18.0, 1e-9);
    assert_value(&run, "strip.pre_strain", "", 0.0, 1e-12);
    let kept = outcome(&run, "strip.stability_strain", "local");
    assert!(matches!(&kept, Outcome::NotReached(why) if why.contains("1.80")));
    // The force is greatest where the geometry says, d ln F/dy = 0: past failure for this law.
    assert_value(&run, "strip.extensibility", "", 40.0, 1e-9);
    assert_value(&run, "strip.maximum_force", "", force(40.0, law), 1e-4);
    let remark = results(&run);
    let remark = &remark
        .iter()
        .find(|r| r.metric.id == "strip.n_exp")
        .unwrap();
    assert!(
        remark.parameters.contains("R2=1.00000"),
        "{}",
        remark.parameters
    );
    assert!(
        remark.parameters.contains("fit eps=0.30"),
        "{}",
        remark.parameters
    );
}

#[test]
fn v_e3_is_read_from_a_record() {
    // HANDBOOK §15, V-E3: Fm 0.30 N at y 40 mm: sigma 58.368 kPa, eps 1.51635, 0.07852 1/s.
    let law = |eps: f64| 58.368_0 * libm::exp(1.2 * (eps - 1.516_347_5));
    let run = hook_run(&pull(40.0, law));
    // The force at rupture is read from the line through the last 2 mm: to 2 in 10,000.
    assert_value(&run, "strip.failure_stress", "", 58.368, 0.012);
    assert!((force(40.0, law) - 0.30).abs() < 1e-5);
}

#[test]
fn a_power_law_strip_loses_stability_at_its_exponent() {
    // Considère, analytic: d ln(K eps^n)/d eps = n/eps falls to 1 at eps = n.
    let law = |eps: f64| 20.0 * libm::pow(eps, 1.1);
    let run = hook_run(&pull(40.0, law));
    assert_value(&run, "strip.n_pow", "", 1.1, 1e-9);
    assert_value(&run, "strip.k_pow", "", 20.0, 1e-8);
    assert_value(&run, "strip.stability_strain", "power-law", 1.1, 1e-9);
    let local = outcome(&run, "strip.stability_strain", "local");
    let local = local.estimate().unwrap();
    assert!(local.low() < 1.1 && 1.1 < local.high() && local.std_uncertainty() < 0.03);
}

#[test]
fn failure_is_where_the_stress_is_greatest_not_the_force() {
    // Constant stress: the force falls from y = a on, and the stress is the same throughout; with a
    // stress that grows slowly failure stays at rupture while the force is greatest near y = a.
    let law = |eps: f64| 30.0 * libm::exp(0.2 * eps);
    let run = hook_run(&pull(40.0, law));
    let travel = outcome(&run, "strip.extensibility", "").value().unwrap();
    assert!(travel < 15.0, "{travel}");
    assert_value(&run, "strip.failure_strain", "", 1.516_35, 5e-6);
}

#[test]
fn time_and_hook_speed_give_the_same_strip() {
    let points = pull(40.0, |eps| 2.0 * libm::exp(1.8 * eps));
    let timed: Vec<(f64, f64)> = points.iter().map(|(y, f)| (y / 3.3, *f)).collect();
    let (over_travel, over_time) = (
        hook_run(&points),
        run_of(&timed, Axis::Time, Unit::Newton, STATED),
    );
    for metric in ["strip.n_exp", "strip.area", "strip.failure_stress"] {
        let wanted = outcome(&over_travel, metric, "").value().unwrap();
        assert_value(&over_time, metric, "", wanted, 1e-9 * wanted);
    }
    let unknown: Vec<_> = STATED
        .iter()
        .copied()
        .filter(|(f, _)| *f != Field::HookSpeedMmS)
        .collect();
    let run = run_of(&timed, Axis::Time, Unit::Newton, &unknown);
    let area = outcome(&run, "strip.area", "");
    assert!(matches!(&area, Outcome::NotComputable(why) if why.contains("hook_speed_mm_s")));
    let run = run_of(&points, Axis::HookTravelMm, Unit::Newton, &unknown);
    let rate = outcome(&run, "strip.strain_rate", "at-failure");
    assert!(matches!(&rate, Outcome::NotComputable(why) if why.contains("hook_speed_mm_s")));
    assert_eq!(outcome(&run, "strip.n_exp", "").status(), Status::Exact);
}

#[test]
fn a_weight_on_the_hook_is_subtracted() {
    let points = pull(40.0, |eps| 2.0 * libm::exp(1.8 * eps));
    let heavy: Vec<(f64, f64)> = points.iter().map(|(y, f)| (*y, f + 0.05)).collect();
    let (light, heavy) = (hook_run(&points), hook_run(&heavy));
    for metric in ["strip.maximum_force", "strip.area", "strip.k_exp"] {
        let wanted = outcome(&light, metric, "").value().unwrap();
        assert_value(&heavy, metric, "", wanted, 1e-9);
    }
}

#[test]
fn what_slipped_was_left_out_or_is_not_stated_says_so() {
    let points = pull(40.0, |eps| 2.0 * libm::exp(1.8 * eps));
    for (field, word, why) in [
        (Field::Break, "slipped", "slipped"),
        (Field::Break, "clamp", "at the clamp"),
        (Field::LeaveOut, "dry skin", "dry skin"),
    ] {
        let mut facts: Vec<_> = STATED
            .iter()
            .copied()
            .filter(|(f, _)| *f != field)
            .collect();
        facts.push((field, word));
        for result in results(&run_of(&points, Axis::HookTravelMm, Unit::Newton, &facts)) {
            let reason = result.outcome.reason();
            assert_eq!(
                result.outcome.status(),
                Status::Rejected,
                "{}",
                result.metric.id
            );
            assert!(reason.is_some_and(|reason| reason.contains(why)));
        }
    }
    let run = run_of(&points, Axis::HookTravelMm, Unit::Newton, &STATED[3..]);
    let stress = outcome(&run, "strip.failure_stress", "");
    assert!(matches!(&stress, Outcome::NotComputable(why) if why.contains("half_gap_mm")));
    assert_eq!(outcome(&run, "strip.area", "").status(), Status::Exact);
    let run = run_of(&points, Axis::HookTravelMm, Unit::Eu, STATED);
    let force = outcome(&run, "strip.maximum_force", "");
    assert!(matches!(&force, Outcome::NotComputable(why) if why.contains("not a force")));
    let run = run_of(&points, Axis::ChartMm, Unit::Newton, STATED);
    let force = outcome(&run, "strip.maximum_force", "");
    assert!(matches!(&force, Outcome::NotComputable(why) if why.contains("hook travel")));
}

#[test]
fn a_record_that_ends_before_rupture_gives_bounds() {
    let mut points = pull(40.0, |eps| 2.0 * libm::exp(1.8 * eps));
    points.retain(|(y, _)| *y <= 30.0);
    let run = hook_run(&points);
    for metric in [
        "strip.maximum_force",
        "strip.extensibility",
        "strip.area",
        "strip.failure_strain",
    ] {
        assert_eq!(
            outcome(&run, metric, "").status(),
            Status::Above,
            "{metric}"
        );
    }
    for metric in ["strip.n_exp", "strip.failure_stress"] {
        assert_eq!(
            outcome(&run, metric, "").status(),
            Status::NotComputable,
            "{metric}"
        );
    }
}

#[test]
fn odd_records_have_an_outcome_each() {
    let mut back = pull(40.0, |eps| 2.0 * libm::exp(1.8 * eps));
    back.swap(100, 101);
    for result in results(&hook_run(&back)) {
        assert!(
            matches!(&result.outcome, Outcome::Rejected(why) if why.contains("line 122")),
            "{:?}",
            result.outcome
        );
    }
    for points in [
        vec![(0.0, 7.0)],
        vec![(0.0, -3.0), (1.0, -2.0), (1.0, 5.0)],
        vec![(-1.0, 9.0), (-0.5, 0.0)],
        vec![(0.0, 0.0), (0.0, 9.0), (0.0, 0.0), (0.0, 0.0)],
        vec![(1e9, 1.0), (2e9, 4.0), (3e9, 0.0), (4e9, 0.0)],
        (0..50).map(|i| (f64::from(i), 1.0)).collect(),
    ] {
        for result in results(&hook_run(&points)) {
            let value = result.outcome.value_or_bound();
            assert!(value.is_none_or(f64::is_finite), "{points:?}");
        }
    }
}

#[test]
fn results_name_the_lines_they_were_read_from() {
    let run = hook_run(&pull(40.0, |eps| 2.0 * libm::exp(1.8 * eps)));
    let all = results(&run);
    let rows = |metric: &str| {
        let found = all.iter().find(|r| r.metric.id == metric);
        found.and_then(|r| r.rows).map(|r| (r.first, r.last))
    };
    // Point i is on line 21 + i; y = 0 is point 20, y = 40 mm point 420.
    assert_eq!(rows("strip.area"), Some((41, 441)));
    assert_eq!(rows("strip.failure_stress"), Some((426, 441)));
}
