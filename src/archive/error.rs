//! Why an archive could not be written or read.

use super::line::FormatVersion;
use super::lock::Owner;
use crate::record::Fault;
use std::io::ErrorKind;
use thiserror::Error;

/// Why an archive could not be written or read.
#[derive(Debug, Error)]
pub enum ArchiveError {
    /// There is no archive here.
    #[error(
        "`{0}` is no archive: it holds no `ledger.jsonl`; name the folder that `process` wrote, or its `archive` folder"
    )]
    NotAnArchive(String),
    /// The folder holds something else.
    #[error(
        "`{place}` holds `{found}` and no `ledger.jsonl`, so it is no archive and none is begun here; name an empty or new folder, or put the ledger back from your copy"
    )]
    Foreign {
        /// Folder.
        place: String,
        /// First thing in it that an archive does not begin with.
        found: String,
    },
    /// Another writer is at work.
    #[error("{}", locked(place, owner.as_ref()))]
    Locked {
        /// Archive.
        place: String,
        /// Who holds the lock, where it says so.
        owner: Option<Owner>,
    },
    /// The lock was left by a writer on another computer, of which nothing can be known here.
    #[error(
        "archive `{place}` was left locked by {owner}, on another computer; make sure that nobody writes there, then remove the file `lock-owner` in the archive and try again"
    )]
    LeftByOther {
        /// Archive.
        place: String,
        /// Who left it.
        owner: Owner,
    },
    /// A file or folder could not be used.
    #[error("{action} `{path}` in archive `{place}`: {source}; {}", advice(source.kind()))]
    File {
        /// What was tried.
        action: &'static str,
        /// Path inside the archive.
        path: String,
        /// Archive.
        place: String,
        /// What went wrong.
        source: std::io::Error,
    },
    /// The ledger does not verify; nothing is written behind a broken line.
    #[error("the archive does not verify, and nothing is added to it: {0}")]
    Unsound(Box<Fault>),
    /// A kept file is not what its name says.
    #[error("{0}")]
    Damaged(Box<Fault>),
    /// The ledger was written by a newer version.
    #[error(
        "the ledger has format {found}, this version writes {known}; it can be read, but only a newer version may add to it"
    )]
    Newer {
        /// Format found.
        found: FormatVersion,
        /// Format that this version writes.
        known: FormatVersion,
    },
    /// An event does not say everything that it must.
    #[error("an event does not say `{0}`; a record needs when, who and with what program")]
    Incomplete(&'static str),
    /// A name cannot stand in the archive.
    #[error("`{name}` cannot be kept under this name; expected {expected}")]
    BadName {
        /// Name.
        name: String,
        /// What would do.
        expected: &'static str,
    },
    /// An earlier failure left this writer unable to tell what is on the disk.
    #[error(
        "an earlier failure stopped this writer ({0}); everything acknowledged before it is kept: open the archive again"
    )]
    Stopped(String),
    /// Something else wrote to the ledger while the lock was held.
    #[error(
        "the ledger of archive `{0}` was changed by another program while it was locked; nothing was added: run `verify`"
    )]
    ChangedUnderway(String),
    /// An event could not be written as a line.
    #[error("write event as JSON: {0}")]
    Json(#[from] serde_json::Error),
    /// A key file holds no usable key.
    #[error("{0}; expected an Ed25519 {1} in PEM form (PKCS #8 or SubjectPublicKeyInfo)")]
    Key(String, &'static str),
}

fn locked(place: &str, owner: Option<&Owner>) -> String {
    match owner {
        Some(owner) => format!(
            "archive `{place}` is being written by {owner}; wait until that is done, reading goes on meanwhile"
        ),
        None => format!(
            "archive `{place}` is being written by another process; wait until that is done, reading goes on meanwhile"
        ),
    }
}

fn advice(kind: ErrorKind) -> &'static str {
    match kind {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => {
            "the disk is full: nothing acknowledged is lost; make room and try again"
        }
        ErrorKind::ReadOnlyFilesystem | ErrorKind::PermissionDenied => {
            "this place may not be written: reading, trace and verify still work; use a place that may be written"
        }
        ErrorKind::NotFound => "the file is missing: run `verify`",
        ErrorKind::Unsupported => {
            "the file system cannot do this: keep the archive on a disk that can"
        }
        _ => "nothing acknowledged is lost; see that the disk is sound and try again",
    }
}

impl ArchiveError {
    /// Returns whether the archive itself is at fault: it does not verify.
    pub fn is_unsound(&self) -> bool {
        matches!(
            self,
            ArchiveError::Unsound(_) | ArchiveError::Damaged(_) | ArchiveError::ChangedUnderway(_)
        )
    }
}
