//! What the ledger says, put together: which runs are in force, what was corrected, excluded,
//! calibrated, reviewed and reported.

use super::super::ProcessError;
use super::super::study::CLAIM_KIND;
use crate::archive::{Action, Entry, Item, Reader};
use crate::record::{Calibration, Exclusion, FieldValue, Origin, Review, Run, RunRecord};
use crate::schema::{Digest, Field, InstrumentId};
use serde::Serialize;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

/// Word for a run among the items of an event.
pub(in crate::pipeline) const RUN_KIND: &str = "run";
/// Word for the gradings of one sheet among the items of an event.
pub(in crate::pipeline) const GRADING_KIND: &str = "gradings";
/// Word for what several runs gave together among the items of an event.
pub(in crate::pipeline) const GROUP_KIND: &str = "group";
/// Beginning of the names of kept profiles.
pub(in crate::pipeline) const PROFILES: &str = "profiles/";
/// Beginning of the names of kept files of delivery limits.
pub(in crate::pipeline) const LIMITS: &str = "limits/";
/// Word for a report among the items of an event.
pub(in crate::pipeline) const REPORT_KIND: &str = "report";
/// Word for a run sheet among the items of an event.
pub(in crate::pipeline) const SHEET_KIND: &str = "run-sheet";
/// Word for a raw file among the items of an event.
pub(in crate::pipeline) const RAW_KIND: &str = "raw";

/// Returns the identifier under which an instrument stands in the ledger.
pub(in crate::pipeline) fn instrument_key(id: &str) -> String {
    format!("instrument:{id}")
}

/// Returns the identifier under which the gradings of a sheet stand in the ledger.
pub(in crate::pipeline) fn grading_key(sheet: &Digest) -> String {
    Digest::of(format!("gradings {sheet}").as_bytes())
        .short()
        .to_owned()
}

/// Returns the identifier under which a group of runs of a day stands in the ledger: it stays the
/// same when a run joins it.
pub(in crate::pipeline) fn group_key(series: &str, name: &str) -> String {
    Digest::of(format!("group {series}\n{name}").as_bytes())
        .short()
        .to_owned()
}

/// Returns the identifier under which a day (a series of reports) stands in the ledger.
pub(in crate::pipeline) fn series_key(series: &str) -> String {
    format!("series:{series}")
}

/// Returns the identifier of a run in the ledger: of the bytes and of the curve among them, so
/// that it stays the same whatever is corrected later.
pub(in crate::pipeline) fn run_key(run: &Run) -> String {
    run.curve_digest().short().to_owned()
}

/// What was changed.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// A fact was corrected.
    Correct {
        /// The fact.
        field: Field,
        /// Value before, by run.
        old: BTreeMap<String, Value>,
        /// Value now.
        new: FieldValue,
    },
    /// The runs were excluded.
    Exclude,
    /// The exclusion was taken back.
    Include,
}

/// A correction or exclusion.
#[derive(Debug, Clone, PartialEq)]
pub struct Amendment {
    /// Ledger line.
    pub seq: u64,
    /// When.
    pub when: String,
    /// By whom.
    pub who: String,
    /// Why.
    pub reason: String,
    /// Runs it is about.
    pub runs: Vec<String>,
    /// What was changed.
    pub change: Change,
}

impl Amendment {
    /// Returns it as words, for one run.
    pub fn words(&self, run: &str) -> String {
        let what = match &self.change {
            Change::Correct { field, old, new } => {
                let before = match old.get(run) {
                    None | Some(Value::Null) => "not stated".to_owned(),
                    Some(Value::String(text)) => text.clone(),
                    Some(other) => other.to_string(),
                };
                format!("{field}: {before} → {new}")
            }
            Change::Exclude => "excluded".to_owned(),
            Change::Include => "exclusion taken back".to_owned(),
        };
        format!(
            "{what} (ledger line {}, {}, {}: {})",
            self.seq, self.when, self.who, self.reason
        )
    }
}

/// A run as an event recorded it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RunLine {
    /// Ledger line.
    pub seq: u64,
    /// Identifier of the run in the ledger.
    pub key: String,
    /// Name of the run.
    pub name: String,
    /// Its results.
    pub results: Vec<String>,
    /// When it was derived.
    pub when: String,
    /// By whom.
    pub who: String,
    /// Program and version.
    pub software: String,
    /// Raw file.
    pub raw: Digest,
    /// Whether it is the gradings of a sheet or what several runs gave together, not a run.
    pub gradings: bool,
}

/// A report as an event recorded it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReportLine {
    /// Ledger line.
    pub seq: u64,
    /// Identifier.
    pub id: String,
    /// What it is about: reports of one series follow each other.
    pub series: String,
    /// Number in the series, from 1.
    pub version: u64,
    /// Identifier of the report that it takes the place of.
    pub supersedes: Option<String>,
    /// Title.
    pub title: String,
    /// When.
    pub when: String,
    /// By whom.
    pub who: String,
    /// SHA-256 of the page.
    pub sha256: Option<Digest>,
    /// Runs in it.
    #[serde(skip)]
    pub runs: Vec<String>,
}

/// What the ledger says.
#[derive(Debug, Default)]
pub struct Known {
    /// Corrections and exclusions, in order.
    pub amendments: Vec<Amendment>,
    /// Calibrations, in order.
    pub calibrations: Vec<Calibration>,
    /// Reviews, in order.
    pub reviews: Vec<Review>,
    /// Reports, in order.
    pub reports: Vec<ReportLine>,
    /// Every record of every run, in order.
    pub runs: Vec<RunLine>,
    /// Records that a later one took the place of: ledger line and run, and the later line.
    superseded: BTreeMap<(u64, String), u64>,
    /// Latest version of each name.
    pub(super) versions: BTreeMap<String, Digest>,
    /// Identifiers of the claims judged.
    pub claims: Vec<String>,
    /// Digests of the segments.
    pub(super) segments: BTreeSet<Digest>,
}

fn text(value: &Value, key: &str) -> String {
    value
        .get(key)
        .and_then(Value::as_str)
        .unwrap_or_default()
        .to_owned()
}

impl Known {
    /// Returns what the whole ledger says.
    ///
    /// # Errors
    /// [`ProcessError::Archive`] when a line cannot be read.
    pub fn load(reader: &Reader) -> Result<Known, ProcessError> {
        let mut known = Known::default();
        for entry in reader.events()? {
            known.learn(&entry?);
        }
        Ok(known)
    }

    /// Returns whether `digest` is that of the latest version of the file `name`.
    pub(in crate::pipeline) fn is_latest(&self, name: &str, digest: &Digest) -> bool {
        self.versions.get(name) == Some(digest)
    }

    /// Returns the digests of the latest version of each kept file.
    pub(in crate::pipeline) fn latest_digests(&self) -> impl Iterator<Item = &str> {
        self.versions.values().map(Digest::as_str)
    }

    /// Returns what some lines of the ledger say.
    pub(super) fn of(entries: &[Entry]) -> Known {
        let mut known = Known::default();
        for entry in entries {
            known.learn(entry);
        }
        known
    }

    pub(super) fn learn(&mut self, entry: &Entry) {
        for item in &entry.event.outputs {
            let (Some(name), Some(digest), true) = (&item.name, &item.digest, item.path.is_some())
            else {
                continue;
            };
            if item.kind == RAW_KIND {
                self.versions.insert(name.clone(), digest.clone());
            } else {
                self.segments.insert(digest.clone());
            }
        }
        match entry.event.action {
            Action::Derive => self.learn_runs(entry),
            Action::Correct | Action::Exclude => self.learn_amendment(entry),
            Action::Calibrate => self.learn_calibration(entry),
            Action::Review => self.learn_review(entry),
            Action::Report => self.learn_report(entry),
            Action::Compare => {
                let claims = entry.event.outputs.iter().filter(|i| i.kind == CLAIM_KIND);
                self.claims
                    .extend(claims.filter_map(|item| item.id.clone()));
            }
            _ => {}
        }
    }

    fn learn_runs(&mut self, entry: &Entry) {
        let event = &entry.event;
        let units = [RUN_KIND, GRADING_KIND, GROUP_KIND];
        for item in event
            .outputs
            .iter()
            .filter(|i| units.contains(&i.kind.as_str()))
        {
            let raw = item.from.first().and_then(|d| Digest::parse(d).ok());
            let (Some(key), Some(raw)) = (&item.id, raw) else {
                continue;
            };
            self.runs.push(RunLine {
                seq: entry.seq,
                key: key.clone(),
                name: item.name.clone().unwrap_or_default(),
                results: item.holds.clone(),
                when: event.when.clone(),
                who: event.who.clone(),
                software: event.tool.clone(),
                raw,
                gradings: item.kind != RUN_KIND,
            });
        }
        let Some(Value::Object(map)) = event.parameters.get("supersedes") else {
            return;
        };
        for (key, lines) in map {
            let lines = lines.as_array().into_iter().flatten();
            for seq in lines.filter_map(Value::as_u64) {
                self.superseded.insert((seq, key.clone()), entry.seq);
            }
        }
    }

    fn learn_amendment(&mut self, entry: &Entry) {
        let parameters = &entry.event.parameters;
        let change = match entry.event.action {
            Action::Exclude if parameters.get("exclude") == Some(&Value::Bool(false)) => {
                Change::Include
            }
            Action::Exclude => Change::Exclude,
            _ => {
                let new = match parameters.get("new") {
                    Some(Value::Number(n)) => n.as_f64().map(FieldValue::Number),
                    Some(Value::String(t)) => Some(FieldValue::Text(t.clone())),
                    _ => None,
                };
                let field = Field::parse(&text(parameters, "field"));
                let (Some(field), Some(new)) = (field, new) else {
                    return;
                };
                let old = match parameters.get("old") {
                    Some(Value::Object(map)) => {
                        map.iter().map(|(k, v)| (k.clone(), v.clone())).collect()
                    }
                    _ => BTreeMap::new(),
                };
                Change::Correct { field, old, new }
            }
        };
        self.amendments.push(Amendment {
            seq: entry.seq,
            when: entry.event.when.clone(),
            who: entry.event.who.clone(),
            reason: text(parameters, "reason"),
            runs: keys_of_kind(&entry.event.inputs, RUN_KIND),
            change,
        });
    }

    fn learn_calibration(&mut self, entry: &Entry) {
        let parameters = &entry.event.parameters;
        let certificate = entry.event.outputs.iter().find(|i| i.kind == RAW_KIND);
        let instrument = InstrumentId::new(&text(parameters, "instrument"));
        let (Ok(instrument), Some(certificate)) = (instrument, certificate) else {
            return;
        };
        let Some(sha256) = certificate.digest.clone() else {
            return;
        };
        self.calibrations.push(Calibration {
            instrument,
            what: text(parameters, "what"),
            on: text(parameters, "on"),
            due: text(parameters, "due"),
            certificate: certificate.name.clone().unwrap_or_default(),
            sha256,
            who: entry.event.who.clone(),
            seq: entry.seq,
        });
    }

    fn learn_review(&mut self, entry: &Entry) {
        let parameters = &entry.event.parameters;
        let ids = entry.event.inputs.iter().filter_map(|i| i.id.clone());
        for id in ids {
            self.reviews.push(Review {
                of: text(parameters, "of"),
                id,
                step: text(parameters, "step"),
                outcome: text(parameters, "outcome"),
                note: text(parameters, "note"),
                who: entry.event.who.clone(),
                when: entry.event.when.clone(),
                seq: entry.seq,
            });
        }
    }

    fn learn_report(&mut self, entry: &Entry) {
        let parameters = &entry.event.parameters;
        let report = entry.event.outputs.iter().find(|i| i.kind == REPORT_KIND);
        let Some((report, id)) = report.and_then(|r| Some((r, r.id.clone()?))) else {
            return;
        };
        self.reports.push(ReportLine {
            seq: entry.seq,
            id,
            series: text(parameters, "series"),
            version: parameters
                .get("version")
                .and_then(Value::as_u64)
                .unwrap_or(1),
            supersedes: parameters
                .get("supersedes")
                .and_then(Value::as_str)
                .map(str::to_owned),
            title: report.name.clone().unwrap_or_default(),
            when: entry.event.when.clone(),
            who: entry.event.who.clone(),
            sha256: report.digest.clone(),
            runs: report.from.clone(),
        });
    }

    /// Returns the ledger line that took the place of a record.
    pub fn superseded_by(&self, line: &RunLine) -> Option<u64> {
        self.superseded.get(&(line.seq, line.key.clone())).copied()
    }

    /// Returns the records in force, of every run.
    pub fn current(&self) -> impl Iterator<Item = &RunLine> {
        self.runs
            .iter()
            .filter(|line| self.superseded_by(line).is_none())
    }

    /// Returns the corrections and exclusions alone, for threads that only need those.
    pub(in crate::pipeline) fn amendments_only(&self) -> Known {
        Known {
            amendments: self.amendments.clone(),
            ..Known::default()
        }
    }

    /// Returns the reviews of a report, of its series, and of its runs.
    pub(in crate::pipeline) fn reviews_of(
        &self,
        series: &str,
        report: &str,
        runs: &[&RunRecord],
    ) -> Vec<Review> {
        let mut ids: BTreeSet<String> = runs.iter().map(|run| run.key()).collect();
        ids.insert(series_key(series));
        ids.insert(report.to_owned());
        let reviews = self.reviews.iter();
        reviews.filter(|r| ids.contains(&r.id)).cloned().collect()
    }

    /// Puts the corrections in force that stand before ledger line `before`, and returns the
    /// exclusion, when the run is excluded there.
    pub fn amend(&self, run: &mut Run, before: u64) -> Option<Exclusion> {
        let key = run_key(run);
        let mut excluded = None;
        for amendment in self.amendments.iter().filter(|a| a.seq < before) {
            if !amendment.runs.contains(&key) {
                continue;
            }
            match &amendment.change {
                Change::Correct { field, new, .. } => run.metadata.correct(
                    *field,
                    new.clone(),
                    Origin::Correction {
                        seq: amendment.seq,
                        who: amendment.who.clone(),
                        reason: amendment.reason.clone(),
                    },
                ),
                Change::Exclude => {
                    excluded = Some(Exclusion {
                        reason: amendment.reason.clone(),
                        who: amendment.who.clone(),
                        when: amendment.when.clone(),
                        seq: amendment.seq,
                    });
                }
                Change::Include => excluded = None,
            }
        }
        excluded
    }
}

fn keys_of_kind(items: &[Item], kind: &str) -> Vec<String> {
    items
        .iter()
        .filter(|item| item.kind == kind)
        .filter_map(|item| item.id.clone())
        .collect()
}
