//! Samples, batches and runs: what was stated.

use super::{TEST_WORDS, column};
use crate::record::RunRecord;
use crate::schema::ColumnKind::{Choice, Flag, Integer, Number, Text};
use crate::schema::{Cell, Field, Table, Unit};

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
        column!("flour_grade", Text, false, "Grade of the delivery.", |r| {
            stated_text(r, Field::FlourGrade)
        }),
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
        column!("treatment", Text, false, "Mixing method.", |r| Cell::text(
            r.conditions.treatment.as_ref()
        )),
        column!("flour_kind", Text, false, "Kind of flour.", |r| {
            stated_text(r, Field::FlourKind)
        }),
        column!("flour_grade", Text, false, "Grade of the delivery.", |r| {
            stated_text(r, Field::FlourGrade)
        }),
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
        column!(
            "mixer_id",
            Text,
            false,
            "Machine that mixed the dough.",
            |r| { stated_text(r, Field::MixerId) }
        ),
        column!("piece", Text, false, "Piece of dough.", |r| stated_text(
            r,
            Field::Piece
        )),
        column!(
            "rest_min",
            Number,
            Unit::Minute,
            false,
            "Rest before the test, as planned where a plan is stated.",
            |r| {
                let planned = r.metadata.number(Field::RestTargetMin);
                Cell::number(planned.or(r.metadata.number(Field::RestMin)))
            }
        ),
        column!(
            "age_d",
            Number,
            Unit::Day,
            false,
            "Age of bread at the test.",
            |r| stated_number(r, Field::AgeD)
        ),
        column!(
            "leave_out",
            Text,
            false,
            "Why it does not count, where the operator says so.",
            |r| stated_text(r, Field::LeaveOut)
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
            |r| Cell::number(Some(r.facts.sampling_s).filter(|s| *s > 0.0))
        ),
        column!(
            "duration_s",
            Number,
            Unit::Second,
            false,
            "Length of the record.",
            |r| Cell::number(Some(r.facts.duration_s).filter(|s| *s > 0.0))
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
