//! Which dough a run belongs to: run sheets joined to runs, and names made unique.

use crate::record::{Run, RunSheet, SheetLine};
use crate::schema::{Field, RunId};
use std::collections::BTreeSet;

/// The run sheets in force.
#[derive(Debug, Clone, Default)]
pub(super) struct Sheets {
    /// Run sheets, in order.
    pub list: Vec<RunSheet>,
}

impl Sheets {
    /// Returns the lines that speak of the file called `name`, those of the nearest sheet first.
    fn lines_for<'s>(&'s self, name: &str) -> Vec<&'s SheetLine> {
        let mut nearest: Vec<&RunSheet> = self.list.iter().collect();
        nearest.sort_by_key(|sheet| std::cmp::Reverse(sheet.folder().len()));
        nearest
            .iter()
            .flat_map(|sheet| {
                sheet
                    .lines
                    .iter()
                    .filter(|line| sheet.speaks_of(line, name))
            })
            .collect()
    }
}

/// Joins the run-sheet lines that speak of `run` to its metadata; returns whether there was one.
///
/// The file's own statements stay in force, then those of the nearest sheet's first line; all
/// others stand behind them, so that a difference remains visible. A name that only a sheet states
/// becomes the run's name.
pub(super) fn join_run_sheet(run: &mut Run, sheets: &Sheets) -> bool {
    let speaks = |line: &&&SheetLine| {
        line.curve.is_empty() || line.curve == run.selector || line.curve == run.id.as_str()
    };
    let lines = sheets.lines_for(&run.file.name);
    let lines: Vec<&SheetLine> = lines.iter().filter(speaks).copied().collect();
    let named_by_file = run.metadata.statement(Field::RunId).is_some();
    for line in &lines {
        run.metadata.append(&line.metadata);
    }
    if !named_by_file
        && let Some(id) = run
            .metadata
            .text(Field::RunId)
            .and_then(|t| RunId::new(&t).ok())
    {
        run.id = id;
    }
    !lines.is_empty()
}

/// Returns the profile that a run sheet names for the file called `name`.
pub(super) fn profile_named_for<'s>(name: &str, sheets: &'s Sheets) -> Option<&'s str> {
    sheets
        .lines_for(name)
        .into_iter()
        .find_map(|line| line.profile.as_deref())
}

/// Gives each run a name of its own: a second `K-01` becomes `K-01 (2)`. A rule reports it.
#[derive(Debug, Default)]
pub(super) struct UniqueNames {
    taken: BTreeSet<String>,
}

impl UniqueNames {
    /// Returns `id`, or the first `id (n)` that is free.
    pub(super) fn claim(&mut self, id: &RunId) -> RunId {
        if self.taken.insert(id.to_string()) {
            return id.clone();
        }
        let free = (2..)
            .map(|n| format!("{id} ({n})"))
            .find(|name| self.taken.insert(name.clone()));
        free.and_then(|name| RunId::new(&name).ok())
            .unwrap_or_else(|| id.clone())
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "tests may stop")]
    use super::*;

    #[test]
    fn every_run_gets_a_name_of_its_own() {
        let mut names = UniqueNames::default();
        let claimed: Vec<String> = ["K (2)", "K", "K", "K"]
            .iter()
            .map(|id| names.claim(&RunId::new(id).unwrap()).to_string())
            .collect();
        assert_eq!(claimed, ["K (2)", "K", "K (3)", "K (4)"]);
    }
}
