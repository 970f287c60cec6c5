//! Tables of metrics: rows are runs, columns are metrics, grouped by treatment.

use super::definitions::metric_anchor;
use super::front::{RunRow, Standing};
use super::run_anchor;
use crate::record::{Day, MetricResult, RunRecord};
use crate::report::DayReport;
use crate::report::prose::{Prose, prose};
use crate::report::summary::WorstLevels;
use crate::report::wording::{heading, reading, unit_words};
use crate::schema::{MethodCard, MetricCard};
use serde::Serialize;
use std::collections::BTreeMap;

/// Most columns of an A4 page across that hold value and uncertainty side by side.
const COLUMNS_SIDE_BY_SIDE: usize = 13;

/// Head of a column.
#[derive(Serialize, Clone)]
pub(super) struct Column {
    metric: &'static str,
    symbol: &'static str,
    name: &'static str,
    unit: &'static str,
    anchor: String,
    /// Reading, in the table of readings; empty elsewhere.
    variant: &'static str,
}

/// One cell.
#[derive(Serialize)]
pub(super) struct Cell {
    /// Status word; `absent` when the run has no result of the metric.
    kind: &'static str,
    text: String,
    spread: String,
    /// Unit, where it differs from that of the column.
    unit: &'static str,
    reason: Option<ReasonRef>,
    /// Full number for sorting.
    order: Option<String>,
}

/// Reference from a cell to the list of reasons.
#[derive(Serialize)]
struct ReasonRef {
    no: usize,
    text: String,
}

/// Runs of one treatment.
#[derive(Serialize)]
pub(super) struct GroupedRows {
    treatment: Option<String>,
    rows: Vec<RunRow>,
}

/// Why some cells have no value.
#[derive(Serialize)]
pub(super) struct Reason {
    no: usize,
    text: Prose,
    places: Vec<Place>,
}

/// Metrics of one run that miss their value for the same reason.
#[derive(Serialize)]
struct Place {
    run: String,
    symbols: Vec<&'static str>,
}

/// All metrics of one test.
#[derive(Serialize)]
pub(super) struct TestTable {
    id: &'static str,
    name: String,
    /// Whether a printed line is too narrow for value and uncertainty side by side.
    narrow: bool,
    columns: Vec<Column>,
    groups: Vec<GroupedRows>,
    variants: Option<VariantTable>,
    reasons: Vec<Reason>,
}

/// The readings of the metrics that have several.
#[derive(Serialize)]
struct VariantTable {
    heads: Vec<VariantHead>,
    columns: Vec<Column>,
    groups: Vec<GroupedRows>,
}

/// Head over the readings of one metric.
#[derive(Serialize)]
struct VariantHead {
    column: Column,
    span: usize,
}

/// A graded or scalar observation.
#[derive(Serialize)]
pub(super) struct ObservationRow {
    dough: String,
    treatment: Option<String>,
    mix_time_min: Option<String>,
    rest_min: Option<String>,
    piece: Option<String>,
    grade: Option<String>,
    overmixed: bool,
    edge: Option<&'static str>,
    grader: Option<String>,
    scalar: Option<String>,
    file: String,
    line: u64,
    note: Option<String>,
}

impl Reason {
    fn add(&mut self, run: &str, symbol: &'static str) {
        match self.places.iter_mut().find(|place| place.run == run) {
            Some(place) if place.symbols.contains(&symbol) => {}
            Some(place) => place.symbols.push(symbol),
            None => self.places.push(Place {
                run: run.to_owned(),
                symbols: vec![symbol],
            }),
        }
    }
}

/// Numbers the reasons of a table, the same text once.
#[derive(Default)]
pub(super) struct Reasons {
    numbers: BTreeMap<String, usize>,
    pub list: Vec<Reason>,
}

impl Reasons {
    fn refer(&mut self, result: &MetricResult, text: &str) -> ReasonRef {
        let next = self.list.len() + 1;
        let no = *self.numbers.entry(text.to_owned()).or_insert(next);
        if no == next {
            self.list.push(Reason {
                no,
                text: prose(text),
                places: Vec::new(),
            });
        }
        if let Some(reason) = self.list.get_mut(no - 1) {
            reason.add(result.run_id.as_str(), result.metric.symbol);
        }
        ReasonRef {
            no,
            text: text.to_owned(),
        }
    }
}

/// Returns one table per method that has runs.
pub(super) fn lay_out(report: &DayReport<'_>) -> Vec<TestTable> {
    let methods = report.methods.iter();
    methods.filter_map(|m| test_table(report, m)).collect()
}

fn test_table(report: &DayReport<'_>, method: &MethodCard) -> Option<TestTable> {
    let runs = runs_of(report.day, method);
    if runs.is_empty() {
        return None;
    }
    let cards = cards_with_results(&runs, method);
    let mut reasons = Reasons::default();
    let groups = grouped(report, &runs, |run| {
        let cells = cards.iter();
        cells
            .map(|card| cell(card, run.result(card.id), Some(&mut reasons)))
            .collect()
    });
    let variants = variant_table(report, &runs, &cards, &mut reasons);
    Some(TestTable {
        id: method.id,
        name: heading(method.name),
        narrow: cards.len() > COLUMNS_SIDE_BY_SIDE,
        columns: cards.iter().map(|card| column(card, "")).collect(),
        groups,
        variants,
        reasons: reasons.list,
    })
}

/// Returns columns and rows of the main numbers of `method`, or `None` when it has no runs.
pub(super) fn headline_table(
    report: &DayReport<'_>,
    method: &MethodCard,
    chosen: &[&str],
) -> Option<(Vec<Column>, Vec<GroupedRows>)> {
    let runs = runs_of(report.day, method);
    let cards: Vec<MetricCard> = cards_with_results(&runs, method)
        .into_iter()
        .filter(|card| chosen.contains(&card.id))
        .collect();
    if runs.is_empty() {
        return None;
    }
    let groups = grouped(report, &runs, |run| {
        let cells = cards.iter();
        cells
            .map(|card| cell(card, run.result(card.id), None))
            .collect()
    });
    let columns = cards.iter().map(|card| column(card, "")).collect();
    Some((columns, groups))
}

fn variant_table(
    report: &DayReport<'_>,
    runs: &[(usize, &RunRecord)],
    cards: &[MetricCard],
    reasons: &mut Reasons,
) -> Option<VariantTable> {
    let several: Vec<&MetricCard> = cards.iter().filter(|c| c.variants.len() > 1).collect();
    if several.is_empty() {
        return None;
    }
    let readings: Vec<(&MetricCard, &'static str)> = several
        .iter()
        .flat_map(|card| card.variants.iter().map(|v| (*card, v.id)))
        .collect();
    let groups = grouped(report, runs, |run| {
        let of = |card: &MetricCard, variant: &str| {
            let mut results = run.results.iter();
            results.find(|r| r.metric.id == card.id && r.variant == variant)
        };
        let cells = readings.iter();
        cells
            .map(|(card, variant)| cell(card, of(card, variant), Some(reasons)))
            .collect()
    });
    Some(VariantTable {
        heads: several
            .iter()
            .map(|card| VariantHead {
                column: column(card, ""),
                span: card.variants.len(),
            })
            .collect(),
        columns: readings
            .iter()
            .map(|(card, variant)| column(card, variant))
            .collect(),
        groups,
    })
}

fn runs_of<'a>(day: &'a Day, method: &MethodCard) -> Vec<(usize, &'a RunRecord)> {
    let all = day.runs.iter().enumerate();
    all.filter(|(_, run)| run.test.word() == method.id)
        .collect()
}

/// Returns the metrics that at least one run has a result of: those of the method in its order,
/// then any others in the order in which they turn up.
fn cards_with_results(runs: &[(usize, &RunRecord)], method: &MethodCard) -> Vec<MetricCard> {
    let mut cards: Vec<MetricCard> = Vec::new();
    let results = || runs.iter().flat_map(|(_, run)| &run.results);
    for card in &method.metrics {
        if results().any(|result| result.metric.id == card.id) {
            cards.push(*card);
        }
    }
    for result in results() {
        if !cards.iter().any(|card| card.id == result.metric.id) {
            cards.push(result.metric);
        }
    }
    cards
}

/// Returns `runs` by treatment, in the order in which treatments first turn up.
fn grouped(
    report: &DayReport<'_>,
    runs: &[(usize, &RunRecord)],
    mut cells: impl FnMut(&RunRecord) -> Vec<Cell>,
) -> Vec<GroupedRows> {
    let mut treatments: Vec<Option<&str>> = Vec::new();
    for (_, run) in runs {
        let treatment = run.conditions.treatment.as_deref();
        if !treatments.contains(&treatment) {
            treatments.push(treatment);
        }
    }
    let worst = WorstLevels::of(report.findings);
    let mut groups = Vec::new();
    for treatment in treatments {
        let mut rows = Vec::new();
        for (index, run) in runs {
            if run.conditions.treatment.as_deref() == treatment {
                rows.push(RunRow {
                    run: run.id.to_string(),
                    anchor: run_anchor(*index),
                    dough: run.conditions.batch_id.as_ref().map(ToString::to_string),
                    standing: Standing::of(run, &worst),
                    cells: cells(run),
                });
            }
        }
        groups.push(GroupedRows {
            treatment: treatment.map(str::to_owned),
            rows,
        });
    }
    groups
}

pub(super) fn column(card: &MetricCard, variant: &'static str) -> Column {
    Column {
        metric: card.id,
        symbol: card.symbol,
        name: card.name,
        unit: unit_words(card.unit),
        anchor: metric_anchor(card.id),
        variant,
    }
}

pub(super) fn cell(
    card: &MetricCard,
    result: Option<&MetricResult>,
    reasons: Option<&mut Reasons>,
) -> Cell {
    let Some(result) = result else {
        return Cell {
            kind: "absent",
            text: String::new(),
            spread: String::new(),
            unit: "",
            reason: None,
            order: None,
        };
    };
    let words = reading(&result.metric, &result.outcome);
    let has_number = result.outcome.value_or_bound().is_some();
    let reason = result.outcome.reason();
    Cell {
        kind: result.outcome.status().word(),
        text: words.text,
        spread: words.spread,
        unit: if has_number && result.unit != card.unit {
            unit_words(result.unit)
        } else {
            ""
        },
        reason: reason
            .zip(reasons)
            .map(|(text, reasons)| reasons.refer(result, text)),
        order: result.outcome.value_or_bound().map(|v| v.to_string()),
    }
}

/// Returns the observations of `day`, in its order.
pub(super) fn observations(day: &Day) -> Vec<ObservationRow> {
    let rows = day.observations.iter();
    rows.map(|o| ObservationRow {
        dough: o.batch_id.to_string(),
        treatment: o.treatment.clone(),
        mix_time_min: o.mix_time_min.map(|v| v.to_string()),
        rest_min: o.rest_min.map(|v| v.to_string()),
        piece: o.piece.clone(),
        grade: o.grade.map(|g| format!("{} ({})", g.digit(), g.words())),
        overmixed: o.overmixed,
        edge: o.edge.map(|e| e.word()),
        grader: o.grader.clone(),
        scalar: o.quantity.as_ref().zip(o.value).map(|(quantity, value)| {
            let unit = o.unit.map_or("", unit_words);
            format!("{quantity} {value} {unit}").trim_end().to_owned()
        }),
        file: o.file.name.clone(),
        line: o.rows.first,
        note: o.note.clone(),
    })
    .collect()
}
