//! The one that writes: files first, then the ledger line, then HEAD.

use super::error::ArchiveError;
use super::event::{Event, NewFile};
use super::head::Head;
use super::known::Known;
use super::ledger::{self, Walk};
use super::line::{self, FormatVersion};
use super::lock::{Lock, Owner};
use super::place;
use super::recover;
use super::staging::{Staging, StoredFile};
use super::store::Store;
use crate::schema::Digest;

/// An acknowledged event: it is durable.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Committed {
    /// Number of its ledger line.
    pub seq: u64,
    /// Digest of its ledger line: the new head.
    pub digest: Digest,
    /// The files, in the order in which they were handed in.
    pub files: Vec<StoredFile>,
    /// Why HEAD could not be brought up to date. The event is durable all the same; nothing more
    /// is written before HEAD is.
    pub head_behind: Option<String>,
}

/// The one writer of an archive; it holds the lock until it is dropped.
pub struct Writer {
    store: Store,
    lock: Lock,
    head: Head,
    /// Line that the HEAD file names.
    head_written: u64,
    ledger_length: u64,
    known: Known,
    staging: Staging,
    stopped: Option<String>,
    set_aside: Option<String>,
    removed: Vec<String>,
}

impl Writer {
    /// Opens the archive in `store`, or begins one.
    pub(super) fn open(store: Store, owner: &Owner) -> Result<Writer, ArchiveError> {
        refuse_foreign(&store)?;
        store.make_folder("")?;
        let lock = Lock::take(&store, owner)?;
        if store.kind(place::LEDGER)?.is_none() {
            // Before anything else: from here on the folder is an archive.
            store.write(place::LEDGER, b"")?;
            store.sync_folder("")?;
        }
        let mut writer = Writer {
            staging: Staging::new(store.clone()),
            store,
            lock,
            head: Head::empty(),
            head_written: 0,
            ledger_length: 0,
            known: Known::default(),
            stopped: None,
            set_aside: None,
            removed: Vec::new(),
        };
        let walk = writer.read_ledger()?;
        writer.make_whole(&walk)?;
        Ok(writer)
    }

    /// Walks the ledger, refusing one that does not hold, and learns what it names.
    fn read_ledger(&mut self) -> Result<Walk, ArchiveError> {
        let known = &mut self.known;
        let walk = ledger::walk(&self.store, |entry, _| {
            for item in &entry.event.outputs {
                known.learn(item);
            }
        })?;
        if let Some(first) = walk.failures.first() {
            return Err(ArchiveError::Unsound(Box::new(first.fault.clone())));
        }
        if walk.newest > FormatVersion::CURRENT {
            return Err(ArchiveError::Newer {
                found: walk.newest,
                known: FormatVersion::CURRENT,
            });
        }
        Ok(walk)
    }

    /// Mends what a stopped writer left.
    fn make_whole(&mut self, walk: &Walk) -> Result<(), ArchiveError> {
        if let Some(torn) = &walk.torn {
            self.set_aside = Some(recover::set_aside(&self.store, torn)?);
        }
        self.head = walk.head.clone();
        self.ledger_length = walk.sound;
        self.head_written = walk.named.named().map_or(0, |head| head.seq);
        // A line whose sync was never reached may be whole by luck: now it is made to last.
        let mut ledger = self.store.append(place::LEDGER)?;
        self.store.sync(ledger.as_mut(), place::LEDGER)?;
        self.catch_up_head()?;
        self.removed = recover::clear_unfinished(&self.store, |path| self.known.names(path))?;
        Ok(())
    }

    fn catch_up_head(&mut self) -> Result<(), ArchiveError> {
        if self.head_written < self.head.seq {
            self.head.write(&self.store)?;
            self.head_written = self.head.seq;
        }
        Ok(())
    }

    /// Returns the last line of the ledger; reports print it.
    pub fn head(&self) -> &Head {
        &self.head
    }

    /// Returns whose lock was taken over, when a writer had ended without letting go.
    pub fn took_over(&self) -> Option<&Owner> {
        self.lock.took_over.as_ref()
    }

    /// Returns where an unfinished last line was set aside, when there was one.
    pub fn set_aside(&self) -> Option<&str> {
        self.set_aside.as_deref()
    }

    /// Returns the files that a stopped commit had placed and that were removed.
    pub fn removed(&self) -> &[String] {
        &self.removed
    }

    /// Returns whether an original with this digest is in the archive.
    pub fn knows(&self, digest: &Digest) -> bool {
        self.known.originals.contains_key(digest)
    }

    /// Returns the latest version of the original with this name.
    pub fn version(&self, name: &str) -> Option<&Digest> {
        self.known.versions.get(name)
    }

    /// Writes a file to where it waits for the next [`Writer::commit`], which makes it durable; so
    /// the files of a long day need not be in memory together.
    ///
    /// # Errors
    /// [`ArchiveError`]; then everything that waited is dropped, and nothing acknowledged is
    /// lost.
    pub fn stage(&mut self, file: NewFile) -> Result<StoredFile, ArchiveError> {
        self.check_usable()?;
        let staged = self.staging.add(file, &self.known);
        staged.map_err(|error| self.roll_back(error))
    }

    /// Keeps the files that wait and `files`, and enters `event` in the ledger, with the files
    /// among its outputs. When this returns, all of it is durable.
    ///
    /// # Errors
    /// [`ArchiveError`]; then the archive is as it was before.
    pub fn commit(&mut self, event: Event, files: Vec<NewFile>) -> Result<Committed, ArchiveError> {
        self.check_usable()?;
        let committed = self.try_commit(event, files);
        committed.map_err(|error| self.roll_back(error))
    }

    fn check_usable(&self) -> Result<(), ArchiveError> {
        match &self.stopped {
            Some(why) => Err(ArchiveError::Stopped(why.clone())),
            None => Ok(()),
        }
    }

    fn try_commit(
        &mut self,
        mut event: Event,
        files: Vec<NewFile>,
    ) -> Result<Committed, ArchiveError> {
        event.check()?;
        // HEAD never lags by more than one line.
        self.catch_up_head()?;
        for file in files {
            self.staging.add(file, &self.known)?;
        }
        self.staging.place(&self.known)?;
        event.outputs.splice(0..0, self.staging.items());
        let (bytes, digest) = line::render(self.head.seq + 1, &self.head.digest, &event)?;
        self.append_line(&bytes)?;

        // The event is durable: nothing after this undoes it.
        self.head = Head {
            seq: self.head.seq + 1,
            digest: digest.clone(),
        };
        self.ledger_length += bytes.len() as u64;
        for item in &event.outputs {
            self.known.learn(item);
        }
        let (files, placed) = self.staging.finish();
        let head_behind = self.catch_up_head().err().map(|e| e.to_string());
        if placed {
            // A list that stays behind names files that the ledger names too: it removes nothing.
            let _ = self.store.remove(place::INTENT);
        }
        Ok(Committed {
            seq: self.head.seq,
            digest,
            files,
            head_behind,
        })
    }

    /// Appends the line durably: the one point at which an event becomes a fact.
    fn append_line(&mut self, bytes: &[u8]) -> Result<(), ArchiveError> {
        if self.store.size(place::LEDGER)? != Some(self.ledger_length) {
            let error = ArchiveError::ChangedUnderway(self.store.place());
            self.stopped = Some(error.to_string());
            return Err(error);
        }
        let mut file = self.store.append(place::LEDGER)?;
        let written = self.store.write_out(file.as_mut(), place::LEDGER, bytes);
        drop(file);
        let Err(error) = written else { return Ok(()) };
        if let Err(worse) = self.store.cut(place::LEDGER, self.ledger_length) {
            // Whether the line is there cannot be told: only reading the ledger anew can.
            self.stopped = Some(format!("{error}; then {worse}"));
        }
        Err(error)
    }

    /// Undoes what a failed commit did, and returns its error.
    fn roll_back(&mut self, error: ArchiveError) -> ArchiveError {
        self.staging.forget();
        if self.stopped.is_none() {
            let cleared = recover::clear_unfinished(&self.store, |path| self.known.names(path));
            if let Err(worse) = cleared {
                self.stopped = Some(format!("{error}; then {worse}"));
            }
        }
        error
    }
}

/// Refuses a folder that holds something and no ledger: it may be an archive that lost it.
fn refuse_foreign(store: &Store) -> Result<(), ArchiveError> {
    if store.kind("")?.is_none() || store.kind(place::LEDGER)?.is_some() {
        return Ok(());
    }
    let own = [place::LOCK, place::OWNER, place::STAGING];
    match store
        .list("")?
        .into_iter()
        .find(|name| !own.contains(&name.as_str()))
    {
        Some(found) => Err(ArchiveError::Foreign {
            place: store.place(),
            found,
        }),
        None => Ok(()),
    }
}
