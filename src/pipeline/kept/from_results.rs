//! From results to their runs: those that a chart carries, and those behind a claim.

use super::super::ProcessError;
use super::super::study::CLAIM_KIND;
use super::chain::{ClaimTrace, RunTrace, Trace};
use super::known::{GRADING_KIND, RUN_KIND};
use super::trace::{Tracer, runs_holding};
use crate::archive::{Action, Entry, Item, Reader};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

/// Returns the results that a chart's file carries; none for a picture of another maker.
///
/// # Errors
/// [`ProcessError::File`] when it cannot be read, [`ProcessError::Request`] when it is neither a PNG
/// nor an SVG file.
pub fn results_in_chart(path: &std::path::Path) -> Result<Vec<String>, ProcessError> {
    let bytes = std::fs::read(path).map_err(ProcessError::file("read chart", path))?;
    let from = crate::chart::provenance_in(&bytes)
        .map_err(|e| ProcessError::Request(format!("chart `{}`: {e}", path.display())))?;
    Ok(from.results.iter().map(ToString::to_string).collect())
}

/// Traces the results that a chart carries.
///
/// # Errors
/// [`ProcessError`] when the archive has none of them.
pub fn trace_chart(
    reader: &Reader,
    name: &str,
    results: &[String],
    show_rows: bool,
) -> Result<Trace, ProcessError> {
    let mut tracer = Tracer::new(reader, show_rows);
    let runs = tracer.runs_of(results)?;
    if runs.is_empty() {
        return Err(ProcessError::Request(format!(
            "chart `{name}` carries {} results, and this archive has none of them; name the archive that the chart's report was made with",
            results.len()
        )));
    }
    Ok(tracer.finish(name, "chart", runs))
}

impl Tracer<'_> {
    /// Returns the runs (and groups, and gradings) that hold `results`, each with those results.
    pub(super) fn runs_of(&mut self, results: &[String]) -> Result<Vec<RunTrace>, ProcessError> {
        let mut by_run: BTreeMap<(String, u64), Vec<String>> = BTreeMap::new();
        // A grading is named by its file and the line in it; the file leads to its sheet.
        let names: BTreeSet<&str> = results
            .iter()
            .map(|id| id.rsplit_once(':').map_or(id.as_str(), |(file, _)| file))
            .collect();
        for name in names {
            let is_known = |ids: &Vec<String>| ids.iter().any(|id| id == name);
            if by_run.values().any(is_known) {
                continue;
            }
            for entry in &self.mentions(name)? {
                for item in units_behind(entry, name) {
                    let wanted = item.holds.iter().filter(|held| results.contains(held));
                    let key = (item.id.clone().unwrap_or_default(), entry.seq);
                    by_run.insert(key, wanted.cloned().collect());
                }
            }
        }
        let mut runs = Vec::new();
        for ((key, seq), ids) in &by_run {
            runs.extend(self.run(key, Some(*seq), Some(ids))?);
        }
        Ok(runs)
    }

    /// Returns the runs behind the claim `id`; none where it is no claim.
    pub(super) fn runs_behind_claim(&mut self, id: &str) -> Result<Vec<RunTrace>, ProcessError> {
        let entries = self.mentions(id)?;
        let items = entries.iter().flat_map(|entry| &entry.event.outputs);
        let mut claims = items.filter(|i| i.kind == CLAIM_KIND && i.id.as_deref() == Some(id));
        let Some(results) = claims.next().map(|claim| claim.from.clone()) else {
            return Ok(Vec::new());
        };
        self.runs_of(&results)
    }
}

/// Returns the units of an event behind `name`: a result, a run (whole curves are named by theirs),
/// or a file of gradings.
fn units_behind<'e>(entry: &'e Entry, name: &str) -> Vec<&'e Item> {
    let mut units = runs_holding(entry, name);
    let derived = match entry.event.action {
        Action::Derive => entry.event.outputs.as_slice(),
        _ => &[],
    };
    units.extend(derived.iter().filter(|item| match item.kind.as_str() {
        RUN_KIND => item.id.as_deref() == Some(name),
        GRADING_KIND => item.from.iter().any(|from| from == name),
        _ => false,
    }));
    units
}

/// Returns what the ledger tells of the claim `id`, from the events that judged it.
pub(super) fn claims_told(entries: &[Entry], id: &str) -> Vec<ClaimTrace> {
    let judged = entries.iter().filter(|e| e.event.action == Action::Compare);
    judged
        .filter_map(|entry| {
            let parameters = &entry.event.parameters;
            let text = |value: &Value, key: &str| {
                value
                    .get(key)
                    .and_then(Value::as_str)
                    .unwrap_or("")
                    .to_owned()
            };
            let mut claims = parameters.get("claims")?.as_array()?.iter();
            let claim = claims.find(|claim| text(claim, "id") == id)?;
            Some(ClaimTrace {
                id: id.to_owned(),
                name: text(claim, "name"),
                study: text(parameters, "study"),
                verdict: text(claim, "verdict"),
                plain: text(claim, "plain"),
                seq: entry.seq,
                when: entry.event.when.clone(),
                who: entry.event.who.clone(),
            })
        })
        .collect()
}
