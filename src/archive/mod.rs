//! The archive: originals kept byte for byte, and a ledger that says what was done with them.
//!
//! This room keeps bytes and tells who did what with them; it knows no metric, no table format
//! and no command. What it holds:
//!
//! ```text
//! raw/ab/abcd….csv       originals as received, named by their SHA-256, never rewritten
//! tables/…/abcd….parquet segments of tables, named likewise, never rewritten
//! ledger.jsonl           one JSON line per event; each names the digest of the line before
//! ledger.torn-7          a last line that a crash left unfinished, set aside (if ever)
//! HEAD                   format, number and digest of the last line
//! lock, lock-owner       who is writing
//! staging/               what a writer prepares; nothing in it counts
//! ```
//!
//! # Order of writing
//!
//! A commit writes each file under `staging/` and syncs it; lists in `staging/intent` where the
//! files will stand, and syncs that; renames them and syncs their folders; appends the ledger
//! line and syncs the ledger. **That sync is the commit point**: before it nothing has happened,
//! after it everything has. Then HEAD is replaced. So after a stop at any moment there may be
//! placed files that no line names (the next writer removes those of the intent list), a last
//! line that is not whole, or a HEAD that lags by one line.
//!
//! # The torn line
//!
//! The last line is *torn* when it has no line end or does not agree with its digest, nothing
//! follows it, and HEAD names the line before it. It was never acknowledged. Readers leave it out
//! and say so; the next writer moves its bytes to `ledger.torn-…` and never guesses at them. A
//! broken last line that HEAD does name was acknowledged: that is damage, as is every other
//! broken line, and nothing is written behind it.
//!
//! # What verification proves, and what not
//!
//! [`verify_chain`] proves that the ledger is one unbroken chain up to its head and that every
//! file is, byte for byte, the one that the ledger names: a changed, cut, lost or swapped byte is
//! found. It cannot know of a ledger that was written anew as a whole, or of last lines removed
//! together with HEAD: for that the head's digest is printed in every report (hand it to
//! [`VerifyOptions::stated_heads`]), and the ledger can be sealed with a key that the forger does
//! not have ([`Writer::seal`]). It says nothing of what was never handed in, nor of whether a
//! person or a clock told the truth: names and times are those that were stated. It keeps no one
//! out: access to the folder, copies of it and their retention are the laboratory's.
//!
//! The needs it serves are those of ISO/IEC 17025:2017 7.5 (originals and amendments kept, with
//! who and when), 7.11 (data control) and 8.4 (records) (HANDBOOK §13). **A tool can support
//! compliance; only a laboratory can be compliant.**

mod disk;
mod error;
mod event;
mod hash;
mod head;
mod known;
mod ledger;
mod line;
mod lock;
mod medium;
mod place;
mod reader;
mod recover;
mod seal;
mod staging;
mod store;
mod trace;
mod trouble;
mod verify;
mod wanted;
mod writer;

pub use disk::Disk;
pub use error::ArchiveError;
pub use event::{Action, Event, Item, Keep, NewFile, ProfileUsed};
pub use head::Head;
pub use ledger::Torn;
pub use line::{Entry, FormatVersion};
pub use lock::Owner;
pub use medium::{Hold, Kind, Medium, OpenFile};
pub use reader::{Events, Original, Reader};
pub use seal::{SealCheck, SealKey, TrustedKey};
pub use staging::{Stored, StoredFile};
pub use trace::{Mention, Role, Step, Trace};
pub use trouble::{Failure, Trouble};
pub use verify::{ChainReport, VerifyOptions, verify_chain};
pub use writer::{Committed, Writer};

use std::path::Path;
use std::sync::Arc;
use store::Store;

/// An archive, by its place. Nothing is opened yet.
#[derive(Clone)]
pub struct Archive {
    medium: Arc<dyn Medium>,
}

impl Archive {
    /// Returns the archive in a folder.
    pub fn at(folder: &Path) -> Archive {
        Archive::on(Arc::new(Disk::new(folder)))
    }

    /// Returns the archive on a medium.
    pub fn on(medium: Arc<dyn Medium>) -> Archive {
        Archive { medium }
    }

    fn store(&self) -> Store {
        Store::new(Arc::clone(&self.medium))
    }

    /// Opens the archive for writing, and begins it where there is none. The ledger is walked,
    /// and what a stopped writer left is put right.
    ///
    /// # Errors
    /// [`ArchiveError`] when somebody else writes, the ledger does not verify, was written by a
    /// newer version, or the place cannot be written.
    pub fn open_or_create(&self, owner: &Owner) -> Result<Writer, ArchiveError> {
        Writer::open(self.store(), owner)
    }

    /// Opens the archive for reading.
    ///
    /// # Errors
    /// [`ArchiveError`] when there is no archive, or it cannot be read at all. A damaged one opens
    /// as far as it is sound: see [`Reader::trouble`].
    pub fn read(&self) -> Result<Reader, ArchiveError> {
        Reader::open(self.store())
    }
}
