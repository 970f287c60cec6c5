//! Who made a report, from what and when.

use serde::Serialize;

/// Files of the day folder that were passed over by a stated rule.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Skipped {
    /// Why they were passed over.
    pub reason: String,
    /// How many.
    pub files: usize,
}

/// Who made a report, from what and when. The room reads no clock: the time is passed in.
#[derive(Debug, Clone, Default)]
pub struct Provenance {
    /// Version of this software.
    pub tool_version: String,
    /// When the report was made, as it is to be printed.
    pub generated_at: String,
    /// Input folders, as given.
    pub inputs: Vec<String>,
    /// The resolved plan of the run, as text.
    pub plan: String,
    /// Files passed over, by reason.
    pub skipped: Vec<Skipped>,
    /// What kind of data these are, when that must be said on top of the page (for example that
    /// they are invented).
    pub data_label: Option<String>,
    /// Digest of the last line of the archive's ledger.
    pub ledger_head: Option<String>,
}
