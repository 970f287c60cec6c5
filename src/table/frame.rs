//! A declared table as a data frame, a CSV file or a Parquet file.

use super::TableError;
use crate::schema::{Cell, Column, ColumnKind, Table};
use polars::prelude::{
    Column as FrameColumn, CsvWriter, DataFrame, NamedFrom, ParquetCompression, ParquetWriter,
    SerWriter, Series,
};
use std::io::Write;

/// Returns the rows as a data frame with the declared columns.
///
/// # Errors
/// [`TableError`] when the engine refuses (columns of unequal length, which cannot happen here).
pub fn frame<R>(table: &Table<R>, rows: &[&R]) -> Result<DataFrame, TableError> {
    let columns: Vec<FrameColumn> = table
        .columns
        .iter()
        .map(|column| series(column, rows).into())
        .collect();
    DataFrame::new(rows.len(), columns).map_err(TableError::engine(table.name))
}

fn series<R>(column: &Column<R>, rows: &[&R]) -> Series {
    let cells = rows.iter().map(|row| (column.get)(row));
    series_of(column.name, column.kind, cells)
}

/// Returns the cells as a column of the engine.
pub(super) fn series_of(name: &str, kind: ColumnKind, cells: impl Iterator<Item = Cell>) -> Series {
    let name = name.into();
    match kind {
        ColumnKind::Text | ColumnKind::Choice(_) => {
            let values: Vec<Option<String>> = cells
                .map(|cell| match cell {
                    Cell::Text(text) => Some(text),
                    _ => None,
                })
                .collect();
            Series::new(name, values)
        }
        ColumnKind::Number => {
            let values: Vec<Option<f64>> = cells
                .map(|cell| match cell {
                    Cell::Number(value) => Some(value),
                    _ => None,
                })
                .collect();
            Series::new(name, values)
        }
        ColumnKind::Integer => {
            let values: Vec<Option<i64>> = cells
                .map(|cell| match cell {
                    Cell::Integer(value) => Some(value),
                    _ => None,
                })
                .collect();
            Series::new(name, values)
        }
        ColumnKind::Flag => {
            let values: Vec<Option<bool>> = cells
                .map(|cell| match cell {
                    Cell::Flag(value) => Some(value),
                    _ => None,
                })
                .collect();
            Series::new(name, values)
        }
    }
}

/// Writes the rows twice: as CSV (UTF-8, comma, decimal point, one header line) and as Parquet.
///
/// # Errors
/// [`TableError`] when writing fails.
pub fn write<R>(
    table: &Table<R>,
    rows: &[&R],
    csv: impl Write,
    parquet: impl Write,
) -> Result<(), TableError> {
    let mut data = frame(table, rows)?;
    CsvWriter::new(csv)
        .n_threads(1)
        .finish(&mut data)
        .map_err(TableError::engine(table.name))?;
    ParquetWriter::new(parquet)
        .with_compression(ParquetCompression::Snappy)
        .set_parallel(false)
        .finish(&mut data)
        .map(|_| ())
        .map_err(TableError::engine(table.name))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "tests may stop")]
    use super::*;
    use crate::record::Finding;
    use crate::record::tables::FINDINGS;
    use crate::schema::Level;
    use polars::prelude::{ParquetReader, SerReader};

    fn finding() -> Finding {
        Finding {
            rule: "mixing.gap",
            revision: 1,
            level: Level::Warn,
            file: "a, \"quoted\".csv".into(),
            run_id: None,
            row: Some(12),
            words: "one gap".into(),
            what_to_do: "look".into(),
        }
    }

    #[test]
    fn parquet_and_csv_read_back_as_written() {
        let finding = finding();
        let rows = [&finding, &finding];
        let (mut text, mut bytes) = (Vec::new(), Vec::new());
        write(&FINDINGS, &rows, &mut text, &mut bytes).unwrap();
        let back = ParquetReader::new(std::io::Cursor::new(bytes))
            .finish()
            .unwrap();
        assert_eq!(back, frame(&FINDINGS, &rows).unwrap());

        let mut reader = csv::Reader::from_reader(&text[..]);
        let names: Vec<&str> = FINDINGS.columns.iter().map(|c| c.name).collect();
        assert_eq!(reader.headers().unwrap().iter().collect::<Vec<_>>(), names);
        let first = reader.records().next().unwrap().unwrap();
        assert_eq!(first.get(3), Some("a, \"quoted\".csv"));
        assert_eq!(first.get(4), Some(""));
    }
}
