//! Rows of the results table for what several lines of a sheet came to.

use super::{Metric, Reading, readings};
use crate::record::{Conditions, MetricResult, Observation, RowRange};
use crate::schema::{Digest, MetricCard, RunId, SampleId, Test};
use std::sync::Arc;

/// What a result summarises: some lines of one sheet, under a name that stands for their run.
pub(super) struct Subject<'a> {
    /// Kind of test.
    pub test: Test,
    /// Name, such as `dough D-01`.
    pub name: String,
    /// The lines.
    pub lines: &'a [&'a Observation],
    /// What is stated alike for all of them.
    pub conditions: Arc<Conditions>,
    /// Parameters, as canonical text.
    pub settings: String,
}

/// Returns what the lines of one dough state of it.
pub(super) fn dough_conditions(lines: &[&Observation]) -> Conditions {
    let first = lines.first();
    Conditions {
        batch_id: first.map(|o| o.batch_id.clone()),
        treatment: first.and_then(|o| o.treatment.clone()),
        block: first.and_then(|o| o.block.clone()),
        replicate: first.and_then(|o| o.replicate.clone()),
        sample_id: first
            .and_then(|o| o.sample_id.as_deref())
            .and_then(|text| SampleId::new(text).ok()),
        ..Conditions::default()
    }
}

impl Subject<'_> {
    /// Returns the result of one reading.
    pub fn result(
        &self,
        (card, variant, reading): (MetricCard, &'static str, Reading),
    ) -> Option<MetricResult> {
        let first = self.lines.iter().map(|o| o.rows.first).min().unwrap_or(0);
        let last = self.lines.iter().map(|o| o.rows.last).max().unwrap_or(0);
        let source = self.lines.first().map(|o| &o.file);
        let raw_sha256 = source.map_or_else(|| Digest::of(b""), |file| file.sha256.clone());
        let mut parameters = self.settings.clone();
        if !reading.remarks.is_empty() {
            parameters.push_str("; ");
            parameters.push_str(&reading.remarks);
        }
        Some(MetricResult {
            id: MetricResult::identify(&self.identity(&raw_sha256), &card, variant, &self.settings),
            file: source.map_or_else(String::new, |file| file.name.clone()),
            raw_sha256,
            run_id: self.run_id()?,
            test: self.test,
            metric: card,
            unit: card.unit,
            variant,
            conditions: Arc::clone(&self.conditions),
            rows: (last > 0).then_some(RowRange { first, last }),
            outcome: reading.outcome,
            parameters,
            from: Vec::new(),
        })
    }

    /// Returns the name as an identifier: without control characters, cut to the length that
    /// identifiers may have.
    fn run_id(&self) -> Option<RunId> {
        let mut name = String::new();
        for c in self.name.chars().filter(|c| !c.is_control()) {
            if name.len() + c.len_utf8() > 200 {
                break;
            }
            name.push(c);
        }
        RunId::new(&name).ok()
    }

    /// Returns what identifies the subject: the raw digest, its name and its lines.
    fn identity(&self, raw: &Digest) -> String {
        let mut text = format!("raw {raw}\nsubject {}\n", self.name);
        for o in self.lines {
            text.push_str(&format!("line {}\n", o.rows.first));
        }
        text
    }
}

/// Returns the results of every metric of `metrics`, in every variant.
pub(super) fn results_of<P>(
    subject: &Subject<'_>,
    prepared: &P,
    metrics: &[&'static Metric<P>],
) -> Vec<MetricResult> {
    let read = readings(prepared, metrics).into_iter();
    read.filter_map(|reading| subject.result(reading)).collect()
}
