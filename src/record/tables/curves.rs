//! Curves: the recorded points.

use super::column;
use crate::schema::ColumnKind::{Choice, Integer, Number, Text};
use crate::schema::{Axis, Cell, Channel, Table};

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
