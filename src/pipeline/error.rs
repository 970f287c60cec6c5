//! What stops the whole command, as opposed to one file.

use crate::archive::ArchiveError;
use crate::profile::ProfileError;
use crate::record::Fault;
use crate::report::ReportError;
use crate::table::TableError;
use thiserror::Error;

/// Why a day could not be processed at all.
#[derive(Debug, Error)]
pub enum ProcessError {
    /// An input folder or file is not there.
    #[error("input `{0}` does not exist; name a folder with the day's raw files")]
    NoInput(String),
    /// A folder pattern could not be built.
    #[error("search `{path}`: {source}")]
    Search {
        /// Folder.
        path: String,
        /// What went wrong.
        source: glob::PatternError,
    },
    /// A file or folder could not be read or written.
    #[error(
        "{action} `{path}`: {source}; check that it exists, that it may be used and that the disk has room"
    )]
    File {
        /// What was tried.
        action: &'static str,
        /// Where.
        path: String,
        /// What went wrong.
        source: std::io::Error,
    },
    /// The output folder holds something that this tool did not make.
    #[error(
        "output folder `{0}` holds files that are not an earlier output of doughtrace; name an empty or new folder"
    )]
    ForeignOutput(String),
    /// The output folder is, or holds, an input.
    #[error(
        "output folder `{0}` is an input folder or holds one; raw files are never written over: name another folder"
    )]
    OutputHoldsInput(String),
    /// A profile of the user's own is faulty.
    #[error("{0}")]
    Profile(#[from] ProfileError),
    /// A table could not be written.
    #[error("{0}")]
    Table(#[from] TableError),
    /// The report could not be laid out.
    #[error("{0}")]
    Report(#[from] ReportError),
    /// The threads could not be started.
    #[error("start threads: {0}")]
    Threads(#[from] rayon::ThreadPoolBuildError),
    /// The archive could not be read or written.
    #[error("{0}")]
    Archive(#[from] ArchiveError),
    /// What was asked for cannot be done; the text says why and what to do.
    #[error("{0}")]
    Request(String),
    /// A kept file cannot be read the way the ledger says.
    #[error("{0}")]
    Kept(Box<Fault>),
    /// A fault of this program.
    #[error("{0}; this is a fault of this program, please report it")]
    Internal(String),
}

impl ProcessError {
    /// Returns a function that locates an input/output error.
    pub fn file<'a>(
        action: &'static str,
        path: &'a std::path::Path,
    ) -> impl FnOnce(std::io::Error) -> ProcessError + 'a {
        move |source| ProcessError::File {
            action,
            path: path.display().to_string(),
            source,
        }
    }

    /// Returns whether the archive itself is at fault: it does not verify.
    pub fn is_unsound(&self) -> bool {
        match self {
            ProcessError::Archive(error) => error.is_unsound(),
            ProcessError::Kept(_) => true,
            _ => false,
        }
    }

    /// Returns whether the user can mend it, as opposed to a fault of this program.
    pub fn is_usage(&self) -> bool {
        !matches!(
            self,
            ProcessError::Internal(_) | ProcessError::Report(_) | ProcessError::Threads(_)
        )
    }
}
