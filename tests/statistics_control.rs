//! Control charts against published examples, run lengths of theory, and a general library.

#![allow(clippy::unwrap_used, reason = "tests may stop")]

use doughtrace::numerics::control::{
    ControlLimits, Cusum, Drift, DuplicateLimits, Ewma, JumpSearch, RunRule, RunSignal, Side,
    cusum, ewma, find_runs, lot_shift, moving_ranges, separate_drift,
};
use rand_chacha::ChaCha8Rng;
use rand_core::{Rng, SeedableRng};

#[track_caller]
fn close(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within, "{found} for {wanted}");
}

/// Returns standard normal values (Box and Muller 1958).
fn normal(count: usize, rng: &mut ChaCha8Rng) -> Vec<f64> {
    let mut uniform = || (rng.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
    (0..count)
        .map(|_| {
            let radius = (-2.0 * (1.0 - uniform()).ln()).sqrt();
            radius * (std::f64::consts::TAU * uniform()).cos()
        })
        .collect()
}

#[test]
fn individuals_agree_with_the_handbook() {
    // HANDBOOK §15, V-C3 (last printed digit).
    let values = [60.1, 60.3, 59.9, 60.2, 60.4, 60.0, 60.1, 60.5];
    let limits = ControlLimits::from_base(&values).unwrap();
    close(limits.centre, 60.1875, 1e-9);
    close(limits.mean_range, 0.2857, 5e-5);
    close(limits.upper(), 60.9475, 5e-5);
    close(limits.lower(), 59.4275, 5e-5);
    close(limits.upper_range(), 0.9334, 5e-5);
    close(limits.sigma(), 0.285_714 / 1.128, 1e-6);
    close(
        limits.standardize(60.1875 + 2.0 * limits.sigma()),
        2.0,
        1e-12,
    );
    assert!(!limits.are_established());
    assert_eq!(moving_ranges(&values).len(), 7);
    assert_eq!(ControlLimits::from_base(&[5.0, 5.0, 5.0]), None);
    assert_eq!(ControlLimits::from_base(&[5.0]), None);
}

#[test]
fn duplicates_have_limits_of_their_own() {
    // HANDBOOK §11.4: mean = 1.128 s, upper 3.267 × mean. Mean difference 0.4 by hand.
    let limits = DuplicateLimits::from_pairs(&[(59.8, 60.0), (60.5, 59.9), (60.1, 60.5)]).unwrap();
    close(limits.sigma(), 0.4 / 1.128, 1e-12);
    close(limits.upper(), 1.3068, 1e-12);
    assert_eq!(DuplicateLimits::from_pairs(&[]), None);
}

#[test]
fn ewma_agrees_with_the_handbook() {
    // HANDBOOK §15, V-C1: NIST/SEMATECH e-Handbook example of 20 values.
    let data = [
        52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8,
        51.2, 52.6, 52.4, 53.6, 52.1,
    ];
    let wanted = [
        50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52,
        50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
    ];
    let chart = Ewma {
        weight: 0.3,
        width: 3.0,
    };
    let points = ewma(&data, 50.0, 2.0539, chart).unwrap();
    for (point, wanted) in points.iter().zip(wanted) {
        close(point.average, wanted, 0.005_000_1);
        assert_eq!(point.signal, None);
    }
    close(points[19].upper, 52.588, 5e-4);
    // Exact limit of the first point, by hand: σ of λx is λσ.
    close(points[0].upper, 50.0 + 3.0 * 0.3 * 2.0539, 1e-12);
    close(points[0].lower, 50.0 - 3.0 * 0.3 * 2.0539, 1e-12);
    let shifted: Vec<f64> = data.iter().map(|v| v + 4.0).collect();
    let found = ewma(&shifted, 50.0, 2.0539, chart).unwrap();
    assert_eq!(found[19].signal, Some(Side::High));
    assert_eq!(ewma(&data, 50.0, 0.0, chart), None);
    let none = Ewma {
        weight: 0.0,
        ..chart
    };
    assert_eq!(ewma(&data, 50.0, 1.0, none), None);
}

#[test]
fn cusum_agrees_with_the_handbook() {
    // HANDBOOK §15, V-C2: alarm at point 12 with h 4, at 13 with h 5.
    let data = [
        10.1, 9.8, 10.3, 10.0, 9.9, 11.2, 11.0, 10.9, 11.4, 11.1, 11.3, 11.2, 11.4,
    ];
    let wanted = [
        0.0, 0.0, 0.0, 0.0, 0.0, 0.7, 1.2, 1.6, 2.5, 3.1, 3.9, 4.6, 5.5,
    ];
    for (decision, first) in [(4.0, 11), (5.0, 12)] {
        let chart = Cusum {
            slack: 0.5,
            decision,
        };
        let points = cusum(&data, 10.0, 1.0, chart).unwrap();
        for (point, wanted) in points.iter().zip(wanted) {
            close(point.high, wanted, 1e-9);
        }
        let alarm = points.iter().position(|p| p.signal.is_some());
        assert_eq!(alarm, Some(first));
        assert_eq!(points[first].signal, Some(Side::High));
        assert_eq!(points[first].since, Some(5));
    }
    // The lean of the last eight values: mean 11.1875, so 1.1875 above the centre.
    let points = cusum(&data, 10.0, 1.0, Cusum::default()).unwrap();
    close(points[12].shift, 1.1875, 1e-9);
    let mirrored: Vec<f64> = data.iter().map(|v| 20.0 - v).collect();
    let low = cusum(&mirrored, 10.0, 1.0, Cusum::default()).unwrap();
    assert_eq!(low[12].signal, Some(Side::Low));
    close(low[12].shift, -1.1875, 1e-9);
    assert_eq!(cusum(&data, 10.0, -1.0, Cusum::default()), None);
}

/// Returns the mean number of values to the first alarm.
fn mean_run_length(runs: usize, shift: f64, chart: Cusum) -> f64 {
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    let mut total = 0;
    for _ in 0..runs {
        let values: Vec<f64> = normal(4000, &mut rng).iter().map(|z| z + shift).collect();
        let points = cusum(&values, 0.0, 1.0, chart).unwrap();
        total += 1 + points.iter().position(|p| p.signal.is_some()).unwrap();
    }
    total as f64 / runs as f64
}

#[test]
fn cusum_run_lengths_are_those_of_theory() {
    // Two-sided, k 0.5, h 4: 168 values in control, 8.38 after a shift of one standard deviation
    // (NIST/SEMATECH e-Handbook 6.3.2.3; from memory). Standard error of 400 runs: 5 %.
    let chart = Cusum {
        slack: 0.5,
        decision: 4.0,
    };
    close(mean_run_length(400, 0.0, chart), 168.0, 0.15 * 168.0);
    close(mean_run_length(400, 1.0, chart), 8.38, 0.15 * 8.38);
}

#[test]
fn run_rules_find_their_pattern_and_nothing_else() {
    let only = |values: &[f64], rule| find_runs(values, &[rule]);
    let signal = |rule, first, last, side| RunSignal {
        rule,
        first,
        last,
        side,
    };
    // Each pattern by hand, and the same cut one value short.
    let eight = [-0.1, 0.4, 0.2, 0.6, 0.1, 0.9, 0.3, 0.2, 0.5, 0.4, -0.2];
    let rule = RunRule::EightOnOneSide;
    assert_eq!(only(&eight, rule), [signal(rule, 1, 9, Side::High)]);
    assert_eq!(only(&eight[..8], rule), []);

    let far = [0.0, -2.1, 0.3, -2.2, 0.0, 0.0, 2.1, -2.1];
    let rule = RunRule::TwoOfThreeFarOut;
    assert_eq!(only(&far, rule), [signal(rule, 1, 3, Side::Low)]);

    let rising = [0.3, -1.0, -0.5, 0.0, 0.2, 0.7, 0.8, 0.7];
    let rule = RunRule::SixInOneDirection;
    assert_eq!(only(&rising, rule), [signal(rule, 1, 6, Side::High)]);
    assert_eq!(only(&rising[2..], rule), []);
    let falling: Vec<f64> = rising.iter().map(|z| -z).collect();
    assert_eq!(only(&falling, rule), [signal(rule, 1, 6, Side::Low)]);

    let wild = [0.0, 3.2, -3.1, -3.2, 2.9];
    let rule = RunRule::BeyondLimits;
    let found = [
        signal(rule, 1, 1, Side::High),
        signal(rule, 2, 3, Side::Low),
    ];
    assert_eq!(only(&wild, rule), found);
    assert_eq!(find_runs(&[], &RunRule::ALL), []);
}

#[test]
fn run_rules_alarm_as_often_as_chance_says() {
    // Probability that a given value completes each pattern, exact for independent values:
    // beyond: 2(1 − Φ(3)) = 0.0027; eight: 2/2⁸; six in one direction: 2/6!.
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    let values = normal(400_000, &mut rng);
    let counted = |rule: RunRule, window: usize| {
        let found = find_runs(&values, &[rule]);
        let completed: usize = found.iter().map(|s| s.last - s.first + 2 - window).sum();
        completed as f64 / values.len() as f64
    };
    close(counted(RunRule::BeyondLimits, 1), 0.0027, 0.0003);
    close(counted(RunRule::EightOnOneSide, 8), 0.007_812_5, 0.0006);
    close(counted(RunRule::SixInOneDirection, 6), 0.002_777_8, 0.0003);
}

#[test]
fn a_new_lot_is_tied_to_the_old_one() {
    // scipy 1.17.1, ttest_rel([508, 511, 507, 510], [501, 502, 499, 503]): mean 7.75, 95 %
    // interval 6.2265198 to 9.2734802.
    let old = [501.0, 502.0, 499.0, 503.0];
    let shift = lot_shift(&old, &[508.0, 511.0, 507.0, 510.0]).unwrap();
    close(shift.shift, 7.75, 1e-12);
    close(shift.low, 6.226_519_8, 1e-6);
    close(shift.high, 9.273_480_2, 1e-6);
    let limits = ControlLimits::from_base(&[500.0, 502.0, 501.0]).unwrap();
    let carried = shift.carry_over(&limits);
    close(carried.centre, 508.75, 1e-12);
    close(
        carried.upper() - carried.lower(),
        limits.upper() - limits.lower(),
        1e-9,
    );
    assert_eq!(lot_shift(&old, &[508.0, 511.0]), None);
}

/// Returns times and values of the reference script: jumps of +8 and −5 on an ageing of −0.05.
fn aged(jumps: (f64, f64)) -> (Vec<f64>, Vec<f64>) {
    let times: Vec<f64> = (0..60)
        .map(|i| f64::from(i) + 0.5 * f64::from(i % 3))
        .collect();
    let value = |(i, t): (usize, &f64)| {
        let noise = ((i * 37) % 23) as f64 / 11.0 - 1.0;
        let first = if i >= 20 { jumps.0 } else { 0.0 };
        let second = if i >= 40 { jumps.1 } else { 0.0 };
        500.0 - 0.05 * t + first + second + noise
    };
    let values = times.iter().enumerate().map(value).collect();
    (times, values)
}

#[test]
fn jumps_are_told_from_ageing() {
    // tests/reference/statistics_control.json (statsmodels 0.15.0, OLS with the jumps given).
    let file: serde_json::Value =
        serde_json::from_str(include_str!("reference/statistics_control.json")).unwrap();
    let number = |key: &str, i: usize| file[key][i].as_f64().unwrap();
    let (times, values) = aged((8.0, -5.0));
    let found = separate_drift(&times, &values, JumpSearch::default()).unwrap();
    let places: Vec<usize> = found.jumps.iter().map(|jump| jump.index).collect();
    assert_eq!(places, [20, 40]);
    close(found.start, number("start_slope_jumps", 0), 1e-8);
    close(found.slope, number("start_slope_jumps", 1), 1e-9);
    close(found.slope_error, number("standard_errors", 1), 1e-9);
    for (k, jump) in found.jumps.iter().enumerate() {
        close(jump.size, number("start_slope_jumps", 2 + k), 1e-8);
        close(jump.standard_error, number("standard_errors", 2 + k), 1e-8);
        assert!(jump.p <= 0.01);
    }
    close(
        found.residual_sd,
        file["residual_sd"].as_f64().unwrap(),
        1e-9,
    );
    // A line that knows no jump would have called it ageing of the wrong sign.
    let blind = JumpSearch {
        most: 0,
        ..JumpSearch::default()
    };
    assert!(separate_drift(&times, &values, blind).unwrap().slope > 0.0);
}

#[test]
fn ageing_alone_makes_no_jump() {
    let (times, values) = aged((0.0, 0.0));
    let found = separate_drift(&times, &values, JumpSearch::default()).unwrap();
    assert_eq!(found.jumps, []);
    close(found.slope, -0.05, 3.0 * found.slope_error);
    // 100 records of noise on a line: at level 0.05, the count of those with a jump has mean 5 and
    // standard deviation 2.2.
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    let search = JumpSearch {
        level: 0.05,
        resampling: doughtrace::numerics::Resampling { times: 99, seed: 2 },
        ..JumpSearch::default()
    };
    let times: Vec<f64> = (0..40).map(f64::from).collect();
    let false_alarms = (0..100)
        .filter(|_| {
            let noise = normal(40, &mut rng);
            let values: Vec<f64> = times.iter().zip(&noise).map(|(t, e)| 0.3 * t + e).collect();
            let jumps = |drift: Drift| !drift.jumps.is_empty();
            separate_drift(&times, &values, search).is_some_and(jumps)
        })
        .count();
    assert!(false_alarms <= 12, "{false_alarms}");
}

#[test]
fn drift_needs_times_that_rise_and_enough_values() {
    let search = JumpSearch::default();
    let values: Vec<f64> = (0..12).map(|i| f64::from(i % 5)).collect();
    assert_eq!(separate_drift(&[1.0; 12], &values, search), None);
    let times: Vec<f64> = (0..12).map(f64::from).collect();
    assert!(separate_drift(&times, &values, search).is_some());
    assert_eq!(separate_drift(&times[..9], &values[..9], search), None);
    // A step without noise is found once, and nothing else.
    let step: Vec<f64> = times
        .iter()
        .map(|t| if *t < 6.0 { 3.0 } else { 5.0 })
        .collect();
    let found = separate_drift(&times, &step, search).unwrap();
    assert_eq!(found.jumps.len(), 1);
    close(found.jumps[0].size, 2.0, 1e-9);
    // Seeded: the same answer twice.
    let once = separate_drift(&times, &values, search);
    assert_eq!(once, separate_drift(&times, &values, search));
}
