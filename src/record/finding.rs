//! What a quality rule found.

use crate::schema::{Level, RunId};
use serde::Serialize;

/// One finding: which rule, how serious, where, in words, and what to do next.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// Rule identifier.
    pub rule: &'static str,
    /// Rule revision.
    pub revision: u32,
    /// How serious it is.
    pub level: Level,
    /// File, as found; empty when the finding is about the day as a whole.
    pub file: String,
    /// Run, when the finding is about one.
    pub run_id: Option<RunId>,
    /// Line of the file, from 1, when the finding is about one.
    pub row: Option<u64>,
    /// What was found, with the numbers.
    pub words: String,
    /// What to do next.
    pub what_to_do: String,
}
