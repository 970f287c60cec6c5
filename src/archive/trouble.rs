//! What verification finds.

use super::place;
use crate::record::Fault;
use serde::Serialize;

/// Kinds of what can be wrong with an archive.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Trouble {
    /// Bytes are not those that were written.
    Damaged,
    /// A file that the ledger names is not there.
    Missing,
    /// The ledger ends before the line that HEAD names.
    Cut,
    /// A line was written by a version that this one does not understand.
    Newer,
    /// A signature does not fit.
    BadSeal,
    /// A stopped writer left the last line unfinished; it was never acknowledged.
    Torn,
    /// A file that no ledger line names.
    Unlisted,
    /// HEAD lags by one line, as a crash may leave it.
    HeadBehind,
}

impl Trouble {
    /// Returns whether the archive does not verify because of it; the others are said, and are
    /// what a crash may leave or a person may have put there.
    pub fn is_failure(self) -> bool {
        !matches!(
            self,
            Trouble::Torn | Trouble::Unlisted | Trouble::HeadBehind
        )
    }

    /// Returns what to do.
    fn remedy(self) -> &'static str {
        match self {
            Trouble::Damaged | Trouble::Missing | Trouble::Cut => {
                "put the file back from your copy of the archive, and find out what changed it"
            }
            Trouble::Newer => "use the version of this program that wrote it, or a newer one",
            Trouble::BadSeal => {
                "ask the owner of the key; do not rely on the lines that this seal covers"
            }
            Trouble::Torn => "nothing to do: the next writer sets it aside as `ledger.torn-…`",
            Trouble::Unlisted => {
                "nothing relies on it; find out who put it there, or leave it to the next writer if one was stopped"
            }
            Trouble::HeadBehind => "nothing to do: the next writer brings it up to date",
        }
    }
}

impl std::fmt::Display for Trouble {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Trouble::Damaged => "damaged",
            Trouble::Missing => "missing",
            Trouble::Cut => "cut",
            Trouble::Newer => "newer",
            Trouble::BadSeal => "bad seal",
            Trouble::Torn => "torn",
            Trouble::Unlisted => "unlisted",
            Trouble::HeadBehind => "head behind",
        })
    }
}

/// One thing that verification found, located and with its remedy.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Failure {
    /// Kind.
    pub trouble: Trouble,
    /// Where, what was found, what was expected, what to do.
    pub fault: Fault,
}

impl Failure {
    pub(super) fn new(trouble: Trouble, file: &str, found: String, expected: String) -> Failure {
        Failure {
            trouble,
            fault: Fault {
                file: file.to_owned(),
                line: None,
                column: None,
                found,
                expected,
                remedy: trouble.remedy().to_owned(),
            },
        }
    }

    pub(super) fn in_ledger(
        trouble: Trouble,
        seq: u64,
        found: String,
        expected: String,
    ) -> Failure {
        let mut failure = Failure::new(trouble, place::LEDGER, found, expected);
        failure.fault.line = Some(seq);
        failure
    }
}

impl std::fmt::Display for Failure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.trouble, self.fault)
    }
}
