//! Whether a claim was on record before the study's files were taken in.

use super::super::ProcessError;
use super::setup::{Source, commitment};
use crate::archive::Action;
use crate::record::Claim;
use crate::schema::Digest;
use crate::study::Study;
use serde_json::Value;
use std::collections::BTreeSet;

/// What the ledger says of when a claim was fixed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Planned {
    /// Its margin, metric and rules were on record before the first file behind it was taken in.
    BeforeImport {
        /// Ledger line.
        seq: u64,
        /// When.
        when: String,
    },
    /// They were put on record only after.
    AfterImport {
        /// Ledger line.
        seq: u64,
        /// When.
        when: String,
    },
    /// Another margin, metric or rule is on record for a claim of this name.
    Otherwise {
        /// Ledger line.
        seq: u64,
        /// When.
        when: String,
    },
    /// Nothing is on record.
    NotOnRecord,
}

impl Planned {
    /// Returns it as a sentence.
    pub fn words(&self) -> String {
        match self {
            Planned::BeforeImport { seq, when } => format!(
                "On record before the files behind it were taken in (ledger line {seq}, {when}). That proves “before import”, not “before the data”."
            ),
            Planned::AfterImport { seq, when } => format!(
                "Put on record only after files behind it were taken in (ledger line {seq}, {when})."
            ),
            Planned::Otherwise { seq, when } => format!(
                "Changed since it was put on record: ledger line {seq}, {when}, has another margin, metric or rule."
            ),
            Planned::NotOnRecord => {
                "Not on record before the comparison: run `doughtrace plan` before the study's files are imported.".to_owned()
            }
        }
    }
}

/// A plan that a ledger holds.
struct OnRecord {
    seq: u64,
    when: String,
    /// Name and digest of the commitment of each claim.
    claims: Vec<(String, String)>,
}

/// Returns what the study's own ledger (that of the first archive) says of each claim.
///
/// # Errors
/// [`ProcessError`] when a ledger cannot be read.
pub(super) fn standing(
    study: &Study,
    claims: &[Claim],
    sources: &[Source],
) -> Result<Vec<Planned>, ProcessError> {
    let Some(own) = sources.first() else {
        return Ok(claims.iter().map(|_| Planned::NotOnRecord).collect());
    };
    let (plans, imports) = read_ledger(own)?;
    let standing = study.claims.iter().zip(claims).map(|(planned, claim)| {
        let digest = Digest::of(commitment(study, planned).as_bytes()).to_string();
        let used: BTreeSet<&str> = claim.results.iter().map(String::as_str).collect();
        // The first line on which any file behind the claim came in.
        let first = imports
            .iter()
            .find(|(_, results)| results.iter().any(|id| used.contains(id.as_str())))
            .map(|(seq, _)| *seq);
        let of_name = |plan: &&OnRecord| plan.claims.iter().any(|(name, _)| *name == planned.id);
        let same = |plan: &&OnRecord| {
            let mut claims = plan.claims.iter();
            claims.any(|(name, committed)| *name == planned.id && *committed == digest)
        };
        if let Some(plan) = plans.iter().find(same) {
            let (seq, when) = (plan.seq, plan.when.clone());
            return match first {
                Some(first) if first < seq => Planned::AfterImport { seq, when },
                _ => Planned::BeforeImport { seq, when },
            };
        }
        match plans.iter().rfind(of_name) {
            Some(plan) => Planned::Otherwise {
                seq: plan.seq,
                when: plan.when.clone(),
            },
            None => Planned::NotOnRecord,
        }
    });
    Ok(standing.collect())
}

/// Returns the plans of a ledger, and for each line of import the results that its files gave.
type Ledger = (Vec<OnRecord>, Vec<(u64, Vec<String>)>);

fn read_ledger(source: &Source) -> Result<Ledger, ProcessError> {
    let mut plans = Vec::new();
    let mut imports: Vec<(u64, Vec<String>)> = Vec::new();
    let mut came_in: std::collections::BTreeMap<String, usize> = std::collections::BTreeMap::new();
    for entry in source.reader.events()? {
        let entry = entry?;
        match entry.event.action {
            Action::Plan => plans.push(OnRecord {
                seq: entry.seq,
                when: entry.event.when.clone(),
                claims: committed(&entry.event.parameters),
            }),
            Action::Import => {
                for digest in entry.event.outputs.iter().filter_map(|i| i.digest.as_ref()) {
                    came_in.entry(digest.to_string()).or_insert(imports.len());
                }
                imports.push((entry.seq, Vec::new()));
            }
            Action::Derive => {
                for item in &entry.event.outputs {
                    let raws = item.from.iter().filter_map(|digest| came_in.get(digest));
                    let places: Vec<usize> = raws.copied().collect();
                    for place in places {
                        if let Some((_, results)) = imports.get_mut(place) {
                            results.extend(item.holds.iter().cloned());
                        }
                    }
                }
            }
            _ => {}
        }
    }
    Ok((plans, imports))
}

fn committed(parameters: &Value) -> Vec<(String, String)> {
    let claims = parameters.get("claims").and_then(Value::as_object);
    claims
        .into_iter()
        .flatten()
        .filter_map(|(name, digest)| Some((name.clone(), digest.as_str()?.to_owned())))
        .collect()
}
