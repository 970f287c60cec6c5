//! A run sheet: which file is which dough.

use super::{Metadata, RawFile};

/// One line of a run sheet.
#[derive(Debug, Clone)]
pub struct SheetLine {
    /// Line in the sheet's file, from 1.
    pub line: u64,
    /// Name of the raw file it speaks of.
    pub file: String,
    /// Which curve of that file; empty for a file with one.
    pub curve: String,
    /// Import profile to use, when the sheet names one.
    pub profile: Option<String>,
    /// Everything the line states, with the sheet as origin.
    pub metadata: Metadata,
}

/// A run sheet.
#[derive(Debug, Clone)]
pub struct RunSheet {
    /// Its file.
    pub file: RawFile,
    /// Its lines.
    pub lines: Vec<SheetLine>,
}

impl SheetLine {
    /// Returns whether the line speaks of the file called `name`: the same relative name, or the
    /// same last part where the line names no folder.
    pub fn names(&self, name: &str) -> bool {
        let wanted = self.file.replace('\\', "/");
        wanted == name
            || (!wanted.contains('/') && name.rsplit('/').next() == Some(wanted.as_str()))
    }
}
