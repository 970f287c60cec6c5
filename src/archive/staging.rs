//! Files on their way into the archive: written where nothing counts yet, then put in place.

use super::error::ArchiveError;
use super::event::{Item, Keep, NewFile};
use super::known::{Known, RAW_KIND};
use super::medium::{Kind, OpenFile};
use super::place;
use super::recover;
use super::store::Store;
use super::trouble::{Failure, Trouble};
use crate::schema::Digest;
use std::collections::{BTreeSet, HashSet};

/// Files that are written before they are synced: the system then does the work of many syncs in
/// one, and no more files are open than any system allows.
const SYNC_TOGETHER: usize = 64;

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

/// What is done with a file that a commit covers.
struct Prepared {
    file: StoredFile,
    keep: Keep,
    holds: Vec<String>,
    from: Vec<String>,
    /// Where its bytes wait, when they have to be placed.
    part: Option<String>,
}

/// The files of the next commit.
pub(super) struct Staging {
    store: Store,
    prepared: Vec<Prepared>,
    /// The same, as the ledger will name them.
    pending: Known,
    /// Files that wait and are not durable yet.
    unsynced: Vec<(String, Box<dyn OpenFile>)>,
    parts: u64,
    /// Folders whose own entry is known to be durable.
    durable_folders: HashSet<String>,
}

impl Staging {
    pub(super) fn new(store: Store) -> Staging {
        Staging {
            store,
            prepared: Vec::new(),
            pending: Known::default(),
            unsynced: Vec::new(),
            parts: 0,
            durable_folders: HashSet::new(),
        }
    }

    /// Writes a file to where it waits, unless its bytes are kept already.
    pub(super) fn add(&mut self, file: NewFile, known: &Known) -> Result<StoredFile, ArchiveError> {
        if file.name.is_empty() || file.name.chars().any(char::is_control) {
            return Err(ArchiveError::BadName {
                name: file.name.escape_debug().to_string(),
                expected: "a name without control characters",
            });
        }
        let digest = Digest::of(&file.bytes);
        let path = self.place_of(&file, &digest, known)?;
        let waits = self.pending.names(&path);
        let named = known.names(&path);
        let there = waits || self.holds_intact(&path, &digest)?;
        let part = if there {
            if !named && !waits {
                // Nobody knows whether whoever put it there made it last.
                let mut found = self.store.append(&path)?;
                self.store.sync(found.as_mut(), &path)?;
            }
            None
        } else {
            self.parts += 1;
            let part = format!("{}/part-{}", place::STAGING, self.parts);
            let open = self.store.begin(&part, &file.bytes)?;
            self.unsynced.push((part.clone(), open));
            if self.unsynced.len() >= SYNC_TOGETHER {
                self.sync_parts()?;
            }
            Some(part)
        };
        let version = |known: &Known| known.versions.get(&file.name).cloned();
        let earlier = (file.keep == Keep::Raw)
            .then(|| version(&self.pending).or_else(|| version(known)))
            .flatten();
        let prepared = Prepared {
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
        };
        let stored = prepared.file.clone();
        self.pending.learn(&item_of(&prepared));
        self.prepared.push(prepared);
        Ok(stored)
    }

    /// Returns where the bytes stand or will stand: an original stands once, whatever its names.
    fn place_of(
        &self,
        file: &NewFile,
        digest: &Digest,
        known: &Known,
    ) -> Result<String, ArchiveError> {
        let kept = [known, &self.pending]
            .into_iter()
            .find_map(|k| k.originals.get(digest));
        match kept {
            Some(path) if file.keep == Keep::Raw => Ok(path.clone()),
            _ => place::of(file.keep, &file.folder, digest, &file.extension),
        }
    }

    /// Makes durable what was written since the last time.
    fn sync_parts(&mut self) -> Result<(), ArchiveError> {
        for (part, mut open) in self.unsynced.drain(..) {
            self.store.sync(open.as_mut(), &part)?;
        }
        Ok(())
    }

    /// Returns whether the bytes stand at `path` already, re-reading them.
    fn holds_intact(&self, path: &str, digest: &Digest) -> Result<bool, ArchiveError> {
        let found = match self.store.kind(path)? {
            None => return Ok(false),
            Some(Kind::File(_)) => {
                let (found, _) = self.store.hash(path)?;
                if found == *digest {
                    return Ok(true);
                }
                format!("bytes with the digest {found}")
            }
            Some(_) => "a folder or a link".to_owned(),
        };
        let mut failure = Failure::new(
            Trouble::Damaged,
            path,
            found,
            "the digest in its name: a kept file is never written over".to_owned(),
        );
        failure.fault.remedy =
            "run `verify`; move the damaged file out of the archive, then the good bytes are kept again"
                .to_owned();
        Err(ArchiveError::Damaged(Box::new(failure.fault)))
    }

    /// Moves what waits to its place, and returns once the names are durable.
    pub(super) fn place(&mut self, known: &Known) -> Result<(), ArchiveError> {
        self.sync_parts()?;
        let moves: Vec<(String, String)> = self
            .prepared
            .iter()
            .filter_map(|p| Some((p.part.clone()?, p.file.path.clone())))
            .collect();
        if !moves.is_empty() {
            recover::declare_intent(&self.store, moves.iter().map(|(_, to)| to.as_str()))?;
        }
        let mut to_sync: BTreeSet<String> = BTreeSet::new();
        // Bytes found in place count too: their name may not have been made to last.
        let fresh = |p: &&Prepared| p.part.is_some() || !known.names(&p.file.path);
        let folders: BTreeSet<String> = self
            .prepared
            .iter()
            .filter(fresh)
            .map(|p| place::parent(&p.file.path).to_owned())
            .collect();
        for folder in &folders {
            self.make_folders(folder, &mut to_sync)?;
        }
        for (part, path) in &moves {
            self.store.rename(part, path)?;
        }
        to_sync.extend(folders);
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

    /// Returns the files as items of the event that keeps them.
    pub(super) fn items(&self) -> impl Iterator<Item = Item> {
        self.prepared.iter().map(item_of)
    }

    /// Returns the files, which are kept now, and whether any had to be placed.
    pub(super) fn finish(&mut self) -> (Vec<StoredFile>, bool) {
        let placed = self.prepared.iter().any(|p| p.part.is_some());
        self.pending = Known::default();
        (self.prepared.drain(..).map(|p| p.file).collect(), placed)
    }

    /// Forgets everything that waits, after a failure.
    pub(super) fn forget(&mut self) {
        self.prepared.clear();
        self.pending = Known::default();
        self.unsynced.clear();
        // Folder syncs may have been missed.
        self.durable_folders.clear();
    }
}

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
