//! Table columns, declared once: they drive CSV, Parquet, JSON Schema, Table Schema and the docs.

use super::unit::Unit;

/// Type of a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ColumnKind {
    /// Text.
    Text,
    /// Text out of a closed list.
    Choice(&'static [&'static str]),
    /// Floating-point number.
    Number,
    /// Whole number.
    Integer,
    /// True or false.
    Flag,
}

/// One value of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// No value.
    Missing,
    /// Text.
    Text(String),
    /// Floating-point number; always finite.
    Number(f64),
    /// Whole number.
    Integer(i64),
    /// True or false.
    Flag(bool),
}

impl Cell {
    /// Returns a text cell, or [`Cell::Missing`] for `None`.
    pub fn text<T: ToString>(value: Option<T>) -> Cell {
        value.map_or(Cell::Missing, |v| Cell::Text(v.to_string()))
    }

    /// Returns a number cell, or [`Cell::Missing`] for `None` and for what is not finite.
    pub fn number(value: Option<f64>) -> Cell {
        match value {
            Some(v) if v.is_finite() => Cell::Number(v),
            _ => Cell::Missing,
        }
    }

    /// Returns a whole-number cell, or [`Cell::Missing`] for `None` or what does not fit.
    pub fn integer<T: TryInto<i64>>(value: Option<T>) -> Cell {
        value
            .and_then(|v| v.try_into().ok())
            .map_or(Cell::Missing, Cell::Integer)
    }
}

/// One column of a table of records `R`.
pub struct Column<R> {
    /// Column name.
    pub name: &'static str,
    /// Type.
    pub kind: ColumnKind,
    /// Unit, where the column has one unit in every row.
    pub unit: Option<Unit>,
    /// Whether every row has a value.
    pub required: bool,
    /// Meaning, in one sentence.
    pub meaning: &'static str,
    /// Reads the value from a record.
    pub get: fn(&R) -> Cell,
}

/// One table: name, meaning, key and columns.
pub struct Table<R: 'static> {
    /// Table name: file name without ending.
    pub name: &'static str,
    /// Meaning, in one sentence.
    pub meaning: &'static str,
    /// Column whose values identify the rows.
    pub key: &'static str,
    /// Columns in order.
    pub columns: &'static [Column<R>],
}
