//! Claims of a study judged, drawn, printed, and entered in the ledger.

use super::super::kept::{Hand, Keeper};
use super::super::output::{Staging, write_table};
use super::super::{ChartOptions, ProcessError, plan::software};
use super::figures::study_pictures;
use super::page::{self, Shown};
use super::setup::{Source, StudyFile, gather};
use super::standing::{Planned, standing};
use crate::archive::{Action, Head, Item, NewFile};
use crate::chart::Palette;
use crate::compare::{self, Assessment, Evidence};
use crate::record::Claim;
use crate::record::describe;
use crate::record::tables::CLAIMS;
use crate::report::StudySummary;
use crate::schema::{Digest, Verdict};
use crate::table;
use serde_json::json;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Word for a claim among the items of an event.
pub(in crate::pipeline) const CLAIM_KIND: &str = "claim";
/// Beginning of the names of kept study files.
pub(in crate::pipeline) const STUDIES: &str = "studies/";

/// What is compared, and where it goes.
#[derive(Debug, Clone)]
pub struct CompareRequest<'a> {
    /// Study file.
    pub study: &'a Path,
    /// Archives to read in place of those that the file names; empty for those.
    pub archives: &'a [PathBuf],
    /// Output folder.
    pub out: &'a Path,
    /// Size and kind of chart files.
    pub charts: ChartOptions,
    /// Person.
    pub who: &'a str,
    /// Time, as records state it.
    pub when: &'a str,
}

/// What a study came to.
#[derive(Debug)]
pub struct Compared {
    /// Claims in the order of the study file.
    pub claims: Vec<Claim>,
    /// For each claim, whether it was on record before the data were taken in.
    pub planned: Vec<Planned>,
    /// Results that the archives hold.
    pub results: usize,
    /// Last line of the study's ledger.
    pub head: Head,
    /// Whether an earlier output was replaced.
    pub replaced: bool,
}

impl Compared {
    /// Returns whether a claim is contradicted.
    pub fn any_contradicted(&self) -> bool {
        let mut claims = self.claims.iter();
        claims.any(|claim| claim.verdict == Verdict::Contradicted)
    }
}

/// Judges the claims of a study and writes its output folder: report, charts, tables, manifest. The
/// first archive's ledger gets the study file, the verdicts with the results behind them, and the
/// report.
///
/// # Errors
/// [`ProcessError`] when the study file is wrong, an archive cannot be read, or nothing can be
/// written.
pub fn compare(request: &CompareRequest<'_>) -> Result<Compared, ProcessError> {
    request.charts.checked()?;
    let file = StudyFile::read(request.study, request.archives)?;
    let (mut evidence, sources) = gather(&file.folders)?;
    super::curves::add_curves(&mut evidence, &file.study, &sources)?;
    let Some(own) = sources.first() else {
        return Err(ProcessError::Request(
            "the study names no archive; write archives = [\"…\"] or give --archive".to_owned(),
        ));
    };
    let assessment = compare::evaluate(&file.study, &evidence);
    let planned = standing(&file.study, &assessment.claims, &sources)?;
    let staging = Staging::open(request.out)?;
    let palette = palette_of(&file);
    let pictures = study_pictures(
        &file.study,
        &assessment,
        &palette,
        (request.charts, &staging),
    )?;
    write_claims(&staging, &assessment.claims)?;
    let hand = Hand {
        archive: &own.folder,
        who: request.who,
        when: request.when,
        reason: "",
    };
    let mut keeper = Keeper::open(&own.folder, request.who, request.when)?;
    enter_claims(&mut keeper, &file, &assessment, &sources)?;
    let shown = Shown {
        file: &file,
        assessment: &assessment,
        evidence: &evidence,
        planned: &planned,
        pictures: &pictures,
        sources: &sources,
    };
    let head = page::write(&shown, &mut keeper, &hand, &staging)?;
    write_manifest(&staging, &shown, &head, request.when)?;
    drop(keeper);
    let replaced = staging.publish()?;
    Ok(Compared {
        claims: assessment.claims,
        planned,
        results: evidence.results.len(),
        head,
        replaced,
    })
}

/// Returns the claims as lines for people.
pub fn claim_lines(claims: &[Claim]) -> Vec<String> {
    StudySummary::of(claims).lines()
}

/// Returns the palette of the study: its treatments in alphabetical order, as in day reports.
fn palette_of(file: &StudyFile) -> Palette {
    let treatments = file.study.factors.treatments.iter().cloned();
    let seen: BTreeSet<String> = treatments.collect();
    Palette::new(seen)
}

fn write_claims(staging: &Staging, claims: &[Claim]) -> Result<(), ProcessError> {
    write_table(staging, &CLAIMS, &claims.iter().collect::<Vec<_>>())?;
    staging.write_json("datapackage.json", &describe::study_package())
}

/// Enters the study file, the verdicts and the results behind them.
fn enter_claims(
    keeper: &mut Keeper,
    file: &StudyFile,
    assessment: &Assessment,
    sources: &[Source],
) -> Result<(), ProcessError> {
    let claims = &assessment.claims;
    // The same verdicts from the same results are on record already.
    let known = sources.first().is_some_and(|own| {
        let ids: BTreeSet<&str> = own.known.claims.iter().map(String::as_str).collect();
        claims
            .iter()
            .all(|claim| ids.contains(claim.claim_id.as_str()))
    });
    if known && !claims.is_empty() {
        return Ok(());
    }
    let mut event = keeper.event(Action::Compare);
    event.parameters = json!({
        "study": file.study.title,
        "file": file.kept_as(),
        "study_sha256": file.digest,
        "archives": sources
            .iter()
            .map(|source| format!("{}:{}", source.head.seq, source.head.digest))
            .collect::<Vec<_>>(),
        "claims": claims
            .iter()
            .map(|claim| json!({
                "id": claim.claim_id,
                "name": claim.name,
                "verdict": claim.verdict.word(),
                "plain": claim.plain,
            }))
            .collect::<Vec<_>>(),
    });
    for claim in claims {
        let mut item = Item::with_id(CLAIM_KIND, &claim.claim_id)
            .made_from([file.digest.to_string()])
            .made_from(claim.results.iter().cloned());
        item.name = Some(claim.name.clone());
        event.outputs.push(item);
    }
    let rows: Vec<&Claim> = claims.iter().collect();
    let bytes = table::to_parquet(&CLAIMS, &rows)?;
    let place = format!("{}/day={}/part.parquet", CLAIMS.name, keeper.day());
    let mut files = vec![NewFile::segment(&place, bytes)];
    files.extend(file.keep(keeper, &mut event));
    keeper.commit(event, files)?;
    Ok(())
}

fn write_manifest(
    staging: &Staging,
    shown: &Shown<'_>,
    head: &Head,
    when: &str,
) -> Result<(), ProcessError> {
    let claims = &shown.assessment.claims;
    let manifest = json!({
        "software": software(),
        "made_at": when,
        "study": {
            "title": shown.file.study.title,
            "file": shown.file.name,
            "sha256": shown.file.digest,
        },
        "archives": shown
            .sources
            .iter()
            .map(|source| json!({ "head": source.head, "results": source.results }))
            .collect::<Vec<_>>(),
        "claims": claims
            .iter()
            .zip(shown.planned)
            .map(|(claim, planned)| json!({
                "id": claim.claim_id,
                "name": claim.name,
                "verdict": claim.verdict.word(),
                "planned": planned.words(),
            }))
            .collect::<Vec<_>>(),
        "ledger_head": head,
        "outputs": staging
            .listed()
            .into_iter()
            .filter(|file| file.path() != "report.html")
            .collect::<Vec<_>>(),
    });
    staging.write_json("manifest.json", &manifest)
}

/// Returns the doughs of each treatment in each block, treatments and blocks in order.
pub(super) fn design(evidence: &Evidence) -> Vec<(String, String, usize)> {
    let mut cells: BTreeSet<(&str, &str, &str)> = BTreeSet::new();
    let of_results = evidence.results.iter().map(|row| &row.origin);
    let of_grades = evidence.grades.iter().map(|row| &row.origin);
    for origin in of_results.chain(of_grades) {
        if let (Some(treatment), Some(batch)) = (&origin.treatment, &origin.batch) {
            cells.insert((treatment, origin.block.as_deref().unwrap_or("–"), batch));
        }
    }
    let mut rows: Vec<(String, String, usize)> = Vec::new();
    for (treatment, block, _) in cells {
        match rows.last_mut() {
            Some((t, b, doughs)) if t == treatment && b == block => *doughs += 1,
            _ => rows.push((treatment.to_owned(), block.to_owned(), 1)),
        }
    }
    rows
}

/// Returns the digest of what a study report says.
pub(super) fn content_digest(shown: &Shown<'_>) -> Digest {
    let mut text = format!("study {}\n", shown.file.digest);
    for (claim, planned) in shown.assessment.claims.iter().zip(shown.planned) {
        text.push_str(&format!("{} {}\n", claim.claim_id, planned.words()));
    }
    Digest::of(text.as_bytes())
}
