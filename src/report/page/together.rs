//! Tables of what several runs, or several lines of a sheet, gave together: one row a dough.

use super::metrics::{Cell, Column, Reason, Reasons, cell, column};
use crate::record::{MetricResult, RunGroup};
use crate::report::DayReport;
use crate::report::wording::heading;
use crate::schema::{MethodCard, MetricCard, Test};
use serde::Serialize;

/// The dough-level numbers of one test.
#[derive(Serialize)]
pub(super) struct TogetherTable {
    id: &'static str,
    name: String,
    columns: Vec<Column>,
    rows: Vec<TogetherRow>,
    reasons: Vec<Reason>,
}

/// What one group gave.
#[derive(Serialize)]
struct TogetherRow {
    name: String,
    treatment: String,
    /// How many runs count; empty for lines of a sheet.
    members: String,
    left_out: Vec<String>,
    cells: Vec<Cell>,
}

/// A group before it is laid out.
struct Row<'a> {
    name: &'a str,
    group: Option<&'a RunGroup>,
    results: Vec<&'a MetricResult>,
}

/// Returns one table per method that has such numbers. Graded membranes have a section of their
/// own.
pub(super) fn lay_out(report: &DayReport<'_>) -> Vec<TogetherTable> {
    let methods = report.methods.iter();
    methods.filter_map(|method| table(report, method)).collect()
}

fn table(report: &DayReport<'_>, method: &MethodCard) -> Option<TogetherTable> {
    let mut rows = rows_of(report, method);
    // Treatments side by side, in the order in which they turn up.
    let mut treatments: Vec<String> = Vec::new();
    for row in &rows {
        let treatment = treatment_of(row);
        if !treatments.contains(&treatment) {
            treatments.push(treatment);
        }
    }
    rows.sort_by_key(|row| treatments.iter().position(|t| *t == treatment_of(row)));
    let shown: Vec<(MetricCard, &'static str)> = shown_readings(method, &rows);
    if shown.is_empty() {
        return None;
    }
    let mut reasons = Reasons::default();
    let laid_out = rows
        .iter()
        .map(|row| TogetherRow {
            name: row.name.to_owned(),
            treatment: treatment_of(row),
            members: row
                .group
                .map_or_else(String::new, |group| group.members.len().to_string()),
            left_out: row.group.map_or_else(Vec::new, |group| {
                let left = group.left_out.iter();
                left.map(|(_, reason)| reason.clone()).collect()
            }),
            cells: shown
                .iter()
                .map(|(card, variant)| {
                    let mut results = row.results.iter();
                    let found = results.find(|r| r.metric.id == card.id && r.variant == *variant);
                    cell(card, found.copied(), Some(&mut reasons))
                })
                .collect(),
        })
        .collect();
    Some(TogetherTable {
        id: method.id,
        name: heading(method.name),
        columns: shown
            .iter()
            .map(|(card, variant)| column(card, variant))
            .collect(),
        rows: laid_out,
        reasons: reasons.list,
    })
}

fn treatment_of(row: &Row<'_>) -> String {
    let first = row.results.first();
    let stated = first.and_then(|r| r.conditions.treatment.clone());
    stated.unwrap_or_else(|| "–".to_owned())
}

fn rows_of<'a>(report: &DayReport<'a>, method: &MethodCard) -> Vec<Row<'a>> {
    let groups = report.day.groups.iter();
    let mut rows: Vec<Row<'a>> = groups
        .filter(|group| group.test.word() == method.id)
        .map(|group| Row {
            name: &group.name,
            group: Some(group),
            results: group.results.iter().collect(),
        })
        .collect();
    let of_sheets = report.day.grading.results.iter();
    for result in of_sheets.filter(|r| r.test.word() == method.id && r.test != Test::Membrane) {
        let name = result.run_id.as_str();
        match rows
            .iter_mut()
            .find(|row| row.group.is_none() && row.name == name)
        {
            Some(row) => row.results.push(result),
            None => rows.push(Row {
                name,
                group: None,
                results: vec![result],
            }),
        }
    }
    rows
}

/// Returns the metrics that the rows have, in the order of the method, each in all its readings.
fn shown_readings(method: &MethodCard, rows: &[Row<'_>]) -> Vec<(MetricCard, &'static str)> {
    let mut shown: Vec<(MetricCard, &'static str)> = Vec::new();
    let results = || rows.iter().flat_map(|row| &row.results);
    for card in &method.metrics {
        for result in results().filter(|result| result.metric.id == card.id) {
            if !shown
                .iter()
                .any(|(c, v)| c.id == card.id && *v == result.variant)
            {
                shown.push((*card, result.variant));
            }
        }
    }
    shown
}
