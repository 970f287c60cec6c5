//! Provenance: raw files, what was stated about each run, and the trace of each result.

use super::pictures::chart_anchor;
use super::run_anchor;
use crate::record::{MetricResult, ProfileStamp, RawFile, RowRange, RunRecord};
use crate::report::DayReport;
use crate::report::made::Made;
use crate::report::wording::{counted, reading, unit_words};
use crate::schema::Field;
use serde::Serialize;
use std::collections::BTreeMap;

/// Days with more runs leave the traces to the results table, so that the page stays light.
const TRACES_UP_TO_RUNS: usize = 200;

/// Where everything came from.
#[derive(Serialize)]
pub(super) struct Trace<'a> {
    made: Made<'a>,
    inputs: Vec<String>,
    plan: String,
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
    holds: String,
    bytes: u64,
    sha256: String,
    profile: Option<String>,
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
    /// Anchor of the run's chart.
    chart: Option<String>,
    /// Parameters that all results of the run share.
    shared: String,
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
pub(super) fn lay_out<'a>(report: &DayReport<'a>) -> Trace<'a> {
    let provenance = report.provenance;
    let runs = &report.day.runs;
    let shown = runs.len() <= TRACES_UP_TO_RUNS;
    let traces = runs.iter().enumerate().filter(|_| shown);
    Trace {
        made: Made::of(provenance),
        inputs: provenance.inputs.clone(),
        plan: provenance.plan.clone(),
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
        runs: traces.map(|(i, run)| run_trace(report, i, run)).collect(),
        left_out: if shown { 0 } else { runs.len() },
    }
}

/// What a file holds, while it is being counted.
struct Held<'a> {
    file: &'a RawFile,
    one: &'static str,
    many: &'static str,
    profile: Option<&'a str>,
    n: usize,
}

/// Returns every raw file once, by name and digest.
fn files(report: &DayReport<'_>) -> Vec<FileRow> {
    let day = report.day;
    let runs = day.runs.iter().map(|run| Held {
        file: &run.file,
        one: "run",
        many: "runs",
        profile: Some(&run.profile.id),
        n: 1,
    });
    let sheets = day.sheets.iter().map(|sheet| Held {
        file: &sheet.file,
        one: "run-sheet line",
        many: "run-sheet lines",
        profile: None,
        n: sheet.lines.len(),
    });
    let observations = day.observations.iter().map(|observation| Held {
        file: &observation.file,
        one: "observation",
        many: "observations",
        profile: None,
        n: 1,
    });
    let mut held: BTreeMap<(&str, &str), Held> = BTreeMap::new();
    for part in runs.chain(sheets).chain(observations) {
        let key = (part.file.name.as_str(), part.file.sha256.as_str());
        held.entry(key)
            .and_modify(|known| known.n += part.n)
            .or_insert(part);
    }
    held.into_values().map(file_row).collect()
}

fn file_row(held: Held<'_>) -> FileRow {
    FileRow {
        name: held.file.name.clone(),
        holds: counted(held.n, held.one, held.many),
        bytes: held.file.bytes,
        sha256: held.file.sha256.to_string(),
        profile: held.profile.map(str::to_owned),
    }
}

fn profiles(report: &DayReport<'_>) -> Vec<ProfileStamp> {
    let stamps = report.day.runs.iter().map(|run| &run.profile);
    let unique: BTreeMap<(&str, &str), &ProfileStamp> = stamps
        .map(|stamp| ((stamp.id.as_str(), stamp.sha256.as_str()), stamp))
        .collect();
    unique.into_values().cloned().collect()
}

fn run_trace(report: &DayReport<'_>, index: usize, run: &RunRecord) -> RunTrace {
    let shared = shared_parameters(&run.results);
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
        chart: chart_anchor(report, &run.id),
        results: run
            .results
            .iter()
            .map(|r| result_row(r, shared.len()))
            .collect(),
        shared: shared.join(PARAMETER_MARK),
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
            let agrees = statements
                .first()
                .is_some_and(|s| s.value == statement.value);
            let overruled = match (position, agrees) {
                (0, _) | (_, true) => "",
                _ => " (not in force)",
            };
            rows.push(Stated {
                field: field.name(),
                value: statement.value.to_string(),
                origin: format!("{}{overruled}", statement.origin),
            });
        }
    }
    rows
}

/// What stands between two parameters in [`MetricResult::parameters`].
const PARAMETER_MARK: &str = "; ";

/// Returns the parameters with which the parameter lists of all `results` begin.
fn shared_parameters(results: &[MetricResult]) -> Vec<&str> {
    let lists = || results.iter().map(|r| r.parameters.split(PARAMETER_MARK));
    let Some(first) = lists().next() else {
        return Vec::new();
    };
    let shared = lists()
        .map(|list| first.clone().zip(list).take_while(|(a, b)| a == b).count())
        .min();
    first.take(shared.unwrap_or(0)).collect()
}

/// Returns the row of `result` without its first `shared` parameters, which stand above the table.
fn result_row(result: &MetricResult, shared: usize) -> ResultRow {
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
        parameters: result
            .parameters
            .split(PARAMETER_MARK)
            .skip(shared)
            .collect::<Vec<_>>()
            .join(PARAMETER_MARK),
    }
}
