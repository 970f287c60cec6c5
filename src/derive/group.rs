//! Numbers that several runs of a test give together.

use super::{METHODS, Metric, readings};
use crate::record::{Conditions, MetricResult, RunGroup, RunRecord};
use crate::schema::{BatchId, Digest, ResultId, RunId, Test};
use std::sync::Arc;

/// Derives what the runs of a day give together: every method that has such numbers, in order.
/// Runs that somebody excluded do not enter.
pub fn derive_groups(runs: &[RunRecord]) -> Vec<RunGroup> {
    let mut all = Vec::new();
    for method in METHODS {
        let Some(derive) = method.groups else {
            continue;
        };
        let of_test = runs.iter().filter(|run| run.test == method.test);
        let counted: Vec<&RunRecord> = of_test.filter(|run| run.excluded.is_none()).collect();
        if !counted.is_empty() {
            all.extend(derive(&counted));
        }
    }
    all
}

/// Returns the runs of each dough, doughs in the order in which they come; runs without a dough
/// are left out.
pub fn runs_by_dough<'r>(runs: &[&'r RunRecord]) -> Vec<(BatchId, Vec<&'r RunRecord>)> {
    let mut doughs: Vec<(BatchId, Vec<&RunRecord>)> = Vec::new();
    for run in runs {
        let Some(batch) = &run.conditions.batch_id else {
            continue;
        };
        match doughs.iter_mut().find(|(id, _)| id == batch) {
            Some((_, list)) => list.push(run),
            None => doughs.push((batch.clone(), vec![run])),
        }
    }
    doughs
}

/// A group before its numbers are read.
pub struct Gathered<'r> {
    /// Kind of test.
    pub test: Test,
    /// What the runs have in common; unique among the groups of a day.
    pub name: String,
    /// Runs that count; at least one.
    pub members: Vec<&'r RunRecord>,
    /// Keys of runs left out, each with the reason.
    pub left_out: Vec<(String, String)>,
    /// Results that the numbers are computed from.
    pub from: Vec<ResultId>,
    /// Parameters, as canonical text.
    pub settings: String,
}

impl Gathered<'_> {
    /// Returns the group with every metric of `metrics`, in every variant, read from `prepared`.
    pub fn read<P>(self, prepared: &P, metrics: &[&'static Metric<P>]) -> RunGroup {
        let identity = MetricResult::identity_of_group(self.test, &self.name, &self.members);
        let conditions = Arc::new(shared_conditions(&self.members));
        let source = self.members.first().map(|run| &run.file);
        let mut results = Vec::new();
        for (card, variant, reading) in readings(prepared, metrics) {
            let (Some(file), Some(run_id)) = (source, group_id(&self.name)) else {
                continue;
            };
            let mut parameters = self.settings.clone();
            if !reading.remarks.is_empty() {
                parameters.push_str("; ");
                parameters.push_str(&reading.remarks);
            }
            results.push(MetricResult {
                id: MetricResult::identify(&identity, &card, variant, &self.settings),
                file: file.name.clone(),
                raw_sha256: file.sha256.clone(),
                run_id,
                test: self.test,
                metric: card,
                unit: card.unit,
                variant,
                conditions: Arc::clone(&conditions),
                outcome: reading.outcome,
                rows: None,
                parameters,
                from: self.from.clone(),
            });
        }
        RunGroup {
            test: self.test,
            name: self.name,
            members: self.members.iter().map(|run| run.key()).collect(),
            left_out: self.left_out,
            results,
        }
    }
}

/// Returns the name as an identifier: without control characters, with a digest in place of what
/// is too long.
fn group_id(name: &str) -> Option<RunId> {
    const LONGEST: usize = 200;
    let plain: String = name.chars().filter(|c| !c.is_control()).collect();
    if plain.len() <= LONGEST {
        return RunId::new(&plain).ok();
    }
    let digest = Digest::of(name.as_bytes());
    let kept: String = plain.chars().take(40).collect();
    RunId::new(&format!("{kept}… {}", digest.short())).ok()
}

/// Returns what is stated alike for all runs.
fn shared_conditions(runs: &[&RunRecord]) -> Conditions {
    fn same<T: PartialEq + Clone>(
        runs: &[&RunRecord],
        get: impl Fn(&Conditions) -> &Option<T>,
    ) -> Option<T> {
        let first = get(&runs.first()?.conditions).clone()?;
        let alike = runs
            .iter()
            .all(|r| get(&r.conditions).as_ref() == Some(&first));
        alike.then_some(first)
    }
    Conditions {
        sample_id: same(runs, |c| &c.sample_id),
        batch_id: same(runs, |c| &c.batch_id),
        treatment: same(runs, |c| &c.treatment),
        block: same(runs, |c| &c.block),
        replicate: same(runs, |c| &c.replicate),
        instrument_id: same(runs, |c| &c.instrument_id),
        purpose: same(runs, |c| &c.purpose),
        procedure: same(runs, |c| &c.procedure),
        ..Conditions::default()
    }
}
