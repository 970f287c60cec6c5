//! Which runs a rule of reject level stands against, by the latest judgement of their files.

use super::super::ProcessError;
use super::chain::segment;
use crate::archive::{Action, Reader};
use crate::record::tables::FINDINGS;
use crate::schema::Level;
use std::collections::BTreeMap;

/// Returns, by digest of the raw file and name of the run, the rule that rejects it. A file that
/// was judged again stands as it was judged last.
///
/// # Errors
/// [`ProcessError`] when the ledger or a segment cannot be read.
pub(in crate::pipeline) fn rejected_runs(
    reader: &Reader,
) -> Result<BTreeMap<(String, String), String>, ProcessError> {
    let mut rejected: BTreeMap<(String, String), String> = BTreeMap::new();
    for entry in reader.events()? {
        let entry = entry?;
        if entry.event.action != Action::Check {
            continue;
        }
        // Names of the day end the names under which the archive keeps the files.
        let judged: Vec<(&str, &str)> = entry
            .event
            .inputs
            .iter()
            .filter_map(|item| Some((item.name.as_deref()?, item.digest.as_ref()?.as_str())))
            .collect();
        rejected.retain(|(digest, _), _| !judged.iter().any(|(_, d)| *d == digest));
        let Some(table) = segment(reader, &entry, FINDINGS.name)? else {
            continue;
        };
        for row in &table.rows {
            let (file, run) = (table.text(row, "file"), table.text(row, "run_id"));
            if table.text(row, "level") != Level::Reject.word() || run.is_empty() {
                continue;
            }
            let is_it = |name: &str| name == file || name.ends_with(&format!("/{file}"));
            if let Some((_, digest)) = judged.iter().find(|(name, _)| is_it(name)) {
                let rule = table.text(row, "rule").to_owned();
                rejected
                    .entry(((*digest).to_owned(), run.to_owned()))
                    .or_insert(rule);
            }
        }
    }
    Ok(rejected)
}
