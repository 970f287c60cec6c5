//! Pictures of the page: the day at a glance, then one run each.

use super::run_anchor;
use crate::report::figure::Figure;
use crate::report::{DayReport, Picture};
use crate::schema::RunId;
use serde::Serialize;

/// Start of the anchors of the pictures of single runs.
const RUN_PICTURES: &str = "chart";

/// All pictures.
#[derive(Serialize)]
pub(super) struct Pictures {
    overview: Vec<Figure>,
    runs: Vec<Figure>,
}

/// Returns the pictures of `report`.
pub(super) fn lay_out(report: &DayReport<'_>) -> Pictures {
    let figures = |prefix: &str, pictures: &[Picture]| {
        let all = pictures.iter().enumerate();
        all.map(|(i, p)| figure(report, anchor(prefix, i), p))
            .collect()
    };
    Pictures {
        overview: figures("overview", &report.charts.overview),
        runs: figures(RUN_PICTURES, &report.charts.runs),
    }
}

/// Returns the anchor of the picture of `run`, if it has one.
pub(super) fn chart_anchor(report: &DayReport<'_>, run: &RunId) -> Option<String> {
    let mut pictures = report.charts.runs.iter();
    let index = pictures.position(|picture| picture.run_id.as_ref() == Some(run))?;
    Some(anchor(RUN_PICTURES, index))
}

fn anchor(prefix: &str, index: usize) -> String {
    format!("{prefix}-{}", index + 1)
}

fn figure(report: &DayReport<'_>, id: String, picture: &Picture) -> Figure {
    let run = picture.run_id.as_ref();
    let index = run.and_then(|run| report.day.runs.iter().position(|r| &r.id == run));
    Figure::new(id, picture, index.map(run_anchor))
}
