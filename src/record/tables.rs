//! The tables of the output folder: each column declared once, with how it is read from a record.

use super::{Finding, MetricResult, Observation, RunRecord};
use crate::schema::{Axis, Cell, Channel, Column, ColumnKind, Field, Table, Unit};
use ColumnKind::{Choice, Flag, Integer, Number, Text};

const STATUS_WORDS: &[&str] = &[
    "exact",
    "above",
    "below",
    "not-reached",
    "not-computable",
    "rejected",
];
const LEVEL_WORDS: &[&str] = &["note", "warn", "reject"];
const TEST_WORDS: &[&str] = &["mixing", "extension", "membrane"];

/// Shorthand for one declared column.
macro_rules! column {
    ($name:literal, $kind:expr, $required:literal, $meaning:literal, $get:expr) => {
        Column {
            name: $name,
            kind: $kind,
            unit: None,
            required: $required,
            meaning: $meaning,
            get: $get,
        }
    };
    ($name:literal, $kind:expr, $unit:expr, $required:literal, $meaning:literal, $get:expr) => {
        Column {
            name: $name,
            kind: $kind,
            unit: Some($unit),
            required: $required,
            meaning: $meaning,
            get: $get,
        }
    };
}

fn stated_text(run: &RunRecord, field: Field) -> Cell {
    Cell::text(run.metadata.text(field).filter(|text| !text.is_empty()))
}

fn stated_number(run: &RunRecord, field: Field) -> Cell {
    Cell::number(run.metadata.number(field))
}

/// Flour lots; one row per sample, from the first run that names it.
pub static SAMPLES: Table<RunRecord> = Table {
    name: "samples",
    meaning: "Flour lots as tested; what the first run of the lot states.",
    key: "sample_id",
    columns: &[
        column!("sample_id", Text, true, "Flour lot.", |r| Cell::text(
            r.conditions.sample_id.as_ref()
        )),
        column!("flour_name", Text, false, "Name of the flour.", |r| {
            stated_text(r, Field::FlourName)
        }),
        column!(
            "flour_kind",
            Text,
            false,
            "Kind of flour: white, wholemeal, blend.",
            |r| stated_text(r, Field::FlourKind)
        ),
        column!(
            "moisture_pct",
            Number,
            Unit::Percent,
            false,
            "Moisture as is.",
            |r| stated_number(r, Field::FlourMoisturePct)
        ),
        column!(
            "protein_pct",
            Number,
            Unit::Percent,
            false,
            "Protein, on the basis of the next column.",
            |r| stated_number(r, Field::ProteinPct)
        ),
        column!(
            "protein_basis",
            Text,
            false,
            "Moisture basis of the protein content.",
            |r| stated_text(r, Field::ProteinBasis)
        ),
    ],
};

/// Doughs; one row per batch, from the first run that names it.
pub static BATCHES: Table<RunRecord> = Table {
    name: "batches",
    meaning: "Doughs, the unit of replication; what the first run of the dough states.",
    key: "batch_id",
    columns: &[
        column!("batch_id", Text, true, "Dough.", |r| Cell::text(
            r.conditions.batch_id.as_ref()
        )),
        column!("sample_id", Text, false, "Flour lot.", |r| Cell::text(
            r.conditions.sample_id.as_ref()
        )),
        column!("treatment", Text, false, "Mixing method.", |r| Cell::text(
            r.conditions.treatment.as_ref()
        )),
        column!(
            "block",
            Text,
            false,
            "Block of the design: day or lot.",
            |r| Cell::text(r.conditions.block.as_ref())
        ),
        column!(
            "replicate",
            Text,
            false,
            "Replicate within treatment and block.",
            |r| Cell::text(r.conditions.replicate.as_ref())
        ),
        column!(
            "hydration_pct",
            Number,
            Unit::Percent,
            false,
            "Water on flour, on the basis of the next column.",
            |r| stated_number(r, Field::HydrationPct)
        ),
        column!(
            "hydration_basis",
            Text,
            false,
            "Moisture basis of the hydration.",
            |r| stated_text(r, Field::HydrationBasis)
        ),
        column!(
            "salt_pct",
            Number,
            Unit::Percent,
            false,
            "Salt on flour.",
            |r| stated_number(r, Field::SaltPct)
        ),
        column!(
            "dough_temp_c",
            Number,
            Unit::Celsius,
            false,
            "Dough temperature at the end of mixing.",
            |r| stated_number(r, Field::DoughTempC)
        ),
        column!("operator", Text, false, "Person.", |r| stated_text(
            r,
            Field::Operator
        )),
        column!(
            "started_at",
            Text,
            false,
            "Start as written in the record.",
            |r| stated_text(r, Field::StartedAt)
        ),
    ],
};

/// Runs.
pub static RUNS: Table<RunRecord> = Table {
    name: "runs",
    meaning: "One test on one piece.",
    key: "run_id",
    columns: &[
        column!("run_id", Text, true, "Run.", |r| Cell::text(Some(&r.id))),
        column!("test", Choice(TEST_WORDS), true, "Kind of test.", |r| {
            Cell::text(Some(r.test))
        }),
        column!("file", Text, true, "Raw file.", |r| Cell::text(Some(
            &r.file.name
        ))),
        column!("curve", Text, false, "Which curve of the file.", |r| {
            Cell::text(Some(&r.selector).filter(|s| !s.is_empty()))
        }),
        column!("batch_id", Text, false, "Dough.", |r| Cell::text(
            r.conditions.batch_id.as_ref()
        )),
        column!("sample_id", Text, false, "Flour lot.", |r| Cell::text(
            r.conditions.sample_id.as_ref()
        )),
        column!("subsample", Text, false, "Piece of the dough.", |r| {
            stated_text(r, Field::Subsample)
        }),
        column!("instrument_id", Text, false, "Instrument.", |r| Cell::text(
            r.conditions.instrument_id.as_ref()
        )),
        column!("purpose", Text, false, "Why the run was made.", |r| {
            Cell::text(r.conditions.purpose)
        }),
        column!("procedure", Text, false, "Dosing procedure.", |r| {
            Cell::text(r.conditions.procedure)
        }),
        column!(
            "bowl_g",
            Number,
            Unit::Gram,
            false,
            "Bowl, as flour mass.",
            |r| stated_number(r, Field::BowlG)
        ),
        column!(
            "flour_moisture_pct",
            Number,
            Unit::Percent,
            false,
            "Flour moisture as is.",
            |r| stated_number(r, Field::FlourMoisturePct)
        ),
        column!(
            "flour_g",
            Number,
            Unit::Gram,
            false,
            "Flour weighed.",
            |r| stated_number(r, Field::FlourG)
        ),
        column!(
            "water_ml",
            Number,
            Unit::Millilitre,
            false,
            "Water dosed.",
            |r| stated_number(r, Field::WaterMl)
        ),
        column!(
            "thermostat_c",
            Number,
            Unit::Celsius,
            false,
            "Thermostat temperature.",
            |r| stated_number(r, Field::ThermostatC)
        ),
        column!("points", Integer, true, "Points recorded.", |r| {
            Cell::integer(Some(r.facts.points))
        }),
        column!(
            "sampling_s",
            Number,
            Unit::Second,
            false,
            "Median time between points.",
            |r| Cell::number(Some(r.facts.sampling_s))
        ),
        column!(
            "duration_s",
            Number,
            Unit::Second,
            false,
            "Length of the record.",
            |r| Cell::number(Some(r.facts.duration_s))
        ),
        column!("unit", Text, true, "Unit of the ordinate.", |r| Cell::text(
            Some(r.unit)
        )),
        column!(
            "row_first",
            Integer,
            true,
            "First line of the raw file that was read.",
            |r| Cell::integer(Some(r.rows.first))
        ),
        column!(
            "row_last",
            Integer,
            true,
            "Last line of the raw file that was read.",
            |r| Cell::integer(Some(r.rows.last))
        ),
        column!("raw_sha256", Text, true, "SHA-256 of the raw file.", |r| {
            Cell::text(Some(&r.file.sha256))
        }),
        column!("profile", Text, true, "Import profile.", |r| Cell::text(
            Some(&r.profile.id)
        )),
        column!(
            "profile_sha256",
            Text,
            true,
            "SHA-256 of the import profile.",
            |r| Cell::text(Some(&r.profile.sha256))
        ),
        column!(
            "in_run_sheet",
            Flag,
            true,
            "Whether a run sheet speaks of it.",
            |r| Cell::Flag(r.in_run_sheet)
        ),
    ],
};

/// Results: long form, one row per run × metric × reading.
pub static RESULTS: Table<MetricResult> = Table {
    name: "results",
    meaning: "Derived numbers, one row per run, metric and reading.",
    key: "result_id",
    columns: &[
        column!(
            "result_id",
            Text,
            true,
            "Deterministic identifier of the result.",
            |r| Cell::text(Some(&r.id))
        ),
        column!("file", Text, true, "Raw file.", |r| Cell::text(Some(
            &r.file
        ))),
        column!("run_id", Text, true, "Run.", |r| Cell::text(Some(
            &r.run_id
        ))),
        column!("test", Choice(TEST_WORDS), true, "Kind of test.", |r| {
            Cell::text(Some(r.test))
        }),
        column!("sample_id", Text, false, "Flour lot.", |r| Cell::text(
            r.conditions.sample_id.as_ref()
        )),
        column!("batch_id", Text, false, "Dough.", |r| Cell::text(
            r.conditions.batch_id.as_ref()
        )),
        column!("treatment", Text, false, "Mixing method.", |r| Cell::text(
            r.conditions.treatment.as_ref()
        )),
        column!(
            "block",
            Text,
            false,
            "Block of the design.",
            |r| Cell::text(r.conditions.block.as_ref())
        ),
        column!("replicate", Text, false, "Replicate.", |r| Cell::text(
            r.conditions.replicate.as_ref()
        )),
        column!("metric", Text, true, "Metric.", |r| Cell::text(Some(
            r.metric.id
        ))),
        column!(
            "revision",
            Integer,
            true,
            "Revision of the metric's definition.",
            |r| Cell::integer(Some(r.metric.revision))
        ),
        column!(
            "variant",
            Text,
            false,
            "Reading, for metrics that have several.",
            |r| Cell::text(Some(r.variant).filter(|v| !v.is_empty()))
        ),
        column!(
            "status",
            Choice(STATUS_WORDS),
            true,
            "How the metric came out.",
            |r| Cell::text(Some(r.outcome.status()))
        ),
        column!(
            "value",
            Number,
            false,
            "Value, or the bound when the status is above or below.",
            |r| Cell::number(r.outcome.value_or_bound())
        ),
        column!(
            "low",
            Number,
            false,
            "Lower end of the 95 % interval.",
            |r| Cell::number(r.outcome.estimate().map(|e| e.low()))
        ),
        column!(
            "high",
            Number,
            false,
            "Upper end of the 95 % interval.",
            |r| Cell::number(r.outcome.estimate().map(|e| e.high()))
        ),
        column!(
            "std_uncertainty",
            Number,
            false,
            "Standard uncertainty of the reading.",
            |r| Cell::number(r.outcome.estimate().map(|e| e.std_uncertainty()))
        ),
        column!(
            "unit",
            Text,
            true,
            "Unit of value, low, high and std_uncertainty.",
            |r| Cell::text(Some(r.unit))
        ),
        column!("reason", Text, false, "Why there is no value.", |r| {
            Cell::text(r.outcome.reason())
        }),
        column!(
            "parameters",
            Text,
            false,
            "Parameters of the computation.",
            |r| Cell::text(Some(&r.parameters).filter(|p| !p.is_empty()))
        ),
        column!(
            "row_first",
            Integer,
            false,
            "First line of the raw file it was read from.",
            |r| Cell::integer(r.rows.map(|rows| rows.first))
        ),
        column!(
            "row_last",
            Integer,
            false,
            "Last line of the raw file it was read from.",
            |r| Cell::integer(r.rows.map(|rows| rows.last))
        ),
        column!("raw_sha256", Text, true, "SHA-256 of the raw file.", |r| {
            Cell::text(Some(&r.raw_sha256))
        }),
    ],
};

/// Findings.
pub static FINDINGS: Table<Finding> = Table {
    name: "findings",
    meaning: "What the quality rules found, and what to do next.",
    key: "rule",
    columns: &[
        column!("rule", Text, true, "Rule.", |f| Cell::text(Some(f.rule))),
        column!("revision", Integer, true, "Revision of the rule.", |f| {
            Cell::integer(Some(f.revision))
        }),
        column!(
            "level",
            Choice(LEVEL_WORDS),
            true,
            "How serious it is.",
            |f| Cell::text(Some(f.level))
        ),
        column!("file", Text, false, "Raw file.", |f| Cell::text(
            Some(&f.file).filter(|t| !t.is_empty())
        )),
        column!("run_id", Text, false, "Run.", |f| Cell::text(
            f.run_id.as_ref()
        )),
        column!("row", Integer, false, "Line of the raw file.", |f| {
            Cell::integer(f.row)
        }),
        column!("words", Text, true, "What was found.", |f| Cell::text(
            Some(&f.words)
        )),
        column!(
            "what_to_do",
            Text,
            true,
            "What to do next.",
            |f| Cell::text(Some(&f.what_to_do))
        ),
    ],
};

/// Observations: graded membrane stretches and scalar records.
pub static OBSERVATIONS: Table<Observation> = Table {
    name: "observations",
    meaning: "Graded membrane stretches and scalar records, one row per piece and grader.",
    key: "row",
    columns: &[
        column!("file", Text, true, "Raw file.", |o| Cell::text(Some(
            &o.file.name
        ))),
        column!("row", Integer, true, "Line of the raw file.", |o| {
            Cell::integer(Some(o.rows.first))
        }),
        column!("batch_id", Text, true, "Dough.", |o| Cell::text(Some(
            &o.batch_id
        ))),
        column!("treatment", Text, false, "Mixing method.", |o| Cell::text(
            o.treatment.as_ref()
        )),
        column!(
            "block",
            Text,
            false,
            "Block of the design.",
            |o| Cell::text(o.block.as_ref())
        ),
        column!(
            "mix_time_min",
            Number,
            Unit::Minute,
            false,
            "Mixing time when the piece was taken.",
            |o| Cell::number(o.mix_time_min)
        ),
        column!(
            "rest_min",
            Number,
            Unit::Minute,
            false,
            "Rest before stretching.",
            |o| Cell::number(o.rest_min)
        ),
        column!("piece", Text, false, "Piece of the dough.", |o| Cell::text(
            o.piece.as_ref()
        )),
        column!(
            "grade",
            Choice(&["0", "1", "2", "3", "4"]),
            false,
            "Grade of the membrane, an ordered word.",
            |o| Cell::text(o.grade.map(super::Grade::digit))
        ),
        column!(
            "overmixed",
            Flag,
            true,
            "Sticky, flowing, no recovery; never a grade.",
            |o| Cell::Flag(o.overmixed)
        ),
        column!(
            "edge",
            Choice(&["clean", "rough"]),
            false,
            "Edge of the first tear.",
            |o| Cell::text(o.edge.map(super::TearEdge::word))
        ),
        column!("grader", Text, false, "Person who graded.", |o| Cell::text(
            o.grader.as_ref()
        )),
        column!(
            "blind_code",
            Text,
            false,
            "Code under which the piece was seen.",
            |o| Cell::text(o.blind_code.as_ref())
        ),
        column!(
            "order",
            Integer,
            false,
            "Position in the grading order.",
            |o| Cell::integer(o.order)
        ),
        column!(
            "codebook",
            Text,
            false,
            "Version of the grading codebook.",
            |o| Cell::text(o.codebook.as_ref())
        ),
        column!(
            "photo",
            Text,
            false,
            "Photo, as written on the sheet.",
            |o| Cell::text(o.photo.as_ref())
        ),
        column!("px_per_mm", Number, false, "Scale of the photo.", |o| {
            Cell::number(o.px_per_mm)
        }),
        column!(
            "quantity",
            Text,
            false,
            "What a scalar record measures.",
            |o| Cell::text(o.quantity.as_ref())
        ),
        column!("value", Number, false, "Value of a scalar record.", |o| {
            Cell::number(o.value)
        }),
        column!("unit", Text, false, "Unit of the value.", |o| Cell::text(
            o.unit
        )),
        column!("note", Text, false, "Note.", |o| Cell::text(
            o.note.as_ref()
        )),
        column!("raw_sha256", Text, true, "SHA-256 of the raw file.", |o| {
            Cell::text(Some(&o.file.sha256))
        }),
    ],
};

/// One point of a curve.
#[derive(Debug, Clone)]
pub struct CurvePoint {
    /// Run.
    pub run_id: String,
    /// Channel.
    pub channel: Channel,
    /// What the abscissa is.
    pub axis: Axis,
    /// Position in the record, from 0.
    pub seq: u32,
    /// Abscissa: s or mm.
    pub x: f64,
    /// Ordinate, in the unit of the run.
    pub y: f64,
}

/// Curves: one row per point (Parquet only).
pub static CURVES: Table<CurvePoint> = Table {
    name: "curves",
    meaning: "Recorded points in canonical units, one row per point.",
    key: "seq",
    columns: &[
        column!("run_id", Text, true, "Run.", |p| Cell::text(Some(
            &p.run_id
        ))),
        column!(
            "channel",
            Choice(&["signal", "upper", "middle", "lower", "temperature"]),
            true,
            "What the ordinate is.",
            |p| Cell::text(Some(p.channel.word()))
        ),
        column!(
            "axis",
            Choice(&["time", "chart-mm", "hook-travel-mm"]),
            true,
            "What the abscissa is: s or mm.",
            |p| Cell::text(Some(p.axis.word()))
        ),
        column!(
            "seq",
            Integer,
            true,
            "Position in the record, from 0.",
            |p| Cell::integer(Some(p.seq))
        ),
        column!(
            "x",
            Number,
            true,
            "Abscissa, in s or mm.",
            |p| Cell::number(Some(p.x))
        ),
        column!(
            "y",
            Number,
            true,
            "Ordinate, in the unit of the run.",
            |p| Cell::number(Some(p.y))
        ),
    ],
};

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn declared_words_are_the_words_of_the_types() {
        let words: Vec<&str> = crate::schema::Status::ALL
            .iter()
            .map(|s| s.word())
            .collect();
        assert_eq!(words, STATUS_WORDS);
        let tests: Vec<&str> = crate::schema::Test::ALL.iter().map(|t| t.word()).collect();
        assert_eq!(tests, TEST_WORDS);
    }

    #[test]
    fn column_names_are_unique_in_each_table() {
        fn unique<R>(table: &Table<R>) {
            let names: std::collections::BTreeSet<_> =
                table.columns.iter().map(|c| c.name).collect();
            assert_eq!(names.len(), table.columns.len(), "{}", table.name);
            assert!(names.contains(table.key), "{}", table.name);
        }
        unique(&SAMPLES);
        unique(&BATCHES);
        unique(&RUNS);
        unique(&RESULTS);
        unique(&FINDINGS);
        unique(&OBSERVATIONS);
        unique(&CURVES);
    }
}
