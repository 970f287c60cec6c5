//! Where an archive is, who writes there, and how one inside an output folder outlives it.
//!
//! `OUT` is replaced as a whole, its archive is not: before the new `OUT` takes its place, the
//! archive is moved into it. The rule, for a stop at any moment in between:
//!
//! - a folder that holds an archive is never removed;
//! - an archive that a stopped process left in its hidden folder beside `OUT` is put back to
//!   `OUT/archive` by the next `process` with that output, unless one stands there;
//! - commands that only read say where it is.

use super::super::ProcessError;
use crate::archive::{Archive, Owner};
use std::path::{Component, Path, PathBuf};

/// Name of the archive's folder inside an output folder.
pub(in crate::pipeline) const ARCHIVE: &str = "archive";
const LEDGER: &str = "ledger.jsonl";

/// Returns whether `folder` is an archive.
pub(in crate::pipeline) fn is_archive(folder: &Path) -> bool {
    folder.join(LEDGER).is_file()
}

/// Returns the folder of the archive that `named` means: itself, or the `archive` folder of the
/// output that it is.
///
/// # Errors
/// [`ProcessError::Request`] when there is none; it says where a stopped process has left one.
pub fn find_archive(named: &Path) -> Result<PathBuf, ProcessError> {
    let inside = named.join(ARCHIVE);
    if is_archive(named) {
        return Ok(named.to_owned());
    }
    if is_archive(&inside) {
        return Ok(inside);
    }
    if let Some(left) = left_beside(named).first() {
        return Err(ProcessError::Request(format!(
            "the archive of `{}` stands in `{}`, where a stopped process left it; run `process` with this output again, which puts it back, or name that folder",
            named.display(),
            left.display()
        )));
    }
    Err(ProcessError::Request(format!(
        "`{}` is no archive and holds none; name the folder given to `process` as --archive, or its output folder",
        named.display()
    )))
}

/// Returns the archive that `named` means.
///
/// # Errors
/// As [`find_archive`].
pub fn open_archive(named: &Path) -> Result<Archive, ProcessError> {
    find_archive(named).map(|folder| Archive::at(&folder))
}

/// Returns the beginning of the name of the hidden folders in which `out` is prepared.
pub(in crate::pipeline) fn part_prefix(out: &Path) -> String {
    let name = out
        .file_name()
        .map_or_else(|| "out".into(), |n| n.to_string_lossy().into_owned());
    format!(".{name}.part-")
}

/// Returns the folder that holds `out`.
pub(in crate::pipeline) fn parent_of(out: &Path) -> PathBuf {
    match out.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
        _ => PathBuf::from("."),
    }
}

/// Returns archives in hidden folders beside `out`.
fn left_beside(out: &Path) -> Vec<PathBuf> {
    let prefix = part_prefix(out);
    let Ok(entries) = std::fs::read_dir(parent_of(out)) else {
        return Vec::new();
    };
    let mut found: Vec<PathBuf> = entries
        .flatten()
        .filter(|entry| entry.file_name().to_string_lossy().starts_with(&prefix))
        .map(|entry| entry.path().join(ARCHIVE))
        .filter(|path| is_archive(path))
        .collect();
    found.sort();
    found
}

/// Puts back the archive of `out` that a stopped process left beside it.
pub(in crate::pipeline) fn put_back(out: &Path) -> Result<(), ProcessError> {
    let home = out.join(ARCHIVE);
    let Some(left) = left_beside(out).into_iter().find(|path| !in_use(out, path)) else {
        return Ok(());
    };
    if home.exists() {
        return Err(ProcessError::Request(format!(
            "two archives for one output: `{}` and, left by a stopped process, `{}`; nothing is lost, but a person must say which is which: move the second elsewhere",
            home.display(),
            left.display()
        )));
    }
    std::fs::create_dir_all(out).map_err(ProcessError::file("make folder", out))?;
    std::fs::rename(&left, &home).map_err(ProcessError::file("put back", &left))?;
    if let Some(folder) = left.parent() {
        remove_without_archive(folder);
    }
    Ok(())
}

/// Returns whether the process that prepared this folder is still there (where that can be seen).
fn in_use(out: &Path, archive: &Path) -> bool {
    let name = archive
        .parent()
        .and_then(Path::file_name)
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default();
    let pid: String = name
        .strip_prefix(&part_prefix(out))
        .unwrap_or_default()
        .chars()
        .take_while(char::is_ascii_digit)
        .collect();
    pid != std::process::id().to_string()
        && !pid.is_empty()
        && Path::new("/proc").join(pid).exists()
}

/// Removes a folder, unless an archive stands in it, however deep.
pub(in crate::pipeline) fn remove_without_archive(folder: &Path) {
    if archives_in(folder).is_empty() {
        let _ = std::fs::remove_dir_all(folder);
    }
}

/// Returns every archive in a folder; the folder itself may be one.
fn archives_in(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut open = vec![folder.to_owned()];
    while let Some(current) = open.pop() {
        if is_archive(&current) {
            found.push(current);
            continue;
        }
        let entries = std::fs::read_dir(&current).into_iter().flatten().flatten();
        open.extend(
            entries
                // A link is not followed: what it leads to is not removed with the folder.
                .filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_dir()))
                .map(|entry| entry.path()),
        );
    }
    found
}

/// Refuses an output folder that would take an archive with it: only `OUT/archive` is carried
/// over when `OUT` is replaced.
pub(in crate::pipeline) fn refuse_buried_archive(out: &Path) -> Result<(), ProcessError> {
    let home = out.join(ARCHIVE);
    match archives_in(out).into_iter().find(|found| *found != home) {
        Some(found) => Err(ProcessError::Request(format!(
            "output folder `{}` holds the archive `{}`, which would be lost when the output is replaced; name another output folder",
            out.display(),
            found.display()
        ))),
        None => Ok(()),
    }
}

/// Refuses an archive in the output folder (but for `OUT/archive`) and an output folder in the
/// archive.
pub(in crate::pipeline) fn refuse_overlap(out: &Path, archive: &Path) -> Result<(), ProcessError> {
    let (out_full, archive_full) = (full(out), full(archive));
    if archive_full == full(&out.join(ARCHIVE)) {
        return Ok(());
    }
    if archive_full.starts_with(&out_full) || out_full.starts_with(&archive_full) {
        return Err(ProcessError::Request(format!(
            "archive `{}` and output folder `{}` stand in each other; the output is replaced as a whole, an archive never: keep them apart, or leave --archive out, which keeps it in `{}`",
            archive.display(),
            out.display(),
            out.join(ARCHIVE).display()
        )));
    }
    Ok(())
}

/// Returns the absolute path without `..`; what exists of it with links followed.
fn full(path: &Path) -> PathBuf {
    let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let mut full = PathBuf::new();
    for part in path.components() {
        match part {
            Component::ParentDir => {
                full.pop();
            }
            other => full.push(other),
        }
        if let Ok(found) = full.canonicalize() {
            full = found;
        }
    }
    full
}

/// Returns who writes, for the lock.
pub(in crate::pipeline) fn owner(who: &str, since: &str) -> Owner {
    Owner {
        who: who.to_owned(),
        pid: std::process::id(),
        host: host(),
        since: since.to_owned(),
    }
}

fn host() -> String {
    let named = std::fs::read_to_string("/proc/sys/kernel/hostname")
        .ok()
        .or_else(|| std::env::var("HOSTNAME").ok())
        .or_else(|| std::env::var("COMPUTERNAME").ok());
    named
        .map(|name| name.trim().to_owned())
        .filter(|name| !name.is_empty())
        .unwrap_or_else(|| "this computer".to_owned())
}

/// Returns a time as the ledger keeps it: `2026-03-12 06:15:00 UTC` becomes
/// `2026-03-12T06:15:00+00:00` (RFC 3339); anything else stays as it is.
pub(in crate::pipeline) fn ledger_time(made_at: &str) -> String {
    match made_at.strip_suffix(" UTC") {
        Some(bare) => format!("{}+00:00", bare.replacen(' ', "T", 1)),
        None => made_at.to_owned(),
    }
}

/// Returns the kind of machine on which numbers are computed, as the ledger keeps it.
pub(in crate::pipeline) fn platform() -> String {
    format!("{}-{}", std::env::consts::ARCH, std::env::consts::OS)
}
