//! Every extension and membrane metric against an independent computation with numpy, scipy and
//! scikit-learn: script, versions and output in `tests/reference`.

use crate::the_day;
use doughtrace::derive::membrane::treatment_superiority;
use doughtrace::record::{GradeSummary, MedianGrade};
use serde_json::Value;

fn reference() -> Value {
    serde_json::from_str(include_str!("../reference/extension_and_membrane.json")).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

#[test]
fn extension_metrics_agree_with_the_reference() {
    let day = the_day();
    let mut compared = 0;
    for (name, metrics) in reference()["pieces"].as_object().unwrap() {
        let run = day.runs.iter().find(|r| r.id.as_str() == name).unwrap();
        for (metric, wanted) in metrics.as_object().unwrap() {
            let found = run.result(metric).unwrap().outcome.estimate().unwrap();
            let off = (found.value() - number(wanted)).abs();
            // Two ways of reading one noisy curve: within both intervals, at most 0.6 %.
            let limit = 0.006 * number(wanted);
            assert!(
                off <= limit,
                "{name}, {metric}: {}, {wanted}",
                found.value()
            );
            compared += 1;
        }
    }
    assert_eq!(compared, 5 * 7);
}

fn median_digits(group: &GradeSummary) -> Option<(u64, u64)> {
    let digit = |grade: &doughtrace::record::Grade| grade.digit().to_digit(10).map(u64::from);
    match &group.median {
        MedianGrade::Grade(grade) => digit(grade).zip(digit(grade)),
        MedianGrade::Between(low, high) => digit(low).zip(digit(high)),
        MedianGrade::Unknown(_) => None,
    }
}

#[test]
fn grades_by_dough_agree_with_the_reference() {
    let day = the_day();
    let mut compared = 0;
    for (sheet, doughs) in reference()["doughs"].as_object().unwrap() {
        for wanted in doughs.as_array().unwrap() {
            let group = day.grading.groups.iter().find(|g| {
                g.file.as_deref() == Some(sheet)
                    && g.batch_id.as_ref().map(|b| b.as_str()) == wanted["batch"].as_str()
                    && (g.mix_time_min.unwrap() - number(&wanted["mix_time_min"])).abs() < 1e-9
            });
            let group = group.unwrap();
            let share = group.full_window_pct.estimate().unwrap();
            assert!((share.value() - number(&wanted["membrane.full_window_share"])).abs() < 1e-6);
            if let Some(interval) = wanted["full_window_interval"].as_array() {
                assert!(
                    (share.low() - number(&interval[0])).abs() < 1e-6,
                    "{wanted}"
                );
                assert!(
                    (share.high() - number(&interval[1])).abs() < 1e-6,
                    "{wanted}"
                );
            }
            let edge = group.clean_edge_pct.value();
            let same = match (edge, wanted["membrane.clean_edge_share"].as_f64()) {
                (Some(found), Some(wanted)) => (found - wanted).abs() < 1e-6,
                (None, None) => true,
                _ => false,
            };
            assert!(same, "{edge:?}, {wanted}");
            let median = wanted["lower"].as_u64().zip(wanted["upper"].as_u64());
            assert_eq!(median_digits(group), median, "{wanted}");
            compared += 1;
        }
    }
    let by_dough = day.grading.groups.iter().filter(|g| g.batch_id.is_some());
    assert_eq!(compared, by_dough.count());
}

#[test]
fn agreement_agrees_with_the_reference() {
    let day = the_day();
    for (sheet, wanted) in reference()["agreement"].as_object().unwrap() {
        for metric in ["membrane.weighted_kappa", "membrane.krippendorff_alpha"] {
            for (variant, value) in wanted[metric].as_object().unwrap() {
                let found = day.grading.agreement.iter().find(|a| {
                    a.file.as_deref() == Some(sheet)
                        && (a.metric, a.variant) == (metric, variant.as_str())
                        && !a.within_grader
                });
                let found = found.unwrap();
                assert_eq!(found.pieces as u64, wanted["pieces"].as_u64().unwrap());
                let estimate = found.outcome.estimate().unwrap();
                assert!(
                    (estimate.value() - number(value)).abs() < 1e-8,
                    "{sheet}, {metric} {variant}: {}, {value}",
                    estimate.value()
                );
                if variant == "linear" {
                    // Other random numbers, the same distribution: within a tenth of its width.
                    let interval = wanted["linear_kappa_interval"].as_array().unwrap();
                    let (low, high) = (number(&interval[0]), number(&interval[1]));
                    let limit = 0.1 * (high - low);
                    assert!((estimate.low() - low).abs() < limit, "{estimate:?}");
                    assert!((estimate.high() - high).abs() < limit, "{estimate:?}");
                }
            }
        }
    }
}

#[test]
fn superiority_agrees_with_the_reference() {
    let day = the_day();
    let wanted = &reference()["superiority_4_min"];
    let found = treatment_superiority(&day.observations, ("high-speed", "spiral"), 4.0).unwrap();
    assert!((found.probability - number(&wanted["probability"])).abs() < 1e-9);
    let p = found.p_two_sided.unwrap();
    assert!((p - number(&wanted["p"])).abs() < 5e-9, "{p}");
}
