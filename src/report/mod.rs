//! The day report: one HTML file that says whether the day is good, what must be redone and with
//! how much water, and what every number is and where it came from.
//!
//! This room lays out what other rooms found. It reads no file, computes no metric and judges no
//! run beyond "the worst finding decides" ([`Verdict`]). The file it writes is complete in itself:
//! style, script and pictures are inside, no address outside is named, and everything can be read
//! without the script, which only sorts, filters, copies and enlarges.
//!
//! [`DaySummary`] is the same answer as plain data, so that the command line and the page agree.

mod document;
mod figure;
mod made;
mod page;
mod picture;
mod prose;
mod provenance;
pub mod study;
mod summary;
mod trend;
mod wording;
mod workbook;

pub use picture::{ChartSet, Picture, PictureError};
pub use provenance::{Provenance, ReportIdentity, Skipped};
pub use study::{
    ContrastWords, DesignRow, StudyPicture, StudyReport, StudySource, StudySummary, contrast_words,
};
pub use summary::{Counts, DaySummary, NextWater, Redo, Verdict};
pub use trend::{TrendReport, TrendSection};
pub use workbook::{Sheet, SheetColumn, WorkbookError, workbook};

use crate::record::{Day, Finding, Outcome};
use crate::schema::{MethodCard, MetricCard, RuleCard};
use thiserror::Error;

/// Returns an outcome as the report prints it: the value or bound or status, and the spread (`± U`,
/// or the interval where it is uneven; empty when there is none).
pub fn words_of(metric: &MetricCard, outcome: &Outcome) -> (String, String) {
    let shown = wording::reading(metric, outcome);
    (shown.text, shown.spread)
}

/// Why a report could not be written.
#[derive(Debug, Error)]
pub enum ReportError {
    /// A template of this program does not fit its page model: a fault of this program.
    #[error("lay out the report: {0}; this is a fault of this program, please report it")]
    Template(#[from] minijinja::Error),
}

/// Everything a day report shows.
#[derive(Debug, Clone, Copy)]
pub struct DayReport<'a> {
    /// Heading of the page.
    pub title: &'a str,
    /// The day's runs, observations, run sheets and unreadable files.
    pub day: &'a Day,
    /// What the quality rules found.
    pub findings: &'a [Finding],
    /// Test methods with their metrics, in report order.
    pub methods: &'a [MethodCard],
    /// Quality rules that were applied.
    pub rules: &'a [RuleCard],
    /// Identifiers of the metrics on page one; empty for the first five of each method.
    pub headline: &'a [&'a str],
    /// Pictures.
    pub charts: &'a ChartSet,
    /// Who made the report from what, and when.
    pub provenance: &'a Provenance,
}

impl DayReport<'_> {
    /// Returns the report as one HTML document; the same input gives the same text.
    ///
    /// # Errors
    /// [`ReportError::Template`] when a template does not fit its page model.
    pub fn render(&self) -> Result<String, ReportError> {
        page::render(self)
    }

    /// Returns the answers of page one as plain data.
    pub fn summary(&self) -> DaySummary {
        DaySummary::of(self.day, self.findings, &self.provenance.skipped)
    }
}
