//! What rules on strips and on discs share: both are sub-samples of a dough.

use super::Seen;
use crate::record::{Day, Origin, RunGroup, RunRecord};
use crate::schema::{Field, Test};

/// Returns what is seen at a fact that the run's own file states, with its line.
pub(super) fn at_statement(run: &RunRecord, field: Field, seen: Seen) -> Seen {
    match run.metadata.statement(field).map(|s| &s.origin) {
        Some(Origin::File { line }) => seen.at_row(*line),
        _ => seen,
    }
}

/// Returns why the operator left the run out, if so.
pub(super) fn left_out(run: &RunRecord) -> Option<String> {
    let reason = run.metadata.text(Field::LeaveOut)?;
    let reason = reason.trim().to_owned();
    (!reason.is_empty()).then_some(reason)
}

/// Returns the runs of `test` of each dough, with their index in the day, in its order; runs whose
/// dough is not stated or that somebody excluded belong to none.
pub(super) fn doughs(day: &Day, test: Test) -> Vec<(String, Vec<(usize, &RunRecord)>)> {
    let mut doughs: Vec<(String, Vec<(usize, &RunRecord)>)> = Vec::new();
    for (index, run) in day.runs.iter().enumerate() {
        let Some(batch) = &run.conditions.batch_id else {
            continue;
        };
        if run.test != test || run.excluded.is_some() {
            continue;
        }
        match doughs.iter_mut().find(|(name, _)| name == batch.as_str()) {
            Some((_, runs)) => runs.push((index, run)),
            None => doughs.push((batch.as_str().to_owned(), vec![(index, run)])),
        }
    }
    doughs
}

/// Returns the group of a dough's runs of `test`.
pub(super) fn group_of<'d>(
    day: &'d Day,
    test: Test,
    runs: &[(usize, &RunRecord)],
) -> Option<&'d RunGroup> {
    let has = |group: &&RunGroup| {
        let mut keys = runs.iter().map(|(_, run)| run.key());
        group.test == test && keys.any(|key| group.members.contains(&key))
    };
    day.groups.iter().find(has)
}

/// Returns the values of `metric` that the runs have, each with its run.
pub(super) fn values<'r>(
    runs: &[(usize, &'r RunRecord)],
    metric: &str,
) -> Vec<(usize, &'r RunRecord, f64)> {
    let value = |(index, run): &(usize, &'r RunRecord)| {
        let value = run.result(metric)?.outcome.value()?;
        Some((*index, *run, value))
    };
    runs.iter().filter_map(value).collect()
}

/// Returns the median of values; `None` without any.
pub(super) fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let upper = *sorted.get(sorted.len() / 2)?;
    let lower = *sorted.get(sorted.len().saturating_sub(1) / 2)?;
    Some(0.5 * (lower + upper))
}

/// Returns what is seen where the temperatures stated for the runs of a dough differ by more than
/// `limit_k`, at the last of them.
pub(super) fn temperatures_apart(day: &Day, test: Test, limit_k: f64, what: &str) -> Vec<Seen> {
    let mut found = Vec::new();
    for (dough, runs) in doughs(day, test) {
        let stated = runs
            .iter()
            .filter_map(|(_, run)| run.conditions.thermostat_c);
        let (low, high) = stated.fold((f64::MAX, f64::MIN), |(low, high), t| {
            (low.min(t), high.max(t))
        });
        if high - low > limit_k + 1e-9 {
            found.push(Seen {
                run: runs.last().map(|(index, _)| *index),
                ..Seen::new(format!(
                    "{what} of dough {dough} were tested between {low:.1} and {high:.1} °C; the \
                     limit is {limit_k:.1} K"
                ))
            });
        }
    }
    found
}
