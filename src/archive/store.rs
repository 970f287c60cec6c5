//! A medium with words for its errors, and the one way in which files are put in place.

use super::error::ArchiveError;
use super::hash;
use super::medium::{Hold, Kind, Medium, OpenFile};
use super::place;
use crate::schema::Digest;
use std::io::{ErrorKind, Read};
use std::sync::Arc;

type Outcome<T> = Result<T, ArchiveError>;

/// A medium whose errors say what was tried, and where.
#[derive(Clone)]
pub(super) struct Store {
    medium: Arc<dyn Medium>,
}

impl Store {
    pub(super) fn new(medium: Arc<dyn Medium>) -> Store {
        Store { medium }
    }

    pub(super) fn place(&self) -> String {
        self.medium.place()
    }

    fn located(
        &self,
        action: &'static str,
        path: &str,
    ) -> impl FnOnce(std::io::Error) -> ArchiveError {
        let (path, place) = (path.to_owned(), self.place());
        move |source| ArchiveError::File {
            action,
            path,
            place,
            source,
        }
    }

    pub(super) fn kind(&self, path: &str) -> Outcome<Option<Kind>> {
        self.medium
            .kind(path)
            .map_err(self.located("look at", path))
    }

    /// Returns the size of a regular file; anything else is `None`.
    pub(super) fn size(&self, path: &str) -> Outcome<Option<u64>> {
        Ok(match self.kind(path)? {
            Some(Kind::File(size)) => Some(size),
            _ => None,
        })
    }

    /// Returns the names in a folder; none where there is no folder.
    pub(super) fn list(&self, folder: &str) -> Outcome<Vec<String>> {
        match self.medium.list(folder) {
            Err(error) if error.kind() == ErrorKind::NotFound => Ok(Vec::new()),
            other => other.map_err(self.located("list", folder)),
        }
    }

    pub(super) fn open(&self, path: &str) -> Outcome<Box<dyn Read + Send>> {
        self.medium.open(path).map_err(self.located("open", path))
    }

    /// Returns the bytes of a file; `None` where there is none.
    pub(super) fn read(&self, path: &str) -> Outcome<Option<Vec<u8>>> {
        if self.kind(path)?.is_none() {
            return Ok(None);
        }
        let mut bytes = Vec::new();
        match self.medium.open(path) {
            Ok(mut file) => {
                file.read_to_end(&mut bytes)
                    .map_err(self.located("read", path))?;
                Ok(Some(bytes))
            }
            Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
            Err(error) => Err(self.located("open", path)(error)),
        }
    }

    /// Returns digest and size of a file's bytes.
    pub(super) fn hash(&self, path: &str) -> Outcome<(Digest, u64)> {
        hash::of_reader(self.open(path)?).map_err(self.located("read", path))
    }

    pub(super) fn append(&self, path: &str) -> Outcome<Box<dyn OpenFile>> {
        self.medium.append(path).map_err(self.located("open", path))
    }

    /// Writes `bytes` to an open file and returns once they are durable.
    pub(super) fn write_out(
        &self,
        file: &mut dyn OpenFile,
        path: &str,
        bytes: &[u8],
    ) -> Outcome<()> {
        file.write_all(bytes).map_err(self.located("write", path))?;
        self.sync(file, path)
    }

    pub(super) fn sync(&self, file: &mut dyn OpenFile, path: &str) -> Outcome<()> {
        file.sync().map_err(self.located("sync", path))
    }

    /// Writes a file anew and returns it open: its bytes are durable after a sync.
    pub(super) fn begin(&self, path: &str, bytes: &[u8]) -> Outcome<Box<dyn OpenFile>> {
        let mut file = self
            .medium
            .create(path)
            .map_err(self.located("create", path))?;
        file.write_all(bytes).map_err(self.located("write", path))?;
        Ok(file)
    }

    /// Writes a file anew; returns once its bytes are durable (its name is so after
    /// [`Store::sync_folder`]).
    pub(super) fn write(&self, path: &str, bytes: &[u8]) -> Outcome<()> {
        let mut file = self.begin(path, bytes)?;
        self.sync(file.as_mut(), path)
    }

    /// Cuts a file, durably.
    pub(super) fn cut(&self, path: &str, length: u64) -> Outcome<()> {
        let mut file = self
            .medium
            .cut(path, length)
            .map_err(self.located("cut", path))?;
        file.sync().map_err(self.located("sync", path))
    }

    /// Makes a folder whose parent exists; returns whether it is new.
    pub(super) fn make_folder(&self, path: &str) -> Outcome<bool> {
        self.medium
            .make_folder(path)
            .map_err(self.located("make folder", path))
    }

    pub(super) fn sync_folder(&self, path: &str) -> Outcome<()> {
        self.medium
            .sync_folder(path)
            .map_err(self.located("sync folder", path))
    }

    pub(super) fn rename(&self, from: &str, to: &str) -> Outcome<()> {
        self.medium
            .rename(from, to)
            .map_err(self.located("put in place", to))
    }

    pub(super) fn remove(&self, path: &str) -> Outcome<()> {
        match self.medium.remove(path) {
            Err(error) if error.kind() == ErrorKind::NotFound => Ok(()),
            other => other.map_err(self.located("remove", path)),
        }
    }

    pub(super) fn lock(&self, path: &str) -> Outcome<Option<Box<dyn Hold>>> {
        self.medium.lock(path).map_err(self.located("lock", path))
    }

    /// Puts a small file in place of an earlier one, in one step and durably: whoever looks sees
    /// the old bytes or the new, never a part.
    pub(super) fn replace(&self, path: &str, bytes: &[u8]) -> Outcome<()> {
        let part = format!("{}/{path}.part", place::STAGING);
        self.write(&part, bytes)?;
        self.rename(&part, path)?;
        self.sync_folder(place::parent(path))
    }
}
