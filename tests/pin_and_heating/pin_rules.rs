//! Each rule of the pin-mixer method, once where it must speak and once where it must not.

use crate::generate::PinRun;
use crate::generate::story::{LOWMARSH, SPIRAL, blends};
use crate::runs::{findings, over_time, pin_run, record, speaks_and_keeps_silent};
use doughtrace::record::{Run, RunRecord};
use doughtrace::schema::{Channel, Level, Unit};

fn good() -> PinRun {
    blends::pin_run(3, &LOWMARSH, &SPIRAL, 1)
}

fn of(change: impl Fn(&mut PinRun)) -> Vec<RunRecord> {
    let mut run = good();
    change(&mut run);
    vec![record(&pin_run(&run))]
}

/// The good run with its points changed.
fn damaged(change: impl Fn(&mut Vec<(f64, f64)>)) -> Vec<RunRecord> {
    let mut points = good().samples();
    change(&mut points);
    let mut run: Run = pin_run(&good());
    run.curves = vec![over_time(Channel::Signal, Unit::Percent, &points)];
    vec![record(&run)]
}

#[test]
fn a_good_run_is_found_fault_with_by_no_rule() {
    let found = findings(of(|_| {}));
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn set_points_are_25_degrees_and_88_turns() {
    let at = |c: f64| of(move |run| run.facts.lab.thermostat_c = Some(c));
    let rule = ("pin-mixing.temperature", Level::Warn, "26.1 °C");
    speaks_and_keeps_silent(rule, at(26.1), at(26.0));
    let turning = |n: f64| of(move |run| run.facts.speed_per_min = Some(n));
    let rule = ("pin-mixing.speed", Level::Warn, "90.1 1/min");
    speaks_and_keeps_silent(rule, turning(90.1), turning(86.0));
}

#[test]
fn flour_fits_the_bowl() {
    // 10 g at 14 % are 10 × 86/87.2 = 9.862 g at 12.8 % (HANDBOOK 1.2; derived).
    let weighed = |g: f64| of(move |run| run.facts.lab.flour_g = Some(g));
    let rule = ("pin-mixing.flour-weighed", Level::Warn, "ask for 9.86 g");
    speaks_and_keeps_silent(rule, weighed(9.6), weighed(9.8));
    let odd = of(|run| run.facts.lab.bowl_g = Some(300.0));
    let rule = (
        "pin-mixing.flour-weighed",
        Level::Warn,
        "known are 10 g and 35 g",
    );
    speaks_and_keeps_silent(rule, odd, of(|_| {}));
}

#[test]
fn heights_in_percent_need_a_spring_or_a_calibration() {
    let without = of(|run| {
        run.facts.spring = String::new();
        run.facts.torque_per_percent_nm = None;
    });
    let calibrated = of(|run| run.facts.spring = String::new());
    let rule = (
        "pin-mixing.spring-not-stated",
        Level::Warn,
        "% of full scale",
    );
    speaks_and_keeps_silent(rule, without, calibrated);
}

#[test]
fn a_record_is_long_enough_and_passes_the_peak() {
    let long = |min: f64| of(move |run| run.length_min = min);
    let rule = ("pin-mixing.record-length", Level::Warn, "6.0 min");
    speaks_and_keeps_silent(rule, long(6.0), long(8.0));
    let rule = ("pin-mixing.record-length", Level::Note, "7.5 min");
    speaks_and_keeps_silent(rule, long(7.5), long(9.0));
    let rule = (
        "pin-mixing.peak-not-passed",
        Level::Reject,
        "does not fall clearly",
    );
    speaks_and_keeps_silent(rule, long(3.0), long(8.0));
}

#[test]
fn noise_and_slow_sampling_are_seen() {
    let noisy = of(|run| run.noise_pct = 8.0);
    let rule = ("pin-mixing.noise", Level::Warn, "the limit is 3 %");
    speaks_and_keeps_silent(rule, noisy, of(|run| run.noise_pct = 0.6));
    let slow = of(|run| run.step_s = 0.7);
    let rule = ("pin-mixing.slow-sampling", Level::Warn, "every 0.70 s");
    speaks_and_keeps_silent(rule, slow, of(|run| run.step_s = 0.2));
}

#[test]
fn duplicates_agree_within_a_tenth() {
    let pair = |factor: f64| {
        let mut other = good();
        other.facts.lab.run_id = "PM-4".to_owned();
        other.seed += 1;
        other.model.hump_min *= factor;
        vec![record(&pin_run(&good())), record(&pin_run(&other))]
    };
    let rule = (
        "pin-mixing.duplicates",
        Level::Warn,
        "2 runs of flour lowmarsh-40",
    );
    speaks_and_keeps_silent(rule, pair(1.2), pair(1.03));
    // Another spring makes no duplicate.
    let mut other = good();
    other.facts.spring = "10".to_owned();
    other.model.hump_min *= 1.2;
    let found = findings(vec![record(&pin_run(&good())), record(&pin_run(&other))]);
    assert!(found.iter().all(|f| f.rule != "pin-mixing.duplicates"));
}

#[test]
fn troubles_of_the_record_are_found_under_their_own_names() {
    let untouched = || damaged(|_| {});
    let gap = damaged(|points| drop(points.drain(2000..2100)));
    let rule = ("record.gap", Level::Warn, "lasts 10.1 s");
    speaks_and_keeps_silent(rule, gap, untouched());
    let long = damaged(|points| drop(points.drain(2000..2300)));
    let rule = ("record.gap", Level::Reject, "lasts 30.1 s");
    speaks_and_keeps_silent(rule, long, untouched());
    let back = damaged(|points| points[3000].0 -= 5.0);
    let rule = ("record.time-steps-back", Level::Reject, "line 3010");
    speaks_and_keeps_silent(rule, back, untouched());
    let spike = damaged(|points| points[2500].1 = 97.0);
    let rule = ("record.spikes", Level::Note, "1 of 6001 readings");
    speaks_and_keeps_silent(rule, spike, untouched());
    let full = damaged(|points| {
        for point in points.iter_mut() {
            point.1 = (2.2 * point.1).min(100.0);
        }
    });
    let rule = ("record.saturation", Level::Reject, "full scale");
    speaks_and_keeps_silent(rule, full, untouched());
    let mut unstated = pin_run(&good());
    unstated.metadata = crate::runs::stated(&[], &[]);
    let rule = ("record.time-zero-inferred", Level::Note, "clock's zero");
    speaks_and_keeps_silent(rule, vec![record(&unstated)], untouched());
    // The rules of the recording dough mixer keep out of it.
    let all = damaged(|points| {
        drop(points.drain(2000..2300));
        points[2500].1 = 97.0;
    });
    let found = findings(all);
    assert!(
        found.iter().all(|f| !f.rule.starts_with("mixing.")),
        "{found:#?}"
    );
}
