//! What an archive holds that claims can be judged from.

use super::super::ProcessError;
use super::super::kept::{Known, Part, each_part, rejected_runs};
use crate::archive::Reader;
use crate::compare::{Evidence, GradeRow, Origin, ResultRow};
use crate::record::Grade;
use crate::schema::{Cell, Status, Test, Unit};
use crate::table::StoredTable;
use std::collections::{BTreeMap, BTreeSet};

/// What the runs table says of a run, or of every run of a dough.
#[derive(Debug, Clone, Default)]
struct Stated {
    subsample: Option<String>,
    hydration_pct: Option<f64>,
    instrument: Option<String>,
    machine: Option<String>,
    age_d: Option<f64>,
    rest_min: Option<f64>,
}

/// Adds everything in force in the archive of `reader` to `evidence`.
///
/// A result is left out, with its reason, where somebody excluded its run, a rule of reject level
/// stands against it, or its raw file came again with other bytes.
///
/// # Errors
/// [`ProcessError`] when the archive cannot be read.
pub(super) fn add_archive(
    evidence: &mut Evidence,
    reader: &Reader,
    known: &Known,
) -> Result<(), ProcessError> {
    let rejected = rejected_runs(reader)?;
    let latest: BTreeSet<&str> = known.latest_digests().collect();
    let mut parts = Vec::new();
    each_part(reader, known, |part| {
        parts.push(part);
        Ok(())
    })?;
    let mut runs: BTreeMap<(String, String), Stated> = BTreeMap::new();
    let mut doughs: BTreeMap<String, Stated> = BTreeMap::new();
    for table in parts.iter().filter_map(|part| part.runs.as_ref()) {
        for row in &table.rows {
            let stated = stated(table, row);
            let key = (of(table, row, "run_id"), of(table, row, "raw_sha256"));
            if let Some(batch) = text(table, row, "batch_id") {
                let dough = doughs.entry(batch).or_default();
                dough.hydration_pct = dough.hydration_pct.or(stated.hydration_pct);
                dough.machine = dough.machine.take().or_else(|| stated.machine.clone());
            }
            runs.insert(key, stated);
        }
    }
    let mut run_of: BTreeMap<String, (String, String)> = BTreeMap::new();
    for table in parts.iter().filter_map(|part| part.results.as_ref()) {
        for row in &table.rows {
            let key = (of(table, row, "run_id"), of(table, row, "raw_sha256"));
            run_of.insert(of(table, row, "result_id"), key);
        }
    }
    let desk = Desk {
        run_of,
        runs,
        doughs,
        rejected,
        latest,
    };
    let mut seen = BTreeSet::new();
    for part in &parts {
        desk.add_part(evidence, part, &mut seen);
    }
    Ok(())
}

struct Desk<'a> {
    /// Run and raw file of each result.
    run_of: BTreeMap<String, (String, String)>,
    runs: BTreeMap<(String, String), Stated>,
    doughs: BTreeMap<String, Stated>,
    /// By digest of the raw file and run: the rule that rejects it.
    rejected: BTreeMap<(String, String), String>,
    latest: BTreeSet<&'a str>,
}

impl Desk<'_> {
    fn add_part(&self, evidence: &mut Evidence, part: &Part, seen: &mut BTreeSet<(String, i64)>) {
        for table in part.results.iter() {
            let rows = table.rows.iter();
            evidence
                .results
                .extend(rows.filter_map(|row| self.result(table, row)));
        }
        for table in part.observations.iter() {
            for row in &table.rows {
                // The same sheet taken in twice is one sheet.
                let key = (
                    of(table, row, "raw_sha256"),
                    table.integer(row, "row").unwrap_or(0),
                );
                if seen.insert(key) {
                    evidence.grades.extend(self.grade(table, row));
                }
            }
        }
    }

    fn result(&self, table: &StoredTable, row: &[Cell]) -> Option<ResultRow> {
        let key = (of(table, row, "run_id"), of(table, row, "raw_sha256"));
        let status = Status::parse(table.text(row, "status"))?;
        let batch = text(table, row, "batch_id");
        let own = self.runs.get(&key);
        let dough = batch.as_ref().and_then(|batch| self.doughs.get(batch));
        let excluded = match (self.rejecting_rule(table, row, &key), status) {
            _ if !self.latest.contains(key.1.as_str()) => {
                Some("its raw file came again with other bytes".to_owned())
            }
            (_, Status::Rejected) => Some(of(table, row, "reason")),
            (Some(rule), _) => Some(format!("rule {rule} rejects it")),
            _ => None,
        };
        Some(ResultRow {
            result_id: of(table, row, "result_id"),
            metric: of(table, row, "metric"),
            variant: of(table, row, "variant"),
            status,
            value: table.number(row, "value"),
            low: table.number(row, "low"),
            high: table.number(row, "high"),
            std_uncertainty: table.number(row, "std_uncertainty"),
            unit: Unit::parse(table.text(row, "unit")).ok()?,
            test: Test::parse(table.text(row, "test"))?,
            run_id: key.0,
            origin: Origin {
                sample: text(table, row, "sample_id"),
                batch,
                treatment: text(table, row, "treatment"),
                block: text(table, row, "block"),
                replicate: text(table, row, "replicate"),
                subsample: own.and_then(|s| s.subsample.clone()),
                hydration_pct: own
                    .and_then(|s| s.hydration_pct)
                    .or(dough.and_then(|s| s.hydration_pct)),
                instrument: own.and_then(|s| s.instrument.clone()),
                machine: own
                    .and_then(|s| s.machine.clone())
                    .or(dough.and_then(|s| s.machine.clone())),
            },
            age_d: own.and_then(|s| s.age_d),
            rest_min: own.and_then(|s| s.rest_min),
            parameters: of(table, row, "parameters"),
            excluded,
        })
    }

    /// Returns the rule that rejects the run of a result, or a run that it was computed from.
    fn rejecting_rule(
        &self,
        table: &StoredTable,
        row: &[Cell],
        (run, raw): &(String, String),
    ) -> Option<String> {
        let rule_of = |run: &str, raw: &str| {
            let key = (raw.to_owned(), run.to_owned());
            self.rejected.get(&key).cloned()
        };
        let mut upstream = table.text(row, "from_results").split_whitespace();
        rule_of(run, raw).or_else(|| {
            upstream.find_map(|id| {
                let (run, raw) = self.run_of.get(id)?;
                Some(format!("{} (run {run})", rule_of(run, raw)?))
            })
        })
    }

    fn grade(&self, table: &StoredTable, row: &[Cell]) -> Option<GradeRow> {
        let grade = Grade::parse(table.text(row, "grade"));
        let overmixed = table.cell(row, "overmixed") == &Cell::Flag(true);
        if grade.is_none() && !overmixed {
            return None;
        }
        let (digest, line) = (
            of(table, row, "raw_sha256"),
            table.integer(row, "row").unwrap_or(0),
        );
        let batch = text(table, row, "batch_id");
        let dough = batch.as_ref().and_then(|batch| self.doughs.get(batch));
        let replaced = !self.latest.contains(digest.as_str());
        Some(GradeRow {
            observation: format!("{digest}:{line}"),
            origin: Origin {
                sample: text(table, row, "sample_id"),
                treatment: text(table, row, "treatment"),
                block: text(table, row, "block"),
                replicate: text(table, row, "replicate"),
                subsample: text(table, row, "piece"),
                hydration_pct: dough.and_then(|s| s.hydration_pct),
                machine: dough.and_then(|s| s.machine.clone()),
                batch,
                ..Origin::default()
            },
            mix_time_min: table.number(row, "mix_time_min"),
            piece: of(table, row, "piece"),
            grader: of(table, row, "grader"),
            grade,
            overmixed,
            excluded: replaced.then(|| "its sheet came again with other bytes".to_owned()),
        })
    }
}

fn stated(table: &StoredTable, row: &[Cell]) -> Stated {
    Stated {
        subsample: text(table, row, "subsample").or_else(|| text(table, row, "piece")),
        hydration_pct: table.number(row, "hydration_pct"),
        instrument: text(table, row, "instrument_id"),
        machine: text(table, row, "mixer_id"),
        age_d: table.number(row, "age_d"),
        rest_min: table.number(row, "rest_min"),
    }
}

fn of(table: &StoredTable, row: &[Cell], column: &str) -> String {
    table.text(row, column).to_owned()
}

fn text(table: &StoredTable, row: &[Cell], column: &str) -> Option<String> {
    Some(of(table, row, column)).filter(|text| !text.is_empty())
}
