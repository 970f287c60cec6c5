//! Which dough a run belongs to: run sheets joined to runs, and names made unique.

use crate::record::{Run, RunSheet};
use crate::schema::{Field, RunId};
use std::collections::BTreeMap;

/// Joins the run-sheet line that speaks of `run` to its metadata; returns whether there was one.
///
/// The file's own statements stay in force; the sheet's stand behind them, so that a difference
/// remains visible. A name that only the sheet states becomes the run's name.
pub(super) fn join_run_sheet(run: &mut Run, sheets: &[RunSheet]) -> bool {
    let lines = sheets.iter().flat_map(|sheet| &sheet.lines);
    let line = lines
        .filter(|line| line.names(&run.file.name))
        .find(|line| {
            line.curve.is_empty() || line.curve == run.selector || line.curve == run.id.as_str()
        });
    let Some(line) = line else { return false };
    let named_by_file = run.metadata.statement(Field::RunId).is_some();
    run.metadata.append(&line.metadata);
    if !named_by_file
        && let Some(id) = line
            .metadata
            .text(Field::RunId)
            .and_then(|t| RunId::new(&t).ok())
    {
        run.id = id;
    }
    true
}

/// Returns the profile that a run sheet names for the file called `name`.
pub(super) fn profile_named_for<'s>(name: &str, sheets: &'s [RunSheet]) -> Option<&'s str> {
    let lines = sheets.iter().flat_map(|sheet| &sheet.lines);
    lines
        .filter(|line| line.names(name))
        .find_map(|line| line.profile.as_deref())
}

/// Gives each run a name of its own: a second `K-01` becomes `K-01 (2)`. A rule reports it.
#[derive(Debug, Default)]
pub(super) struct UniqueNames {
    seen: BTreeMap<String, u32>,
}

impl UniqueNames {
    /// Returns `id`, or `id (n)` when it was taken before.
    pub(super) fn claim(&mut self, id: &RunId) -> RunId {
        let count = self.seen.entry(id.to_string()).or_insert(0);
        *count += 1;
        if *count == 1 {
            return id.clone();
        }
        let name = format!("{id} ({count})");
        RunId::new(&name).unwrap_or_else(|_| id.clone())
    }
}
