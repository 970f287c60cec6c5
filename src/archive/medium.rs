//! The few things an archive asks of a storage medium.
//!
//! Every read, write, sync, rename and removal of this room goes through [`Medium`], so that a
//! test can stop the writer at each of them and see what is left. Paths are relative to the
//! archive, with `/` between folders; the empty path is the archive itself.

use std::io::{Read, Result, Write};

/// A file opened for writing.
pub trait OpenFile: Write + Send {
    /// Returns once everything written to this file is durable.
    ///
    /// # Errors
    /// Those of the medium.
    fn sync(&mut self) -> Result<()>;
}

/// What stands at a path.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A regular file of so many bytes.
    File(u64),
    /// A folder.
    Folder,
    /// Something else, such as a link: an archive holds none.
    Other,
}

/// A lock; it is let go when dropped.
pub trait Hold: Send + Sync {}

/// A place that can hold an archive.
pub trait Medium: Send + Sync {
    /// Returns the place in words, for messages.
    fn place(&self) -> String;

    /// Returns what stands at `path`; nothing is `None`.
    ///
    /// # Errors
    /// Those of the medium.
    fn kind(&self, path: &str) -> Result<Option<Kind>>;

    /// Returns the names in a folder, in order.
    ///
    /// # Errors
    /// Those of the medium.
    fn list(&self, folder: &str) -> Result<Vec<String>>;

    /// Opens a file for reading.
    ///
    /// # Errors
    /// Those of the medium.
    fn open(&self, path: &str) -> Result<Box<dyn Read + Send>>;

    /// Makes a folder whose parent exists; returns whether it is new.
    ///
    /// # Errors
    /// Those of the medium.
    fn make_folder(&self, path: &str) -> Result<bool>;

    /// Opens an empty file for writing, new or emptied.
    ///
    /// # Errors
    /// Those of the medium.
    fn create(&self, path: &str) -> Result<Box<dyn OpenFile>>;

    /// Opens a file to write behind its present end.
    ///
    /// # Errors
    /// Those of the medium.
    fn append(&self, path: &str) -> Result<Box<dyn OpenFile>>;

    /// Cuts a file to `length` bytes and returns it open, so that the cut can be synced.
    ///
    /// # Errors
    /// Those of the medium.
    fn cut(&self, path: &str, length: u64) -> Result<Box<dyn OpenFile>>;

    /// Returns once the entries of a folder are durable.
    ///
    /// # Errors
    /// Those of the medium.
    fn sync_folder(&self, path: &str) -> Result<()>;

    /// Gives a file another name, in one step, in place of what bore that name.
    ///
    /// # Errors
    /// Those of the medium.
    fn rename(&self, from: &str, to: &str) -> Result<()>;

    /// Removes a file.
    ///
    /// # Errors
    /// Those of the medium.
    fn remove(&self, path: &str) -> Result<()>;

    /// Takes the lock on the file `path`, made if need be; `None` when somebody holds it. A lock
    /// ends with the process that holds it.
    ///
    /// # Errors
    /// Those of the medium.
    fn lock(&self, path: &str) -> Result<Option<Box<dyn Hold>>>;
}
