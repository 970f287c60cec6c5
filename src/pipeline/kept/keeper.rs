//! What one command writes into the archive: originals, then what was derived from them, then the
//! report.

use super::super::{Plan, ProcessError};
use super::known::{Known, LIMITS, PROFILES, RAW_KIND, REPORT_KIND, ReportLine, SHEET_KIND};
use super::place;
use super::unit::{KeptCounts, Received, Recipe, ReportStamp, Unit};
use crate::archive::{
    Action, Archive, Committed, Event, Head, Item, NewFile, ProfileUsed, SealKey, Stored, Writer,
};
use crate::record::tables::{FINDINGS, OBSERVATIONS, RESULTS, RUNS};
use crate::record::{
    ChangedFile, Finding, Grading, MetricResult, Observation, RunRecord, RunSheet, iso_day,
};
use crate::schema::Digest;
use crate::table;
use serde_json::{Map, Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// Runs that one event covers at most: keeps a ledger line small enough to be looked at alone.
const RUNS_PER_EVENT: usize = 256;

/// The archive, open for one command.
pub(in crate::pipeline) struct Keeper {
    writer: Writer,
    /// What the ledger says.
    pub known: Known,
    /// What came in.
    pub counts: KeptCounts,
    who: String,
    when: String,
    /// Items of the files received, by the name that the day knows.
    files: BTreeMap<String, Item>,
    profiles: BTreeSet<(String, Digest)>,
    staged: usize,
}

impl Keeper {
    /// Opens the archive in `folder` for writing, and begins it where there is none.
    pub fn open(folder: &Path, who: &str, made_at: &str) -> Result<Keeper, ProcessError> {
        let archive = Archive::at(folder);
        let when = place::ledger_time(made_at);
        let writer = archive.open_or_create(&place::owner(who, &when))?;
        let known = Known::load(&archive.read()?)?;
        Ok(Keeper {
            writer,
            known,
            counts: KeptCounts::default(),
            who: who.to_owned(),
            when,
            files: BTreeMap::new(),
            profiles: BTreeSet::new(),
            staged: 0,
        })
    }

    /// Returns the last line of the ledger.
    pub fn head(&self) -> &Head {
        self.writer.head()
    }

    /// Returns the day of the command, YYYY-MM-DD; 0000-00-00 where its time is no time.
    pub fn day(&self) -> &str {
        iso_day(&self.when).unwrap_or("0000-00-00")
    }

    /// Returns an event of this command.
    pub fn event(&self, action: Action) -> Event {
        Event::new(
            &self.when,
            &self.who,
            &super::super::plan::software(),
            action,
        )
    }

    /// Enters an event.
    pub fn commit(&mut self, event: Event, files: Vec<NewFile>) -> Result<Committed, ProcessError> {
        let committed = self.writer.commit(event, files)?;
        Ok(committed)
    }

    /// Signs the head.
    pub fn seal(&mut self, key: &SealKey) -> Result<Committed, ProcessError> {
        let event = self.event(Action::Seal);
        Ok(self.writer.seal(event, key)?)
    }

    /// Takes in a file, unless the archive has these bytes under this name; returns what it was
    /// before where it has changed.
    pub fn receive(&mut self, file: Received) -> Result<Option<ChangedFile>, ProcessError> {
        self.counts.files += 1;
        let digest = file.raw.sha256.clone();
        let mut item = Item::with_digest(RAW_KIND, &file.kept_as, &digest, file.raw.bytes);
        if let Some(profile) = file.profile {
            item = item.made_from([profile.sha256.to_string()]);
            self.profiles.insert((profile.id, profile.sha256));
        }
        self.files.insert(file.raw.name.clone(), item);
        if self.known.versions.get(&file.kept_as) == Some(&digest) {
            self.counts.files_already += 1;
            return Ok(None);
        }
        let stored = self.writer.stage(NewFile::raw(&file.kept_as, file.bytes))?;
        self.staged += 1;
        if stored.stored == Stored::AlreadyThere {
            self.counts.files_already += 1;
        }
        let Some(earlier) = self.known.versions.get(&file.kept_as).cloned() else {
            return Ok(None);
        };
        self.counts.files_changed += 1;
        Ok(Some(ChangedFile {
            name: file.raw.name,
            sha256: digest,
            earlier,
        }))
    }

    /// Enters the files received, with the profiles that read them, as far as they are new.
    pub fn commit_import(&mut self, series: &str, plan: &Plan) -> Result<(), ProcessError> {
        let mut used = Vec::new();
        for (id, digest) in std::mem::take(&mut self.profiles) {
            let name = format!("{PROFILES}{id}.toml");
            if self.known.versions.get(&name) != Some(&digest)
                && let Some(text) = plan.profile_text(&digest)
            {
                self.writer.stage(NewFile::raw(&name, text.into_bytes()))?;
                self.known.versions.insert(name, digest.clone());
                self.staged += 1;
            }
            used.push(ProfileUsed { id, digest });
        }
        if let Some(limits) = &plan.limits {
            let name = format!("{LIMITS}{}", limits.file);
            let text = &plan.limits_text;
            if self.known.versions.get(&name) != Some(&Digest::of(text.as_bytes())) {
                let bytes = text.clone().into_bytes();
                self.writer.stage(NewFile::raw(&name, bytes))?;
                self.staged += 1;
            }
        }
        if self.staged == 0 {
            return Ok(());
        }
        self.staged = 0;
        let mut event = self.event(Action::Import);
        event.profiles = used;
        event.parameters = json!({ "series": series });
        self.commit(event, Vec::new())?;
        Ok(())
    }

    /// Returns the item of a file received.
    pub fn item_of(&self, name: &str) -> Option<&Item> {
        self.files.get(name)
    }

    /// Returns the items of run sheets received.
    pub fn sheet_items(&self, sheets: &[RunSheet]) -> Vec<Item> {
        sheets
            .iter()
            .filter_map(|sheet| self.files.get(&sheet.file.name))
            .map(|item| Item {
                kind: SHEET_KIND.to_owned(),
                ..item.clone()
            })
            .collect()
    }

    /// Enters the runs and gradings whose results the archive does not have: one event for each few
    /// hundred. `files` has the item of each raw file.
    pub fn commit_units(
        &mut self,
        recipe: &Recipe,
        units: &[Unit<'_>],
        files: &BTreeMap<String, Item>,
        observations: &[&Observation],
    ) -> Result<(), ProcessError> {
        let (new, superseded) = self.compare(units);
        let runs = |units: &[&Unit<'_>]| units.iter().filter(|u| u.run.is_some()).count();
        let new_runs = runs(&new);
        self.counts.runs_new += new_runs;
        self.counts.runs_already += runs(&units.iter().collect::<Vec<_>>()) - new_runs;
        self.counts.runs_superseded += superseded.values().map(Vec::len).sum::<usize>();
        let mut observations = match self.knows_observations(observations)? {
            true => &[],
            false => observations,
        };
        let mut batches: Vec<&[&Unit<'_>]> = new.chunks(RUNS_PER_EVENT).collect();
        if batches.is_empty() && !observations.is_empty() {
            batches.push(&[]);
        }
        for batch in batches {
            self.commit_batch(recipe, batch, files, (&superseded, observations))?;
            observations = &[];
        }
        Ok(())
    }

    /// Returns whether the archive has these very observations.
    fn knows_observations(&self, observations: &[&Observation]) -> Result<bool, ProcessError> {
        if observations.is_empty() {
            return Ok(true);
        }
        let bytes = table::to_parquet(&OBSERVATIONS, observations)?;
        Ok(self.known.segments.contains(&Digest::of(&bytes)))
    }

    fn commit_batch(
        &mut self,
        recipe: &Recipe,
        units: &[&Unit<'_>],
        files: &BTreeMap<String, Item>,
        (superseded, observations): (&BTreeMap<String, Vec<u64>>, &[&Observation]),
    ) -> Result<(), ProcessError> {
        let mut event = self.event(Action::Derive);
        let of_batch: Map<String, Value> = units
            .iter()
            .filter_map(|unit| Some((unit.key.clone(), json!(superseded.get(&unit.key)?))))
            .collect();
        event.parameters = json!({
            "plan": recipe.plan,
            "platform": place::platform(),
            "strip": recipe.strip,
            "several_days": recipe.several_days,
            "supersedes": of_batch,
        });
        let mut inputs: BTreeMap<&str, Item> = BTreeMap::new();
        let mut metrics: BTreeSet<String> = BTreeSet::new();
        for unit in units {
            for name in &unit.files {
                if let Some(item) = files.get(*name) {
                    inputs.insert(name, item.clone());
                }
            }
            let used = unit.results.iter().map(|r| &r.metric);
            metrics.extend(used.map(|m| format!("{} r{}", m.id, m.revision)));
            event.outputs.push(unit.item(files, &recipe.sheets));
        }
        for observation in observations {
            if let Some(item) = files.get(&observation.file.name) {
                inputs.insert(&observation.file.name, item.clone());
            }
        }
        event.inputs = recipe.sheets.clone();
        event.inputs.extend(inputs.into_values());
        event.profiles = self.profiles_of(&event.inputs);
        event.metrics = metrics.into_iter().collect();
        let segments = self.segments(units, observations)?;
        self.commit(event, segments)?;
        Ok(())
    }

    /// Returns the profiles that the items name.
    fn profiles_of(&self, items: &[Item]) -> Vec<ProfileUsed> {
        let named: BTreeSet<&String> = items.iter().flat_map(|item| &item.from).collect();
        let mut found: Vec<ProfileUsed> = self
            .known
            .versions
            .iter()
            .filter(|(name, digest)| {
                name.starts_with(PROFILES) && named.iter().any(|n| *n == digest.as_str())
            })
            .filter_map(|(name, digest)| {
                let id = name.strip_prefix(PROFILES)?.strip_suffix(".toml")?;
                Some(ProfileUsed {
                    id: id.to_owned(),
                    digest: digest.clone(),
                })
            })
            .collect();
        found.sort_by(|a, b| a.id.cmp(&b.id));
        found
    }

    fn segments(
        &self,
        units: &[&Unit<'_>],
        observations: &[&Observation],
    ) -> Result<Vec<NewFile>, ProcessError> {
        let place = |table: &str| format!("{table}/day={}/part.parquet", self.day());
        let runs: Vec<&RunRecord> = units.iter().filter_map(|unit| unit.run).collect();
        let results: Vec<&MetricResult> = units
            .iter()
            .flat_map(|unit| unit.results.iter().copied())
            .collect();
        let mut files = Vec::new();
        if !runs.is_empty() {
            let bytes = table::to_parquet(&RUNS, &runs)?;
            files.push(NewFile::segment(&place(RUNS.name), bytes));
        }
        if !results.is_empty() {
            let bytes = table::to_parquet(&RESULTS, &results)?;
            files.push(NewFile::segment(&place(RESULTS.name), bytes));
        }
        if !observations.is_empty() {
            let bytes = table::to_parquet(&OBSERVATIONS, observations)?;
            files.push(NewFile::segment(&place(OBSERVATIONS.name), bytes));
        }
        Ok(files)
    }

    /// Returns the units whose results are not recorded, and the records that they take the place
    /// of: those of the same curve or sheet with other results.
    fn compare<'u, 'r>(
        &self,
        units: &'u [Unit<'r>],
    ) -> (Vec<&'u Unit<'r>>, BTreeMap<String, Vec<u64>>) {
        let mut recorded: BTreeMap<&str, Vec<(u64, &[String])>> = BTreeMap::new();
        for line in self.known.current() {
            let lines = recorded.entry(&line.key).or_default();
            lines.push((line.seq, &line.results));
        }
        let mut wanted: BTreeMap<&str, BTreeSet<Vec<String>>> = BTreeMap::new();
        let mut new = Vec::new();
        for unit in units {
            let ids: Vec<String> = unit.results.iter().map(|r| r.id.to_string()).collect();
            let is_recorded = recorded
                .get(unit.key.as_str())
                .is_some_and(|lines| lines.iter().any(|(_, known)| *known == ids));
            let first = wanted.entry(&unit.key).or_default().insert(ids);
            if !is_recorded && first {
                new.push(unit);
            }
        }
        let mut superseded: BTreeMap<String, Vec<u64>> = BTreeMap::new();
        for (key, sets) in wanted {
            let lines = recorded.get(key).into_iter().flatten();
            let old: Vec<u64> = lines
                .filter(|(_, ids)| !sets.contains(*ids))
                .map(|(seq, _)| *seq)
                .collect();
            if !old.is_empty() {
                superseded.insert(key.to_owned(), old);
            }
        }
        (new, superseded)
    }

    /// Enters what the rules found, unless it is what they found before.
    pub fn commit_findings(&mut self, findings: &[Finding]) -> Result<(), ProcessError> {
        let rows: Vec<&Finding> = findings.iter().collect();
        let bytes = table::to_parquet(&FINDINGS, &rows)?;
        if self.known.segments.contains(&Digest::of(&bytes)) {
            return Ok(());
        }
        let mut event = self.event(Action::Check);
        event.metrics = crate::check::rules()
            .iter()
            .map(|rule| format!("{} r{}", rule.card.id, rule.card.revision))
            .collect();
        event.inputs = self.files.values().cloned().collect();
        event.parameters = json!({ "findings": findings.len() });
        let name = format!("{}/day={}/part.parquet", FINDINGS.name, self.day());
        self.commit(event, vec![NewFile::segment(&name, bytes)])?;
        Ok(())
    }

    /// Returns the place of a report that says `content` among those of its series.
    pub fn stamp_report(&self, series: &str, content: &Digest, runs: &[&RunRecord]) -> ReportStamp {
        let id = content.short().to_owned();
        let earlier: Option<&ReportLine> = self
            .known
            .reports
            .iter()
            .rfind(|report| report.series == series);
        match earlier {
            Some(last) if last.id == id => ReportStamp {
                id,
                version: last.version,
                supersedes: last.supersedes.clone(),
                changes: self.changes_before(series, last, runs),
                known: true,
            },
            Some(last) => ReportStamp {
                id,
                version: last.version + 1,
                supersedes: Some(last.id.clone()),
                changes: self.changes_between(last.seq, u64::MAX, runs),
                known: false,
            },
            None => ReportStamp {
                id,
                version: 1,
                supersedes: None,
                changes: Vec::new(),
                known: false,
            },
        }
    }

    fn changes_before(&self, series: &str, of: &ReportLine, runs: &[&RunRecord]) -> Vec<String> {
        let mut reports = self.known.reports.iter();
        let before = reports.rfind(|r| r.series == series && r.seq < of.seq);
        before.map_or_else(Vec::new, |r| self.changes_between(r.seq, of.seq, runs))
    }

    fn changes_between(&self, after: u64, before: u64, runs: &[&RunRecord]) -> Vec<String> {
        let mut changes = Vec::new();
        for amendment in &self.known.amendments {
            if amendment.seq <= after || amendment.seq >= before {
                continue;
            }
            for run in runs {
                let key = run.key();
                if amendment.runs.contains(&key) {
                    changes.push(format!("{}: {}", run.id, amendment.words(&key)));
                }
            }
        }
        changes
    }

    /// Enters the report of a study, unless the archive has it.
    pub fn commit_study_report(
        &mut self,
        series: &str,
        page: (&str, &[u8]),
        stamp: &ReportStamp,
        claims: Vec<String>,
    ) -> Result<(), ProcessError> {
        let counts = json!({ "claims": claims.len() });
        self.enter_report(series, page, stamp, (counts, claims))
    }

    /// Enters a report, unless the archive has it.
    pub fn commit_report(
        &mut self,
        series: &str,
        page: (&str, &[u8]),
        stamp: &ReportStamp,
        (runs, gradings, groups): (&[&RunRecord], &Grading, &[Unit<'_>]),
    ) -> Result<(), ProcessError> {
        let used = runs.iter().filter(|run| run.excluded.is_none()).count();
        let counts = json!({ "runs": runs.len(), "runs_used": used });
        let of_grading = Unit::of_grading(gradings).into_iter().map(|unit| unit.key);
        let runs = runs.iter().map(|run| run.key());
        let groups = groups.iter().map(|unit| unit.key.clone());
        let from = runs.chain(of_grading).chain(groups).collect();
        self.enter_report(series, page, stamp, (counts, from))
    }

    /// Enters a report that is made `from` things of the ledger, and says how many there are.
    fn enter_report(
        &mut self,
        series: &str,
        (title, page): (&str, &[u8]),
        stamp: &ReportStamp,
        (counts, from): (Value, Vec<String>),
    ) -> Result<(), ProcessError> {
        if stamp.known {
            return Ok(());
        }
        let mut parameters = Map::new();
        let stated = [
            ("series", json!(series)),
            ("version", json!(stamp.version)),
            ("supersedes", json!(stamp.supersedes)),
            ("changes", json!(stamp.changes)),
        ];
        parameters.extend(stated.map(|(key, value)| (key.to_owned(), value)));
        if let Value::Object(counts) = counts {
            parameters.extend(counts);
        }
        parameters.insert("head_printed".to_owned(), json!(self.head()));
        let mut event = self.event(Action::Report);
        event.parameters = Value::Object(parameters);
        let (digest, bytes) = (Digest::of(page), page.len() as u64);
        let mut item = Item::with_digest(REPORT_KIND, title, &digest, bytes).made_from(from);
        item.id = Some(stamp.id.clone());
        event.outputs.push(item);
        self.commit(event, Vec::new())?;
        Ok(())
    }
}
