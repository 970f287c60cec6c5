//! Graded membranes: distributions by treatment and mixing time, and how far the graders agree.

use crate::record::{AgreementSummary, Grade, GradeSummary};
use crate::report::DayReport;
use crate::report::wording::reading;
use crate::schema::MetricCard;
use serde::Serialize;

/// What the page says of the day's grades; empty when there are none.
#[derive(Serialize)]
pub(super) struct Grades {
    grades: Vec<String>,
    groups: Vec<GroupRow>,
    agreement: Vec<AgreementRow>,
}

#[derive(Serialize)]
struct GroupRow {
    treatment: String,
    mix_time_min: String,
    doughs: usize,
    pieces: usize,
    counts: Vec<usize>,
    overmixed: usize,
    median: String,
    full_window: String,
    clean_edge: String,
}

#[derive(Serialize)]
struct AgreementRow {
    name: String,
    reading: &'static str,
    graders: String,
    pieces: usize,
    value: String,
    of: String,
}

/// Returns the grades of `report`: by treatment and mixing time, all doughs of a treatment together.
pub(super) fn lay_out(report: &DayReport<'_>) -> Grades {
    let card = |id: &str| -> Option<&MetricCard> {
        report
            .methods
            .iter()
            .flat_map(|method| &method.metrics)
            .find(|metric| metric.id == id)
    };
    let share = |id: &str, outcome| {
        card(id).map_or_else(String::new, |card| {
            let shown = reading(card, outcome);
            format!("{} {}", shown.text, shown.spread).trim().to_owned()
        })
    };
    let of_treatment = |group: &&GradeSummary| group.batch_id.is_none();
    let groups = report
        .day
        .grading
        .groups
        .iter()
        .filter(of_treatment)
        .map(|group| GroupRow {
            treatment: group
                .treatment
                .clone()
                .unwrap_or_else(|| "not stated".into()),
            mix_time_min: group
                .mix_time_min
                .map_or_else(|| "not stated".into(), |t| t.to_string()),
            doughs: group.doughs,
            pieces: group.pieces,
            counts: Grade::ALL
                .iter()
                .map(|grade| group.counts.of(*grade))
                .collect(),
            overmixed: group.counts.overmixed,
            median: group.median.to_string(),
            full_window: share("membrane.full_window_share", &group.full_window_pct),
            clean_edge: share("membrane.clean_edge_share", &group.clean_edge_pct),
        });
    let agreement = report
        .day
        .grading
        .agreement
        .iter()
        .map(|row: &AgreementSummary| AgreementRow {
            name: card(row.metric)
                .map_or_else(|| row.metric.to_owned(), |card| card.name.to_owned()),
            reading: row.variant,
            graders: if row.within_grader {
                format!(
                    "{}, first grade against blind repeat",
                    row.graders.join(", ")
                )
            } else {
                row.graders.join(", ")
            },
            pieces: row.pieces,
            value: share(row.metric, &row.outcome),
            of: row.file.clone().unwrap_or_else(|| "whole day".into()),
        });
    Grades {
        grades: Grade::ALL
            .iter()
            .map(|g| format!("{} {}", g.digit(), g.words()))
            .collect(),
        groups: groups.collect(),
        agreement: agreement.collect(),
    }
}
