//! The tables in force as one workbook for a spreadsheet.

use super::super::ProcessError;
use super::export::Export;
use super::in_force::each_part;
use super::review::Hand;
use crate::derive::METHODS;
use crate::record::tables::{OBSERVATIONS, RESULTS, RUNS};
use crate::report::{Sheet, SheetColumn, workbook};
use crate::schema::Table;
use crate::table::StoredTable;

/// Name of the workbook.
pub(super) const FILE: &str = "doughtrace.xlsx";

impl Export<'_> {
    /// Returns the workbook's bytes.
    pub(super) fn workbook(&mut self, hand: &Hand<'_>) -> Result<Vec<u8>, ProcessError> {
        let mut sheets = [sheet_of(&RESULTS), sheet_of(&RUNS), sheet_of(&OBSERVATIONS)];
        let (mut results, mut superseded) = (0, 0);
        each_part(self.reader, self.known, |part| {
            results += part.results.as_ref().map_or(0, |t| t.rows.len());
            superseded += part.superseded.as_ref().map_or(0, |t| t.rows.len());
            let tables = [part.results, part.runs, part.observations];
            for (sheet, table) in sheets.iter_mut().zip(tables) {
                if let Some(table) = table {
                    add(sheet, &table);
                }
            }
            Ok(())
        })?;
        self.results = results;
        self.superseded = superseded;
        let about = [
            (
                "what",
                "Tables in force of an archive of doughtrace".to_owned(),
            ),
            ("made", hand.when.to_owned()),
            ("handed over by", hand.who.to_owned()),
            ("note", hand.reason.to_owned()),
            ("program", super::super::plan::software()),
            (
                "superseded",
                format!("{superseded} results that others took the place of are not in this file"),
            ),
            (
                "trace",
                "Every result_id leads to the raw bytes: doughtrace trace ID --archive DIR"
                    .to_owned(),
            ),
        ]
        .map(|(what, text)| (what.to_owned(), text));
        let metrics: Vec<_> = METHODS.iter().flat_map(|m| (m.card)().metrics).collect();
        workbook(&about, &sheets, &metrics, hand.when)
            .map_err(|error| ProcessError::Internal(error.to_string()))
    }
}

fn sheet_of<R>(table: &Table<R>) -> Sheet {
    let columns = table.columns.iter();
    Sheet {
        name: table.name.to_owned(),
        meaning: table.meaning.to_owned(),
        columns: columns
            .map(|column| SheetColumn {
                name: column.name.to_owned(),
                unit: column.unit.map(|unit| unit.to_string()).unwrap_or_default(),
                meaning: column.meaning.to_owned(),
            })
            .collect(),
        rows: Vec::new(),
    }
}

/// Adds the rows of a kept table: an older one may lack a column of today.
fn add(sheet: &mut Sheet, table: &StoredTable) {
    for row in &table.rows {
        let cells = sheet.columns.iter();
        let cells = cells.map(|column| table.cell(row, &column.name).clone());
        let cells = cells.collect();
        sheet.rows.push(cells);
    }
}
