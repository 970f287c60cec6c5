//! Who made a report, from what and when.

use crate::record::Review;
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
    /// Number and digest of the archive's last ledger line when the report was made.
    pub ledger_head: Option<String>,
    /// The report's place among those of its series.
    pub report: Option<ReportIdentity>,
    /// Who reviewed the report, its series or its runs.
    pub reviews: Vec<Review>,
}

/// A report's place among the reports of its series (ISO/IEC 17025:2017 7.8.8).
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ReportIdentity {
    /// Identifier.
    pub id: String,
    /// Number in the series, from 1.
    pub version: u64,
    /// Identifier of the report that it takes the place of.
    pub supersedes: Option<String>,
    /// Corrections and exclusions since that one.
    pub changes: Vec<String>,
}
