//! Findings with what to do next, by level and rule.

use super::definitions::rule_anchor;
use super::run_anchor;
use crate::record::Finding;
use crate::report::DayReport;
use crate::report::prose::{Prose, prose};
use crate::report::wording::heading;
use crate::schema::{Level, RuleCard, RunId};
use serde::Serialize;
use std::collections::BTreeMap;

/// All findings.
#[derive(Serialize)]
pub(super) struct Findings {
    total: usize,
    levels: Vec<OfLevel>,
}

/// The findings of one level.
#[derive(Serialize)]
struct OfLevel {
    word: &'static str,
    heading: &'static str,
    meaning: &'static str,
    n: usize,
    rules: Vec<OfRule>,
}

/// The findings of one rule at one level.
#[derive(Serialize)]
struct OfRule {
    id: &'static str,
    title: String,
    anchor: Option<String>,
    /// What to do, when it is the same for all.
    what_to_do: Option<Prose>,
    rows: Vec<Row>,
}

/// One finding, or the same finding about several runs.
#[derive(Serialize)]
struct Row {
    runs: Vec<RunLink>,
    file: String,
    line: Option<u64>,
    words: Prose,
    what_to_do: Prose,
}

/// A run by name, with the anchor of its trace.
#[derive(Serialize)]
struct RunLink {
    name: String,
    anchor: Option<String>,
}

/// Returns the findings of `report`, the worst level first.
pub(super) fn lay_out(report: &DayReport<'_>) -> Findings {
    let levels = [Level::Reject, Level::Warn, Level::Note];
    Findings {
        total: report.findings.len(),
        levels: levels
            .iter()
            .map(|level| of_level(report, *level))
            .collect(),
    }
}

fn of_level(report: &DayReport<'_>, level: Level) -> OfLevel {
    let found: Vec<&Finding> = report
        .findings
        .iter()
        .filter(|f| f.level == level)
        .collect();
    let mut rules: Vec<&'static str> = Vec::new();
    for finding in &found {
        if !rules.contains(&finding.rule) {
            rules.push(finding.rule);
        }
    }
    let (heading, meaning) = level_words(level);
    OfLevel {
        word: level.word(),
        heading,
        meaning,
        n: found.len(),
        rules: rules
            .into_iter()
            .map(|rule| {
                let own = found.iter().copied().filter(|f| f.rule == rule);
                of_rule(report, rule, &own.collect::<Vec<_>>())
            })
            .collect(),
    }
}

fn of_rule(report: &DayReport<'_>, rule: &'static str, found: &[&Finding]) -> OfRule {
    let card: Option<&RuleCard> = report.rules.iter().find(|card| card.id == rule);
    let first = found.first().map(|f| f.what_to_do.as_str());
    let same = first.filter(|text| found.iter().all(|f| f.what_to_do == *text));
    OfRule {
        id: rule,
        title: card.map_or_else(|| rule.to_owned(), |card| heading(card.title)),
        anchor: card.map(|card| rule_anchor(card.id)),
        what_to_do: same.map(prose),
        rows: rows(report, found),
    }
}

/// Returns a row for each finding; the same words about several runs, with nothing that tells them
/// apart but the run, share one.
fn rows(report: &DayReport<'_>, found: &[&Finding]) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    let places: BTreeMap<&RunId, usize> = report
        .day
        .runs
        .iter()
        .enumerate()
        .map(|(index, run)| (&run.id, index))
        .collect();
    for finding in found {
        let mut row = row(&places, finding);
        let same = rows.iter_mut().find(|other| {
            let unplaced = row.line.is_none() && other.line.is_none();
            let of_runs = !row.runs.is_empty() && !other.runs.is_empty();
            unplaced && of_runs && row.words == other.words && row.what_to_do == other.what_to_do
        });
        match same {
            Some(other) => other.runs.append(&mut row.runs),
            None => rows.push(row),
        }
    }
    rows
}

fn row(places: &BTreeMap<&RunId, usize>, finding: &Finding) -> Row {
    let run = finding.run_id.as_ref();
    let index = run.and_then(|run| places.get(run).copied());
    Row {
        runs: run
            .map(|run| RunLink {
                name: run.to_string(),
                anchor: index.map(run_anchor),
            })
            .into_iter()
            .collect(),
        file: finding.file.clone(),
        line: finding.row,
        words: prose(&finding.words),
        what_to_do: prose(&finding.what_to_do),
    }
}

/// Returns heading and meaning of a level, as the page words them.
pub(super) fn level_words(level: Level) -> (&'static str, &'static str) {
    match level {
        Level::Reject => (
            "Reject: redo or mend",
            "Do not use the results named; redo the run or mend the record.",
        ),
        Level::Warn => (
            "Warn: use with care",
            "The results stand, with the care stated.",
        ),
        Level::Note => ("Note: worth knowing", "Worth knowing; nothing to do."),
    }
}
