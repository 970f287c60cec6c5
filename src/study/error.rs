//! Why a text is no study.

use thiserror::Error;

/// A problem in a study file, located by line and key and with its remedy.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("line {line}, key `{key}`: found {found}; expected {expected}; {remedy}")]
pub struct StudyError {
    /// Line of the file, counted from 1.
    pub line: usize,
    /// Path of the key, with dots; claims and exclusions are counted from 1.
    pub key: String,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// What to do.
    pub remedy: String,
}
