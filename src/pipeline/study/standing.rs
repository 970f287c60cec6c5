//! Whether a claim was on record before the study's files were taken in.

use super::super::ProcessError;
use super::setup::{Source, commitment};
use crate::archive::Action;
use crate::record::Claim;
use crate::schema::Digest;
use crate::study::Study;
use serde_json::Value;
use std::collections::BTreeMap;

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
    /// They are on record, but files behind the claim lie in other archives: their ledgers do not
    /// prove an order with this one.
    Elsewhere {
        /// Ledger line.
        seq: u64,
        /// When.
        when: String,
        /// Results, runs and gradings that this ledger does not know.
        elsewhere: usize,
    },
    /// They are on record, and no file stands behind the claim.
    NothingBehind {
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
            Planned::Elsewhere {
                seq,
                when,
                elsewhere,
            } => format!(
                "On record (ledger line {seq}, {when}), but {elsewhere} readings behind it are in other archives: no ledger proves that it was on record before they were taken in."
            ),
            Planned::NothingBehind { seq, when } => format!(
                "On record (ledger line {seq}, {when}); no file stands behind it."
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

/// What a ledger says of plans and imports.
#[derive(Default)]
struct Ledger {
    /// Plans, oldest first.
    plans: Vec<OnRecord>,
    /// For each raw file, run and result, the line on which the first file behind it came in.
    came_in: BTreeMap<String, u64>,
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
    let ledger = Ledger::read(own)?;
    let standing = study.claims.iter().zip(claims).map(|(planned, claim)| {
        let digest = Digest::of(commitment(study, planned).as_bytes()).to_string();
        ledger.standing_of(&planned.id, &digest, &claim.results)
    });
    Ok(standing.collect())
}

impl Ledger {
    fn read(source: &Source) -> Result<Ledger, ProcessError> {
        let mut ledger = Ledger::default();
        for entry in source.reader.events()? {
            let entry = entry?;
            let outputs = &entry.event.outputs;
            match entry.event.action {
                Action::Plan => ledger.plans.push(OnRecord {
                    seq: entry.seq,
                    when: entry.event.when.clone(),
                    claims: committed(&entry.event.parameters),
                }),
                Action::Import => {
                    for digest in outputs.iter().filter_map(|item| item.digest.as_ref()) {
                        ledger.note(digest.to_string(), entry.seq);
                    }
                }
                Action::Derive => {
                    for item in outputs {
                        let files = item.from.iter().filter_map(|id| ledger.came_in.get(id));
                        let Some(seq) = files.min().copied() else {
                            continue;
                        };
                        for id in item.id.iter().chain(&item.holds) {
                            ledger.note(id.clone(), seq);
                        }
                    }
                }
                _ => {}
            }
        }
        Ok(ledger)
    }

    fn note(&mut self, id: String, seq: u64) {
        let known = self.came_in.entry(id).or_insert(seq);
        *known = seq.min(*known);
    }

    /// Returns the line on which the file behind a result, a run or a grading came in; `None` when
    /// this ledger does not know it. A grading is named by its file and the line in it.
    fn taken_in(&self, id: &str) -> Option<u64> {
        let of_file = || self.came_in.get(id.rsplit_once(':')?.0);
        self.came_in.get(id).or_else(of_file).copied()
    }

    /// Returns the standing of the claim `name`, whose commitment has the digest `digest`, judged
    /// from `results`.
    ///
    /// What counts is the plan in force when the first file came in: of several margins that were
    /// on record by then, only the latest was the plan, or one could be chosen after the data.
    fn standing_of(&self, name: &str, digest: &str, results: &[String]) -> Planned {
        let lines: Vec<Option<u64>> = results.iter().map(|id| self.taken_in(id)).collect();
        let first = lines.iter().flatten().min().copied();
        let of_name: Vec<(&OnRecord, bool)> = self
            .plans
            .iter()
            .filter_map(|plan| {
                let (_, committed) = plan.claims.iter().find(|(known, _)| known == name)?;
                Some((plan, committed == digest))
            })
            .collect();
        let is_before = |plan: &OnRecord| first.is_none_or(|line| plan.seq < line);
        let in_force = of_name.iter().rfind(|(plan, _)| is_before(plan));
        let after = of_name
            .iter()
            .find(|(plan, same)| *same && !is_before(plan));
        let at = |plan: &OnRecord| (plan.seq, plan.when.clone());
        match (in_force, after, in_force.or(of_name.last())) {
            (Some((plan, true)), _, _) => {
                let (seq, when) = at(plan);
                let elsewhere = lines.iter().filter(|line| line.is_none()).count();
                match (results.len(), elsewhere) {
                    (0, _) => Planned::NothingBehind { seq, when },
                    (_, 0) => Planned::BeforeImport { seq, when },
                    _ => Planned::Elsewhere {
                        seq,
                        when,
                        elsewhere,
                    },
                }
            }
            (_, Some((plan, _)), _) => {
                let (seq, when) = at(plan);
                Planned::AfterImport { seq, when }
            }
            (_, _, Some((plan, _))) => {
                let (seq, when) = at(plan);
                Planned::Otherwise { seq, when }
            }
            _ => Planned::NotOnRecord,
        }
    }
}

fn committed(parameters: &Value) -> Vec<(String, String)> {
    let claims = parameters.get("claims").and_then(Value::as_object);
    claims
        .into_iter()
        .flatten()
        .filter_map(|(name, digest)| Some((name.clone(), digest.as_str()?.to_owned())))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A ledger in which the claim `c` was planned with each digest on its line, and results,
    /// runs or files came in on theirs.
    fn ledger(plans: &[(u64, &str)], imports: &[(&str, u64)]) -> Ledger {
        let mut ledger = Ledger::default();
        for (seq, digest) in plans {
            ledger.plans.push(OnRecord {
                seq: *seq,
                when: format!("t{seq}"),
                claims: vec![("c".to_owned(), (*digest).to_owned())],
            });
        }
        for (id, seq) in imports {
            ledger.note((*id).to_owned(), *seq);
        }
        ledger
    }

    fn standing(ledger: &Ledger, results: &[&str]) -> Planned {
        let results: Vec<String> = results.iter().map(|id| (*id).to_owned()).collect();
        ledger.standing_of("c", "mine", &results)
    }

    fn seq_of(planned: &Planned) -> Option<(&'static str, u64)> {
        Some(match planned {
            Planned::BeforeImport { seq, .. } => ("before", *seq),
            Planned::AfterImport { seq, .. } => ("after", *seq),
            Planned::Elsewhere { seq, .. } => ("elsewhere", *seq),
            Planned::NothingBehind { seq, .. } => ("nothing", *seq),
            Planned::Otherwise { seq, .. } => ("otherwise", *seq),
            Planned::NotOnRecord => return None,
        })
    }

    #[test]
    fn only_a_plan_before_the_first_file_counts_as_before() {
        let early = ledger(&[(1, "mine")], &[("r1", 2), ("r2", 5)]);
        assert_eq!(
            seq_of(&standing(&early, &["r1", "r2"])),
            Some(("before", 1))
        );
        let between = ledger(&[(3, "mine")], &[("r1", 2), ("r2", 5)]);
        assert_eq!(
            seq_of(&standing(&between, &["r1", "r2"])),
            Some(("after", 3))
        );
        assert_eq!(seq_of(&standing(&between, &["r2"])), Some(("before", 3)));
        assert_eq!(seq_of(&standing(&ledger(&[], &[("r1", 2)]), &["r1"])), None);
    }

    #[test]
    fn a_grading_is_known_by_its_file() {
        let late = ledger(&[(3, "mine")], &[("abc", 2)]);
        assert_eq!(seq_of(&standing(&late, &["abc:17"])), Some(("after", 3)));
    }

    #[test]
    fn of_several_margins_before_the_data_only_the_latest_was_the_plan() {
        let twice = ledger(&[(1, "mine"), (2, "other")], &[("r1", 3)]);
        assert_eq!(seq_of(&standing(&twice, &["r1"])), Some(("otherwise", 2)));
        let settled = ledger(&[(1, "other"), (2, "mine")], &[("r1", 3)]);
        assert_eq!(seq_of(&standing(&settled, &["r1"])), Some(("before", 2)));
        let later = ledger(&[(1, "other"), (4, "mine")], &[("r1", 3)]);
        assert_eq!(seq_of(&standing(&later, &["r1"])), Some(("after", 4)));
        let kept = ledger(&[(1, "mine"), (4, "other")], &[("r1", 3)]);
        assert_eq!(seq_of(&standing(&kept, &["r1"])), Some(("before", 1)));
    }

    #[test]
    fn what_the_ledger_does_not_know_proves_nothing() {
        let own = ledger(&[(1, "mine")], &[("r1", 2)]);
        assert_eq!(
            seq_of(&standing(&own, &["r1", "far"])),
            Some(("elsewhere", 1))
        );
        assert_eq!(seq_of(&standing(&own, &[])), Some(("nothing", 1)));
    }
}
