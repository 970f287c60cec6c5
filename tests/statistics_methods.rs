//! Two instruments for one quantity, and proficiency scores, against published values and
//! general-purpose libraries (tests/reference/statistics_methods.py).

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "tests may stop, and say when they are skipped"
)]

use doughtrace::numerics::Interval;
use doughtrace::numerics::agreement::{bland_altman, deming, error_ratio, passing_bablok};
use doughtrace::numerics::proficiency::{
    EXACT_FACTOR, Judgement, PRINTED_FACTOR, Stated, assigned_value_suffices, e_n_score, judge_e_n,
    judge_score, robust_mean, z_prime_score, z_score, zeta_score,
};
use serde_json::Value;

/// Peak flow of 17 people by two meters (Bland and Altman 1986; HANDBOOK §15, V-BA1).
const FIRST: [f64; 17] = [
    494.0, 395.0, 516.0, 434.0, 476.0, 557.0, 413.0, 442.0, 650.0, 433.0, 417.0, 656.0, 267.0,
    478.0, 178.0, 423.0, 427.0,
];
const SECOND: [f64; 17] = [
    512.0, 430.0, 520.0, 428.0, 500.0, 600.0, 364.0, 380.0, 658.0, 445.0, 432.0, 626.0, 260.0,
    477.0, 259.0, 350.0, 451.0,
];

/// HANDBOOK §15, V-PB1.
const X: [f64; 10] = [55.2, 56.8, 57.9, 58.4, 59.6, 60.3, 61.7, 62.5, 63.8, 65.1];
const Y: [f64; 10] = [55.9, 57.1, 58.6, 58.7, 60.5, 60.9, 62.2, 63.4, 64.2, 66.0];

#[track_caller]
fn close(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within, "{found} for {wanted}");
}

#[track_caller]
fn ends(found: Interval, low: f64, high: f64, within: f64) {
    close(found.low, low, within);
    close(found.high, high, within);
}

fn reference() -> Value {
    serde_json::from_str(include_str!("reference/statistics_methods.json")).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().unwrap();
    list.iter().map(|v| v.as_f64().unwrap()).collect()
}

#[test]
fn limits_of_agreement_agree_with_the_handbook() {
    let found = bland_altman(&FIRST, &SECOND).unwrap();
    // HANDBOOK §15, V-BA1 (last printed digit).
    close(found.bias, -2.118, 5e-4);
    close(found.sd, 38.765, 5e-4);
    close(found.lower, -78.10, 0.01);
    close(found.upper, 73.86, 0.01);
    // Bland and Altman 1986: bias −22.0 to 17.8 (their bias rounded; from memory).
    ends(found.bias_interval, -22.0, 17.8, 0.06);
    // HANDBOOK §15, V-PB1: bias 0.62, SD 0.2394, limits 0.151 and 1.089.
    let second = bland_altman(&Y, &X).unwrap();
    close(second.bias, 0.62, 1e-9);
    close(second.sd, 0.2394, 5e-5);
    close(second.lower, 0.151, 5e-4);
    close(second.upper, 1.089, 5e-4);
}

#[test]
fn intervals_and_trends_agree_with_a_general_library() {
    let found = bland_altman(&FIRST, &SECOND).unwrap();
    let file = &reference()["limits"];
    let pair = |key: &str| {
        let v = numbers(&file[key]);
        (v[0], v[1])
    };
    let (low, high) = pair("bias_interval");
    ends(found.bias_interval, low, high, 1e-6);
    let (low, high) = pair("lower_interval");
    ends(found.lower_interval, low, high, 1e-5);
    let (low, high) = pair("upper_interval");
    ends(found.upper_interval, low, high, 1e-5);
    for (key, trend) in [("trend", found.trend), ("spread", found.spread)] {
        let (wanted, trend) = (numbers(&file[key]), trend.unwrap());
        close(trend.slope, wanted[0], 1e-9);
        ends(trend.interval, wanted[1], wanted[2], 1e-8);
        close(trend.p, wanted[3], 1e-8);
    }
    // Bland and Altman 1999 write the standard error of a limit as 1.71 s/√n (from memory).
    let error = found.approximate_limit_error();
    close(error, 1.71 * found.sd / 17.0_f64.sqrt(), 0.02 * error);
}

#[test]
fn a_bias_that_grows_is_told() {
    let second: Vec<f64> = X
        .iter()
        .enumerate()
        .map(|(i, x)| 1.05 * x + 0.1 * (i % 3) as f64)
        .collect();
    let found = bland_altman(&X, &second).unwrap();
    assert!(found.trend.unwrap().p < 0.001);
    assert!(found.trend.unwrap().interval.contains(-0.05 / 1.025));
    assert_eq!(bland_altman(&X[..3], &Y[..3]), None);
    assert_eq!(bland_altman(&X, &X), None);
    assert_eq!(bland_altman(&X, &Y[..9]), None);
}

#[test]
fn passing_bablok_agrees_with_the_handbook() {
    // HANDBOOK §15, V-PB1 (last printed digit).
    let found = passing_bablok(&X, &Y).unwrap();
    close(found.slope, 1.01852, 5e-6);
    ends(found.slope_interval, 0.95238, 1.08955, 5e-6);
    close(found.intercept, -0.4444, 5e-5);
    ends(found.intercept_interval, -4.793, 3.448, 5e-4);
    assert_eq!((found.slopes, found.shift, found.ranks), (45, 0, (12, 34)));
    assert!(found.linearity_p > 0.2);
}

#[test]
fn passing_bablok_with_ties_agrees_with_another_program() {
    let file = &reference()["tied"];
    let (x, y) = (numbers(&file["x"]), numbers(&file["y"]));
    let found = passing_bablok(&x, &y).unwrap();
    let (slope, intercept) = (numbers(&file["slope"]), numbers(&file["intercept"]));
    close(found.slope, slope[0], 1e-9);
    ends(found.slope_interval, slope[1], slope[2], 1e-8);
    close(found.intercept, intercept[0], 1e-9);
    ends(found.intercept_interval, intercept[1], intercept[2], 1e-7);
    let counts = numbers(&file["counts"]);
    assert_eq!(found.slopes, counts[0] as usize);
    assert_eq!(found.ranks.0, counts[2] as usize);
}

#[test]
fn passing_bablok_is_the_same_line_with_the_instruments_exchanged() {
    // The property for which the median is shifted (Passing and Bablok 1983): noisy values, so
    // that some slopes lie below −1.
    let y: Vec<f64> = (0..30)
        .map(|i| f64::from(i * 7 % 11) + 1.1 * f64::from(i))
        .collect();
    let x: Vec<f64> = (0..30)
        .map(|i| f64::from(i * 5 % 13) + f64::from(i))
        .collect();
    let forward = passing_bablok(&x, &y).unwrap();
    let backward = passing_bablok(&y, &x).unwrap();
    assert!(forward.shift > 0);
    close(forward.slope * backward.slope, 1.0, 0.01);
    close(
        forward.slope_interval.low * backward.slope_interval.high,
        1.0,
        1e-9,
    );
}

#[test]
fn passing_bablok_sees_a_bend() {
    let x: Vec<f64> = (0..40).map(f64::from).collect();
    let y: Vec<f64> = x.iter().map(|x| x + 0.03 * x * x).collect();
    assert!(passing_bablok(&x, &y).unwrap().linearity_p < 0.01);
    let falling: Vec<f64> = x.iter().map(|x| -x).collect();
    assert_eq!(passing_bablok(&x, &falling), None);
    assert_eq!(passing_bablok(&x[..4], &y[..4]), None);
}

#[test]
fn deming_agrees_with_a_general_library() {
    let file = reference();
    for (key, ratio) in [
        ("errors_in_both_ratio_1", 1.0),
        ("errors_in_both_ratio_4", 4.0),
    ] {
        let found = deming(&FIRST, &SECOND, ratio).unwrap();
        let (slope, intercept) = (
            numbers(&file[key]["slope"]),
            numbers(&file[key]["intercept"]),
        );
        close(found.slope, slope[0], 1e-6);
        close(found.slope_error, slope[1], 1e-5);
        ends(found.slope_interval, slope[2], slope[3], 1e-5);
        close(found.intercept, intercept[0], 5e-4);
        close(found.intercept_error, intercept[1], 5e-3);
    }
    // Exchanging the instruments inverts the ratio and the slope (algebra).
    let back = deming(&SECOND, &FIRST, 0.25).unwrap();
    close(
        back.slope * deming(&FIRST, &SECOND, 4.0).unwrap().slope,
        1.0,
        1e-12,
    );
    assert_eq!(deming(&FIRST, &SECOND, 0.0), None);
    // Duplicates: Σd²/2m of 0.5 and 0.125, by hand.
    let ratio = error_ratio(&[(1.0, 2.0), (3.0, 4.0)], &[(1.0, 1.5)]).unwrap();
    close(ratio, 0.25, 1e-12);
    assert_eq!(error_ratio(&[], &[(1.0, 2.0)]), None);
}

#[test]
fn the_robust_mean_agrees_with_a_root_finder() {
    let differences: Vec<f64> = FIRST.iter().zip(&SECOND).map(|(a, b)| a - b).collect();
    let wanted = numbers(&reference()["robust_differences"]);
    let found = robust_mean(&differences, PRINTED_FACTOR).unwrap();
    close(found.mean, wanted[0], 1e-8);
    close(found.sd, wanted[1], 1e-8);
    close(
        found.uncertainty(),
        1.25 * wanted[1] / 17.0_f64.sqrt(),
        1e-8,
    );
    assert_eq!(robust_mean(&[1.0, 1.0, 1.0], PRINTED_FACTOR), None);
    assert!(robust_mean(&[1.0, 1.0, 1.0, 1.0, 2.0], PRINTED_FACTOR).is_some());
}

#[test]
fn the_robust_mean_of_copper_in_flour() {
    // Analytical Methods Committee 1989; Venables and Ripley print 3.2054978 and 0.6736520 for
    // Huber's proposal 2. The data lie beside the project.
    let root = std::env::var_os("DOUGHTRACE_SHARED_DATA").map_or_else(
        || std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/data"),
        std::path::PathBuf::from,
    );
    let path = root.join("robust_copper_in_flour/chem.csv");
    let Ok(text) = std::fs::read_to_string(&path) else {
        println!("SKIPPED: {} is not here", path.display());
        return;
    };
    let values: Vec<f64> = text
        .lines()
        .skip(1)
        .map(|l| l.trim().parse().unwrap())
        .collect();
    assert_eq!(values.len(), 24);
    let found = robust_mean(&values, EXACT_FACTOR).unwrap();
    close(found.mean, 3.205_497_8, 5e-6);
    close(found.sd, 0.673_652_0, 5e-6);
    // The factor as printed moves the third decimal only.
    let printed = robust_mean(&values, PRINTED_FACTOR).unwrap();
    close(printed.mean, 3.2055, 1e-3);
    close(printed.sd, 0.6737, 1e-3);
}

#[test]
fn scores_are_those_of_their_formula() {
    // By hand from the formulas of ISO 13528.
    let assigned = Stated {
        value: 60.0,
        uncertainty: 0.4,
    };
    let result = Stated {
        value: 61.0,
        uncertainty: 0.3,
    };
    close(z_score(61.0, 60.0, 0.5).unwrap(), 2.0, 1e-12);
    close(z_prime_score(61.0, assigned, 0.3).unwrap(), 2.0, 1e-12);
    close(zeta_score(result, assigned).unwrap(), 2.0, 1e-12);
    close(e_n_score(result, assigned).unwrap(), 1.0, 1e-12);
    assert!(!assigned_value_suffices(assigned, 1.3));
    assert!(assigned_value_suffices(assigned, 1.4));
    assert_eq!(z_score(61.0, 60.0, 0.0), None);
    assert_eq!(judge_score(-2.0), Judgement::Acceptable);
    assert_eq!(judge_score(-2.1), Judgement::Warning);
    assert_eq!(judge_score(3.0), Judgement::Action);
    assert_eq!(judge_e_n(0.99), Judgement::Acceptable);
    assert_eq!(judge_e_n(-1.0), Judgement::Action);
}
