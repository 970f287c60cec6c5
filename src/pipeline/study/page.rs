//! The study report, and its place in the ledger.

use super::super::kept::{Hand, Keeper};
use super::super::output::Staging;
use super::super::page::{head_words, identity};
use super::super::{ProcessError, plan::software};
use super::compare::{content_digest, design};
use super::setup::{Source, StudyFile};
use super::standing::Planned;
use crate::archive::Head;
use crate::compare::{Assessment, Evidence};
use crate::derive::METHODS;
use crate::report::{DesignRow, Provenance, StudyPicture, StudyReport, StudySource};

/// Everything that the page shows.
pub(super) struct Shown<'a> {
    pub file: &'a StudyFile,
    pub assessment: &'a Assessment,
    pub evidence: &'a Evidence,
    pub planned: &'a [Planned],
    pub pictures: &'a [StudyPicture],
    pub sources: &'a [Source],
}

/// Writes the page and enters it in the ledger; returns the last line then.
pub(super) fn write(
    shown: &Shown<'_>,
    keeper: &mut Keeper,
    hand: &Hand<'_>,
    staging: &Staging,
) -> Result<Head, ProcessError> {
    let series = format!("study: {}", shown.file.study.title);
    let stamp = keeper.stamp_report(&series, &content_digest(shown), &[]);
    let printed = keeper.head().clone();
    let provenance = Provenance {
        tool_version: env!("CARGO_PKG_VERSION").to_owned(),
        generated_at: hand.when.to_owned(),
        inputs: vec![shown.file.name.clone()],
        plan: software(),
        data_label: label(shown),
        ledger_head: Some(head_words(&printed)),
        report: Some(identity(&stamp)),
        ..Provenance::default()
    };
    let planned: Vec<String> = shown.planned.iter().map(Planned::words).collect();
    let design: Vec<DesignRow> = design(shown.evidence)
        .into_iter()
        .filter(|(treatment, ..)| shown.file.study.factors.treatments.contains(treatment))
        .map(|(treatment, block, doughs)| DesignRow {
            treatment,
            block,
            doughs,
        })
        .collect();
    let sources: Vec<StudySource> = shown
        .sources
        .iter()
        .map(|source| StudySource {
            archive: source.name(),
            head: head_words(&source.head),
            results: source.results,
        })
        .collect();
    let methods: Vec<_> = METHODS.iter().map(|method| (method.card)()).collect();
    let report = StudyReport {
        title: &shown.file.study.title,
        data_label: provenance.data_label.as_deref(),
        claims: &shown.assessment.claims,
        planned: &planned,
        design: &design,
        charts: shown.pictures,
        methods: &methods,
        sources: &sources,
        study_file: (&shown.file.name, shown.file.digest.as_str()),
        provenance: &provenance,
    };
    let page = report.render()?;
    staging.write("report.html", page.as_bytes())?;
    let claims = shown.assessment.claims.iter();
    let claims = claims.map(|claim| claim.claim_id.clone()).collect();
    let title = &shown.file.study.title;
    keeper.commit_study_report(&series, (title, page.as_bytes()), &stamp, claims)?;
    Ok(keeper.head().clone())
}

/// Returns what must be said on top of the page when the study calls its data invented.
fn label(shown: &Shown<'_>) -> Option<String> {
    let invented = shown.file.text.to_lowercase().contains("invented");
    invented.then(|| {
        "Invented demonstration data: no measurement stands behind these numbers.".to_owned()
    })
}
