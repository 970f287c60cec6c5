//! Which dough a run belongs to: run sheets joined to runs, and names made unique.

use crate::record::{Run, RunSheet, SheetLine};
use crate::schema::{Field, RunId};
use std::collections::BTreeMap;

/// The run sheets in force, and how far each of them speaks.
#[derive(Debug, Clone, Default)]
pub(super) struct Sheets {
    /// Run sheets, in order.
    pub list: Vec<RunSheet>,
    /// Whether a sheet speaks only of files below its own first folder: several day folders were
    /// read together, and each may have its `run-1.csv`.
    pub by_folder: bool,
}

impl Sheets {
    /// Returns the lines that may speak of the file called `name`.
    fn lines_for<'s>(&'s self, name: &str) -> impl Iterator<Item = &'s SheetLine> {
        let first = |name: &str| name.split_once('/').map(|(folder, _)| folder.to_owned());
        let folder = first(name);
        self.list
            .iter()
            .filter(move |sheet| !self.by_folder || first(&sheet.file.name) == folder)
            .flat_map(|sheet| &sheet.lines)
    }
}

/// Joins the run-sheet line that speaks of `run` to its metadata; returns whether there was one.
///
/// The file's own statements stay in force; the sheet's stand behind them, so that a difference
/// remains visible. A name that only the sheet states becomes the run's name.
pub(super) fn join_run_sheet(run: &mut Run, sheets: &Sheets) -> bool {
    let line = sheets
        .lines_for(&run.file.name)
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
pub(super) fn profile_named_for<'s>(name: &str, sheets: &'s Sheets) -> Option<&'s str> {
    sheets
        .lines_for(name)
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
