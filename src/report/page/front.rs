//! Page one: is the day good, what must be redone, with how much water, and the main numbers.

use super::metrics::{Cell, Column, GroupedRows, headline_table};
use super::run_anchor;
use crate::record::{Fault, RunRecord};
use crate::report::prose::{Prose, prose};
use crate::report::summary::WorstLevels;
use crate::report::wording::{heading, volume_ml};
use crate::report::{DayReport, DaySummary, Verdict};
use crate::schema::{Level, RunId};
use serde::Serialize;

/// Metrics of each method on page one when the caller names none.
const HEADLINE_METRICS: usize = 5;

/// Page one.
#[derive(Serialize)]
pub(super) struct Front {
    verdict: &'static str,
    verdict_words: &'static str,
    sentence: String,
    counts: Vec<CountWords>,
    data_label: Option<String>,
    generated_at: String,
    inputs: Vec<String>,
    tool_version: String,
    redo: Vec<RedoRow>,
    next_water: Vec<WaterRow>,
    unreadable: Vec<FaultRow>,
    tables: Vec<Headline>,
}

/// One figure of the count strip.
#[derive(Serialize)]
struct CountWords {
    n: usize,
    words: &'static str,
}

/// One line of the list of what must be redone.
#[derive(Serialize)]
struct RedoRow {
    subject: String,
    anchor: Option<String>,
    file: String,
    treatment: Option<String>,
    why: Vec<Prose>,
    what_to_do: Vec<Prose>,
    water: Option<String>,
    next_water: Option<String>,
}

/// Water for the next run of a titration.
#[derive(Serialize)]
struct WaterRow {
    run: String,
    anchor: Option<String>,
    treatment: Option<String>,
    purpose: Option<&'static str>,
    water: Option<String>,
    next_water: String,
}

/// A file that could not be read.
#[derive(Serialize)]
struct FaultRow {
    file: String,
    line: Option<u64>,
    column: Option<String>,
    found: Prose,
    expected: Prose,
    remedy: Prose,
}

/// The main numbers of one test.
#[derive(Serialize)]
struct Headline {
    id: String,
    name: String,
    columns: Vec<Column>,
    groups: Vec<GroupedRows>,
}

/// Returns page one.
pub(super) fn lay_out(report: &DayReport<'_>, summary: &DaySummary) -> Front {
    let provenance = report.provenance;
    Front {
        verdict: summary.verdict.word(),
        verdict_words: summary.verdict.day_words(),
        sentence: summary.sentence.clone(),
        counts: count_strip(summary),
        data_label: provenance.data_label.clone(),
        generated_at: provenance.generated_at.clone(),
        inputs: provenance.inputs.clone(),
        tool_version: provenance.tool_version.clone(),
        redo: redo_rows(report, summary),
        next_water: water_rows(report, summary),
        unreadable: summary.unreadable.iter().map(fault_row).collect(),
        tables: headlines(report),
    }
}

fn count_strip(summary: &DaySummary) -> Vec<CountWords> {
    let c = &summary.counts;
    let word = |n: usize, one: &'static str, many: &'static str| CountWords {
        n,
        words: if n == 1 { one } else { many },
    };
    let mut strip = vec![
        word(c.files_read, "file read", "files read"),
        word(
            c.files_unreadable,
            "file not readable",
            "files not readable",
        ),
        word(c.files_skipped, "file skipped", "files skipped"),
        word(c.runs, "run", "runs"),
    ];
    if c.observations > 0 {
        strip.push(word(c.observations, "observation", "observations"));
    }
    strip.extend([
        word(c.reject, "reject finding", "reject findings"),
        word(c.warn, "warn finding", "warn findings"),
        word(c.note, "note finding", "note findings"),
    ]);
    strip
}

fn redo_rows(report: &DayReport<'_>, summary: &DaySummary) -> Vec<RedoRow> {
    summary
        .redo
        .iter()
        .map(|item| RedoRow {
            subject: item.subject(),
            anchor: item.run_id.as_ref().and_then(|run| anchor_of(report, run)),
            file: item.file.clone(),
            treatment: item.treatment.clone(),
            why: item.why.iter().map(|t| prose(t)).collect(),
            what_to_do: item.what_to_do.iter().map(|t| prose(t)).collect(),
            water: item.water_ml.map(volume_ml),
            next_water: item.next_water_ml.map(volume_ml),
        })
        .collect()
}

fn water_rows(report: &DayReport<'_>, summary: &DaySummary) -> Vec<WaterRow> {
    summary
        .next_water
        .iter()
        .map(|next| WaterRow {
            run: next.run_id.to_string(),
            anchor: anchor_of(report, &next.run_id),
            treatment: next.treatment.clone(),
            purpose: next.purpose,
            water: next.water_ml.map(volume_ml),
            next_water: volume_ml(next.next_water_ml),
        })
        .collect()
}

fn anchor_of(report: &DayReport<'_>, run: &RunId) -> Option<String> {
    let index = report.day.runs.iter().position(|r| &r.id == run)?;
    Some(run_anchor(index))
}

fn fault_row(fault: &Fault) -> FaultRow {
    FaultRow {
        file: fault.file.clone(),
        line: fault.line,
        column: fault.column.clone(),
        found: prose(&fault.found),
        expected: prose(&fault.expected),
        remedy: prose(&fault.remedy),
    }
}

fn headlines(report: &DayReport<'_>) -> Vec<Headline> {
    report
        .methods
        .iter()
        .filter_map(|method| {
            let chosen: Vec<&str> = if report.headline.is_empty() {
                let all = method.metrics.iter().map(|m| m.id);
                all.take(HEADLINE_METRICS).collect()
            } else {
                report.headline.to_vec()
            };
            let (columns, groups) = headline_table(report, method, &chosen)?;
            Some(Headline {
                id: format!("main-{}", method.id),
                name: heading(method.name),
                columns,
                groups,
            })
        })
        .collect()
}

/// What page one says of a run beside its numbers.
#[derive(Serialize)]
pub(super) struct Standing {
    word: &'static str,
    words: &'static str,
}

impl Standing {
    /// Returns the standing of `run` under the worst level found of it.
    pub(super) fn of(run: &RunRecord, worst: &WorstLevels<'_>) -> Standing {
        let verdict = worst.verdict(&run.id);
        Standing {
            word: match verdict {
                Verdict::Good => "good",
                Verdict::GoodWithCare => Level::Warn.word(),
                Verdict::RedoNeeded => Level::Reject.word(),
            },
            words: verdict.run_words(),
        }
    }
}

/// A run with its cells.
#[derive(Serialize)]
pub(super) struct RunRow {
    pub(super) run: String,
    pub(super) anchor: String,
    pub(super) dough: Option<String>,
    pub(super) standing: Standing,
    pub(super) cells: Vec<Cell>,
}
