//! The one that writes: files first, then the ledger line, then HEAD.

use super::error::ArchiveError;
use super::event::{Event, Item, Keep, NewFile};
use super::head::Head;
use super::ledger::{self, Walk};
use super::line::{self, FormatVersion};
use super::lock::{Lock, Owner};
use super::place;
use super::recover;
use super::store::Store;
use super::trouble::{Failure, Trouble};
use crate::schema::Digest;
use std::collections::{BTreeSet, HashMap, HashSet};

/// What became of bytes that were handed in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stored {
    /// They are new.
    New,
    /// The archive had these very bytes; they were re-read, and not stored twice.
    AlreadyThere,
    /// The ledger named them but they were missing; they are back.
    Restored,
}

/// A kept file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredFile {
    /// Name as handed in.
    pub name: String,
    /// SHA-256 of the bytes.
    pub digest: Digest,
    /// Size in bytes.
    pub bytes: u64,
    /// Path inside the archive.
    pub path: String,
    /// What became of it.
    pub stored: Stored,
    /// Digest of the version that bore this name until now, where it is another: the file was
    /// changed, and both versions are kept.
    pub earlier: Option<Digest>,
}

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

/// What is done with a file that a commit covers.
struct Prepared {
    file: StoredFile,
    keep: Keep,
    holds: Vec<String>,
    from: Vec<String>,
    /// Where its bytes wait, when they have to be placed.
    part: Option<String>,
}

/// The one writer of an archive; it holds the lock until it is dropped.
pub struct Writer {
    store: Store,
    lock: Lock,
    head: Head,
    /// Line that the HEAD file names.
    head_written: u64,
    ledger_length: u64,
    /// Every stored path that a ledger line names.
    named: HashSet<String>,
    /// Path of each original.
    originals: HashMap<Digest, String>,
    /// Latest version of each name.
    versions: HashMap<String, Digest>,
    /// Folders whose own entry is known to be durable.
    durable_folders: HashSet<String>,
    prepared: Vec<Prepared>,
    parts: u64,
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
            store,
            lock,
            head: Head::empty(),
            head_written: 0,
            ledger_length: 0,
            named: HashSet::new(),
            originals: HashMap::new(),
            versions: HashMap::new(),
            durable_folders: HashSet::new(),
            prepared: Vec::new(),
            parts: 0,
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
        let store = self.store.clone();
        let walk = ledger::walk(&store, |entry, _| {
            for item in &entry.event.outputs {
                self.learn(item);
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

    fn learn(&mut self, item: &Item) {
        let (Some(path), Some(digest)) = (&item.path, &item.digest) else {
            return;
        };
        self.named.insert(path.clone());
        if item.kind == RAW_KIND {
            self.originals.insert(digest.clone(), path.clone());
            if let Some(name) = &item.name {
                self.versions.insert(name.clone(), digest.clone());
            }
        }
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
        self.store
            .append(place::LEDGER)?
            .sync()
            .map_err(|source| ArchiveError::File {
                action: "sync",
                path: place::LEDGER.to_owned(),
                place: self.store.place(),
                source,
            })?;
        self.catch_up_head()?;
        self.removed = recover::clear_unfinished(&self.store, |path| self.named.contains(path))?;
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
        self.originals.contains_key(digest)
    }

    /// Returns the latest version of the original with this name.
    pub fn version(&self, name: &str) -> Option<&Digest> {
        self.versions.get(name)
    }

    /// Writes a file durably to where it waits for the next [`Writer::commit`]; so the files of
    /// a long day need not be in memory together.
    ///
    /// # Errors
    /// [`ArchiveError`]; then everything that waited is dropped, and nothing acknowledged is
    /// lost.
    pub fn stage(&mut self, file: NewFile) -> Result<StoredFile, ArchiveError> {
        self.check_usable()?;
        match self.prepare(file) {
            Ok(prepared) => {
                let stored = prepared.file.clone();
                self.prepared.push(prepared);
                Ok(stored)
            }
            Err(error) => Err(self.roll_back(error)),
        }
    }

    /// Keeps the files that wait and `files`, and enters `event` in the ledger, with the files
    /// among its outputs. When this returns, all of it is durable.
    ///
    /// # Errors
    /// [`ArchiveError`]; then the archive is as it was before.
    pub fn commit(&mut self, event: Event, files: Vec<NewFile>) -> Result<Committed, ArchiveError> {
        self.check_usable()?;
        match self.try_commit(event, files) {
            Ok(committed) => Ok(committed),
            Err(error) => Err(self.roll_back(error)),
        }
    }

    fn check_usable(&self) -> Result<(), ArchiveError> {
        match &self.stopped {
            Some(why) => Err(ArchiveError::Stopped(why.clone())),
            None => Ok(()),
        }
    }

    fn prepare(&mut self, file: NewFile) -> Result<Prepared, ArchiveError> {
        if file.name.is_empty() || file.name.chars().any(char::is_control) {
            return Err(ArchiveError::BadName {
                name: file.name.escape_debug().to_string(),
                expected: "a name without control characters",
            });
        }
        let digest = Digest::of(&file.bytes);
        let path = match self.originals.get(&digest) {
            Some(path) if file.keep == Keep::Raw => path.clone(),
            _ => self.waiting_place(&file, &digest)?,
        };
        let waits = self
            .prepared
            .iter()
            .any(|p| p.part.is_some() && p.file.path == path);
        let named = self.named.contains(&path);
        let there = waits || self.holds_intact(&path, &digest)?;
        let part = if there {
            None
        } else {
            self.parts += 1;
            let part = format!("{}/part-{}", place::STAGING, self.parts);
            self.store.write(&part, &file.bytes)?;
            Some(part)
        };
        let earlier = (file.keep == Keep::Raw)
            .then(|| self.latest_version(&file.name))
            .flatten();
        Ok(Prepared {
            file: StoredFile {
                earlier: earlier.filter(|e| *e != digest),
                name: file.name,
                digest,
                bytes: file.bytes.len() as u64,
                path,
                stored: match (named || waits, there) {
                    (true, true) => Stored::AlreadyThere,
                    (true, false) => Stored::Restored,
                    (false, _) => Stored::New,
                },
            },
            keep: file.keep,
            holds: file.holds,
            from: file.from,
            part,
        })
    }

    /// Returns where new bytes will stand; the same bytes twice in one commit stand once.
    fn waiting_place(&self, file: &NewFile, digest: &Digest) -> Result<String, ArchiveError> {
        let waiting = self
            .prepared
            .iter()
            .find(|p| file.keep == Keep::Raw && p.keep == Keep::Raw && p.file.digest == *digest);
        match waiting {
            Some(prepared) => Ok(prepared.file.path.clone()),
            None => place::of(file.keep, &file.folder, digest, &file.extension),
        }
    }

    fn latest_version(&self, name: &str) -> Option<Digest> {
        self.prepared
            .iter()
            .rev()
            .find(|p| p.keep == Keep::Raw && p.file.name == name)
            .map(|p| p.file.digest.clone())
            .or_else(|| self.versions.get(name).cloned())
    }

    /// Returns whether the bytes stand at `path` already, re-reading them.
    fn holds_intact(&self, path: &str, digest: &Digest) -> Result<bool, ArchiveError> {
        if self.store.kind(path)?.is_none() {
            return Ok(false);
        }
        let (found, _) = self.store.hash(path)?;
        if found == *digest {
            return Ok(true);
        }
        let mut failure = Failure::new(
            Trouble::Damaged,
            path,
            format!("bytes with the digest {found}"),
            "the digest in its name: a kept file is never written over".to_owned(),
        );
        failure.fault.remedy =
            "run `verify`; move the damaged file out of the archive, then the good bytes are kept again"
                .to_owned();
        Err(ArchiveError::Damaged(Box::new(failure.fault)))
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
            let prepared = self.prepare(file)?;
            self.prepared.push(prepared);
        }
        self.place_files()?;
        event
            .outputs
            .splice(0..0, self.prepared.iter().map(item_of));
        let (bytes, digest) = line::render(self.head.seq + 1, &self.head.digest, &event)?;
        self.append_line(&bytes)?;

        // The event is durable: nothing after this undoes it.
        self.head = Head {
            seq: self.head.seq + 1,
            digest: digest.clone(),
        };
        self.ledger_length += bytes.len() as u64;
        for item in &event.outputs {
            self.learn(item);
        }
        let placed = self.prepared.iter().any(|p| p.part.is_some());
        let files = self.prepared.drain(..).map(|p| p.file).collect();
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

    /// Moves what waits to its place, and returns once the names are durable.
    fn place_files(&mut self) -> Result<(), ArchiveError> {
        let moves: Vec<(String, String)> = self
            .prepared
            .iter()
            .filter_map(|p| Some((p.part.clone()?, p.file.path.clone())))
            .collect();
        if !moves.is_empty() {
            recover::declare_intent(&self.store, moves.iter().map(|(_, to)| to.as_str()))?;
        }
        let mut to_sync: BTreeSet<String> = BTreeSet::new();
        for (_, path) in &moves {
            self.make_folders(place::parent(path), &mut to_sync)?;
        }
        for (part, path) in &moves {
            self.store.rename(part, path)?;
        }
        for prepared in &self.prepared {
            // Bytes found in place may have come there without their name being made to last.
            if !self.named.contains(&prepared.file.path) || prepared.part.is_some() {
                to_sync.insert(place::parent(&prepared.file.path).to_owned());
            }
        }
        for folder in &to_sync {
            self.store.sync_folder(folder)?;
        }
        Ok(())
    }

    /// Makes a folder and those above it; adds to `to_sync` the ones that hold a new entry.
    fn make_folders(
        &mut self,
        folder: &str,
        to_sync: &mut BTreeSet<String>,
    ) -> Result<(), ArchiveError> {
        let ends = folder
            .match_indices('/')
            .map(|(at, _)| at)
            .chain([folder.len()]);
        for end in ends {
            let part = folder.get(..end).unwrap_or(folder);
            if self.durable_folders.contains(part) {
                continue;
            }
            // Even a folder that is there may not be durable yet: a writer may have been stopped.
            self.store.make_folder(part)?;
            to_sync.insert(place::parent(part).to_owned());
            self.durable_folders.insert(part.to_owned());
        }
        Ok(())
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
        self.prepared.clear();
        // Folder syncs may have been missed.
        self.durable_folders.clear();
        if self.stopped.is_none() {
            let cleared = recover::clear_unfinished(&self.store, |path| self.named.contains(path));
            if let Err(worse) = cleared {
                self.stopped = Some(format!("{error}; then {worse}"));
            }
        }
        error
    }
}

/// Kind of item that stands for an original.
pub(super) const RAW_KIND: &str = "raw";
const SEGMENT_KIND: &str = "segment";

fn item_of(prepared: &Prepared) -> Item {
    let file = &prepared.file;
    Item {
        kind: match prepared.keep {
            Keep::Raw => RAW_KIND,
            Keep::Segment => SEGMENT_KIND,
        }
        .to_owned(),
        name: Some(file.name.clone()),
        id: None,
        digest: Some(file.digest.clone()),
        bytes: Some(file.bytes),
        path: Some(file.path.clone()),
        holds: prepared.holds.clone(),
        from: prepared.from.clone(),
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
