//! Derived values against the generator's truth, and the coverage of their intervals.
//!
//! The truth comes from the noise-free model by the definitions of HANDBOOK §1.7–1.9 and §19; it
//! shares no code with the derivation.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "tests may stop, and this one prints the figures it measured"
)]

mod generate;

use doughtrace::derive::mixing;
use doughtrace::record::{
    Curve, FieldValue, Metadata, MetricResult, Origin, Outcome, ProfileStamp, RawFile, RowRange,
    Run,
};
use doughtrace::schema::{Axis, Channel, Digest, Field, RunId, Test, Unit};
use generate::{GeneratedRun, Rules, TruthValue, random_curve};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Returns the run as intake would hand it over.
fn as_run(generated: &GeneratedRun) -> Run {
    let samples = generated.samples();
    let facts = &generated.spec.facts;
    let mut metadata = Metadata::default();
    let mut state = |field, value| {
        if let Some(value) = value {
            metadata.state(field, FieldValue::Number(value), Origin::Profile);
        }
    };
    state(Field::BowlG, facts.bowl_g);
    state(Field::FlourMoisturePct, facts.moisture_pct);
    state(Field::FlourG, facts.flour_g);
    state(Field::WaterMl, facts.water_ml);
    state(Field::WaterContactS, facts.water_contact_s);
    let curve = Curve::new(
        Channel::Signal,
        Axis::Time,
        Unit::Fu,
        samples.time_s,
        samples.signal,
    )
    .unwrap();
    Run {
        id: RunId::new(&generated.run_id).unwrap(),
        test: Test::Mixing,
        file: RawFile {
            name: "generated".into(),
            sha256: Digest::of(b"generated"),
            bytes: 0,
        },
        profile: ProfileStamp {
            id: "generated".into(),
            sha256: Digest::of(b""),
        },
        selector: String::new(),
        rows: RowRange {
            first: 1,
            last: curve.points() as u64,
        },
        metadata,
        curves: vec![curve],
        lines: Vec::new(),
        missing_cells: 0,
    }
}

/// Plateau tolerance that the derivation used, as it prints it.
fn delta_of(results: &[MetricResult]) -> f64 {
    let iso = results
        .iter()
        .find(|r| r.metric.id == "mixing.development_time")
        .unwrap();
    let text = iso.parameters.rsplit("delta=").next().unwrap();
    text.parse().unwrap_or(2.0)
}

#[derive(Default)]
struct Tally {
    exact: usize,
    covered: usize,
    other_status: usize,
    errors: Vec<f64>,
}

#[test]
fn intervals_cover_the_truth_on_500_generated_curves() {
    let mut tallies: BTreeMap<(&str, &str), Tally> = BTreeMap::new();
    for seed in 0..500 {
        let generated = random_curve(seed);
        let run = as_run(&generated);
        let derived = mixing::derive(&run, Arc::new(run.conditions()));
        let rules = Rules {
            delta_fu: delta_of(&derived.results),
            ..Rules::default()
        };
        let truth = generated.truth(rules);
        for result in &derived.results {
            let Some(value) = truth.get(result.metric.id, result.variant) else {
                continue;
            };
            let tally = tallies
                .entry((result.metric.id, result.variant))
                .or_default();
            match (&result.outcome, value) {
                (Outcome::Exact(e), TruthValue::Exact(t)) => {
                    tally.exact += 1;
                    tally.errors.push(e.value() - t);
                    if e.low() <= t && t <= e.high() {
                        tally.covered += 1;
                    }
                }
                (Outcome::Exact(e), TruthValue::Between(a, b)) => {
                    tally.exact += 1;
                    if e.low() <= b && a <= e.high() {
                        tally.covered += 1;
                    }
                }
                (outcome, t) => {
                    let same = matches!(
                        (outcome, t),
                        (Outcome::Above(_), TruthValue::Above(_))
                            | (Outcome::Below(_), TruthValue::Below(_))
                            | (Outcome::NotReached(_), TruthValue::NotReached)
                            | (Outcome::NotComputable(_), TruthValue::NotComputable)
                    );
                    if !same {
                        tally.other_status += 1;
                    }
                }
            }
        }
    }
    let (mut exact, mut covered) = (0, 0);
    for ((metric, variant), tally) in &mut tallies {
        exact += tally.exact;
        covered += tally.covered;
        tally.errors.sort_by(f64::total_cmp);
        let at = |q: f64| {
            tally
                .errors
                .get((q * tally.errors.len() as f64) as usize)
                .copied()
                .unwrap_or(f64::NAN)
        };
        let share = tally.covered as f64 / tally.exact.max(1) as f64;
        println!(
            "{metric:28} {variant:10} exact {:3}, covered {:5.1} %, other status {:2}, error 5/50/95 %: {:+.3} {:+.3} {:+.3}",
            tally.exact,
            100.0 * share,
            tally.other_status,
            at(0.05),
            at(0.5),
            at(0.95)
        );
        assert!(
            tally.exact > 450,
            "{metric} {variant}: only {} exact",
            tally.exact
        );
        assert!(
            share >= 0.90,
            "{metric} {variant}: interval covers {share:.3} of the truth"
        );
        assert!(
            tally.other_status <= 10,
            "{metric} {variant}: status of {}",
            tally.other_status
        );
    }
    println!(
        "all metrics: {:.2} % of {exact} intervals hold the truth",
        100.0 * covered as f64 / exact as f64
    );
}
