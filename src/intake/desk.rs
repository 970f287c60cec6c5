//! Where a file is read: its name, its profile, its marks, and the way faults are told.

use super::number::Numbers;
use crate::profile::Profile;
use crate::record::{Fault, ProfileStamp, RawFile};

/// What is wrong, before anybody knows where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Complaint {
    pub found: String,
    pub expected: String,
    pub remedy: String,
}

impl Complaint {
    pub fn new(found: &str, expected: &str, remedy: &str) -> Complaint {
        Complaint {
            found: found.to_owned(),
            expected: expected.to_owned(),
            remedy: remedy.to_owned(),
        }
    }
}

/// Returns `complaint` with its place.
pub(super) fn locate(
    file: &str,
    line: Option<u64>,
    column: Option<&str>,
    complaint: Complaint,
) -> Fault {
    Fault {
        file: file.to_owned(),
        line,
        column: column.map(clip),
        found: complaint.found,
        expected: complaint.expected,
        remedy: complaint.remedy,
    }
}

/// Returns `text` as a message can show it: at most 60 characters, control characters escaped.
pub(super) fn clip(text: &str) -> String {
    const LONGEST: usize = 60;
    let mut shown: String = text
        .chars()
        .take(LONGEST)
        .map(|c| match c {
            '\t' => "→".to_owned(),
            c if c.is_control() => c.escape_default().to_string(),
            c => c.to_string(),
        })
        .collect();
    if text.chars().nth(LONGEST).is_some() {
        shown.push('…');
    }
    shown
}

/// Returns a cell in back quotes as a message can show it.
pub(super) fn quoted(cell: &[u8]) -> String {
    match cell.is_empty() {
        true => "an empty cell".to_owned(),
        false => format!("`{}`", clip(&String::from_utf8_lossy(cell))),
    }
}

/// The file being read, with everything that reading it needs to know.
pub(super) struct Desk<'a> {
    pub file: &'a RawFile,
    pub profile: &'a Profile,
    pub numbers: Numbers<'a>,
    pub delimiter: u8,
}

impl<'a> Desk<'a> {
    pub fn new(file: &'a RawFile, profile: &'a Profile) -> Desk<'a> {
        Desk {
            file,
            profile,
            numbers: Numbers::new(&profile.text),
            delimiter: profile.text.delimiter.byte(),
        }
    }

    /// Returns `complaint` as a fault of this file.
    pub fn fault(&self, line: Option<u64>, column: Option<&str>, complaint: Complaint) -> Fault {
        locate(&self.file.name, line, column, complaint)
    }

    /// Returns the profile as it is recorded with a run.
    pub fn stamp(&self) -> ProfileStamp {
        ProfileStamp {
            id: self.profile.id.clone(),
            sha256: self.profile.digest.clone(),
        }
    }

    /// Returns the file's name without folders and ending.
    pub fn stem(&self) -> &'a str {
        let last = self.file.name.rsplit(['/', '\\']).next().unwrap_or("");
        match last.rsplit_once('.') {
            Some((stem, _)) if !stem.is_empty() => stem,
            _ => last,
        }
    }

    /// Returns the fault of a line with the wrong number of cells; `header` is the number of its
    /// cells and its line.
    pub fn wrong_cells(&self, line: u64, shown: &str, found: usize, header: (usize, u64)) -> Fault {
        let cells = |n| match n {
            1 => "1 cell".to_owned(),
            n => format!("{n} cells"),
        };
        let remedy = match (found > header.0, self.profile.delimiter()) {
            (true, ',') => {
                "compare the line with the header; a decimal comma in a file with commas between \
                 cells cuts a number in two"
            }
            (true, _) => "compare the line with the header; two lines may have run together",
            (false, _) => {
                "compare the line with the header; if it is cut off, copy the file from the \
                 instrument again"
            }
        };
        self.fault(
            Some(line),
            None,
            Complaint::new(
                &format!("{} in `{}`", cells(found), clip(shown)),
                &format!("{} as in the header on line {}", cells(header.0), header.1),
                remedy,
            ),
        )
    }

    /// Returns the fault of a file that has a header but no data.
    pub fn no_data(&self, header_line: u64) -> Fault {
        self.fault(
            Some(header_line),
            None,
            Complaint::new(
                "a header without data below it",
                "at least one line of data",
                "the record is empty: copy the file from the instrument again, or repeat the run",
            ),
        )
    }
}
