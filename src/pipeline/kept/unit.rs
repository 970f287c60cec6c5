//! What is handed to the archive: files, the recipe of a day, and results that belong together.

use super::known::{GRADING_KIND, GROUP_KIND, RUN_KIND, grading_key, group_key, instrument_key};
use crate::archive::Item;
use crate::record::{Day, Grading, MetricResult, ProfileStamp, RawFile, RunGroup, RunRecord};
use serde_json::Value;
use std::collections::BTreeMap;

/// A file as received.
pub(in crate::pipeline) struct Received {
    /// Name, digest and size, the name as the day knows it.
    pub raw: RawFile,
    /// Name under which it is kept.
    pub kept_as: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// The profile that read it; `None` for a file that could not be read.
    pub profile: Option<ProfileStamp>,
}

/// How runs were made out of raw files: what an event must say so that it can be done again.
#[derive(Debug, Clone)]
pub(in crate::pipeline) struct Recipe {
    /// The plan.
    pub plan: Value,
    /// Beginning of the kept names that the day's own names do not have.
    pub strip: String,
    /// Whether sheets speak only of files in their own day folder.
    pub several_days: bool,
    /// Run sheets in force, in order.
    pub sheets: Vec<Item>,
}

/// What came into the archive.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize)]
pub struct KeptCounts {
    /// Files received.
    pub files: usize,
    /// Of them, files whose very bytes were in the archive already, under this name.
    pub files_already: usize,
    /// Of them, files that came with other bytes than before.
    pub files_changed: usize,
    /// Runs whose results are new.
    pub runs_new: usize,
    /// Runs whose results were in the archive already.
    pub runs_already: usize,
    /// Records of runs that the new ones take the place of.
    pub runs_superseded: usize,
}

/// A report's place among the reports of its series.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct ReportStamp {
    /// Identifier: of what the report says, not of when it was made.
    pub id: String,
    /// Number in the series, from 1.
    pub version: u64,
    /// Identifier of the report that it takes the place of.
    pub supersedes: Option<String>,
    /// Corrections and exclusions since that one.
    pub changes: Vec<String>,
    /// Whether the archive has this report already.
    #[serde(skip)]
    pub known: bool,
}

/// What results belong together: of a run, of several runs, or of the observations of one sheet.
pub(in crate::pipeline) struct Unit<'a> {
    /// Identifier in the ledger.
    pub key: String,
    /// Name.
    pub name: String,
    /// Raw files, as the day knows them; never empty.
    pub files: Vec<&'a str>,
    /// Results.
    pub results: Vec<&'a MetricResult>,
    /// The run, where it is one.
    pub run: Option<&'a RunRecord>,
    /// The group, where it is several runs.
    pub group: Option<&'a RunGroup>,
}

impl<'a> Unit<'a> {
    /// Returns the unit of a run.
    pub fn of_run(run: &'a RunRecord) -> Unit<'a> {
        Unit {
            key: run.key(),
            name: run.id.to_string(),
            files: vec![&run.file.name],
            results: run.results.iter().collect(),
            run: Some(run),
            group: None,
        }
    }

    /// Returns the units of a day's gradings: one for each sheet.
    pub fn of_grading(grading: &'a Grading) -> Vec<Unit<'a>> {
        let mut units: Vec<Unit<'a>> = Vec::new();
        for result in &grading.results {
            let key = grading_key(&result.raw_sha256);
            match units.iter_mut().find(|unit| unit.key == key) {
                Some(unit) => unit.results.push(result),
                None => units.push(Unit {
                    key,
                    name: format!("gradings of {}", result.file),
                    files: vec![&result.file],
                    results: vec![result],
                    run: None,
                    group: None,
                }),
            }
        }
        units
    }

    /// Returns the units of the groups of the day `series`.
    pub fn of_groups(day: &'a Day, series: &str) -> Vec<Unit<'a>> {
        let runs = day.runs.iter();
        let files: BTreeMap<String, &str> = runs
            .map(|run| (run.key(), run.file.name.as_str()))
            .collect();
        let groups = day.groups.iter();
        groups
            .map(|group| {
                let members = group.members.iter();
                let mut of_group: Vec<&str> = Vec::new();
                for name in members.filter_map(|key| files.get(key)) {
                    if !of_group.contains(name) {
                        of_group.push(name);
                    }
                }
                Unit {
                    key: group_key(series, &group.name),
                    name: group.name.clone(),
                    files: of_group,
                    results: group.results.iter().collect(),
                    run: None,
                    group: Some(group),
                }
            })
            .collect()
    }

    /// Returns it as an event's output; `files` has the item of each raw file.
    pub fn item(&self, files: &BTreeMap<String, Item>, sheets: &[Item]) -> Item {
        let used = || self.files.iter().filter_map(|name| files.get(*name));
        let raw = used().filter_map(|f| f.digest.as_ref().map(ToString::to_string));
        let mut profiles: Vec<String> = used().filter_map(|f| f.from.first().cloned()).collect();
        profiles.dedup();
        let members = self.group.map_or(&[][..], |group| &group.members);
        let in_sheet = self.run.is_some_and(|run| run.in_run_sheet);
        let sheets = sheets
            .iter()
            .filter(|_| in_sheet)
            .filter_map(|sheet| sheet.digest.as_ref().map(ToString::to_string));
        let instrument = self.run.and_then(|r| r.conditions.instrument_id.as_ref());
        let instrument = instrument.map(|id| instrument_key(id.as_str()));
        let kind = match (self.run, self.group) {
            (Some(_), _) => RUN_KIND,
            (None, Some(_)) => GROUP_KIND,
            (None, None) => GRADING_KIND,
        };
        let mut item = Item::with_id(kind, &self.key)
            .holding(self.results.iter().map(|r| r.id.to_string()))
            .made_from(
                raw.chain(profiles)
                    .chain(sheets)
                    .chain(instrument)
                    .chain(members.iter().cloned()),
            );
        item.name = Some(self.name.clone());
        item
    }
}
