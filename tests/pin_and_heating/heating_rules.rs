//! Each rule of the heating method, once where it must speak and once where it must not.

use crate::generate::HeatingRun;
use crate::generate::story::{LOWMARSH, SPIRAL, blends};
use crate::runs::{findings, heating_run, over_time, record, speaks_and_keeps_silent};
use doughtrace::record::RunRecord;
use doughtrace::schema::{Channel, Level, Unit};

fn good() -> HeatingRun {
    blends::heating_run(5, &LOWMARSH, &SPIRAL, 0.0)
}

fn of(change: impl Fn(&mut HeatingRun)) -> Vec<RunRecord> {
    let mut run = good();
    change(&mut run);
    vec![record(&heating_run(&run))]
}

/// The good run with another temperature of the block.
fn heated(block: impl Fn(f64) -> f64) -> Vec<RunRecord> {
    let mut run = heating_run(&good());
    let points: Vec<(f64, f64)> = run.curves[0]
        .x()
        .iter()
        .map(|s| (*s, block(s / 60.0)))
        .collect();
    run.curves
        .retain(|c| c.channel() != Channel::BlockTemperature);
    run.curves
        .push(over_time(Channel::BlockTemperature, Unit::Celsius, &points));
    vec![record(&run)]
}

/// The programme of HANDBOOK §3 with other rates and an offset.
fn block(minute: f64, heating: f64, cooling: f64, offset: f64) -> f64 {
    let up = heating * (minute - 8.0).clamp(0.0, 15.0);
    let down = cooling * (minute - 30.0).clamp(0.0, 10.0);
    30.0 + offset + up - down
}

#[test]
fn a_good_run_is_found_fault_with_by_no_rule() {
    let found = findings(of(|_| {}));
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn c1_of_a_final_run_lies_in_its_window() {
    let stiff = |purpose: &'static str| {
        of(move |run| {
            run.model.developed_nm += 0.08;
            run.facts.lab.purpose = purpose.to_owned();
        })
    };
    let rule = ("heating.c1-window", Level::Reject, "1.05–1.15 N m");
    speaks_and_keeps_silent(rule, stiff("final"), of(|_| {}));
    speaks_and_keeps_silent(rule, stiff("final"), stiff("study"));
    let rule = ("heating.c1-window", Level::Warn, "1.05–1.15 N m");
    speaks_and_keeps_silent(rule, stiff(""), stiff("titration"));
    let found = findings(stiff("final"));
    let finding = found.iter().find(|f| f.rule == "heating.c1-window");
    assert!(finding.is_some_and(|f| f.what_to_do.contains("more water")));
}

#[test]
fn a_dough_is_developed_within_the_constant_phase() {
    let slow = of(|run| {
        run.model.development_min = 4.0;
        run.model.softening_nm_per_min = 0.0;
        run.model.weakening.at_min = 16.0;
    });
    let rule = ("heating.not-developed", Level::Reject, "still rises");
    speaks_and_keeps_silent(rule, slow, of(|_| {}));
}

#[test]
fn speed_and_masses_are_those_of_the_standard() {
    let turning = |n: f64| of(move |run| run.facts.speed_per_min = Some(n));
    let rule = ("heating.speed", Level::Warn, "82.0 1/min");
    speaks_and_keeps_silent(rule, turning(82.0), turning(80.8));
    let heavy = |g: f64| of(move |run| run.facts.dough_g = Some(g));
    let rule = ("heating.dough-mass", Level::Warn, "76.0 g");
    speaks_and_keeps_silent(rule, heavy(76.0), heavy(75.4));
    let watered = |more: f64| {
        of(move |run| {
            let water = run.facts.lab.water_ml.unwrap();
            run.facts.lab.water_ml = Some(water + more);
        })
    };
    let rule = ("heating.make-up", Level::Warn, "g water weighed");
    speaks_and_keeps_silent(rule, watered(0.5), watered(0.2));
}

#[test]
fn the_block_follows_its_programme() {
    let exact = || heated(|m| block(m, 4.0, 4.0, 0.0));
    let warm = heated(|m| block(m, 4.0, 4.0, 1.4));
    let rule = (
        "heating.phase-temperature",
        Level::Warn,
        "31.4 °C in the first",
    );
    speaks_and_keeps_silent(rule, warm, exact());
    let lazy = heated(|m| block(m, 3.6, 3.6, 0.0));
    let rule = (
        "heating.heating-rate",
        Level::Warn,
        "heating at 3.60 °C/min",
    );
    speaks_and_keeps_silent(rule, lazy, exact());
    let lazy = heated(|m| block(m, 4.0, 3.6, 0.0));
    let rule = (
        "heating.heating-rate",
        Level::Warn,
        "cooling at 3.60 °C/min",
    );
    speaks_and_keeps_silent(rule, lazy, exact());
}

#[test]
fn the_dough_temperature_is_recorded() {
    let mut run = heating_run(&good());
    run.curves.retain(|c| c.channel() != Channel::Temperature);
    let rule = ("heating.no-dough-temperature", Level::Note, "D1 to D5");
    speaks_and_keeps_silent(rule, vec![record(&run)], of(|_| {}));
}

#[test]
fn a_short_record_and_a_missing_c4_are_named() {
    let long = |min: f64| of(move |run| run.length_min = min);
    let rule = ("heating.record-length", Level::Warn, "40.0 min");
    speaks_and_keeps_silent(rule, long(40.0), long(45.0));
    let still = of(|run| {
        run.model.breakdown.nm = 0.0;
        run.model.softening_nm_per_min = 0.0;
        run.model.setback.at_min = 31.0;
    });
    let rule = ("heating.no-c4", Level::Note, "low amylase");
    speaks_and_keeps_silent(rule, still, of(|_| {}));
}

#[test]
fn noise_and_sampling_in_step_are_seen() {
    let noisy = of(|run| run.noise_nm = 0.3);
    let rule = ("heating.noise", Level::Warn, "the limit is 3 %");
    speaks_and_keeps_silent(rule, noisy, of(|run| run.noise_nm = 0.01));
    let step = |s: f64| of(move |run| run.step_s = s);
    let rule = ("heating.slow-sampling", Level::Note, "every 1.00 s");
    speaks_and_keeps_silent(rule, step(1.0), step(0.2));
}

#[test]
fn duplicates_agree_within_half_the_window() {
    let pair = |more: f64, hydration: f64| {
        let mut other = good();
        other.facts.lab.run_id = "HT-6".to_owned();
        other.seed += 1;
        other.model.developed_nm += more;
        let stated = other.facts.lab.hydration_pct.unwrap();
        other.facts.lab.hydration_pct = Some(stated + hydration);
        vec![record(&heating_run(&good())), record(&heating_run(&other))]
    };
    let rule = (
        "heating.duplicates",
        Level::Warn,
        "2 runs of flour lowmarsh-40",
    );
    speaks_and_keeps_silent(rule, pair(0.07, 0.0), pair(0.03, 0.0));
    // Another hydration makes no duplicate.
    speaks_and_keeps_silent(rule, pair(0.07, 0.0), pair(0.07, 2.0));
}
