//! The laboratory's own precision, from replicate doughs and from pieces of one dough
//! (HANDBOOK §11.1: repeatability of one laboratory; never reproducibility).

use super::evidence::{Evidence, ResultRow};
use crate::numerics::exact::one_way;
use crate::numerics::linear::Factor;
use crate::schema::{Status, Unit};
use std::collections::BTreeMap;

/// Precision of one metric.
#[derive(Debug, Clone, PartialEq)]
pub struct Precision {
    /// Metric.
    pub metric: String,
    /// Reading of the metric.
    pub variant: String,
    /// Unit of the deviations.
    pub unit: Unit,
    /// Mean over doughs.
    pub mean: f64,
    /// Scatter of doughs made alike: same method, flour, block and water.
    pub between_doughs: Option<Scatter>,
    /// Scatter of pieces of one dough; never a substitute for doughs.
    pub within_doughs: Option<Scatter>,
}

/// A standard deviation with its degrees of freedom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scatter {
    /// Standard deviation.
    pub sd: f64,
    /// Degrees of freedom.
    pub df: f64,
}

/// Returns the precision of every metric that has doughs or pieces repeated, in the order of names.
pub fn precision(evidence: &Evidence) -> Vec<Precision> {
    let mut metrics: BTreeMap<(&str, &str), Vec<&ResultRow>> = BTreeMap::new();
    for row in &evidence.results {
        let usable = row.excluded.is_none() && row.status == Status::Exact;
        if usable && row.value.is_some_and(f64::is_finite) && row.origin.batch.is_some() {
            let key = (row.metric.as_str(), row.variant.as_str());
            metrics.entry(key).or_default().push(row);
        }
    }
    let all = metrics.into_iter();
    all.filter_map(|((metric, variant), rows)| of_metric(metric, variant, rows))
        .collect()
}

/// What must be alike for two values to be replicates.
fn cell(row: &ResultRow) -> String {
    let origin = &row.origin;
    format!(
        "{:?} {:?} {:?} {:?} {:?} {:?}",
        origin.treatment,
        origin.sample,
        origin.block,
        origin.hydration_pct,
        row.age_d,
        row.rest_min
    )
}

fn of_metric(metric: &str, variant: &str, mut rows: Vec<&ResultRow>) -> Option<Precision> {
    rows.sort_by(|a, b| a.result_id.cmp(&b.result_id));
    rows.dedup_by(|a, b| a.result_id == b.result_id);
    let unit = rows.first()?.unit;
    rows.retain(|row| row.unit == unit);
    // Pieces of one dough under the same conditions.
    let mut doughs: BTreeMap<(String, &str), Vec<f64>> = BTreeMap::new();
    for row in &rows {
        if let (Some(batch), Some(value)) = (row.origin.batch.as_deref(), row.value) {
            doughs.entry((cell(row), batch)).or_default().push(value);
        }
    }
    let pieces: Vec<(usize, f64)> = doughs
        .values()
        .enumerate()
        .flat_map(|(dough, values)| values.iter().map(move |v| (dough, *v)))
        .collect();
    let means: Vec<(&str, f64)> = doughs
        .iter()
        .map(|((cell, _), values)| {
            (
                cell.as_str(),
                values.iter().sum::<f64>() / values.len() as f64,
            )
        })
        .collect();
    let labels: Vec<&str> = means.iter().map(|(cell, _)| *cell).collect();
    let values: Vec<f64> = means.iter().map(|(_, mean)| *mean).collect();
    let between_doughs = scatter(&Factor::of_labels(&labels).0, &values);
    let codes = pieces.iter().map(|(dough, _)| *dough).collect();
    let of_pieces: Vec<f64> = pieces.iter().map(|(_, value)| *value).collect();
    let within_doughs = scatter(&Factor::new(codes), &of_pieces);
    if between_doughs.is_none() && within_doughs.is_none() {
        return None;
    }
    Some(Precision {
        metric: metric.to_owned(),
        variant: variant.to_owned(),
        unit,
        mean: values.iter().sum::<f64>() / values.len() as f64,
        between_doughs,
        within_doughs,
    })
}

/// Returns the scatter within groups; `None` where no group has two values.
fn scatter(groups: &Factor, values: &[f64]) -> Option<Scatter> {
    if groups.levels() < 2 {
        let summary = crate::numerics::exact::summarise(values).ok()?;
        return (summary.count > 1).then_some(Scatter {
            sd: summary.deviation,
            df: summary.count as f64 - 1.0,
        });
    }
    let within = one_way(values, groups).ok()?.within;
    (within.df >= 1.0).then(|| Scatter {
        sd: within.mean_square().sqrt(),
        df: within.df,
    })
}
