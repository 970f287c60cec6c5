//! The curves table, streamed in batches of runs.

use super::TableError;
use crate::record::tables::CURVES;
use crate::record::{Curve, Run};
use polars::io::parquet::write::BatchedWriter;
use polars::prelude::{
    ChunkFull, ChunkFullNull, Column as FrameColumn, DataFrame, DataType, Field, IntoSeries,
    NamedFrom, ParquetCompression, ParquetWriter, PolarsResult, Schema, Series, StatisticsOptions,
    StringChunked,
};
use std::io::Write;

/// Writes curves as Parquet, one row group per batch of runs.
pub struct CurveWriter<W: Write> {
    writer: BatchedWriter<W>,
}

impl<W: Write> CurveWriter<W> {
    /// Returns a writer that has written the head of the file.
    ///
    /// # Errors
    /// [`TableError`] when writing fails.
    pub fn new(to: W) -> Result<CurveWriter<W>, TableError> {
        let schema = Schema::from_iter([
            Field::new("run_id".into(), DataType::String),
            Field::new("channel".into(), DataType::String),
            Field::new("axis".into(), DataType::String),
            Field::new("seq".into(), DataType::UInt32),
            Field::new("x".into(), DataType::Float64),
            Field::new("y".into(), DataType::Float64),
        ]);
        let writer = ParquetWriter::new(to)
            .with_compression(ParquetCompression::Snappy)
            .with_statistics(StatisticsOptions::empty())
            .set_parallel(false)
            .batched(&schema)
            .map_err(TableError::engine(CURVES.name))?;
        Ok(CurveWriter { writer })
    }

    /// Appends every curve of `runs`.
    ///
    /// # Errors
    /// [`TableError`] when writing fails.
    pub fn append(&mut self, runs: &[&Run]) -> Result<(), TableError> {
        let curves: Vec<(&str, &Curve)> = runs
            .iter()
            .flat_map(|run| run.curves.iter().map(|curve| (run.id.as_str(), curve)))
            .collect();
        let points: usize = curves.iter().map(|(_, curve)| curve.points()).sum();
        if points == 0 {
            return Ok(());
        }
        let data = batch(&curves, points).map_err(TableError::engine(CURVES.name))?;
        self.writer
            .write_batch(&data)
            .map_err(TableError::engine(CURVES.name))
    }

    /// Writes the end of the file.
    ///
    /// # Errors
    /// [`TableError`] when writing fails.
    pub fn finish(self) -> Result<(), TableError> {
        self.writer
            .finish()
            .map(|_| ())
            .map_err(TableError::engine(CURVES.name))
    }
}

fn batch(curves: &[(&str, &Curve)], points: usize) -> PolarsResult<DataFrame> {
    let mut seq: Vec<u32> = Vec::with_capacity(points);
    let mut x: Vec<f64> = Vec::with_capacity(points);
    let mut y: Vec<f64> = Vec::with_capacity(points);
    for (_, curve) in curves {
        seq.extend(0..u32::try_from(curve.points()).unwrap_or(u32::MAX));
        x.extend_from_slice(curve.x());
        y.extend_from_slice(curve.y());
    }
    let columns: Vec<FrameColumn> = vec![
        repeated("run_id", curves, |(run_id, _)| run_id)?.into(),
        repeated("channel", curves, |(_, curve)| curve.channel().word())?.into(),
        repeated("axis", curves, |(_, curve)| curve.axis().word())?.into(),
        Series::new("seq".into(), seq).into(),
        Series::new("x".into(), x).into(),
        Series::new("y".into(), y).into(),
    ];
    DataFrame::new(points, columns)
}

/// Returns a column that repeats one word for each point of a curve. Filled chunk by chunk: pushing
/// the word once a point would cost more than reading the point did.
fn repeated<'c>(
    name: &str,
    curves: &[(&'c str, &'c Curve)],
    word: impl Fn((&'c str, &'c Curve)) -> &'c str,
) -> PolarsResult<Series> {
    let mut column = StringChunked::full_null(name.into(), 0);
    for (run_id, curve) in curves {
        let filled = StringChunked::full(name.into(), word((run_id, curve)), curve.points());
        column.append(&filled)?;
    }
    Ok(column.rechunk().into_owned().into_series())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "tests may stop")]
    use super::*;
    use crate::record::{Metadata, ProfileStamp, RawFile, RowRange};
    use crate::schema::{Axis, Channel, Digest, RunId, Test, Unit};
    use polars::prelude::{ParquetReader, SerReader};

    fn run(name: &str, y: Vec<f64>) -> Run {
        let x = (0..y.len()).map(|i| i as f64).collect();
        Run {
            id: RunId::new(name).unwrap(),
            test: Test::Mixing,
            file: RawFile {
                name: name.into(),
                sha256: Digest::of(b""),
                bytes: 0,
            },
            profile: ProfileStamp {
                id: "p".into(),
                sha256: Digest::of(b""),
            },
            selector: String::new(),
            rows: RowRange { first: 1, last: 1 },
            metadata: Metadata::default(),
            curves: vec![Curve::new(Channel::Signal, Axis::Time, Unit::Fu, x, y).unwrap()],
            lines: Vec::new(),
            missing_cells: 0,
        }
    }

    #[test]
    fn batches_read_back_in_order_with_the_declared_columns() {
        let (a, b) = (run("A", vec![1.0, 2.0]), run("B", vec![3.0]));
        let mut bytes = Vec::new();
        let mut writer = CurveWriter::new(&mut bytes).unwrap();
        writer.append(&[&a]).unwrap();
        writer.append(&[&b]).unwrap();
        writer.finish().unwrap();
        let back = ParquetReader::new(std::io::Cursor::new(bytes))
            .finish()
            .unwrap();
        let names: Vec<&str> = CURVES.columns.iter().map(|c| c.name).collect();
        let found: Vec<String> = back
            .get_column_names()
            .iter()
            .map(|name| name.to_string())
            .collect();
        assert_eq!(found, names);
        let y: Vec<f64> = back
            .column("y")
            .unwrap()
            .f64()
            .unwrap()
            .into_no_null_iter()
            .collect();
        assert_eq!(y, vec![1.0, 2.0, 3.0]);
    }
}
