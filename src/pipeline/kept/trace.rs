//! From a number back to its raw bytes, and from raw bytes forth to everything that used them.

use super::super::ProcessError;
use super::super::study::CLAIM_KIND;
use super::chain::{FileTrace, ResultTrace, RunTrace, Trace, result_trace, results_table, stated};
use super::from_results::claims_told;
use super::known::{
    Amendment, GRADING_KIND, GROUP_KIND, Known, RAW_KIND, REPORT_KIND, RUN_KIND, ReportLine,
    RunLine, instrument_key,
};
use super::replay::{Replay, raw_inputs};
use crate::archive::{Action, Entry, Item, Reader};
use crate::intake;
use crate::schema::Digest;
use std::collections::BTreeMap;

/// Traces `asked`: a result or the beginning of its identifier (8 digits or more), a run, the name
/// or digest of a kept file, a report, an instrument.
///
/// # Errors
/// [`ProcessError::Request`] when nothing, or more than one thing, is called so.
pub fn trace(reader: &Reader, asked: &str, show_rows: bool) -> Result<Trace, ProcessError> {
    let mut tracer = Tracer::new(reader, show_rows);
    let mut id = asked.to_owned();
    let mut entries = tracer.mentions(&id)?;
    if entries.is_empty() {
        id = resolve(&Known::load(reader)?, asked)?;
        entries = tracer.mentions(&id)?;
    }
    tracer.trace_entries(asked, &id, &entries)
}

/// Returns whether an item is a run, a group of runs, or the gradings of a sheet.
fn is_unit(item: &Item) -> bool {
    [RUN_KIND, GRADING_KIND, GROUP_KIND].contains(&item.kind.as_str())
}

pub(super) fn runs_holding<'e>(entry: &'e Entry, result: &str) -> Vec<&'e Item> {
    let runs = entry.event.outputs.iter().filter(|i| is_unit(i));
    runs.filter(|i| i.holds.iter().any(|held| held == result))
        .collect()
}

/// Returns the full identifier of what `asked` means.
fn resolve(known: &Known, asked: &str) -> Result<String, ProcessError> {
    let mut found: Vec<String> = Vec::new();
    let is_prefix = asked.len() >= 8 && asked.bytes().all(|b| b.is_ascii_hexdigit());
    let lower = asked.to_ascii_lowercase();
    let mut offer = |id: &str| {
        if !found.iter().any(|f| f == id) {
            found.push(id.to_owned());
        }
    };
    if is_prefix {
        for line in &known.runs {
            let ids = line.results.iter().chain([&line.key]);
            ids.filter(|id| id.starts_with(&lower))
                .for_each(|id| offer(id));
        }
        let reports = known.reports.iter().map(|report| report.id.as_str());
        let reports = reports.chain(known.claims.iter().map(String::as_str));
        let digests = known.versions.values().map(Digest::as_str);
        for id in reports.chain(digests).filter(|id| id.starts_with(&lower)) {
            offer(id);
        }
    }
    for name in known.versions.keys() {
        if name.ends_with(&format!("/{asked}")) {
            offer(name);
        }
    }
    if known
        .calibrations
        .iter()
        .any(|c| c.instrument.as_str() == asked)
    {
        offer(&instrument_key(asked));
    }
    match found.as_slice() {
        [] => Err(ProcessError::Request(format!(
            "nothing in this archive is called `{asked}`; give a result (or 8 digits of it or more), a run, the name or SHA-256 of a raw file, a report or a chart's PNG or SVG file"
        ))),
        [one] => Ok(one.clone()),
        many => Err(ProcessError::Request(format!(
            "`{asked}` may mean {} things: {}; give more of the one you mean",
            many.len(),
            many.iter().take(8).cloned().collect::<Vec<_>>().join(", ")
        ))),
    }
}

pub(super) struct Tracer<'a> {
    reader: &'a Reader,
    show_rows: bool,
    /// Events looked at so far, by line.
    entries: BTreeMap<u64, Entry>,
}

impl<'a> Tracer<'a> {
    pub(super) fn new(reader: &'a Reader, show_rows: bool) -> Tracer<'a> {
        Tracer {
            reader,
            show_rows,
            entries: BTreeMap::new(),
        }
    }

    /// Returns the events that tell of `id`, and remembers them.
    pub(super) fn mentions(&mut self, id: &str) -> Result<Vec<Entry>, ProcessError> {
        let mut found = Vec::new();
        for mention in self.reader.find(id)? {
            self.entries
                .insert(mention.entry.seq, mention.entry.clone());
            found.push(mention.entry);
        }
        Ok(found)
    }

    fn trace_entries(
        &mut self,
        asked: &str,
        id: &str,
        entries: &[Entry],
    ) -> Result<Trace, ProcessError> {
        let is = |item: &Item| {
            item.id.as_deref() == Some(id)
                || item.name.as_deref() == Some(id)
                || item.digest.as_ref().is_some_and(|d| d.as_str() == id)
        };
        let mut runs = Vec::new();
        let mut kind = "";
        for entry in entries {
            for item in runs_holding(entry, id) {
                kind = "result";
                let key = item.id.clone().unwrap_or_default();
                runs.extend(self.run(&key, Some(entry.seq), Some(&[id.to_owned()]))?);
            }
        }
        if kind.is_empty() {
            let outputs: Vec<&Item> = entries.iter().flat_map(|e| &e.event.outputs).collect();
            let of_kind = |kind: &str| outputs.iter().copied().find(|i| i.kind == kind && is(i));
            if [RUN_KIND, GRADING_KIND, GROUP_KIND]
                .iter()
                .any(|kind| of_kind(kind).is_some())
            {
                kind = "run";
                for key in distinct(outputs.iter().copied().filter(|i| is_unit(i) && is(i))) {
                    runs.extend(self.run(&key, None, None)?);
                }
            } else if of_kind(CLAIM_KIND).is_some() {
                kind = "claim";
                runs.extend(self.runs_behind_claim(id)?);
            } else if let Some(report) = of_kind(REPORT_KIND) {
                kind = "report";
                for key in report.from.clone() {
                    runs.extend(self.run(&key, None, None)?);
                    // The report of a study is made from claims, and they from results.
                    runs.extend(self.runs_behind_claim(&key)?);
                }
            } else {
                kind = self.trace_sources(entries, id, &mut runs)?;
            }
        }
        let mut trace = self.finish(asked, kind, runs);
        trace.claims = claims_told(entries, id);
        Ok(trace)
    }

    /// Traces from a kept file or an instrument to the runs that used it.
    fn trace_sources(
        &mut self,
        entries: &[Entry],
        id: &str,
        runs: &mut Vec<RunTrace>,
    ) -> Result<&'static str, ProcessError> {
        let mut sources = vec![id.to_owned()];
        let mut kind = "raw-file";
        for entry in entries {
            let items = entry.event.outputs.iter().chain(&entry.event.inputs);
            for item in items.filter(|i| i.name.as_deref() == Some(id)) {
                sources.extend(item.digest.iter().map(ToString::to_string));
            }
            if entry.event.action == Action::Calibrate {
                kind = "certificate";
                sources.extend(entry.event.inputs.iter().filter_map(|i| i.id.clone()));
            }
        }
        sources.sort();
        sources.dedup();
        let mut keys = Vec::new();
        for source in &sources {
            for entry in self.mentions(source)? {
                let runs = entry.event.outputs.iter().filter(|i| is_unit(i));
                keys.extend(distinct(runs.filter(|i| i.from.contains(source))));
            }
        }
        keys.sort();
        keys.dedup();
        for key in &keys {
            runs.extend(self.run(key, None, None)?);
        }
        Ok(kind)
    }

    /// Returns the chain of a run: of its record on line `seq`, or of the ones in force.
    pub(super) fn run(
        &mut self,
        key: &str,
        seq: Option<u64>,
        results: Option<&[String]>,
    ) -> Result<Vec<RunTrace>, ProcessError> {
        let own = self.mentions(key)?;
        let mut known = Known::of(&own);
        known.runs.retain(|line| line.key == key);
        let lines: Vec<RunLine> = known
            .runs
            .iter()
            .filter(|line| match seq {
                Some(seq) => line.seq == seq,
                None => known.superseded_by(line).is_none(),
            })
            .cloned()
            .collect();
        let mut traced = Vec::new();
        for line in lines {
            if let Some(entry) = own.iter().find(|e| e.seq == line.seq) {
                traced.extend(self.record(&known, &line, entry, results)?);
            }
        }
        Ok(traced)
    }

    fn record(
        &mut self,
        known: &Known,
        line: &RunLine,
        entry: &Entry,
        wanted: Option<&[String]>,
    ) -> Result<Option<RunTrace>, ProcessError> {
        let replay = Replay::new(self.reader, known);
        let recipe = Replay::recipe(entry);
        let raw_item = raw_inputs(entry)
            .into_iter()
            .find(|item| item.digest.as_ref() == Some(&line.raw));
        let Some(raw_item) = raw_item else {
            return Ok(None);
        };
        let superseded_by = known.superseded_by(line);
        let mut results = self.results(entry, line, wanted)?;
        self.link_successors(&mut results, superseded_by, &line.key)?;
        let (file, bytes, profile) = replay.open(&raw_item, &recipe)?;
        for result in results.iter_mut().filter(|_| self.show_rows) {
            if let Some(rows) = result.rows {
                result.raw_lines = intake::raw_lines(&file.name, &bytes, &profile, rows)
                    .map_err(|fault| ProcessError::Kept(Box::new(fault)))?;
            }
        }
        let made = match line.gradings {
            true => None,
            false => {
                let sheets = replay.sheets(&recipe)?;
                let runs = replay.runs(&raw_item, &recipe, &sheets, entry.seq)?;
                runs.into_iter().find(|made| made.key == line.key)
            }
        };
        let raw = self.received(&raw_item, &line.raw)?;
        let record = made.as_ref().map(|made| &made.record);
        let instrument = record.and_then(|r| r.conditions.instrument_id.as_ref());
        let calibrations = match instrument {
            Some(instrument) => {
                let told = self.mentions(&instrument_key(instrument.as_str()))?;
                Known::of(&told).calibrations
            }
            None => Vec::new(),
        };
        let amendments = known.amendments.iter();
        let amendments: Vec<String> = amendments
            .filter(|a: &&Amendment| a.runs.contains(&line.key))
            .map(|a| a.words(&line.key))
            .collect();
        Ok(Some(RunTrace {
            run: line.name.clone(),
            key: line.key.clone(),
            superseded_by,
            raw,
            curve: record.map(|r| r.selector.clone()).unwrap_or_default(),
            curve_sha256: made.as_ref().map(|made| made.run.curve_digest()),
            rows: record.map(|r| r.rows),
            profile: profile.id.clone(),
            profile_sha256: profile.digest.clone(),
            stated: record.map(stated).unwrap_or_default(),
            amendments,
            excluded: record.and_then(|r| r.excluded.clone()),
            calibrations,
            reviews: known
                .reviews
                .iter()
                .filter(|review| review.id == line.key)
                .cloned()
                .collect(),
            results,
            reports: reports_of(known, line),
            record: line.clone(),
        }))
    }

    /// Returns the kept rows of a run's results.
    fn results(
        &self,
        entry: &Entry,
        line: &RunLine,
        wanted: Option<&[String]>,
    ) -> Result<Vec<ResultTrace>, ProcessError> {
        let Some(table) = results_table(self.reader, entry)? else {
            return Ok(Vec::new());
        };
        let ids = line.results.iter();
        let ids: Vec<&String> = ids
            .filter(|id| wanted.is_none_or(|wanted| wanted.contains(id)))
            .collect();
        let mut found = Vec::new();
        for row in &table.rows {
            if ids
                .iter()
                .any(|id| table.text(row, "result_id") == id.as_str())
            {
                found.push(result_trace(&table, row));
            }
        }
        Ok(found)
    }

    /// Names, for each result, the one that takes its place.
    fn link_successors(
        &self,
        results: &mut [ResultTrace],
        later: Option<u64>,
        key: &str,
    ) -> Result<(), ProcessError> {
        let Some(entry) = later.and_then(|seq| self.entries.get(&seq)) else {
            return Ok(());
        };
        let Some(table) = results_table(self.reader, entry)? else {
            return Ok(());
        };
        let held: Vec<&String> = entry
            .event
            .outputs
            .iter()
            .filter(|item| item.id.as_deref() == Some(key))
            .flat_map(|item| &item.holds)
            .collect();
        for result in results {
            let row = table.rows.iter().find(|row| {
                table.text(row, "metric") == result.metric
                    && table.text(row, "variant") == result.variant
                    && held
                        .iter()
                        .any(|id| table.text(row, "result_id") == id.as_str())
            });
            result.superseded_by = row.map(|row| table.text(row, "result_id").to_owned());
        }
        Ok(())
    }

    fn received(&mut self, item: &Item, digest: &Digest) -> Result<FileTrace, ProcessError> {
        let entries = self.mentions(digest.as_str())?;
        let mut found = FileTrace {
            name: item.name.clone().unwrap_or_default(),
            sha256: digest.clone(),
            bytes: item.bytes.unwrap_or(0),
            received: String::new(),
            who: String::new(),
            seq: 0,
        };
        for entry in &entries {
            let kept = entry.event.outputs.iter().any(|output| {
                output.kind == RAW_KIND
                    && output.digest.as_ref() == Some(digest)
                    && output.name == item.name
            });
            if kept {
                found.received.clone_from(&entry.event.when);
                found.who.clone_from(&entry.event.who);
                found.seq = entry.seq;
                break;
            }
        }
        Ok(found)
    }

    pub(super) fn finish(&self, asked: &str, kind: &'static str, runs: Vec<RunTrace>) -> Trace {
        let mut reports: Vec<ReportLine> = Vec::new();
        let mut files: Vec<FileTrace> = Vec::new();
        let known = Known::of(&self.entries.values().cloned().collect::<Vec<_>>());
        for report in runs.iter().flat_map(|run| &run.reports) {
            if !reports.iter().any(|r| r.seq == report.seq) {
                reports.push(report.clone());
            }
        }
        if kind == "report" {
            reports.retain(|report| report.id == asked || report.id.starts_with(asked));
        }
        for entry in self.entries.values() {
            for item in entry.event.outputs.iter().filter(|i| i.kind == RAW_KIND) {
                let digest = item.digest.as_ref();
                let named = item
                    .name
                    .as_deref()
                    .is_some_and(|n| n == asked || n.ends_with(&format!("/{asked}")));
                let by_digest =
                    digest.is_some_and(|d| asked.len() >= 8 && d.as_str().starts_with(asked));
                if let (Some(digest), true) = (digest, named || by_digest) {
                    files.push(FileTrace {
                        name: item.name.clone().unwrap_or_default(),
                        sha256: digest.clone(),
                        bytes: item.bytes.unwrap_or(0),
                        received: entry.event.when.clone(),
                        who: entry.event.who.clone(),
                        seq: entry.seq,
                    });
                }
            }
        }
        let calibrations = match kind {
            "certificate" => known.calibrations,
            _ => Vec::new(),
        };
        Trace {
            asked: asked.to_owned(),
            kind,
            runs,
            files,
            reports,
            claims: Vec::new(),
            calibrations,
        }
    }
}

fn distinct<'i>(items: impl Iterator<Item = &'i Item>) -> Vec<String> {
    let mut keys: Vec<String> = items.filter_map(|item| item.id.clone()).collect();
    keys.sort();
    keys.dedup();
    keys
}

/// Returns the reports that print a run the way `line` has it: those made while it was in force.
fn reports_of(known: &Known, line: &RunLine) -> Vec<ReportLine> {
    let until = known.superseded_by(line).unwrap_or(u64::MAX);
    known
        .reports
        .iter()
        .filter(|report| report.runs.contains(&line.key))
        .filter(|report| line.seq < report.seq && report.seq < until)
        .cloned()
        .collect()
}
