//! The page model: what the templates lay out, as plain serialisable data.

pub(super) mod definitions;
mod deliveries;
mod findings;
mod front;
mod grades;
mod metrics;
mod pictures;
mod together;
mod trace;

use super::document::{self, Document};
use super::{DayReport, ReportError};
use serde::Serialize;

/// The whole page.
#[derive(Serialize)]
struct Page<'a> {
    document: Document<'a>,
    front: front::Front,
    tests: Vec<metrics::TestTable>,
    observations: Vec<metrics::ObservationRow>,
    deliveries: Vec<deliveries::DeliveryRow>,
    decision_rule: &'static str,
    together: Vec<together::TogetherTable>,
    grades: grades::Grades,
    pictures: pictures::Pictures,
    findings: findings::Findings,
    definitions: definitions::Definitions,
    trace: trace::Trace<'a>,
}

/// Returns the HTML of `report`.
pub(super) fn render(report: &DayReport<'_>) -> Result<String, ReportError> {
    let summary = report.summary();
    let definitions = definitions::lay_out(report);
    let page = Page {
        document: Document::new(report.title, "doughtrace day report", ""),
        front: front::lay_out(report, &summary),
        tests: metrics::lay_out(report),
        observations: metrics::observations(report.day),
        deliveries: deliveries::lay_out(report),
        decision_rule: crate::record::DECISION_RULE,
        together: together::lay_out(report),
        grades: grades::lay_out(report),
        pictures: pictures::lay_out(report),
        findings: findings::lay_out(report),
        definitions,
        trace: trace::lay_out(report),
    };
    document::lay_out("day.html", &page)
}

/// Returns the anchor of run number `index` of the day.
fn run_anchor(index: usize) -> String {
    format!("run-{}", index + 1)
}
