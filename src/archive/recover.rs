//! What the next writer finds after a stop, and how it makes the archive whole again.
//!
//! Three things can be left: files that a commit put in place before its ledger line was
//! durable, a last line that is not whole, and a HEAD that lags by one. A commit lists the files
//! it is about to place in `staging/intent` first, so what is removed is what a stopped commit
//! placed and no line names: never anything else.

use super::error::ArchiveError;
use super::ledger::Torn;
use super::place;
use super::store::Store;
use std::collections::BTreeSet;
use std::io::Read;

/// Writes down, durably, which files are about to be placed.
pub(super) fn declare_intent<'a>(
    store: &Store,
    paths: impl Iterator<Item = &'a str>,
) -> Result<(), ArchiveError> {
    let mut text = String::new();
    for path in paths {
        text.push_str(path);
        text.push('\n');
    }
    store.write(place::INTENT, text.as_bytes())?;
    store.sync_folder(place::STAGING)
}

/// Removes what a stopped commit placed and no line names, then everything prepared. Returns the
/// placed files that were removed.
pub(super) fn clear_unfinished(
    store: &Store,
    is_named: impl Fn(&str) -> bool,
) -> Result<Vec<String>, ArchiveError> {
    let mut removed = Vec::new();
    if let Some(bytes) = store.read(place::INTENT)? {
        let text = String::from_utf8_lossy(&bytes);
        let mut folders = BTreeSet::new();
        // A line without its end is a list that was not whole: then nothing was placed.
        for path in text
            .split_inclusive('\n')
            .filter_map(|l| l.strip_suffix('\n'))
        {
            if place::is_stored_path(path) && !is_named(path) && store.size(path)?.is_some() {
                store.remove(path)?;
                folders.insert(place::parent(path).to_owned());
                removed.push(path.to_owned());
            }
        }
        // Only when the removals are durable may the list of them go.
        for folder in &folders {
            store.sync_folder(folder)?;
        }
    }
    for name in store.list(place::STAGING)? {
        store.remove(&format!("{}/{name}", place::STAGING))?;
    }
    Ok(removed)
}

/// Moves an unfinished last line out of the ledger, keeping its bytes. Returns where they are.
pub(super) fn set_aside(store: &Store, torn: &Torn) -> Result<String, ArchiveError> {
    let mut bytes = Vec::new();
    let mut ledger = store.open(place::LEDGER)?;
    let located = |source| ArchiveError::File {
        action: "read",
        path: place::LEDGER.to_owned(),
        place: store.place(),
        source,
    };
    std::io::copy(&mut ledger.by_ref().take(torn.offset), &mut std::io::sink()).map_err(located)?;
    ledger
        .take(torn.bytes)
        .read_to_end(&mut bytes)
        .map_err(located)?;
    let name = free_name(store, torn.seq, &bytes)?;
    if store.kind(&name)?.is_none() {
        store.replace(&name, &bytes)?;
    }
    store.cut(place::LEDGER, torn.offset)?;
    Ok(name)
}

/// Returns the first name that is free, or that a stopped writer gave to these very bytes.
fn free_name(store: &Store, seq: u64, bytes: &[u8]) -> Result<String, ArchiveError> {
    let mut name = format!("{}{seq}", place::TORN);
    let mut count = 1_u32;
    loop {
        match store.read(&name)? {
            Some(there) if there != bytes => {
                count += 1;
                name = format!("{}{seq}-{count}", place::TORN);
            }
            _ => return Ok(name),
        }
    }
}
