//! Who made a report, when, and its place among the reports of its series, as the templates lay it
//! out.

use super::{Provenance, ReportIdentity};
use crate::record::Review;
use serde::Serialize;

/// Who made a report and when.
#[derive(Debug, Serialize)]
pub(super) struct Made<'a> {
    tool_version: &'a str,
    generated_at: &'a str,
    ledger_head: Option<&'a str>,
    report: Option<&'a ReportIdentity>,
    reviews: &'a [Review],
}

impl<'a> Made<'a> {
    /// Returns what `provenance` says of the report.
    pub(super) fn of(provenance: &'a Provenance) -> Made<'a> {
        Made {
            tool_version: &provenance.tool_version,
            generated_at: &provenance.generated_at,
            ledger_head: provenance.ledger_head.as_deref(),
            report: provenance.report.as_ref(),
            reviews: &provenance.reviews,
        }
    }
}
