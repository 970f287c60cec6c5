//! The page of control charts: what each instrument reads of the reference flour, and since when it
//! reads otherwise.

use super::document::{self, Document};
use super::figure::Figure;
use super::prose::{Prose, prose};
use super::{Picture, Provenance, ReportError};
use serde::Serialize;

/// One instrument and metric.
#[derive(Debug, Clone)]
pub struct TrendSection {
    /// Heading.
    pub title: String,
    /// Whether the latest reading is out of control.
    pub out_now: bool,
    /// What a person must know.
    pub sentences: Vec<String>,
    /// Control chart.
    pub picture: Picture,
}

/// Everything the page shows.
#[derive(Debug, Clone, Copy)]
pub struct TrendReport<'a> {
    /// Heading of the page.
    pub title: &'a str,
    /// Charts.
    pub sections: &'a [TrendSection],
    /// Series with too few readings for limits.
    pub waiting: &'a [String],
    /// Who made the page from what, and when.
    pub provenance: &'a Provenance,
}

#[derive(Serialize)]
struct Page<'a> {
    document: Document<'a>,
    title: &'a str,
    sentence: String,
    out: bool,
    sections: Vec<Section<'a>>,
    waiting: &'a [String],
    tool_version: &'a str,
    generated_at: &'a str,
    ledger_head: Option<&'a str>,
}

#[derive(Serialize)]
struct Section<'a> {
    title: &'a str,
    out_now: bool,
    sentences: Vec<Prose>,
    figure: Figure,
}

/// Returns how many of the charts are out of control, as one sentence.
fn sentence(charts: usize, out: usize) -> String {
    match (charts, out) {
        (1, 0) => "The chart is in control at its latest reading".to_owned(),
        (1, _) => "The chart is out of control at its latest reading".to_owned(),
        (n, 0) => format!("All {n} charts are in control at their latest reading"),
        (n, 1) => format!("1 of {n} charts is out of control at its latest reading"),
        (n, out) => format!("{out} of {n} charts are out of control at their latest reading"),
    }
}

impl TrendReport<'_> {
    /// Returns the page as one HTML document.
    ///
    /// # Errors
    /// [`ReportError::Template`] when a template does not fit its page model.
    pub fn render(&self) -> Result<String, ReportError> {
        let out = self
            .sections
            .iter()
            .filter(|section| section.out_now)
            .count();
        let sections = self.sections.iter().enumerate();
        let sections = sections.map(|(index, section)| Section {
            title: &section.title,
            out_now: section.out_now,
            sentences: section.sentences.iter().map(|text| prose(text)).collect(),
            figure: Figure::new(format!("control-{}", index + 1), &section.picture, None),
        });
        let page = Page {
            document: Document::new(self.title, "doughtrace control charts", ""),
            title: self.title,
            sentence: sentence(self.sections.len(), out),
            out: out > 0,
            sections: sections.collect(),
            waiting: self.waiting,
            tool_version: &self.provenance.tool_version,
            generated_at: &self.provenance.generated_at,
            ledger_head: self.provenance.ledger_head.as_deref(),
        };
        document::lay_out("trend.html", &page)
    }
}
