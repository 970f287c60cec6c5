//! Whether the lots of a day meet their limits.

use super::Limits;
use super::read::Limit;
use crate::record::{Day, Delivery, DeliveryVerdict, Estimate, MetricResult};
use crate::schema::{Field, Purpose, SampleId};
use std::collections::BTreeMap;

/// Returns every lot of the day that is of a grade with limits, judged in each metric that the
/// limits name, lots and metrics in order.
///
/// Runs of a titration do not count: they look for the right water, and do not measure the flour.
/// The mean of a lot's results keeps the uncertainty of one reading (its instrument and moisture
/// do not average out), or that of the scatter between runs where that is greater.
pub fn judge(day: &Day, limits: &Limits) -> Vec<Delivery> {
    let mut grades: BTreeMap<SampleId, String> = BTreeMap::new();
    for run in &day.runs {
        let grade = run.metadata.text(Field::FlourGrade);
        if let (Some(sample), Some(grade)) = (&run.conditions.sample_id, grade) {
            grades
                .entry(sample.clone())
                .or_insert(grade.trim().to_owned());
        }
    }
    let mut judged = Vec::new();
    for (sample, grade) in &grades {
        for limit in limits.list.iter().filter(|limit| limit.grade == *grade) {
            judged.push(judge_one(day, sample, limit));
        }
    }
    judged
}

fn judge_one(day: &Day, sample: &SampleId, limit: &Limit) -> Delivery {
    let counted = |result: &&MetricResult| {
        result.conditions.sample_id.as_ref() == Some(sample)
            && result.conditions.purpose != Some(Purpose::Titration)
            && result.metric.id == limit.metric.id
            && result.variant == limit.variant
    };
    let all: Vec<&MetricResult> = day.results().filter(counted).collect();
    let exact: Vec<Estimate> = all.iter().filter_map(|r| r.outcome.estimate()).collect();
    let found = mean_of(&exact);
    let guard = found.map_or(0.0, |mean| 2.0 * mean.std_uncertainty());
    let verdict = match found {
        Some(mean) if exact.len() == all.len() => verdict_of(mean.value(), guard, limit),
        Some(_) => DeliveryVerdict::NotJudged(format!(
            "{} of {} runs have no exact number",
            all.len() - exact.len(),
            all.len()
        )),
        None if all.is_empty() => {
            DeliveryVerdict::NotJudged("no run of this lot measures it".to_owned())
        }
        None => DeliveryVerdict::NotJudged("no run of this lot has an exact number".to_owned()),
    };
    Delivery {
        sample: sample.clone(),
        grade: limit.grade.clone(),
        metric: limit.metric,
        variant: limit.variant,
        results: all.iter().map(|r| r.id.clone()).collect(),
        found,
        lower: limit.lower,
        upper: limit.upper,
        guard,
        set_by: limit.set_by.clone(),
        verdict,
    }
}

/// Returns the mean with the greater of the two uncertainties: of one reading, and of the mean by
/// the scatter between runs.
fn mean_of(exact: &[Estimate]) -> Option<Estimate> {
    if exact.is_empty() {
        return None;
    }
    let n = exact.len() as f64;
    let mean = exact.iter().map(Estimate::value).sum::<f64>() / n;
    let reading = exact
        .iter()
        .map(|e| e.std_uncertainty().powi(2))
        .sum::<f64>()
        / n;
    let scatter = match exact.len() {
        1 => 0.0,
        _ => {
            let squares = exact
                .iter()
                .map(|e| (e.value() - mean).powi(2))
                .sum::<f64>();
            squares / (n - 1.0) / n
        }
    };
    Estimate::new(mean, reading.max(scatter).sqrt()).ok()
}

fn verdict_of(value: f64, guard: f64, limit: &Limit) -> DeliveryVerdict {
    // How far inside the nearest limit; negative outside.
    let above = limit.lower.map_or(f64::INFINITY, |lower| value - lower);
    let below = limit.upper.map_or(f64::INFINITY, |upper| upper - value);
    let inside = above.min(below);
    if inside > guard {
        DeliveryVerdict::Accept
    } else if inside < -guard {
        DeliveryVerdict::Reject
    } else {
        DeliveryVerdict::Between
    }
}
