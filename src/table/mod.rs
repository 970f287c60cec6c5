//! Records to Parquet and CSV: the only home of the table engine.
//!
//! Columns come from the declarations in [`crate::record::tables`]; this room adds none. Whole
//! tables go through a data frame; curves are streamed in batches of runs, so that memory does not
//! grow with the number of runs. Files are written without parallel encoding and without a clock,
//! so that the same records give the same bytes.

mod curves;
mod frame;
mod stored;

pub use curves::CurveWriter;
pub use frame::{frame, write};
pub use stored::{StoredTable, cells_of, from_parquet, stored_csv, stored_parquet, to_parquet};

use thiserror::Error;

/// Returns rows of text as CSV: UTF-8, comma, quotes where needed.
///
/// # Errors
/// [`TableError::Text`] when rows differ in length.
pub fn csv_of_rows(rows: &[Vec<String>]) -> Result<Vec<u8>, TableError> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.write_record(row)?;
    }
    writer
        .into_inner()
        .map_err(|error| TableError::Text(error.into_error().into()))
}

/// Why a table could not be written.
#[derive(Debug, Error)]
pub enum TableError {
    /// Rows of text that are no table.
    #[error("write CSV: {0}")]
    Text(#[from] csv::Error),
    /// The table engine refused.
    #[error("table {table}: {source}")]
    Engine {
        /// Table.
        table: &'static str,
        /// What the engine says.
        source: polars::error::PolarsError,
    },
}

impl TableError {
    fn engine(table: &'static str) -> impl Fn(polars::error::PolarsError) -> TableError {
        move |source| TableError::Engine { table, source }
    }
}
