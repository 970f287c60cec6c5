//! What a trace tells: a number's chain from the page to the bytes.

use super::super::ProcessError;
use super::known::{ReportLine, RunLine};
use crate::archive::{Entry, Reader};
use crate::derive::METHODS;
use crate::record::tables::RESULTS;
use crate::record::{Calibration, Exclusion, Review, RowRange, RunRecord};
use crate::schema::{Cell, Digest, Field, MetricCard};
use crate::table::{self, StoredTable};
use serde::Serialize;

/// Where something comes from and where it went.
#[derive(Debug, Clone, Serialize)]
pub struct Trace {
    /// What was asked for.
    pub asked: String,
    /// What it is: `result`, `run`, `raw-file`, `report`, `chart` or `certificate`.
    pub kind: &'static str,
    /// The runs concerned, each with its chain.
    pub runs: Vec<RunTrace>,
    /// The kept files concerned.
    pub files: Vec<FileTrace>,
    /// The reports concerned.
    pub reports: Vec<ReportLine>,
    /// The claims concerned.
    pub claims: Vec<ClaimTrace>,
    /// The calibrations concerned.
    pub calibrations: Vec<Calibration>,
}

/// A claim as an event judged it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ClaimTrace {
    /// Identifier.
    pub id: String,
    /// Name in the study.
    pub name: String,
    /// Title of the study.
    pub study: String,
    /// Verdict.
    pub verdict: String,
    /// Verdict in plain words.
    pub plain: String,
    /// Ledger line.
    pub seq: u64,
    /// When.
    pub when: String,
    /// By whom.
    pub who: String,
}

/// A kept file.
#[derive(Debug, Clone, Serialize)]
pub struct FileTrace {
    /// Name.
    pub name: String,
    /// SHA-256.
    pub sha256: Digest,
    /// Size.
    pub bytes: u64,
    /// When it was taken in.
    pub received: String,
    /// By whom.
    pub who: String,
    /// Ledger line.
    pub seq: u64,
}

/// A stated fact.
#[derive(Debug, Clone, Serialize)]
pub struct Stated {
    /// Field.
    pub field: &'static str,
    /// Value.
    pub value: String,
    /// Where it was stated.
    pub origin: String,
    /// Whether it is in force.
    pub in_force: bool,
    /// Whether it says what the one in force says.
    pub agrees: bool,
}

/// The chain of one record of a run.
#[derive(Debug, Clone, Serialize)]
pub struct RunTrace {
    /// Name of the run.
    pub run: String,
    /// Identifier in the archive.
    pub key: String,
    /// The record: ledger line, when, who, software.
    pub record: RunLine,
    /// Ledger line whose record takes the place of this one.
    pub superseded_by: Option<u64>,
    /// Raw file.
    pub raw: FileTrace,
    /// Which curve of the file; empty for the only one.
    pub curve: String,
    /// SHA-256 that stands for the curve; none for gradings.
    pub curve_sha256: Option<Digest>,
    /// Lines read; none for gradings.
    pub rows: Option<RowRange>,
    /// Import profile.
    pub profile: String,
    /// SHA-256 of the profile's text.
    pub profile_sha256: Digest,
    /// Every statement about it, with its place: file, run sheet, profile, correction.
    pub stated: Vec<Stated>,
    /// Corrections and exclusions, as words.
    pub amendments: Vec<String>,
    /// The exclusion in force for this record.
    pub excluded: Option<Exclusion>,
    /// Calibrations of its instrument.
    pub calibrations: Vec<Calibration>,
    /// Reviews of the run.
    pub reviews: Vec<Review>,
    /// Results: those asked for, or all.
    pub results: Vec<ResultTrace>,
    /// Reports that print the run as this record has it.
    pub reports: Vec<ReportLine>,
}

/// One result, as the archive keeps it.
#[derive(Debug, Clone, Serialize)]
pub struct ResultTrace {
    /// Identifier.
    pub id: String,
    /// Metric.
    pub metric: String,
    /// Revision of its definition.
    pub revision: i64,
    /// Reading.
    pub variant: String,
    /// Definition, when this version has the same revision.
    pub definition: Option<&'static str>,
    /// Name of the metric.
    pub name: Option<&'static str>,
    /// Where the definition comes from.
    pub source: Option<String>,
    /// How it came out.
    pub status: String,
    /// Value or bound, as kept.
    pub value: Option<f64>,
    /// Decimals of the metric.
    pub decimals: Option<u8>,
    /// Value with the declared decimals.
    pub printed: Option<String>,
    /// Lower end of the interval.
    pub low: Option<f64>,
    /// Upper end of the interval.
    pub high: Option<f64>,
    /// Standard uncertainty.
    pub std_uncertainty: Option<f64>,
    /// Unit.
    pub unit: String,
    /// Why there is no value.
    pub reason: String,
    /// Parameters.
    pub parameters: String,
    /// Results it was computed from, where it was not read from the raw file itself.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub from_results: Vec<String>,
    /// Lines of the raw file it was read from.
    pub rows: Option<RowRange>,
    /// The result of the record that takes the place of this one.
    pub superseded_by: Option<String>,
    /// The lines themselves, when asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub raw_lines: Vec<(u64, String)>,
}

/// Returns the declaration of a metric.
pub(super) fn card_of(id: &str) -> Option<MetricCard> {
    METHODS
        .iter()
        .flat_map(|method| (method.card)().metrics)
        .find(|card| card.id == id)
}

/// Returns the results segment that an event made.
pub(super) fn results_table(
    reader: &Reader,
    entry: &Entry,
) -> Result<Option<StoredTable>, ProcessError> {
    segment(reader, entry, RESULTS.name)
}

/// Returns the segment of table `name` that an event made.
pub(super) fn segment(
    reader: &Reader,
    entry: &Entry,
    name: &'static str,
) -> Result<Option<StoredTable>, ProcessError> {
    let begin = format!("tables/{name}/");
    let item = entry
        .event
        .outputs
        .iter()
        .find(|item| item.path.as_deref().is_some_and(|p| p.starts_with(&begin)));
    let Some(item) = item else { return Ok(None) };
    match reader.bytes_of(item)? {
        Some(bytes) => Ok(Some(table::from_parquet(name, bytes)?)),
        None => Ok(None),
    }
}

pub(super) fn stated(record: &RunRecord) -> Vec<Stated> {
    let mut rows = Vec::new();
    for (field, statements) in record.metadata.iter() {
        for (position, statement) in statements.iter().enumerate() {
            rows.push(Stated {
                field: Field::name(field),
                value: statement.value.to_string(),
                origin: statement.origin.to_string(),
                in_force: position == 0,
                agrees: statements
                    .first()
                    .is_some_and(|s| s.value == statement.value),
            });
        }
    }
    rows
}

pub(super) fn result_trace(table: &StoredTable, row: &[Cell]) -> ResultTrace {
    let text = |column: &str| table.text(row, column).to_owned();
    let rows = table
        .integer(row, "row_first")
        .zip(table.integer(row, "row_last"));
    let revision = table.integer(row, "revision").unwrap_or(0);
    let value = table.number(row, "value");
    let card = card_of(table.text(row, "metric"));
    let same = card.filter(|card| i64::from(card.revision) == revision);
    ResultTrace {
        id: text("result_id"),
        metric: text("metric"),
        revision,
        variant: text("variant"),
        definition: same.map(|card| card.definition),
        name: card.map(|card| card.name),
        source: same.map(|card| card.source.words()),
        status: text("status"),
        value,
        decimals: card.map(|card| card.decimals),
        printed: card.zip(value).map(|(card, value)| card.format(value)),
        low: table.number(row, "low"),
        high: table.number(row, "high"),
        std_uncertainty: table.number(row, "std_uncertainty"),
        unit: text("unit"),
        reason: text("reason"),
        parameters: text("parameters"),
        from_results: table
            .text(row, "from_results")
            .split_whitespace()
            .map(str::to_owned)
            .collect(),
        rows: rows.map(|(first, last)| RowRange {
            first: first.unsigned_abs(),
            last: last.unsigned_abs(),
        }),
        superseded_by: None,
        raw_lines: Vec::new(),
    }
}
