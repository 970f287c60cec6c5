//! Strip and inflation metrics against an independent computation with numpy and scipy from the
//! same bytes: script, versions and output in `tests/reference`.

use super::day_of;
use crate::generate::GeneratedFile;
use crate::generate::story::{inflation_files, strip_files};
use doughtrace::record::{MetricResult, Outcome};
use serde_json::Value;
use std::path::PathBuf;

/// Curves that the script reads: one strip, one disc over time, and the five discs of a dough.
const CURVES: [&str; 3] = ["ST-625.txt", "BU-716.tsv", "bubbles-spiral.csv"];

fn chosen() -> Vec<GeneratedFile> {
    let all = [strip_files(), inflation_files()].concat();
    all.into_iter()
        .filter(|f| CURVES.contains(&f.name()))
        .collect()
}

/// The committed curves are those of the generator; `UPDATE=1` rewrites them.
#[test]
fn the_reference_was_computed_from_these_bytes() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/reference/curves");
    let files = chosen();
    assert_eq!(files.len(), CURVES.len());
    for file in &files {
        let path = folder.join(file.name());
        if std::env::var_os("UPDATE").is_some() {
            std::fs::write(&path, &file.bytes).unwrap();
        }
        assert!(
            std::fs::read(&path).unwrap() == file.bytes,
            "{}",
            file.name()
        );
    }
}

fn reference() -> Value {
    serde_json::from_str(include_str!("../reference/strips_and_bubbles.json")).unwrap()
}

/// Compares every number of `wanted` with the results; two ways of reading one noisy curve agree
/// to within a share of the number.
fn compare(
    name: &str,
    results: &[MetricResult],
    wanted: &Value,
    share: impl Fn(&str) -> f64,
) -> usize {
    let wanted = wanted.as_object().unwrap();
    for (key, number) in wanted {
        let (metric, variant) = key.split_once(' ').unwrap_or((key, ""));
        let found = results
            .iter()
            .find(|r| r.metric.id == metric && r.variant == variant)
            .unwrap_or_else(|| panic!("{key}"));
        let number = number.as_f64().unwrap();
        let Outcome::Exact(estimate) = found.outcome else {
            panic!("{name}, {key}: {:?}", found.outcome);
        };
        let off = (estimate.value() / number - 1.0).abs();
        assert!(
            off <= share(metric),
            "{name}, {key}: {}, reference {number}, off {off:.5}",
            estimate.value()
        );
    }
    wanted.len()
}

#[test]
fn metrics_agree_with_the_reference() {
    let day = day_of(&chosen());
    let reference = reference();
    // What is read at one place of a noisy curve by another smoothing: 1.5 %; sums, lengths and fits:
    // 0.75 % (the script takes the last reading before the fall for the rupture).
    let share = |metric: &str| {
        let at_a_place = [
            "force",
            "stress",
            "overpressure",
            "strain",
            "ratio",
            "elasticity",
        ];
        if at_a_place.iter().any(|word| metric.contains(word)) {
            0.015
        } else {
            0.0075
        }
    };
    let mut compared = 0;
    for (name, wanted) in reference["runs"].as_object().unwrap() {
        let run = day.runs.iter().find(|r| r.id.as_str() == name).unwrap();
        compared += compare(name, &run.results, wanted, share);
    }
    for (name, wanted) in reference["doughs"].as_object().unwrap() {
        let group = day.groups.iter().find(|g| g.name == *name).unwrap();
        compared += compare(name, &group.results, wanted, share);
    }
    assert!(compared >= 30, "{compared}");
}
