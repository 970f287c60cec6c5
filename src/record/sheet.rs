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

impl RunSheet {
    /// Returns whether `line` of this sheet speaks of the file called `name`.
    ///
    /// A sheet speaks of files in its own folder and below. A line names the path from there, or
    /// the last part alone. White space around the name, a leading `./` and back slashes between
    /// folders make no difference.
    pub fn speaks_of(&self, line: &SheetLine, name: &str) -> bool {
        let below = match self.folder() {
            "" => Some(name),
            folder => name
                .strip_prefix(folder)
                .and_then(|rest| rest.strip_prefix('/')),
        };
        let Some(below) = below else { return false };
        let wanted = line.file.trim().replace('\\', "/");
        let wanted = wanted.trim_start_matches("./");
        wanted == below || (!wanted.contains('/') && below.rsplit('/').next() == Some(wanted))
    }

    /// Returns the folder of the sheet, relative to the day; empty for the day folder itself.
    pub fn folder(&self) -> &str {
        self.file
            .name
            .rsplit_once('/')
            .map_or("", |(folder, _)| folder)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "tests may stop")]
    use super::*;
    use crate::schema::Digest;

    #[test]
    fn a_sheet_speaks_of_its_own_folder_and_below() {
        let sheet = |name: &str| RunSheet {
            file: RawFile {
                name: name.into(),
                sha256: Digest::of(b""),
                bytes: 0,
            },
            lines: Vec::new(),
        };
        let line = |file: &str| SheetLine {
            line: 2,
            file: file.into(),
            curve: String::new(),
            profile: None,
            metadata: Metadata::default(),
        };
        let (top, inner) = (sheet("sheet.csv"), sheet("x1/sheet.csv"));
        assert!(top.speaks_of(&line("K-01.csv"), "x1/K-01.csv"));
        assert!(top.speaks_of(&line("x1\\K-01.csv"), "x1/K-01.csv"));
        assert!(inner.speaks_of(&line(" ./K-01.csv "), "x1/K-01.csv"));
        assert!(!inner.speaks_of(&line("K-01.csv"), "x2/K-01.csv"));
        assert!(!inner.speaks_of(&line("K-01.csv"), "x10/K-01.csv"));
    }
}
