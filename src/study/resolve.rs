//! From what an author wrote to a checked study.

use super::claims::read_claim;
use super::error::StudyError;
use super::model::{Blocking, Excluded, Factors, PlannedClaim, Study, StudyExclusion};
use super::reader::{Notes, Reader};
use super::words::{BLOCKINGS, suggest};
use crate::schema::Digest;
use std::collections::BTreeSet;
use toml::de::DeTable;

/// What claims inherit from the study around them.
pub(super) struct Frame<'s> {
    pub treatments: &'s [String],
    pub reference: &'s str,
    pub alpha: f64,
}

/// Returns the study written in `text`.
///
/// # Errors
/// Every problem of the file, in the order of its lines: keys that are unknown, missing, of the
/// wrong type, outside their range, or that contradict one another. A text that is no TOML has
/// one problem.
pub fn parse(text: &str) -> Result<Study, Vec<StudyError>> {
    let notes = Notes::new(text);
    let table = DeTable::parse(text).map_err(|error| {
        let at = error.span().map_or(0, |span| span.start);
        vec![StudyError {
            line: notes.line(at),
            key: String::new(),
            found: error.message().to_owned(),
            expected: "a file in the TOML notation".to_owned(),
            remedy: "correct the line; texts stand in quotes, lists in brackets".to_owned(),
        }]
    })?;
    let root = Reader::new(&notes, table.get_ref(), String::new(), 0..0);
    let study = read_study(&root, Digest::of(text.as_bytes()));
    root.finish(|_| None);
    let problems = notes.into_problems();
    match study {
        Some(study) if problems.is_empty() => Ok(study),
        _ => Err(problems),
    }
}

fn read_study(root: &Reader<'_, '_>, digest: Digest) -> Option<Study> {
    let title = root.text("title", "a title for the report");
    let archives = root.texts(
        "archives",
        "the folders that hold the results, at least one",
        1,
    );
    root.optional_choice("unit", &[("dough", ())]);
    let factors = read_factors(root);
    let reference = root.text("reference", "the treatment that others are compared with");
    let block = root.optional_choice("block", BLOCKINGS);
    let alpha = root.optional_number("alpha", "a share above 0 and below 0.5", open_half);
    let power = root.optional_number("power", "a share from 0.5 to below 1", |p| {
        (0.5..1.0).contains(&p)
    });
    let seed = root.optional_whole("seed", "a whole number", 0);
    let exclusions = read_exclusions(root);
    let treatments = factors.as_ref().map_or(&[][..], |f| &f.treatments);
    let unknown = |r: &&String| !treatments.is_empty() && !treatments.contains(r);
    if let Some(reference) = reference.as_ref().filter(unknown) {
        root.problem(
            "reference",
            format!("`{reference}`"),
            "one of factors.treatment",
            suggest(reference, treatments.iter().map(String::as_str)),
        );
    }
    let alpha = alpha.unwrap_or(0.05);
    let frame = Frame {
        treatments,
        reference: reference.as_deref().unwrap_or(""),
        alpha,
    };
    let claims = read_claims(root, &frame);
    Some(Study {
        title: title?,
        archives: archives?,
        reference: reference?,
        block: block.unwrap_or(Blocking::Block),
        alpha,
        power: power.unwrap_or(0.8),
        seed: seed.unwrap_or(1),
        exclusions,
        claims: claims?,
        factors: factors?,
        digest,
    })
}

/// Whether `alpha` can be the error rate of a verdict.
pub(super) fn open_half(alpha: f64) -> bool {
    alpha > 0.0 && alpha < 0.5
}

fn read_factors(root: &Reader<'_, '_>) -> Option<Factors> {
    let Some(table) = root.optional_table("factors") else {
        if !root.has("factors") {
            root.problem(
                "factors",
                "nothing".to_owned(),
                "a table with the treatments",
                "add [factors] and treatment = [\"…\", \"…\"]",
            );
        }
        return None;
    };
    let treatments = table.texts("treatment", "at least two mixing methods", 2);
    let flours = table.optional_texts("flour", "the sample identifiers of the flour lots");
    let hydrations = table.optional_numbers("hydration_pct", "a list of points of water");
    table.finish(|_| None);
    Some(Factors {
        treatments: treatments?,
        flours: flours.unwrap_or_default(),
        hydrations_pct: hydrations.unwrap_or_default(),
    })
}

fn read_exclusions(root: &Reader<'_, '_>) -> Vec<StudyExclusion> {
    let mut exclusions = Vec::new();
    for table in root.tables("exclusions") {
        let what = "the identifier of what is left out";
        let named: Vec<Excluded> = [
            table.optional_text("dough", what).map(Excluded::Dough),
            table.optional_text("run", what).map(Excluded::Run),
            table.optional_text("result", what).map(Excluded::Result),
        ]
        .into_iter()
        .flatten()
        .collect();
        let reason = table.text("reason", "the reason, in words an auditor accepts");
        match (<[Excluded; 1]>::try_from(named), reason) {
            (Ok([what]), Some(reason)) => exclusions.push(StudyExclusion { what, reason }),
            (Err(named), _) => table.problem(
                "dough",
                format!("{} of dough, run and result", named.len()),
                "exactly one of them",
                "write an exclusion of its own for each",
            ),
            (Ok(_), None) => {}
        }
        table.finish(|_| None);
    }
    exclusions
}

fn read_claims(root: &Reader<'_, '_>, frame: &Frame<'_>) -> Option<Vec<PlannedClaim>> {
    let tables = root.tables("claims");
    if tables.is_empty() {
        root.problem(
            "claims",
            "none".to_owned(),
            "at least one claim",
            "add [[claims]] with id, sentence, kind, metric and margin",
        );
        return None;
    }
    let (count, mut complete) = (tables.len(), true);
    let mut claims: Vec<PlannedClaim> = Vec::new();
    let (mut ids, mut primaries) = (BTreeSet::new(), 0);
    for table in tables {
        let flagged = table.optional_flag("primary");
        let primary = flagged.unwrap_or(count == 1);
        primaries += usize::from(primary);
        if primary && primaries > 1 {
            table.problem(
                "primary",
                "a second primary claim".to_owned(),
                "one primary claim, named before the data",
                "leave it true for the one that decides; the others are judged by Holm's method",
            );
        }
        let claim = read_claim(&table, frame, primary);
        if let Some(claim) = claim.as_ref().filter(|claim| !ids.insert(claim.id.clone())) {
            table.problem(
                "id",
                format!("`{}` twice", claim.id),
                "a name of its own for each claim",
                "rename one of them",
            );
        }
        complete &= claim.is_some();
        claims.extend(claim);
        super::claims::finish(table);
    }
    if primaries == 0 {
        root.problem(
            "claims",
            "no primary claim".to_owned(),
            "one claim with primary = true",
            "name the claim that decides before the data are seen",
        );
    }
    complete.then_some(claims)
}
