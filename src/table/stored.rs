//! A table as kept in an archive: one Parquet file, written once and read back cell by cell.

use super::TableError;
use super::frame::{frame, series_of};
use crate::schema::{Cell, Table};
use polars::prelude::{
    AnyValue, Column as FrameColumn, CsvWriter, DataFrame, ParquetCompression, ParquetReader,
    ParquetWriter, SerReader, SerWriter,
};

/// A table read back: names of the columns, and rows of cells in that order.
#[derive(Debug, Clone, PartialEq)]
pub struct StoredTable {
    /// Names of the columns.
    pub columns: Vec<String>,
    /// Rows.
    pub rows: Vec<Vec<Cell>>,
}

impl StoredTable {
    /// Returns the position of a column.
    pub fn position(&self, column: &str) -> Option<usize> {
        self.columns.iter().position(|name| name == column)
    }

    /// Returns the cell of `row` in `column`; a column that is not there has no value.
    pub fn cell<'c>(&self, row: &'c [Cell], column: &str) -> &'c Cell {
        self.position(column)
            .and_then(|at| row.get(at))
            .unwrap_or(&Cell::Missing)
    }

    /// Returns the text of `row` in `column`; empty where it has none.
    pub fn text<'c>(&self, row: &'c [Cell], column: &str) -> &'c str {
        match self.cell(row, column) {
            Cell::Text(text) => text,
            _ => "",
        }
    }

    /// Returns the whole number of `row` in `column`.
    pub fn integer(&self, row: &[Cell], column: &str) -> Option<i64> {
        match self.cell(row, column) {
            Cell::Integer(value) => Some(*value),
            _ => None,
        }
    }

    /// Returns the number of `row` in `column`.
    pub fn number(&self, row: &[Cell], column: &str) -> Option<f64> {
        match self.cell(row, column) {
            Cell::Number(value) => Some(*value),
            _ => None,
        }
    }
}

/// Returns the rows as one Parquet file.
///
/// # Errors
/// [`TableError`] when the engine refuses.
pub fn to_parquet<R>(table: &Table<R>, rows: &[&R]) -> Result<Vec<u8>, TableError> {
    let mut data = frame(table, rows)?;
    let mut bytes = Vec::new();
    ParquetWriter::new(&mut bytes)
        .with_compression(ParquetCompression::Snappy)
        .set_parallel(false)
        .finish(&mut data)
        .map_err(TableError::engine(table.name))?;
    Ok(bytes)
}

/// Returns the rows of a Parquet file that [`to_parquet`] wrote.
///
/// # Errors
/// [`TableError`] when the bytes are no such file.
pub fn from_parquet(name: &'static str, bytes: Vec<u8>) -> Result<StoredTable, TableError> {
    let data = ParquetReader::new(std::io::Cursor::new(bytes))
        .finish()
        .map_err(TableError::engine(name))?;
    let mut rows: Vec<Vec<Cell>> = vec![Vec::with_capacity(data.width()); data.height()];
    let mut columns = Vec::with_capacity(data.width());
    for column in data.columns() {
        columns.push(column.name().to_string());
        for (row, cell) in rows.iter_mut().zip(cells(name, column)?) {
            row.push(cell);
        }
    }
    Ok(StoredTable { columns, rows })
}

fn cells(name: &'static str, column: &FrameColumn) -> Result<Vec<Cell>, TableError> {
    (0..column.len())
        .map(|row| {
            let value = column.get(row).map_err(TableError::engine(name))?;
            Ok(match value {
                AnyValue::String(text) => Cell::Text(text.to_owned()),
                AnyValue::StringOwned(text) => Cell::Text(text.to_string()),
                AnyValue::Float64(value) => Cell::Number(value),
                AnyValue::Int64(value) => Cell::Integer(value),
                AnyValue::Boolean(value) => Cell::Flag(value),
                _ => Cell::Missing,
            })
        })
        .collect()
}

/// Returns rows that were read back as one Parquet file with the declared columns.
///
/// # Errors
/// [`TableError`] when the engine refuses.
pub fn stored_parquet<R>(table: &Table<R>, stored: &StoredTable) -> Result<Vec<u8>, TableError> {
    let mut data = stored_frame(table, stored)?;
    let mut bytes = Vec::new();
    ParquetWriter::new(&mut bytes)
        .with_compression(ParquetCompression::Snappy)
        .set_parallel(false)
        .finish(&mut data)
        .map_err(TableError::engine(table.name))?;
    Ok(bytes)
}

/// Returns rows that were read back as CSV with the declared columns, with or without the header.
///
/// # Errors
/// [`TableError`] when the engine refuses.
pub fn stored_csv<R>(
    table: &Table<R>,
    stored: &StoredTable,
    header: bool,
) -> Result<Vec<u8>, TableError> {
    let mut data = stored_frame(table, stored)?;
    let mut text = Vec::new();
    CsvWriter::new(&mut text)
        .n_threads(1)
        .include_header(header)
        .finish(&mut data)
        .map_err(TableError::engine(table.name))?;
    Ok(text)
}

fn stored_frame<R>(table: &Table<R>, stored: &StoredTable) -> Result<DataFrame, TableError> {
    let columns: Vec<FrameColumn> = table
        .columns
        .iter()
        .map(|column| {
            let cells = stored.rows.iter().map(|row| stored.cell(row, column.name));
            series_of(column.name, column.kind, cells.cloned()).into()
        })
        .collect();
    DataFrame::new(stored.rows.len(), columns).map_err(TableError::engine(table.name))
}

/// Returns a record as the cells that its row has.
pub fn cells_of<R>(table: &Table<R>, row: &R) -> Vec<Cell> {
    table
        .columns
        .iter()
        .map(|column| (column.get)(row))
        .collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "tests may stop")]
    use super::*;
    use crate::record::Finding;
    use crate::record::tables::FINDINGS;
    use crate::schema::Level;

    #[test]
    fn what_was_written_reads_back_cell_by_cell() {
        let finding = |row| Finding {
            rule: "mixing.gap",
            revision: 3,
            level: Level::Warn,
            file: "é.csv".into(),
            run_id: None,
            row,
            words: "one gap".into(),
            what_to_do: "look".into(),
        };
        let (a, b) = (finding(Some(12)), finding(None));
        let bytes = to_parquet(&FINDINGS, &[&a, &b]).unwrap();
        let back = from_parquet("findings", bytes).unwrap();
        assert_eq!(
            back.rows,
            [cells_of(&FINDINGS, &a), cells_of(&FINDINGS, &b)]
        );
        assert_eq!(back.integer(&back.rows[0], "row"), Some(12));
        assert!(from_parquet("findings", b"no parquet".to_vec()).is_err());
    }
}
