//! Run sheets: one line per raw file or curve.

use super::desk::{Complaint, Desk, clip, quoted};
use super::lines::{Lines, Splitter};
use super::preamble::{HeaderLine, Preamble, pass_first_line, pass_to_data};
use super::statement::read_value;
use super::{Intake, Records};
use crate::profile::{FieldReading, nearest_field};
use crate::record::{Fault, FieldValue, Metadata, Origin, RunSheet, SheetLine};
use crate::schema::Field;
use std::collections::BTreeMap;

/// Returns the run sheet in `text`. What is wrong with single lines comes back as notes.
pub(super) fn read_run_sheet(
    desk: &Desk<'_>,
    columns: &[Option<FieldReading>],
    text: &str,
) -> Result<Intake, Fault> {
    let mut rows = SheetRows::open(desk, text)?;
    let columns = all_columns(desk, columns, &rows.names, rows.header_line)?;
    let mut notes = std::mem::take(&mut rows.notes);
    let mut sheet_lines = Vec::new();
    let mut any = false;
    while let Some((line, cells)) = rows.next_row() {
        any = true;
        match cells {
            Ok(cells) => sheet_lines.extend(read_line(desk, &columns, line, &cells, &mut notes)),
            Err(fault) => notes.push(*fault),
        }
    }
    if !any {
        return Err(desk.no_data(rows.header_line));
    }
    Ok(Intake {
        records: Records::Sheet(RunSheet {
            file: desk.file.clone(),
            lines: sheet_lines,
        }),
        notes,
    })
}

type NamedColumn = (String, Option<FieldReading>);

/// Returns one reading per column of the header; the cells behind the exact ones are names of our
/// own fields.
fn all_columns(
    desk: &Desk<'_>,
    exact: &[Option<FieldReading>],
    names: &[String],
    header_line: u64,
) -> Result<Vec<NamedColumn>, Fault> {
    let mut columns: Vec<NamedColumn> = Vec::new();
    for (index, name) in names.iter().enumerate() {
        let reading = match exact.get(index) {
            Some(reading) => reading.clone(),
            None => Some(FieldReading {
                field: Field::parse(name).ok_or_else(|| unknown(desk, header_line, name))?,
                unit: None,
                words: BTreeMap::new(),
            }),
        };
        let field = reading.as_ref().map(|r| r.field);
        let twice = |(_, other): &NamedColumn| other.as_ref().map(|r| r.field) == field;
        if field.is_some() && columns.iter().any(twice) {
            return Err(desk.fault(
                Some(header_line),
                Some(name),
                Complaint::new(
                    &format!("a second column `{}`", clip(name)),
                    "each field in one column",
                    "keep the column that is right and remove the other",
                ),
            ));
        }
        columns.push((name.clone(), reading));
    }
    Ok(columns)
}

fn unknown(desk: &Desk<'_>, header_line: u64, name: &str) -> Fault {
    desk.fault(
        Some(header_line),
        Some(name),
        Complaint::new(
            &quoted(name.as_bytes()),
            "the name of a field",
            &format!(
                "the nearest is `{}`; rename the column, or remove it",
                nearest_field(name)
            ),
        ),
    )
}

fn read_line(
    desk: &Desk<'_>,
    columns: &[NamedColumn],
    line: u64,
    cells: &[String],
    notes: &mut Vec<Fault>,
) -> Option<SheetLine> {
    let mut metadata = Metadata::default();
    let (mut file, mut curve, mut profile) = (None, None, None);
    for ((name, reading), cell) in columns.iter().zip(cells) {
        let Some(reading) = reading else { continue };
        let value = match read_value(reading, cell, &desk.numbers) {
            Ok(Some(value)) => value,
            Ok(None) => continue,
            Err(complaint) => {
                notes.push(desk.fault(Some(line), Some(name), complaint));
                continue;
            }
        };
        match (reading.field, value) {
            (Field::File, FieldValue::Text(text)) => file = Some(text),
            (Field::Curve, FieldValue::Text(text)) => curve = Some(text),
            (Field::Profile, FieldValue::Text(text)) => profile = Some(text),
            (field, value) => metadata.state(
                field,
                value,
                Origin::RunSheet {
                    file: desk.file.name.clone(),
                    line,
                },
            ),
        }
    }
    let Some(file) = file else {
        let column = columns
            .iter()
            .find(|(_, r)| r.as_ref().is_some_and(|r| r.field == Field::File))
            .map(|(name, _)| name.as_str());
        notes.push(desk.fault(
            Some(line),
            column,
            Complaint::new(
                "no file name",
                "the name of the raw file that the line speaks of",
                "write the file name; the line was left out",
            ),
        ));
        return None;
    };
    Some(SheetLine {
        line,
        file,
        curve: curve.unwrap_or_default(),
        profile,
        metadata,
    })
}

/// The rows of a sheet: CSV records, in which a quoted cell may span lines.
pub(super) struct SheetRows<'a> {
    desk: &'a Desk<'a>,
    reader: csv::Reader<&'a [u8]>,
    bytes: &'a [u8],
    counted: usize,
    line: u64,
    pub names: Vec<String>,
    pub header_line: u64,
    pub notes: Vec<Fault>,
}

/// A row with its first line: the cells, or what is wrong with their number.
type Row = (u64, Result<Vec<String>, Box<Fault>>);

impl<'a> SheetRows<'a> {
    /// Returns the rows below the header of `text`.
    pub fn open(desk: &'a Desk<'a>, text: &'a str) -> Result<SheetRows<'a>, Fault> {
        let mut lines = Lines::of(text);
        let mut splitter = Splitter::new(desk.delimiter, text.as_bytes());
        let mut preamble = Preamble::default();
        pass_first_line(desk, &mut lines)?;
        let HeaderLine { line: header } =
            pass_to_data(desk, &mut lines, &mut splitter, &mut preamble)?;
        let names = splitter
            .split(header.bytes)
            .map(|cell| String::from_utf8_lossy(cell).into_owned())
            .collect();
        let bytes = lines.rest();
        let reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(desk.delimiter)
            .trim(csv::Trim::All)
            .from_reader(bytes);
        Ok(SheetRows {
            desk,
            reader,
            bytes,
            counted: 0,
            line: lines.next_number(),
            names,
            header_line: header.number,
            notes: preamble.notes,
        })
    }

    /// Returns the next row that is not blank.
    pub fn next_row(&mut self) -> Option<Row> {
        let mut record = csv::ByteRecord::new();
        loop {
            // Reading a slice cannot fail, and the byte reader accepts any bytes.
            if !self.reader.read_byte_record(&mut record).unwrap_or(false) {
                return None;
            }
            let start = record.position().map_or(0, csv::Position::byte);
            let line = self.line_at(usize::try_from(start).unwrap_or(usize::MAX));
            if record.iter().all(<[u8]>::is_empty) {
                continue;
            }
            if record.len() != self.names.len() {
                let header = (self.names.len(), self.header_line);
                let cells: Vec<_> = record.iter().map(String::from_utf8_lossy).collect();
                let shown = cells.join(&self.desk.profile.delimiter().to_string());
                let fault = self.desk.wrong_cells(line, &shown, record.len(), header);
                return Some((line, Err(Box::new(fault))));
            }
            let cells = record
                .iter()
                .map(|cell| String::from_utf8_lossy(cell).into_owned())
                .collect();
            return Some((line, Ok(cells)));
        }
    }

    /// Returns the line of the row that starts at or, behind empty lines, after byte `start`.
    fn line_at(&mut self, start: usize) -> u64 {
        let empty = self
            .bytes
            .get(start..)
            .unwrap_or(&[])
            .iter()
            .take_while(|b| matches!(b, b'\r' | b'\n'))
            .count();
        let passed = self.bytes.get(self.counted..start + empty).unwrap_or(&[]);
        self.line += memchr::memchr_iter(b'\n', passed).count() as u64;
        self.counted = start + empty;
        self.line
    }
}
