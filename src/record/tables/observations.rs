//! Observations: graded membrane stretches and scalar records.

use super::column;
use crate::record::{Grade, Observation, TearEdge};
use crate::schema::ColumnKind::{Choice, Flag, Integer, Number, Text};
use crate::schema::{Cell, Table, Unit};

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
            |o| Cell::text(o.grade.map(Grade::digit))
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
            |o| Cell::text(o.edge.map(TearEdge::word))
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
        column!("sample_id", Text, false, "Flour lot.", |o| Cell::text(
            o.sample_id.as_ref()
        )),
        column!("replicate", Text, false, "Replicate of the dough.", |o| {
            Cell::text(o.replicate.as_ref())
        }),
        column!("age_d", Number, Unit::Day, false, "Age of bread.", |o| {
            Cell::number(o.age_d)
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
