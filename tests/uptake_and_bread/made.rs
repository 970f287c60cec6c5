//! Runs and records made by hand.

use doughtrace::derive;
use doughtrace::record::{
    Curve, Day, FieldValue, Metadata, MetricResult, Observation, Origin, Outcome, ProfileStamp,
    RawFile, RowRange, Run, RunRecord,
};
use doughtrace::schema::{Axis, BatchId, Channel, Digest, Field, RunId, Test, Unit};
use std::sync::Arc;

/// Returns a run of the given points, with the facts stated.
pub fn run_of(
    id: &str,
    test: Test,
    (axis, unit): (Axis, Unit),
    points: &[(f64, f64)],
    facts: &[(Field, &str)],
) -> Run {
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
        id: RunId::new(id).unwrap(),
        test,
        file: RawFile {
            name: format!("{id}.csv"),
            sha256: Digest::of(id.as_bytes()),
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
        curves: vec![Curve::new(Channel::Signal, axis, unit, x, y).unwrap()],
        lines: Vec::new(),
        missing_cells: 0,
    }
}

/// Returns the record of a run after derivation.
pub fn record_of(run: &Run) -> RunRecord {
    let conditions = Arc::new(run.conditions());
    let derived = derive::derive_run(run, Arc::clone(&conditions)).unwrap();
    RunRecord::new(run, conditions, derived.facts, derived.results, true)
}

/// Returns one scalar record: row, dough, piece, age, quantity, value, unit.
pub fn scalar(
    row: u64,
    (dough, piece): (&str, &str),
    age_d: Option<f64>,
    quantity: &str,
    (value, unit): (f64, Unit),
) -> Observation {
    Observation {
        file: RawFile {
            name: "bread.csv".into(),
            sha256: Digest::of(b"bread"),
            bytes: 5,
        },
        rows: RowRange {
            first: row,
            last: row,
        },
        batch_id: BatchId::new(dough).unwrap(),
        treatment: Some("two-arm".into()),
        block: Some("1".into()),
        mix_time_min: None,
        rest_min: None,
        piece: (!piece.is_empty()).then(|| piece.to_owned()),
        grade: None,
        overmixed: false,
        edge: None,
        grader: None,
        blind_code: None,
        order: None,
        codebook: None,
        photo: None,
        px_per_mm: None,
        sample_id: None,
        replicate: None,
        age_d,
        quantity: Some(quantity.to_owned()),
        value: Some(value),
        unit: Some(unit),
        note: None,
    }
}

/// Returns the day of some runs and records.
pub fn day_of(runs: Vec<RunRecord>, observations: Vec<Observation>) -> Day {
    Day {
        groups: derive::derive_groups(&runs),
        grading: derive::derive_observations(&observations),
        runs,
        observations,
        ..Day::default()
    }
}

/// Returns the outcome of a metric in a variant (empty for the only reading).
pub fn outcome<'r>(
    results: impl IntoIterator<Item = &'r MetricResult>,
    metric: &str,
    variant: &str,
) -> Outcome {
    let mut all = results.into_iter();
    let found = all.find(|r| r.metric.id == metric && r.variant == variant);
    found
        .unwrap_or_else(|| panic!("no {metric} {variant}"))
        .outcome
        .clone()
}

/// Returns the value of an exact outcome.
pub fn value(outcome: &Outcome) -> f64 {
    outcome.value().unwrap_or_else(|| panic!("{outcome:?}"))
}
