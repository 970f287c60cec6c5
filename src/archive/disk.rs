//! An archive in a folder of the file system.

use super::medium::{Hold, Kind, Medium, OpenFile};
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{ErrorKind, Read, Result, Write};
use std::path::{Path, PathBuf};

/// A folder of the file system.
#[derive(Debug, Clone)]
pub struct Disk {
    root: PathBuf,
}

impl Disk {
    /// Returns the folder `root`; nothing is read or made yet.
    pub fn new(root: &Path) -> Disk {
        Disk {
            root: root.to_owned(),
        }
    }

    fn at(&self, path: &str) -> PathBuf {
        if path.is_empty() {
            self.root.clone()
        } else {
            self.root.join(path)
        }
    }

    fn make_root(&self) -> Result<bool> {
        if self.root.is_dir() {
            return Ok(false);
        }
        // Every folder that gets a new entry on the way is synced, so that the path lasts.
        let made: Vec<&Path> = self.root.ancestors().take_while(|p| !p.exists()).collect();
        std::fs::create_dir_all(&self.root)?;
        for parent in made.iter().filter_map(|folder| folder.parent()) {
            let here = Path::new(".");
            sync_path(if parent.as_os_str().is_empty() {
                here
            } else {
                parent
            })?;
        }
        Ok(true)
    }
}

struct DiskFile(File);

impl Write for DiskFile {
    fn write(&mut self, bytes: &[u8]) -> Result<usize> {
        self.0.write(bytes)
    }

    fn flush(&mut self) -> Result<()> {
        self.0.flush()
    }
}

impl OpenFile for DiskFile {
    fn sync(&mut self) -> Result<()> {
        self.0.sync_all()
    }
}

/// The operating system lets go of the lock when the file is closed, so also when a process ends.
struct HeldFile(#[expect(dead_code, reason = "held, not read")] File);

impl Hold for HeldFile {}

/// Syncs a folder where the system can; elsewhere its entries are durable without.
fn sync_path(folder: &Path) -> Result<()> {
    if cfg!(unix) {
        File::open(folder)?.sync_all()
    } else {
        Ok(())
    }
}

impl Medium for Disk {
    fn place(&self) -> String {
        self.root.display().to_string()
    }

    fn kind(&self, path: &str) -> Result<Option<Kind>> {
        // The archive itself may be reached through a link; nothing inside it may.
        let found = if path.is_empty() {
            std::fs::metadata(&self.root)
        } else {
            std::fs::symlink_metadata(self.at(path))
        };
        match found {
            Ok(facts) if facts.is_file() => Ok(Some(Kind::File(facts.len()))),
            Ok(facts) if facts.is_dir() => Ok(Some(Kind::Folder)),
            Ok(_) => Ok(Some(Kind::Other)),
            Err(error)
                if matches!(error.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) =>
            {
                Ok(None)
            }
            Err(error) => Err(error),
        }
    }

    fn list(&self, folder: &str) -> Result<Vec<String>> {
        let mut names = Vec::new();
        for entry in std::fs::read_dir(self.at(folder))? {
            names.push(entry?.file_name().to_string_lossy().into_owned());
        }
        names.sort();
        Ok(names)
    }

    fn open(&self, path: &str) -> Result<Box<dyn Read + Send>> {
        Ok(Box::new(File::open(self.at(path))?))
    }

    fn make_folder(&self, path: &str) -> Result<bool> {
        if path.is_empty() {
            return self.make_root();
        }
        match std::fs::create_dir(self.at(path)) {
            Ok(()) => Ok(true),
            Err(error) if error.kind() == ErrorKind::AlreadyExists && self.at(path).is_dir() => {
                Ok(false)
            }
            Err(error) => Err(error),
        }
    }

    fn create(&self, path: &str) -> Result<Box<dyn OpenFile>> {
        Ok(Box::new(DiskFile(File::create(self.at(path))?)))
    }

    fn append(&self, path: &str) -> Result<Box<dyn OpenFile>> {
        let file = OpenOptions::new().append(true).open(self.at(path))?;
        Ok(Box::new(DiskFile(file)))
    }

    fn cut(&self, path: &str, length: u64) -> Result<Box<dyn OpenFile>> {
        let file = OpenOptions::new().write(true).open(self.at(path))?;
        file.set_len(length)?;
        Ok(Box::new(DiskFile(file)))
    }

    fn sync_folder(&self, path: &str) -> Result<()> {
        sync_path(&self.at(path))
    }

    fn rename(&self, from: &str, to: &str) -> Result<()> {
        std::fs::rename(self.at(from), self.at(to))
    }

    fn remove(&self, path: &str) -> Result<()> {
        std::fs::remove_file(self.at(path))
    }

    fn lock(&self, path: &str) -> Result<Option<Box<dyn Hold>>> {
        let file = OpenOptions::new()
            .create(true)
            .truncate(false)
            .read(true)
            .write(true)
            .open(self.at(path))?;
        match file.try_lock() {
            Ok(()) => Ok(Some(Box::new(HeldFile(file)))),
            Err(TryLockError::WouldBlock) => Ok(None),
            Err(TryLockError::Error(error)) => Err(error),
        }
    }
}
