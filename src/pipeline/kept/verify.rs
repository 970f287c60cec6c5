//! Proof that every number is still what the archive's originals give.

use super::super::ProcessError;
use super::chain::{card_of, segment};
use super::known::{GRADING_KIND, GROUP_KIND, Known, RUN_KIND};
use super::place::platform;
use super::replay::{Replay, Replayed, raw_inputs};
use crate::archive::{
    Action, Archive, ChainReport, Entry, Item, Reader, VerifyOptions, verify_chain,
};
use crate::record::tables::{RESULTS, RUNS};
use crate::record::{MetricResult, RunRecord};
use crate::schema::{Cell, RunId, Table};
use crate::table::{StoredTable, cells_of};
use rayon::prelude::*;
use serde::Serialize;
use std::collections::BTreeMap;

/// A number that is not what the originals give, or that cannot be computed by this version.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Miss {
    /// Ledger line.
    pub seq: u64,
    /// Run.
    pub run: String,
    /// Result, where it is one.
    pub result: String,
    /// What is wrong, or why it cannot be computed.
    pub words: String,
}

impl std::fmt::Display for Miss {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "ledger line {}, run {}", self.seq, self.run)?;
        if !self.result.is_empty() {
            write!(f, ", result {}", self.result)?;
        }
        write!(f, ": {}", self.words)
    }
}

/// What was found when everything was computed again.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Recomputed {
    /// Records of runs looked at.
    pub runs: usize,
    /// Results looked at.
    pub results: usize,
    /// Results that came out bit for bit.
    pub bit_for_bit: usize,
    /// Results of another version or platform that came out within the declared decimals.
    pub within_decimals: usize,
    /// Results that this version cannot compute: older revision, other parameters.
    pub not_recomputable: Vec<Miss>,
    /// Results that came out otherwise.
    pub failures: Vec<Miss>,
}

impl Recomputed {
    fn add(&mut self, other: Recomputed) {
        self.runs += other.runs;
        self.results += other.results;
        self.bit_for_bit += other.bit_for_bit;
        self.within_decimals += other.within_decimals;
        self.not_recomputable.extend(other.not_recomputable);
        self.failures.extend(other.failures);
    }
}

/// What verification of a whole archive found.
#[derive(Debug, Serialize)]
pub struct Verified {
    /// Bytes and chain.
    pub chain: ChainReport,
    /// Numbers.
    pub recomputed: Recomputed,
}

impl Verified {
    /// Returns whether everything holds.
    pub fn holds(&self) -> bool {
        self.chain.verified() && self.recomputed.failures.is_empty()
    }
}

/// Verifies bytes and chain, then computes every result again from the kept originals, with the
/// recorded profile, run sheets and the corrections before it, and compares.
///
/// # Errors
/// [`ProcessError`] when there is no archive or it cannot be read at all.
pub fn verify(archive: &Archive, options: &VerifyOptions) -> Result<Verified, ProcessError> {
    let chain = verify_chain(archive, options)?;
    let reader = archive.read()?;
    let mut known = Known::default();
    let mut derived: Vec<Entry> = Vec::new();
    let mut recomputed = Recomputed::default();
    // A broken line is among the chain's failures; what stands before it is computed all the same.
    for entry in reader.events()?.map_while(Result::ok) {
        known.learn(&entry);
        if entry.event.action == Action::Derive {
            derived.push(entry);
        }
    }
    let replay = Replay::new(&reader, &known);
    for entry in &derived {
        match recompute(&reader, &replay, entry) {
            Ok(found) => recomputed.add(found),
            Err(error) => recomputed.failures.push(Miss {
                seq: entry.seq,
                run: "all".to_owned(),
                result: String::new(),
                words: error.to_string(),
            }),
        }
    }
    Ok(Verified { chain, recomputed })
}

/// The runs that an event has of a file, and what its bytes give now.
type MadeOfFile<'e> = (Vec<&'e Item>, Result<Vec<Replayed>, ProcessError>);

fn recompute(
    reader: &Reader,
    replay: &Replay<'_>,
    entry: &Entry,
) -> Result<Recomputed, ProcessError> {
    let recipe = Replay::recipe(entry);
    let sheets = replay.sheets(&recipe)?;
    let runs: Vec<&Item> = entry
        .event
        .outputs
        .iter()
        .filter(|item| item.kind == RUN_KIND)
        .collect();
    // The table engine works outside the thread pool.
    let stored = [
        segment(reader, entry, RESULTS.name)?,
        segment(reader, entry, RUNS.name)?,
    ];
    let files = raw_inputs(entry);
    let made: Vec<MadeOfFile<'_>> = files
        .par_iter()
        .filter_map(|file| {
            let digest = file.digest.as_ref()?;
            let of_file: Vec<&Item> = runs
                .iter()
                .copied()
                .filter(|run| run.from.first().is_some_and(|d| d == digest.as_str()))
                .collect();
            // A file with observations alone has no numbers of ours.
            (!of_file.is_empty()).then(|| {
                let made = replay.runs(file, &recipe, &sheets, entry.seq);
                (of_file, made)
            })
        })
        .collect();
    let same_version = entry.event.tool == super::super::plan::software()
        && entry
            .event
            .parameters
            .get("platform")
            .and_then(|p| p.as_str())
            == Some(platform().as_str());
    let judge = Judge {
        seq: entry.seq,
        same_version,
        results: rows_by_run(stored[0].as_ref()),
        runs: rows_by_run(stored[1].as_ref()),
    };
    let mut found = Recomputed::default();
    let gradings = entry.event.outputs.iter();
    let gradings: Vec<&Item> = gradings.filter(|i| i.kind == GRADING_KIND).collect();
    if !gradings.is_empty() {
        let made = replay.gradings(entry, &recipe)?;
        for item in gradings {
            judge.compare_results(&mut found, item, &made.results, None);
        }
    }
    let groups = entry.event.outputs.iter();
    let groups: Vec<&Item> = groups.filter(|i| i.kind == GROUP_KIND).collect();
    if !groups.is_empty() {
        let made = replay.groups(entry, &recipe, &sheets)?;
        let results: Vec<MetricResult> = made.into_iter().flat_map(|g| g.results).collect();
        for item in groups {
            judge.compare_results(&mut found, item, &results, None);
        }
    }
    for (items, made) in made {
        let made = match made {
            Ok(made) => made,
            Err(error) => {
                for item in items {
                    judge.miss(&mut found, item, "", error.to_string());
                }
                continue;
            }
        };
        for item in items {
            match made.iter().find(|m| Some(&m.key) == item.id.as_ref()) {
                Some(made) => judge.compare(&mut found, item, &made.record),
                None => judge.miss(
                    &mut found,
                    item,
                    "",
                    "the raw file no longer gives this curve".into(),
                ),
            }
        }
    }
    Ok(found)
}

type Rows<'t> = BTreeMap<&'t str, Vec<(&'t StoredTable, &'t [Cell])>>;

fn rows_by_run(table: Option<&StoredTable>) -> Rows<'_> {
    let mut rows: Rows<'_> = BTreeMap::new();
    for row in table.iter().flat_map(|t| &t.rows) {
        if let Some(table) = table {
            let run = table.text(row, "run_id");
            rows.entry(run).or_default().push((table, row));
        }
    }
    rows
}

struct Judge<'t> {
    seq: u64,
    same_version: bool,
    results: Rows<'t>,
    runs: Rows<'t>,
}

impl Judge<'_> {
    fn miss(&self, found: &mut Recomputed, item: &Item, result: &str, words: String) {
        found.failures.push(self.told(item, result, words));
    }

    fn told(&self, item: &Item, result: &str, words: String) -> Miss {
        Miss {
            seq: self.seq,
            run: item.name.clone().unwrap_or_default(),
            result: result.to_owned(),
            words,
        }
    }

    fn compare(&self, found: &mut Recomputed, item: &Item, record: &RunRecord) {
        found.runs += 1;
        let mut record = record.clone();
        // The day may have given the run a name of its own.
        let name = item.name.clone().unwrap_or_default();
        if let Ok(id) = RunId::new(&name) {
            for result in &mut record.results {
                result.run_id = id.clone();
            }
            record.id = id;
        }
        self.compare_results(found, item, &record.results, Some(&name));
        self.compare_run(found, item, &record, &name);
    }

    /// Compares the results that an item holds with those that came out now.
    fn compare_results(
        &self,
        found: &mut Recomputed,
        item: &Item,
        made: &[MetricResult],
        name: Option<&str>,
    ) {
        let stored = self.results.iter();
        let held: Vec<_> = stored
            .filter(|(run, _)| name.is_none_or(|name| name == **run))
            .flat_map(|(_, rows)| rows)
            .filter(|(t, row)| item.holds.iter().any(|id| id == t.text(row, "result_id")))
            .collect();
        for id in &item.holds {
            if !held.iter().any(|(t, row)| t.text(row, "result_id") == id) {
                let words = "the kept table has no such row".to_owned();
                self.miss(found, item, id, words);
            }
        }
        for (table, row) in held {
            self.compare_result(found, item, made, (table, row));
        }
    }

    fn compare_run(&self, found: &mut Recomputed, item: &Item, record: &RunRecord, name: &str) {
        if !self.same_version {
            return;
        }
        let rows = self.runs.get(name).into_iter().flatten();
        let row = rows.into_iter().find(|(t, row)| {
            t.text(row, "raw_sha256") == record.file.sha256.as_str()
                && t.text(row, "curve") == record.selector
        });
        match row {
            None => {
                let words = "the kept table of runs has no such row".to_owned();
                self.miss(found, item, "", words);
            }
            Some((table, row)) => {
                if let Some(column) = first_difference(&RUNS, record, table, row) {
                    let words = format!("column `{column}` of the runs table came out otherwise");
                    self.miss(found, item, "", words);
                }
            }
        }
    }

    fn compare_result(
        &self,
        found: &mut Recomputed,
        item: &Item,
        results: &[MetricResult],
        (table, row): (&StoredTable, &[Cell]),
    ) {
        found.results += 1;
        let text = |column: &str| table.text(row, column);
        let (id, metric) = (text("result_id"), text("metric"));
        let revision = table.integer(row, "revision").unwrap_or(0);
        let reason = match card_of(metric) {
            None => Some(format!("this version has no metric `{metric}`")),
            Some(card) if i64::from(card.revision) != revision => Some(format!(
                "{metric} has revision {} in this version, the result has {revision}",
                card.revision
            )),
            Some(_) => None,
        };
        if let Some(words) = reason {
            found.not_recomputable.push(self.told(item, id, words));
            return;
        }
        let made = results
            .iter()
            .filter(|r| r.metric.id == metric && r.variant == text("variant"))
            .find(|r| r.run_id.as_str() == text("run_id"));
        let Some(made) = made else {
            self.miss(found, item, id, format!("{metric} no longer comes out"));
            return;
        };
        let differs = first_difference(&RESULTS, made, table, row);
        match differs {
            None => found.bit_for_bit += 1,
            Some(column) if self.same_version => {
                let words = format!("{metric}: column `{column}` came out otherwise");
                self.miss(found, item, id, words);
            }
            Some(_) if made.parameters != text("parameters") && made.id.as_str() != id => {
                let words = format!(
                    "{metric} was computed with `{}`, this version computes with `{}`",
                    text("parameters"),
                    made.parameters
                );
                found.not_recomputable.push(self.told(item, id, words));
            }
            Some(column) => {
                let decimals = i32::from(made.metric.decimals);
                let step = 10f64.powi(-decimals);
                let value = (table.number(row, "value"), made.outcome.value_or_bound());
                let near = match value {
                    (Some(a), Some(b)) => (a - b).abs() <= step,
                    (a, b) => a.is_none() && b.is_none(),
                };
                if made.id.as_str() == id && near && made.outcome.status().word() == text("status")
                {
                    found.within_decimals += 1;
                } else {
                    let words = format!("{metric}: column `{column}` came out otherwise");
                    self.miss(found, item, id, words);
                }
            }
        }
    }
}

/// Returns the first column in which a record differs from its kept row, number by number to the
/// last bit.
fn first_difference<R>(
    declared: &Table<R>,
    record: &R,
    table: &StoredTable,
    row: &[Cell],
) -> Option<String> {
    let made = cells_of(declared, record);
    declared
        .columns
        .iter()
        .zip(made)
        .find(|(column, made)| !same(made, table.cell(row, column.name)))
        .map(|(column, _)| column.name.to_owned())
}

fn same(a: &Cell, b: &Cell) -> bool {
    match (a, b) {
        (Cell::Number(a), Cell::Number(b)) => a.to_bits() == b.to_bits(),
        _ => a == b,
    }
}
