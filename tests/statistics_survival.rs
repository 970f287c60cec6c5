//! Censored times against general-purpose libraries (tests/reference/statistics_survival.py) and
//! closed forms.

#![allow(clippy::unwrap_used, clippy::panic, reason = "tests may stop")]

use doughtrace::numerics::Resampling;
use doughtrace::numerics::survival::{
    RightCensored, TimeData, TimeFault, TimeLaw, TimeOutcome, fit_times, log_rank, median_time,
    product_limit, ratio_interval, right_censored,
};
use serde_json::Value;
use statrs::distribution::{ContinuousCDF, StudentsT};

#[track_caller]
fn close(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within, "{found} for {wanted}");
}

fn reference() -> Value {
    serde_json::from_str(include_str!("reference/statistics_survival.json")).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().unwrap();
    list.iter().map(|v| v.as_f64().unwrap()).collect()
}

/// Returns outcomes and columns (treatment, then five blocks) of the reference.
fn interval_data(file: &Value) -> (Vec<TimeOutcome>, Vec<Vec<f64>>) {
    let data = &file["interval"];
    let low = numbers(&data["low"]);
    let high: Vec<Option<f64>> = data["high"]
        .as_array()
        .unwrap()
        .iter()
        .map(Value::as_f64)
        .collect();
    let outcome = |(low, high): (&f64, &Option<f64>)| match high {
        None => TimeOutcome::Above(*low),
        Some(high) if *low <= 0.0 => TimeOutcome::Below(*high),
        Some(high) if high > low => TimeOutcome::Between(*low, *high),
        Some(high) => TimeOutcome::At(*high),
    };
    let outcomes = low.iter().zip(&high).map(outcome).collect();
    let mut columns = vec![numbers(&data["treatment"])];
    let block = numbers(&data["block"]);
    for b in 1..6 {
        let is = |v: &f64| f64::from(u8::from((v - f64::from(b)).abs() < 0.5));
        columns.push(block.iter().map(is).collect());
    }
    (outcomes, columns)
}

#[test]
fn interval_regression_agrees_with_a_general_library() {
    let file = reference();
    let (outcomes, columns) = interval_data(&file);
    let data = TimeData {
        outcomes: &outcomes,
        columns: &columns,
    };
    for (key, law) in [
        ("log_normal", TimeLaw::LogNormal),
        ("log_logistic", TimeLaw::LogLogistic),
    ] {
        let fit = fit_times(data, law).unwrap();
        let wanted = numbers(&file[key]["coefficients"]);
        let errors = numbers(&file[key]["standard_errors"]);
        let found = fit.coefficients.iter().chain([&fit.intercept]);
        for ((found, wanted), error) in found.zip(wanted).zip(errors) {
            // lifelines stops its search at some four digits.
            close(found.value, wanted, 5e-4);
            close(found.standard_error, error, 5e-4);
        }
        let theirs = file[key]["log_likelihood"].as_f64().unwrap();
        close(fit.log_likelihood, theirs, 1e-5);
        assert!(fit.log_likelihood > theirs - 1e-8);
        let shape = file[key]["shape"].as_f64().unwrap();
        let scale = if law == TimeLaw::LogNormal {
            shape
        } else {
            1.0 / shape
        };
        close(fit.scale, scale, 2e-4);
        assert!(fit.endless.is_empty());
        assert_eq!(fit.determined, 17);
    }
}

#[test]
fn the_profile_is_that_of_another_program() {
    // The reference took chi-squared's quantile; at the level at which our limit equals it, the
    // ends must agree. n 24, p 7: n ln(1 + t²/17) = 3.841 at t 1.715, level 2F(t) − 1.
    let file = reference();
    let (outcomes, columns) = interval_data(&file);
    let data = TimeData {
        outcomes: &outcomes,
        columns: &columns,
    };
    let fit = fit_times(data, TimeLaw::LogNormal).unwrap();
    let chi_squared: f64 = 3.841_458_820_694_124;
    let t = (17.0 * (chi_squared / 24.0).exp_m1()).sqrt();
    let level = 2.0 * StudentsT::new(0.0, 1.0, 17.0).unwrap().cdf(t) - 1.0;
    let found = ratio_interval(data, &fit, 0, level).unwrap();
    let wanted = numbers(&file["profile_chi_squared"]);
    close(found.low.ln(), wanted[0], 2e-4);
    close(found.high.ln(), wanted[1], 2e-4);
    // At 95 % ours is the wider.
    let ours = ratio_interval(data, &fit, 0, 0.95).unwrap();
    assert!(ours.low < found.low && ours.high > found.high);
}

#[test]
fn without_bounds_it_is_least_squares() {
    // Closed form: ratio of geometric means, scale √(RSS/n), interval by Student's t.
    let first = [4.1, 5.0, 6.2, 4.8];
    let second = [6.0, 7.1, 6.6, 8.4];
    let outcomes: Vec<TimeOutcome> = first
        .iter()
        .chain(&second)
        .map(|t| TimeOutcome::At(*t))
        .collect();
    let columns = vec![[0.0; 4].into_iter().chain([1.0; 4]).collect::<Vec<f64>>()];
    let data = TimeData {
        outcomes: &outcomes,
        columns: &columns,
    };
    let fit = fit_times(data, TimeLaw::LogNormal).unwrap();
    let mean = |v: &[f64]| v.iter().map(|t| t.ln()).sum::<f64>() / v.len() as f64;
    let squares = |v: &[f64]| v.iter().map(|t| (t.ln() - mean(v)).powi(2)).sum::<f64>();
    let effect = mean(&second) - mean(&first);
    close(fit.coefficients[0].value, effect, 1e-9);
    let rss = squares(&first) + squares(&second);
    close(fit.scale, (rss / 8.0).sqrt(), 1e-9);
    let t = StudentsT::new(0.0, 1.0, 6.0).unwrap().inverse_cdf(0.975);
    let reach = t * (rss / 6.0 * 0.5).sqrt();
    let found = ratio_interval(data, &fit, 0, 0.95).unwrap();
    close(found.low, (effect - reach).exp(), 1e-6);
    close(found.high, (effect + reach).exp(), 1e-6);
    // Another unit of time changes no ratio.
    let seconds: Vec<TimeOutcome> = first
        .iter()
        .chain(&second)
        .map(|t| TimeOutcome::At(60.0 * t))
        .collect();
    let again = TimeData {
        outcomes: &seconds,
        ..data
    };
    let fit = fit_times(again, TimeLaw::LogNormal).unwrap();
    close(
        ratio_interval(again, &fit, 0, 0.95).unwrap().low,
        found.low,
        1e-6,
    );
}

#[test]
fn a_treatment_that_is_never_done_still_has_a_bound() {
    let mut outcomes: Vec<TimeOutcome> = [4.1, 5.0, 6.2, 4.8].map(TimeOutcome::At).to_vec();
    outcomes.extend([TimeOutcome::Above(9.0); 4]);
    let columns = vec![[0.0; 4].into_iter().chain([1.0; 4]).collect::<Vec<f64>>()];
    let data = TimeData {
        outcomes: &outcomes,
        columns: &columns,
    };
    for law in [TimeLaw::LogNormal, TimeLaw::LogLogistic] {
        let fit = fit_times(data, law).unwrap();
        assert_eq!(fit.endless, [0]);
        let found = ratio_interval(data, &fit, 0, 0.95).unwrap();
        assert!(found.high.is_infinite());
        assert!((1.2..1.8).contains(&found.low), "{law:?} {found:?}");
    }
}

#[test]
fn times_that_cannot_be_compared_are_refused() {
    let fault = |outcomes: &[TimeOutcome], columns: &[Vec<f64>]| {
        fit_times(TimeData { outcomes, columns }, TimeLaw::LogNormal).unwrap_err()
    };
    let above = [TimeOutcome::Above(9.0); 5];
    assert_eq!(fault(&above, &[]), TimeFault::TooFew);
    let at = [3.0, 4.0, 5.0, 6.0].map(TimeOutcome::At);
    assert_eq!(fault(&at, &[vec![1.0; 3]]), TimeFault::Length);
    assert_eq!(fault(&at, &[vec![1.0; 4]]), TimeFault::Dependent);
    assert_eq!(fault(&[TimeOutcome::At(0.0)], &[]), TimeFault::NoTime);
    assert_eq!(
        fault(&[TimeOutcome::Between(3.0, 2.0)], &[]),
        TimeFault::NoTime
    );
}

/// Returns the times of the reference by block, first treatment 0, then treatment 1.
fn strata(file: &Value) -> Vec<(Vec<RightCensored>, Vec<RightCensored>)> {
    let data = &file["right"];
    let rows = [
        numbers(&data["block"]),
        numbers(&data["treatment"]),
        numbers(&data["time"]),
        numbers(&data["reached"]),
    ];
    let mut strata = vec![(Vec::new(), Vec::new()); 6];
    for i in 0..rows[0].len() {
        let stratum = &mut strata[rows[0][i] as usize];
        let side = if rows[1][i] > 0.5 {
            &mut stratum.1
        } else {
            &mut stratum.0
        };
        side.push(RightCensored {
            time: rows[2][i],
            reached: rows[3][i] > 0.5,
        });
    }
    strata
}

#[test]
fn product_limit_and_log_rank_agree_with_general_libraries() {
    let file = reference();
    let strata = strata(&file);
    let first: Vec<RightCensored> = strata.iter().flat_map(|s| s.0.clone()).collect();
    let second: Vec<RightCensored> = strata.iter().flat_map(|s| s.1.clone()).collect();
    let steps = product_limit(&first);
    let wanted = &file["survival"];
    let times = numbers(&wanted["time"]);
    for step in &steps {
        let at = times
            .iter()
            .position(|t| (t - step.time).abs() < 1e-9)
            .unwrap();
        close(step.share, numbers(&wanted["value"])[at], 1e-9);
        close(
            step.interval.unwrap().low,
            numbers(&wanted["low"])[at],
            1e-8,
        );
        close(
            step.interval.unwrap().high,
            numbers(&wanted["high"])[at],
            1e-8,
        );
    }
    assert!(steps.len() >= 16);
    close(
        median_time(&steps).unwrap(),
        wanted["median"].as_f64().unwrap(),
        0.11,
    );
    let settings = Resampling {
        times: 2000,
        seed: 9,
    };
    let one = log_rank(&[(first, second)], settings).unwrap();
    let lifelines = numbers(&file["log_rank"]);
    close(one.statistic, lifelines[0], 1e-8);
    close(one.p, lifelines[1], 1e-9);
    assert!(one.excess > 0.0 && one.p_permuted < 0.02);
    let by_block = log_rank(&strata, settings).unwrap();
    let stratified = numbers(&file["log_rank_stratified"]);
    close(by_block.statistic, stratified[0], 1e-8);
    close(by_block.p, stratified[1], 1e-9);
    assert!(by_block.p_permuted < 0.02);
}

#[test]
fn a_log_rank_by_hand() {
    // Times 1, 3 against 2, 4+ (4 not reached): at 1: expected ½, variance ¼; at 2: ⅓, 2/9; at 3:
    // ½, ¼; sum of the first 2 − 4/3 = 2/3, variance 13/18.
    let at = |time: f64, reached: bool| RightCensored { time, reached };
    let strata = vec![(
        vec![at(1.0, true), at(3.0, true)],
        vec![at(2.0, true), at(4.0, false)],
    )];
    let found = log_rank(&strata, Resampling { times: 1, seed: 1 }).unwrap();
    close(found.excess, 2.0 / 3.0, 1e-12);
    close(found.statistic, (4.0 / 9.0) / (13.0 / 18.0), 1e-12);
    assert_eq!(log_rank(&[], Resampling { times: 1, seed: 1 }), None);
    let outcomes = [TimeOutcome::At(2.0), TimeOutcome::Above(4.0)];
    assert_eq!(
        right_censored(&outcomes),
        Some(vec![at(2.0, true), at(4.0, false)])
    );
    assert_eq!(right_censored(&[TimeOutcome::Below(2.0)]), None);
}

#[test]
fn the_interval_holds_as_often_as_it_says() {
    // Six blocks, one dough a treatment, true ratio 1.3, records that end at about the upper
    // quartile: the interval must hold the truth in about 95 of 100 studies. Studies in which too
    // few times were reached to fit are refused, and few.
    use rand_core::{Rng, SeedableRng};
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(31);
    let mut uniform = move || (rng.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
    let mut normal = move || {
        let radius = (-2.0 * (1.0 - uniform()).ln()).sqrt();
        radius * (std::f64::consts::TAU * uniform()).cos()
    };
    let mut columns = vec![(0..12).map(|i| f64::from(i % 2)).collect::<Vec<f64>>()];
    columns.extend((1..6).map(|b| (0..12).map(|i| f64::from(u8::from(i / 2 == b))).collect()));
    let (mut held, mut open, mut fitted, mut refused) = (0, 0, 0, 0);
    for _ in 0..150 {
        let mut block = 0.0;
        let outcomes: Vec<TimeOutcome> = (0..12)
            .map(|i| {
                if i % 2 == 0 {
                    block = 0.3 * normal();
                }
                let log = 1.6 + block + f64::from(i % 2) * 1.3_f64.ln() + 0.25 * normal();
                let time = log.exp();
                if time > 7.5 {
                    TimeOutcome::Above(7.5)
                } else {
                    TimeOutcome::At(time)
                }
            })
            .collect();
        let data = TimeData {
            outcomes: &outcomes,
            columns: &columns,
        };
        let found = fit_times(data, TimeLaw::LogNormal)
            .ok()
            .and_then(|fit| ratio_interval(data, &fit, 0, 0.95));
        match found {
            Some(found) => {
                fitted += 1;
                held += i32::from(found.low <= 1.3 && 1.3 <= found.high);
                open += i32::from(found.high.is_infinite());
            }
            None => refused += 1,
        }
    }
    let share = f64::from(held) / f64::from(fitted);
    assert!(
        (0.92..=0.99).contains(&share),
        "{share} of {fitted}, open {open}, refused {refused}"
    );
}
