//! What a dough is, from its strips or discs. They are sub-samples of one dough: their number says
//! how well the dough is known, and never counts as doughs.

use crate::numerics::{Jackknifed, deviation_interval, jackknife, mean_and_deviation};
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
    let half = number.half_interval().hypot(2.0 * u_shared);
    let u = number.standard_error.hypot(u_shared);
    let value = number.value;
    match Estimate::with_interval(value, value - half, value + half, u) {
        Ok(estimate) => Outcome::Exact(estimate),
        Err(error) => Outcome::NotComputable(error.to_string()),
    }
}

/// Returns the mean of what was read of the pieces. The mean of their uncertainties is taken as
/// shared: geometry, force and pressure are off by the same for all.
pub(super) fn mean(estimates: &[Estimate]) -> Option<Outcome> {
    let n = estimates.len() as f64;
    let value = |i: &usize| estimates.get(*i).map_or(0.0, Estimate::value);
    let mean = |kept: &[usize]| Some(kept.iter().map(value).sum::<f64>() / kept.len() as f64);
    let shared = estimates.iter().map(Estimate::std_uncertainty).sum::<f64>() / n;
    jackknife(estimates.len(), mean).map(|number| of_dough(number, shared))
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
