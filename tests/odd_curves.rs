//! Curves that no dough makes: whatever comes in, derivation returns, and what it returns is finite.

#![allow(clippy::unwrap_used, clippy::panic, reason = "tests may stop")]

use doughtrace::check::check;
use doughtrace::derive::METHODS;
use doughtrace::derive::mixing;
use doughtrace::record::{
    Curve, Day, Metadata, Outcome, ProfileStamp, RawFile, RowRange, Run, RunRecord,
};
use doughtrace::schema::{Axis, Channel, Digest, Level, RunId, Test, Unit};
use std::sync::Arc;

fn run(name: &str, x: Vec<f64>, y: Vec<f64>) -> Run {
    let points = x.len() as u64;
    Run {
        id: RunId::new(name).unwrap(),
        test: Test::Mixing,
        file: RawFile {
            name: name.into(),
            sha256: Digest::of(name.as_bytes()),
            bytes: 0,
        },
        profile: ProfileStamp {
            id: "odd".into(),
            sha256: Digest::of(b""),
        },
        selector: String::new(),
        rows: RowRange {
            first: 2,
            last: points + 1,
        },
        metadata: Metadata::default(),
        curves: vec![Curve::new(Channel::Signal, Axis::Time, Unit::Fu, x, y).unwrap()],
        lines: Vec::new(),
        missing_cells: 0,
    }
}

fn odd_runs() -> Vec<Run> {
    let times = |count: usize, step: f64| (0..count).map(|i| i as f64 * step).collect::<Vec<_>>();
    let shaped = |x: &[f64], f: &dyn Fn(f64) -> f64| x.iter().map(|t| f(*t)).collect::<Vec<_>>();
    let t = times(2400, 0.5);
    let hill = |t: f64| 500.0 - 0.1 * (t - 300.0).abs() + 30.0 * libm::sin(3.4 * t);
    let mut runs = vec![
        run(
            "huge",
            t.clone(),
            shaped(&t, &|t| 1e300 * (1.0 + libm::sin(t))),
        ),
        run(
            "largest",
            t.clone(),
            shaped(&t, &|t| if t > 600.0 { f64::MAX } else { -f64::MAX }),
        ),
        run("zeros", t.clone(), vec![0.0; t.len()]),
        run("constant", t.clone(), vec![500.0; t.len()]),
        run("falling", t.clone(), shaped(&t, &|t| -t)),
        run("one point", vec![0.0], vec![1.0]),
        run("two points", vec![0.0, 1.0], vec![1.0, 2.0]),
        run("one time", vec![5.0; 100], times(100, 1.0)),
        run("far clock", shaped(&t, &|t| 1e12 + t), shaped(&t, &hill)),
        run(
            "before zero",
            shaped(&t, &|t| t - 2000.0),
            shaped(&t, &hill),
        ),
        run(
            "half before zero",
            shaped(&t, &|t| t - 60.0),
            shaped(&t, &hill),
        ),
    ];
    for step in [1e-12, 1e-3, 1.905, 60.0, 3600.0, 1e9] {
        let t = times(240, step);
        runs.push(run(
            &format!("step {step}"),
            t.clone(),
            shaped(&t, &|t| 500.0 - 1e-3 * t),
        ));
    }
    // Every other reading full, every other empty; and a hill cut short at every length.
    runs.push(run(
        "teeth",
        t.clone(),
        shaped(&t, &|t| if t.fract() > 0.2 { 900.0 } else { 0.0 }),
    ));
    for count in 1..80 {
        let t = times(count, 1.0);
        runs.push(run(&format!("cut {count}"), t.clone(), shaped(&t, &hill)));
    }
    runs
}

#[test]
fn every_odd_curve_is_read_or_refused_and_nothing_is_infinite() {
    for run in odd_runs() {
        let derived = mixing::derive(&run, Arc::new(run.conditions()));
        assert!(!derived.results.is_empty(), "{}", run.id);
        for result in &derived.results {
            let name = format!("{} {} {}", run.id, result.metric.id, result.variant);
            match &result.outcome {
                Outcome::Exact(e) => {
                    assert!(
                        e.low() <= e.value() && e.value() <= e.high(),
                        "{name}: {e:?}"
                    );
                }
                Outcome::Above(bound) | Outcome::Below(bound) => {
                    assert!(bound.is_finite(), "{name}: {bound}");
                }
                other => assert!(
                    other.reason().is_some_and(|r| r.len() > 5),
                    "{name}: {other:?}"
                ),
            }
        }
    }
}

#[test]
fn a_record_without_a_clock_is_rejected_with_a_next_step() {
    let run = run(
        "one time",
        vec![5.0; 100],
        (0..100).map(f64::from).collect(),
    );
    let conditions = Arc::new(run.conditions());
    let derived = mixing::derive(&run, Arc::clone(&conditions));
    let record = RunRecord::new(&run, conditions, derived.facts, derived.results, true);
    let found = check(&Day {
        runs: vec![record],
        ..Day::default()
    });
    assert!(
        found
            .iter()
            .any(|f| f.rule == "mixing.repeated-times" && f.level == Level::Reject)
    );
}

#[test]
fn every_metric_says_where_it_is_declared() {
    for method in METHODS {
        for metric in (method.card)().metrics {
            assert!(
                metric.address.file.starts_with("src/derive/"),
                "{}",
                metric.id
            );
            assert!(metric.id.starts_with(method.test.word()), "{}", metric.id);
            assert!(metric.definition.len() > 40, "{}", metric.id);
        }
    }
}
