//! What a dough is, from its strips or discs. They are sub-samples of one dough: their number says
//! how well the dough is known, and never counts as doughs.

use super::interval::{mean_of, widened};
use crate::numerics::{Jackknifed, deviation_interval, mean_and_deviation};
use crate::record::{Estimate, Outcome, RunRecord};
use crate::schema::ResultId;

/// Runs of a dough that count, and keys of those that do not, each with the reason.
pub(super) type Sorted<'r> = (Vec<&'r RunRecord>, Vec<(String, String)>);

/// Returns the runs whose number `metric` could be read, and the others with the reason.
pub(super) fn sort_runs<'r>(runs: &[&'r RunRecord], metric: &str) -> Sorted<'r> {
    let (mut members, mut left_out) = (Vec::new(), Vec::new());
    for run in runs {
        match run.result(metric).map(|result| &result.outcome) {
            Some(Outcome::Exact(_)) => members.push(*run),
            Some(outcome) => {
                let bound = || format!("its value is only a bound ({})", outcome.status());
                let why = outcome.reason().map_or_else(bound, str::to_owned);
                left_out.push((run.key(), why));
            }
            None => left_out.push((run.key(), "nothing was read of it".into())),
        }
    }
    (members, left_out)
}

/// Returns the identifiers of what the runs gave in `metrics`, default readings.
pub(super) fn identifiers(runs: &[&RunRecord], metrics: &[&str]) -> Vec<ResultId> {
    let of_run = |run: &&RunRecord| -> Vec<ResultId> {
        let found = metrics.iter().filter_map(|metric| run.result(metric));
        found.map(|result| result.id.clone()).collect()
    };
    runs.iter().flat_map(of_run).collect()
}

/// Returns the estimates of `metric` that the runs have, default reading.
pub(super) fn estimates(runs: &[&RunRecord], metric: &str) -> Vec<Estimate> {
    let of_run = |run: &&RunRecord| run.result(metric)?.outcome.estimate();
    runs.iter().filter_map(of_run).collect()
}

/// Returns a number of the dough with what scatter of its pieces and what all of them share leave
/// open: Student's t on the pieces, and twice the shared standard uncertainty `u_shared`, in
/// squares.
pub(super) fn of_dough(number: Jackknifed, u_shared: f64) -> Outcome {
    let (value, half) = (number.value, number.half_interval());
    let interval = (value - half, value + half);
    widened(value, interval, number.standard_error, u_shared)
}

/// Returns the mean of what was read of the pieces. The mean of their uncertainties is taken as
/// shared: geometry, force and pressure are off by the same for all. `None` for fewer than two.
pub(super) fn mean(estimates: &[Estimate]) -> Option<Outcome> {
    let values: Vec<f64> = estimates.iter().map(Estimate::value).collect();
    let sum: f64 = estimates.iter().map(Estimate::std_uncertainty).sum();
    if values.len() < 2 {
        return None;
    }
    mean_of(&values, 0.0, sum / values.len() as f64)
}

/// Returns the standard deviation between the pieces in % of their mean, its interval that of a
/// normal quantity.
pub(super) fn spread_pct(estimates: &[Estimate]) -> Option<Outcome> {
    let values: Vec<f64> = estimates.iter().map(Estimate::value).collect();
    let (mean, deviation) = mean_and_deviation(&values)?;
    let spread = 100.0 * deviation / mean.abs();
    let degrees = values.len() - 1;
    let (low, high) = deviation_interval(spread, degrees)?;
    let u = spread / (2.0 * degrees as f64).sqrt();
    Some(match Estimate::with_interval(spread, low, high, u) {
        Ok(estimate) => Outcome::Exact(estimate),
        Err(error) => Outcome::NotComputable(error.to_string()),
    })
}
