//! The tables of an archive as they stand: what is in force, and what others took the place of.

use super::super::ProcessError;
use super::chain::segment;
use super::known::{Known, RunLine};
use crate::archive::{Action, Reader};
use crate::record::tables::{OBSERVATIONS, RESULTS, RUNS};
use crate::schema::Cell;
use crate::table::StoredTable;
use std::collections::{BTreeMap, BTreeSet};

/// What one event of derivation left in the tables.
#[derive(Debug, Default)]
pub(in crate::pipeline) struct Part {
    /// Ledger line.
    pub seq: u64,
    /// Runs in force.
    pub runs: Option<StoredTable>,
    /// Results in force.
    pub results: Option<StoredTable>,
    /// Results that others have taken the place of.
    pub superseded: Option<StoredTable>,
    /// Observations.
    pub observations: Option<StoredTable>,
}

/// Hands the tables of every event of derivation to `take`, in the order of the ledger.
///
/// # Errors
/// [`ProcessError`] when a segment cannot be read, or what `take` returns.
pub(in crate::pipeline) fn each_part(
    reader: &Reader,
    known: &Known,
    mut take: impl FnMut(Part) -> Result<(), ProcessError>,
) -> Result<(), ProcessError> {
    let mut by_line: BTreeMap<u64, Vec<&RunLine>> = BTreeMap::new();
    for line in &known.runs {
        by_line.entry(line.seq).or_default().push(line);
    }
    for entry in reader.events()? {
        let entry = entry?;
        if entry.event.action != Action::Derive {
            continue;
        }
        let lines = by_line.get(&entry.seq).cloned().unwrap_or_default();
        let in_force = |line: &&&RunLine| known.superseded_by(line).is_none();
        let current: BTreeSet<&str> = lines
            .iter()
            .filter(in_force)
            .flat_map(|line| line.results.iter().map(String::as_str))
            .collect();
        let current_runs: BTreeSet<(&str, &str)> = lines
            .iter()
            .filter(in_force)
            .map(|line| (line.name.as_str(), line.raw.as_str()))
            .collect();
        let mut part = Part {
            seq: entry.seq,
            ..Part::default()
        };
        if let Some(table) = segment(reader, &entry, RESULTS.name)? {
            let position = table.position("result_id");
            let is_current = |row: &Vec<Cell>| match position.and_then(|at| row.get(at)) {
                Some(Cell::Text(id)) => current.contains(id.as_str()),
                _ => false,
            };
            let (now, before): (Vec<_>, Vec<_>) = table.rows.into_iter().partition(is_current);
            let with = |rows| StoredTable {
                columns: table.columns.clone(),
                rows,
            };
            part.superseded = Some(with(before));
            part.results = Some(with(now));
        }
        if let Some(mut table) = segment(reader, &entry, RUNS.name)? {
            let mut rows = std::mem::take(&mut table.rows);
            rows.retain(|row| {
                let key = (table.text(row, "run_id"), table.text(row, "raw_sha256"));
                current_runs.contains(&key)
            });
            table.rows = rows;
            part.runs = Some(table);
        }
        part.observations = segment(reader, &entry, OBSERVATIONS.name)?;
        take(part)?;
    }
    Ok(())
}
