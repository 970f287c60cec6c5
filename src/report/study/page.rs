//! The page model of the study report.

use super::claim::{self, ClaimPart};
use super::definitions::{self, Definitions};
use super::{StudyReport, StudySource, summary};
use crate::report::ReportError;
use crate::report::document::{self, Document};
use crate::report::figure::Figure;
use crate::report::made::Made;
use crate::report::page::definitions::mentions_jet;
use crate::schema::Verdict;
use serde::Serialize;
use std::collections::BTreeMap;

const STYLE: &str = include_str!("../templates/study.css");

/// The whole page.
#[derive(Serialize)]
struct Page<'a> {
    document: Document<'a>,
    front: Front<'a>,
    claims: Vec<ClaimPart<'a>>,
    /// Pictures of all claims.
    overview: Vec<Figure>,
    design: Design<'a>,
    definitions: Definitions,
    origin: Origin<'a>,
}

/// The head of page one.
#[derive(Serialize)]
struct Front<'a> {
    data_label: Option<&'a str>,
    /// Class of the answer: `all-supported`, `some-contradicted` or `open`.
    standing: &'static str,
    sentence: String,
    counts: Vec<(usize, &'static str)>,
}

/// Doughs by treatment and block.
#[derive(Serialize)]
struct Design<'a> {
    treatments: Vec<&'a str>,
    rows: Vec<DesignLine<'a>>,
    /// Doughs of each treatment.
    totals: Vec<usize>,
    doughs: usize,
}

/// One block.
#[derive(Serialize)]
struct DesignLine<'a> {
    block: &'a str,
    doughs: Vec<usize>,
    total: usize,
}

/// Where everything came from.
#[derive(Serialize)]
struct Origin<'a> {
    made: Made<'a>,
    study_name: &'a str,
    study_sha256: &'a str,
    sources: Vec<Source<'a>>,
    jets: bool,
}

/// An archive.
#[derive(Serialize)]
struct Source<'a> {
    archive: &'a str,
    head: &'a str,
    results: usize,
}

/// Returns the HTML of `report`.
pub(super) fn render(report: &StudyReport<'_>) -> Result<String, ReportError> {
    let pictures = report.charts.iter().filter(|chart| chart.claim.is_none());
    let page = Page {
        document: Document::new(report.title, "doughtrace study report", STYLE),
        front: front(report),
        claims: claim::lay_out(report),
        overview: pictures
            .enumerate()
            .map(|(i, chart)| Figure::new(format!("overview-{}", i + 1), &chart.picture, None))
            .collect(),
        design: design(report),
        definitions: definitions::lay_out(report),
        origin: origin(report),
    };
    document::lay_out("study.html", &page)
}

fn front<'a>(report: &StudyReport<'a>) -> Front<'a> {
    let summary::StudySummary {
        counts, sentence, ..
    } = report.summary();
    let of = |verdict: Verdict| counts.iter().any(|(of, n)| *of == verdict && *n > 0);
    let open = of(Verdict::Undecided) || of(Verdict::Refused);
    Front {
        data_label: report
            .data_label
            .or(report.provenance.data_label.as_deref()),
        standing: match (of(Verdict::Contradicted), open) {
            (true, _) => "some-contradicted",
            (false, true) => "open",
            (false, false) => "all-supported",
        },
        sentence,
        counts: counts
            .iter()
            .map(|(verdict, n)| (*n, verdict.word()))
            .collect(),
    }
}

fn design<'a>(report: &StudyReport<'a>) -> Design<'a> {
    let mut treatments: Vec<&str> = Vec::new();
    let mut blocks: BTreeMap<&str, BTreeMap<&str, usize>> = BTreeMap::new();
    for row in report.design {
        if !treatments.contains(&row.treatment.as_str()) {
            treatments.push(&row.treatment);
        }
        let cells = blocks.entry(&row.block).or_default();
        *cells.entry(&row.treatment).or_default() += row.doughs;
    }
    let rows: Vec<DesignLine<'_>> = blocks
        .into_iter()
        .map(|(block, cells)| DesignLine {
            block,
            total: cells.values().sum(),
            doughs: treatments
                .iter()
                .map(|t| cells.get(t).copied().unwrap_or(0))
                .collect(),
        })
        .collect();
    let total_of = |treatment: &&str| {
        let own = report
            .design
            .iter()
            .filter(|row| row.treatment == **treatment);
        own.map(|row| row.doughs).sum()
    };
    Design {
        totals: treatments.iter().map(total_of).collect(),
        doughs: rows.iter().map(|row| row.total).sum(),
        treatments,
        rows,
    }
}

fn origin<'a>(report: &StudyReport<'a>) -> Origin<'a> {
    let of_design = report.design.iter().map(|row| row.treatment.as_str());
    let of_claims = report.claims.iter();
    let of_claims = of_claims.flat_map(|c| [c.treatment.as_str(), c.reference.as_str()]);
    Origin {
        made: Made::of(report.provenance),
        study_name: report.study_file.0,
        study_sha256: report.study_file.1,
        sources: report.sources.iter().map(source).collect(),
        jets: mentions_jet(of_design.chain(of_claims)),
    }
}

fn source(source: &StudySource) -> Source<'_> {
    Source {
        archive: &source.archive,
        head: &source.head,
        results: source.results,
    }
}
