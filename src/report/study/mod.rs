//! The study report: one HTML file that says which claims the data support, what each verdict rests
//! on, and how every number is traced to raw bytes.
//!
//! Claims come judged and pictures come drawn; this module lays them out and counts verdicts, no
//! more. The page shares style, script and content policy with the day report.

mod claim;
mod definitions;
mod page;
mod summary;
mod words;

pub use summary::{ClaimLine, StudySummary};
pub use words::{ContrastWords, contrast_words};

use super::{Picture, Provenance, ReportError};
use crate::record::Claim;
use crate::schema::MethodCard;

/// Everything a study report shows.
#[derive(Debug, Clone, Copy)]
pub struct StudyReport<'a> {
    /// Heading of the page.
    pub title: &'a str,
    /// What kind of data these are, when that must be said on top of the page (for example that
    /// they are invented); that of the provenance where absent.
    pub data_label: Option<&'a str>,
    /// Claims with their verdicts, in the order of the study file.
    pub claims: &'a [Claim],
    /// For each claim, one plain statement of whether it was on record in the ledger before the
    /// study's files were imported.
    pub planned: &'a [String],
    /// Doughs of each treatment in each block.
    pub design: &'a [DesignRow],
    /// Pictures.
    pub charts: &'a [StudyPicture],
    /// Test methods; the metrics that claims are about are named and defined from them.
    pub methods: &'a [MethodCard],
    /// Archives that the results came from.
    pub sources: &'a [StudySource],
    /// Name of the study file, and the SHA-256 of its text.
    pub study_file: (&'a str, &'a str),
    /// Who made the report, and when.
    pub provenance: &'a Provenance,
}

/// Doughs of one treatment in one block.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct DesignRow {
    /// Treatment.
    pub treatment: String,
    /// Block.
    pub block: String,
    /// Number of doughs.
    pub doughs: usize,
}

/// A picture of the study.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StudyPicture {
    /// Name of the claim it belongs to; `None` for a picture of all claims, shown on page one.
    pub claim: Option<String>,
    /// The picture.
    pub picture: Picture,
}

/// An archive that results came from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StudySource {
    /// The archive, as the study names it.
    pub archive: String,
    /// Number and digest of the last line of its ledger when it was read.
    pub head: String,
    /// Results in force that it holds.
    pub results: usize,
}

impl StudyReport<'_> {
    /// Returns the report as one HTML document; the same input gives the same text.
    ///
    /// # Errors
    /// [`ReportError::Template`] when a template does not fit its page model.
    pub fn render(&self) -> Result<String, ReportError> {
        page::render(self)
    }

    /// Returns the answer of page one as plain data.
    pub fn summary(&self) -> StudySummary {
        StudySummary::of(self.claims)
    }
}
