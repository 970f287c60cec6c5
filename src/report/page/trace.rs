//! Provenance: raw files, what was stated about each run, and the trace of each result.

use super::run_anchor;
use crate::record::{MetricResult, ProfileStamp, RawFile, RowRange, RunRecord};
use crate::report::DayReport;
use crate::report::wording::{reading, unit_words};
use crate::schema::Field;
use serde::Serialize;
use std::collections::BTreeMap;

/// Days with more runs leave the traces to the results table, so that the page stays light.
const TRACES_UP_TO_RUNS: usize = 200;

/// Where everything came from.
#[derive(Serialize)]
pub(super) struct Trace {
    tool_version: String,
    generated_at: String,
    inputs: Vec<String>,
    plan: String,
    ledger_head: Option<String>,
    skipped: Vec<SkippedRow>,
    files: Vec<FileRow>,
    profiles: Vec<ProfileStamp>,
    runs: Vec<RunTrace>,
    /// Number of runs whose traces were left out; 0 when all are here.
    left_out: usize,
}

/// Files passed over.
#[derive(Serialize)]
struct SkippedRow {
    reason: String,
    files: usize,
}

/// One raw file.
#[derive(Serialize)]
struct FileRow {
    name: String,
    kind: &'static str,
    bytes: u64,
    sha256: String,
    profile: Option<String>,
    holds: usize,
}

/// One run with what was stated and its results.
#[derive(Serialize)]
struct RunTrace {
    anchor: String,
    run: String,
    test: &'static str,
    file: String,
    selector: String,
    rows: RowRange,
    profile: String,
    points: usize,
    in_run_sheet: bool,
    stated: Vec<Stated>,
    results: Vec<ResultRow>,
}

/// A stated fact.
#[derive(Serialize)]
struct Stated {
    field: &'static str,
    value: String,
    origin: String,
}

/// One result.
#[derive(Serialize)]
struct ResultRow {
    symbol: &'static str,
    metric: &'static str,
    variant: &'static str,
    revision: u32,
    text: String,
    spread: String,
    unit: &'static str,
    rows: Option<RowRange>,
    id: String,
    parameters: String,
}

/// Returns the provenance of `report`.
pub(super) fn lay_out(report: &DayReport<'_>) -> Trace {
    let provenance = report.provenance;
    let runs = &report.day.runs;
    let shown = runs.len() <= TRACES_UP_TO_RUNS;
    let traces = runs.iter().enumerate().filter(|_| shown);
    Trace {
        tool_version: provenance.tool_version.clone(),
        generated_at: provenance.generated_at.clone(),
        inputs: provenance.inputs.clone(),
        plan: provenance.plan.clone(),
        ledger_head: provenance.ledger_head.clone(),
        skipped: provenance
            .skipped
            .iter()
            .map(|s| SkippedRow {
                reason: s.reason.clone(),
                files: s.files,
            })
            .collect(),
        files: files(report),
        profiles: profiles(report),
        runs: traces.map(|(i, run)| run_trace(i, run)).collect(),
        left_out: if shown { 0 } else { runs.len() },
    }
}

/// Returns every raw file once, by name and digest.
fn files(report: &DayReport<'_>) -> Vec<FileRow> {
    let mut rows: BTreeMap<(&str, &str), FileRow> = BTreeMap::new();
    let day = report.day;
    for run in &day.runs {
        let key = (run.file.name.as_str(), run.file.sha256.as_str());
        rows.entry(key)
            .and_modify(|row| row.holds += 1)
            .or_insert_with(|| file_row(&run.file, "runs", Some(&run.profile.id)));
    }
    for sheet in &day.sheets {
        let key = (sheet.file.name.as_str(), sheet.file.sha256.as_str());
        rows.entry(key).or_insert_with(|| FileRow {
            holds: sheet.lines.len(),
            ..file_row(&sheet.file, "run-sheet lines", None)
        });
    }
    for observation in &day.observations {
        let file = &observation.file;
        rows.entry((file.name.as_str(), file.sha256.as_str()))
            .and_modify(|row| row.holds += 1)
            .or_insert_with(|| file_row(file, "observations", None));
    }
    rows.into_values().collect()
}

fn file_row(file: &RawFile, kind: &'static str, profile: Option<&str>) -> FileRow {
    FileRow {
        name: file.name.clone(),
        kind,
        bytes: file.bytes,
        sha256: file.sha256.to_string(),
        profile: profile.map(str::to_owned),
        holds: 1,
    }
}

fn profiles(report: &DayReport<'_>) -> Vec<ProfileStamp> {
    let stamps = report.day.runs.iter().map(|run| &run.profile);
    let unique: BTreeMap<(&str, &str), &ProfileStamp> = stamps
        .map(|stamp| ((stamp.id.as_str(), stamp.sha256.as_str()), stamp))
        .collect();
    unique.into_values().cloned().collect()
}

fn run_trace(index: usize, run: &RunRecord) -> RunTrace {
    RunTrace {
        anchor: run_anchor(index),
        run: run.id.to_string(),
        test: run.test.word(),
        file: run.file.name.clone(),
        selector: run.selector.clone(),
        rows: run.rows,
        profile: run.profile.id.clone(),
        points: run.facts.points,
        in_run_sheet: run.in_run_sheet,
        stated: stated(run),
        results: run.results.iter().map(result_row).collect(),
    }
}

/// Returns every statement, those in force and those overruled, each with its place.
fn stated(run: &RunRecord) -> Vec<Stated> {
    let mut rows = Vec::new();
    for (field, statements) in run.metadata.iter() {
        if field == Field::RunId {
            continue;
        }
        for (position, statement) in statements.iter().enumerate() {
            let overruled = if position == 0 { "" } else { " (not in force)" };
            rows.push(Stated {
                field: field.name(),
                value: statement.value.to_string(),
                origin: format!("{}{overruled}", statement.origin),
            });
        }
    }
    rows
}

fn result_row(result: &MetricResult) -> ResultRow {
    let words = reading(&result.metric, &result.outcome);
    let reason = result.outcome.reason();
    ResultRow {
        symbol: result.metric.symbol,
        metric: result.metric.id,
        variant: result.variant,
        revision: result.metric.revision,
        text: match reason {
            Some(reason) => format!("{}: {reason}", words.text),
            None => words.text,
        },
        spread: words.spread,
        unit: if reason.is_some() {
            ""
        } else {
            unit_words(result.unit)
        },
        rows: result.rows,
        id: result.id.to_string(),
        parameters: result.parameters.clone(),
    }
}
