//! Page one: whether the flour lots meet the limits set for their grade.

use super::definitions::metric_anchor;
use crate::record::{Delivery, DeliveryVerdict};
use crate::report::DayReport;
use crate::report::wording::unit_words;
use crate::schema::MetricCard;
use serde::Serialize;

/// One lot in one metric.
#[derive(Serialize)]
pub(super) struct DeliveryRow {
    lot: String,
    grade: String,
    metric: &'static str,
    anchor: String,
    variant: &'static str,
    unit: &'static str,
    runs: usize,
    value: String,
    limits: String,
    set_by: String,
    word: &'static str,
    verdict: String,
}

/// Returns a line for each lot and metric that has a limit.
pub(super) fn lay_out(report: &DayReport<'_>) -> Vec<DeliveryRow> {
    report.day.deliveries.iter().map(row).collect()
}

fn row(delivery: &Delivery) -> DeliveryRow {
    let card = &delivery.metric;
    DeliveryRow {
        lot: delivery.sample.to_string(),
        grade: delivery.grade.clone(),
        metric: card.name,
        anchor: metric_anchor(card.id),
        variant: delivery.variant,
        unit: unit_words(card.unit),
        runs: delivery.results.len(),
        value: delivery.found.map_or_else(
            || "–".to_owned(),
            |mean| {
                let half = 2.0 * mean.std_uncertainty();
                format!("{} ± {}", card.format(mean.value()), card.format(half))
            },
        ),
        limits: limit_words(card, delivery),
        set_by: delivery.set_by.clone(),
        word: delivery.verdict.word(),
        verdict: match &delivery.verdict {
            DeliveryVerdict::Accept => "accepted".to_owned(),
            DeliveryVerdict::Reject => "rejected".to_owned(),
            DeliveryVerdict::Between => "between: within U of a limit".to_owned(),
            DeliveryVerdict::NotJudged(reason) => format!("not judged: {reason}"),
        },
    }
}

fn limit_words(card: &MetricCard, delivery: &Delivery) -> String {
    match (delivery.lower, delivery.upper) {
        (Some(lower), Some(upper)) => {
            format!("{} to {}", card.format(lower), card.format(upper))
        }
        (Some(lower), None) => format!("at least {}", card.format(lower)),
        (None, Some(upper)) => format!("at most {}", card.format(upper)),
        (None, None) => "–".to_owned(),
    }
}
