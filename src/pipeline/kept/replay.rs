//! Runs made anew from the archive, the way an event says that they were made.

use super::super::link::Sheets;
use super::super::{ProcessError, work};
use super::known::{Known, RAW_KIND, SHEET_KIND, run_key};
use super::unit::Recipe;
use crate::archive::{Entry, Item, Reader};
use crate::derive;
use crate::intake::{self, Records};
use crate::profile::{Form, Profile};
use crate::record::{Fault, Grading, RawFile, Run, RunGroup, RunRecord, RunSheet};
use crate::schema::Digest;
use serde_json::Value;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// A run made anew.
pub(in crate::pipeline) struct Replayed {
    /// Identifier of the run in the ledger.
    pub key: String,
    /// The run, with everything stated and corrected.
    pub run: Run,
    /// The run after derivation.
    pub record: RunRecord,
}

/// Makes runs anew; keeps the profiles it has parsed.
pub(in crate::pipeline) struct Replay<'a> {
    pub reader: &'a Reader,
    pub known: &'a Known,
    profiles: Mutex<HashMap<String, Arc<Profile>>>,
}

impl<'a> Replay<'a> {
    pub fn new(reader: &'a Reader, known: &'a Known) -> Replay<'a> {
        Replay {
            reader,
            known,
            profiles: Mutex::new(HashMap::new()),
        }
    }

    /// Returns the recipe of an event of derivation.
    pub fn recipe(entry: &Entry) -> Recipe {
        let parameters = &entry.event.parameters;
        Recipe {
            plan: parameters.get("plan").cloned().unwrap_or(Value::Null),
            strip: parameters
                .get("strip")
                .and_then(Value::as_str)
                .unwrap_or_default()
                .to_owned(),
            several_days: parameters.get("several_days") == Some(&Value::Bool(true)),
            sheets: of_kind(entry, SHEET_KIND),
        }
    }

    /// Returns the run sheets that were in force for an event.
    pub fn sheets(&self, recipe: &Recipe) -> Result<Sheets, ProcessError> {
        let mut list: Vec<RunSheet> = Vec::new();
        for item in &recipe.sheets {
            let (file, bytes, profile) = self.open(item, recipe)?;
            match intake::read(file.clone(), &bytes, &profile)
                .map_err(kept)?
                .records
            {
                Records::Sheet(sheet) => list.push(sheet),
                _ => return Err(kept(other_records(&file.name, "a run sheet"))),
            }
        }
        Ok(Sheets { list })
    }

    /// Returns every run of a raw file, as the event `seq` made them: corrections of later lines
    /// are not in force.
    pub fn runs(
        &self,
        item: &Item,
        recipe: &Recipe,
        sheets: &Sheets,
        seq: u64,
    ) -> Result<Vec<Replayed>, ProcessError> {
        let (file, bytes, profile) = self.open(item, recipe)?;
        let read = intake::read(file.clone(), &bytes, &profile).map_err(kept)?;
        let Records::Curves(runs) = read.records else {
            return Err(kept(other_records(&file.name, "curves")));
        };
        Ok(runs
            .into_iter()
            .map(|run| {
                let key = run_key(&run);
                let (run, record, _) =
                    work::derive_run(run, sheets, Some((self.known, seq)), false);
                Replayed { key, run, record }
            })
            .collect())
    }

    /// Returns what the graded observations of an event came to.
    pub fn gradings(&self, entry: &Entry, recipe: &Recipe) -> Result<Grading, ProcessError> {
        let mut observations = Vec::new();
        for item in raw_inputs(entry) {
            let (file, bytes, profile) = self.open(&item, recipe)?;
            if !matches!(profile.form, Form::ObservationSheet(_)) {
                continue;
            }
            let read = intake::read(file, &bytes, &profile).map_err(kept)?;
            if let Records::Observations(found) = read.records {
                observations.extend(found);
            }
        }
        Ok(derive::derive_observations(&observations))
    }

    /// Returns what the runs of an event's raw files give together.
    pub fn groups(
        &self,
        entry: &Entry,
        recipe: &Recipe,
        sheets: &Sheets,
    ) -> Result<Vec<RunGroup>, ProcessError> {
        let mut records = Vec::new();
        for item in raw_inputs(entry) {
            let runs = self.runs(&item, recipe, sheets, entry.seq)?;
            records.extend(runs.into_iter().map(|made| made.record));
        }
        Ok(derive::derive_groups(&records))
    }

    /// Returns a kept file with its bytes and the profile that reads it.
    pub fn open(
        &self,
        item: &Item,
        recipe: &Recipe,
    ) -> Result<(RawFile, Vec<u8>, Arc<Profile>), ProcessError> {
        let kept_as = item.name.clone().unwrap_or_default();
        let name = kept_as.strip_prefix(&recipe.strip).unwrap_or(&kept_as);
        let lost = |what: &str| {
            kept(Fault {
                file: kept_as.clone(),
                line: None,
                column: None,
                found: format!("no {what} in the archive"),
                expected: "everything that an event names".into(),
                remedy: "put it back from your copy of the archive; run `verify`".into(),
            })
        };
        let digest = item.digest.as_ref().ok_or_else(|| lost("digest of it"))?;
        let bytes = self
            .reader
            .raw(digest)?
            .ok_or_else(|| lost("bytes of it"))?;
        let profile = item.from.first().ok_or_else(|| lost("profile for it"))?;
        let profile = self
            .profile(profile)?
            .ok_or_else(|| lost("profile for it"))?;
        let file = RawFile {
            name: name.to_owned(),
            sha256: digest.clone(),
            bytes: bytes.len() as u64,
        };
        Ok((file, bytes, profile))
    }

    fn profile(&self, digest: &str) -> Result<Option<Arc<Profile>>, ProcessError> {
        let known = |profiles: &Mutex<HashMap<String, Arc<Profile>>>| {
            let map = profiles.lock().unwrap_or_else(PoisonError::into_inner);
            map.get(digest).cloned()
        };
        if let Some(profile) = known(&self.profiles) {
            return Ok(Some(profile));
        }
        let Ok(parsed) = Digest::parse(digest) else {
            return Ok(None);
        };
        let Some(bytes) = self.reader.raw(&parsed)? else {
            return Ok(None);
        };
        let text = String::from_utf8_lossy(&bytes);
        let profile = Arc::new(Profile::parse(&text)?);
        self.profiles
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .insert(digest.to_owned(), Arc::clone(&profile));
        Ok(Some(profile))
    }
}

/// Returns what went into an event and is of one kind.
fn of_kind(entry: &Entry, kind: &str) -> Vec<Item> {
    let inputs = entry.event.inputs.iter();
    inputs.filter(|i| i.kind == kind).cloned().collect()
}

/// Returns the raw files that went into an event.
pub(in crate::pipeline) fn raw_inputs(entry: &Entry) -> Vec<Item> {
    of_kind(entry, RAW_KIND)
}

fn kept(fault: Fault) -> ProcessError {
    ProcessError::Kept(Box::new(fault))
}

fn other_records(file: &str, expected: &str) -> Fault {
    Fault {
        file: file.to_owned(),
        line: None,
        column: None,
        found: "other records than the ledger says".into(),
        expected: expected.into(),
        remedy: "run `verify`; this version may read the profile differently than the one that wrote the archive".into(),
    }
}
