//! The tables as one workbook for a spreadsheet: typed cells, a row of units, a frozen head, and a
//! sheet of definitions.
//!
//! Text is written as text: a cell that begins like a formula carries the mark that keeps it text
//! even when somebody edits it, so that a file's contents can never compute in a reader's
//! spreadsheet.

use crate::schema::{Cell, MetricCard};
use rust_xlsxwriter::{
    Color, DocProperties, ExcelDateTime, Format, FormatAlign, Workbook, Worksheet, XlsxError,
};
use thiserror::Error;

/// Rows that a sheet of the format holds (ECMA-376: 2²⁰), less head and units.
const ROWS_PER_SHEET: usize = 1_048_574;
/// Characters that a cell of the format holds.
const LONGEST_TEXT: usize = 32_767;

/// Why a workbook could not be written.
#[derive(Debug, Error)]
#[error("write the workbook: {0}")]
pub struct WorkbookError(#[from] XlsxError);

/// A column of a sheet.
#[derive(Debug, Clone)]
pub struct SheetColumn {
    /// Name.
    pub name: String,
    /// Unit, where every row has the same; empty elsewhere.
    pub unit: String,
    /// Meaning, in one sentence.
    pub meaning: String,
}

/// A table of the workbook.
#[derive(Debug, Clone)]
pub struct Sheet {
    /// Name of the table.
    pub name: String,
    /// Meaning, in one sentence.
    pub meaning: String,
    /// Columns in order.
    pub columns: Vec<SheetColumn>,
    /// Rows, each a cell per column.
    pub rows: Vec<Vec<Cell>>,
}

/// Returns the workbook as the bytes of an XLSX file. `about` stands on the first sheet, line by
/// line; `made_at` (YYYY-MM-DD HH:MM:SS UTC) is the time that the file states.
///
/// # Errors
/// [`WorkbookError`] when the writer refuses, such as for a name that no sheet may have.
pub fn workbook(
    about: &[(String, String)],
    sheets: &[Sheet],
    metrics: &[MetricCard],
    made_at: &str,
) -> Result<Vec<u8>, WorkbookError> {
    let mut book = Workbook::new();
    let time = made_at.trim_end_matches(" UTC").replace(' ', "T");
    let mut properties = DocProperties::new().set_title("doughtrace export");
    if let Ok(time) = ExcelDateTime::parse_from_str(&time) {
        properties = properties.set_creation_datetime(&time);
    }
    book.set_properties(&properties);
    let looks = Looks::new();
    write_about(book.add_worksheet(), about, sheets, &looks)?;
    for sheet in sheets {
        // A sheet holds a million rows; a longer table goes on in the next one.
        let parts = sheet.rows.chunks(ROWS_PER_SHEET).enumerate();
        for (part, rows) in parts {
            let name = match part {
                0 => sheet.name.clone(),
                part => format!("{} {}", sheet.name, part + 1),
            };
            write_table(book.add_worksheet(), &name, &sheet.columns, (rows, &looks))?;
        }
        if sheet.rows.is_empty() {
            let rows: &[Vec<Cell>] = &[];
            let page = book.add_worksheet();
            write_table(page, &sheet.name, &sheet.columns, (rows, &looks))?;
        }
    }
    write_definitions(book.add_worksheet(), metrics, sheets, &looks)?;
    Ok(book.save_to_buffer()?)
}

/// The few formats of the workbook.
struct Looks {
    head: Format,
    unit: Format,
    text: Format,
    guarded: Format,
    wrapped: Format,
}

impl Looks {
    fn new() -> Looks {
        Looks {
            head: Format::new()
                .set_bold()
                .set_background_color(Color::RGB(0x00E8_EEF2)),
            unit: Format::new()
                .set_italic()
                .set_font_color(Color::RGB(0x0055_5555))
                .set_background_color(Color::RGB(0x00E8_EEF2)),
            text: Format::new(),
            guarded: Format::new().set_quote_prefix(),
            wrapped: Format::new().set_text_wrap().set_align(FormatAlign::Top),
        }
    }
}

/// Returns whether a spreadsheet might take `text` for a formula when it is edited.
fn begins_like_a_formula(text: &str) -> bool {
    text.starts_with(['=', '+', '-', '@', '\t', '\r'])
}

/// Returns `text` without what a cell cannot hold.
fn bearable(text: &str) -> String {
    text.chars()
        .filter(|c| !c.is_control() || matches!(c, '\n' | '\t'))
        .take(LONGEST_TEXT)
        .collect()
}

fn write_text(
    page: &mut Worksheet,
    (row, column): (u32, u16),
    text: &str,
    looks: &Looks,
) -> Result<(), XlsxError> {
    let format = match begins_like_a_formula(text) {
        true => &looks.guarded,
        false => &looks.text,
    };
    page.write_string_with_format(row, column, bearable(text), format)?;
    Ok(())
}

fn write_table(
    page: &mut Worksheet,
    name: &str,
    columns: &[SheetColumn],
    (rows, looks): (&[Vec<Cell>], &Looks),
) -> Result<(), XlsxError> {
    page.set_name(name)?;
    page.set_freeze_panes(2, 1)?;
    for (at, column) in (0u16..).zip(columns) {
        page.write_string_with_format(0, at, &column.name, &looks.head)?;
        page.write_string_with_format(1, at, &column.unit, &looks.unit)?;
        page.set_column_width(at, width_of(column, at, rows))?;
    }
    for (at, row) in (2u32..).zip(rows) {
        for (column, cell) in (0u16..).zip(row) {
            match cell {
                Cell::Missing => {}
                Cell::Text(text) => write_text(page, (at, column), text, looks)?,
                Cell::Number(value) => {
                    page.write_number(at, column, *value)?;
                }
                // A whole number beyond 2⁵³ would lose digits as a number.
                Cell::Integer(value) if value.unsigned_abs() > 1 << 53 => {
                    write_text(page, (at, column), &value.to_string(), looks)?;
                }
                Cell::Integer(value) => {
                    page.write_number(at, column, *value as f64)?;
                }
                Cell::Flag(value) => {
                    page.write_boolean(at, column, *value)?;
                }
            }
        }
    }
    if let (Ok(last_row), Ok(last_column)) = (
        u32::try_from(rows.len() + 1),
        u16::try_from(columns.len().saturating_sub(1)),
    ) && !rows.is_empty()
    {
        page.autofilter(1, 0, last_row, last_column)?;
    }
    Ok(())
}

/// Returns a width in characters that shows the head and the first rows, within reason.
fn width_of(column: &SheetColumn, at: u16, rows: &[Vec<Cell>]) -> f64 {
    let shown = rows
        .iter()
        .take(200)
        .filter_map(|row| row.get(usize::from(at)));
    let longest = shown
        .map(|cell| match cell {
            Cell::Text(text) => text.chars().count(),
            _ => 10,
        })
        .chain([column.name.chars().count(), column.unit.chars().count()])
        .max()
        .unwrap_or(10);
    longest.clamp(6, 40) as f64 + 2.0
}

fn write_about(
    page: &mut Worksheet,
    about: &[(String, String)],
    sheets: &[Sheet],
    looks: &Looks,
) -> Result<(), XlsxError> {
    page.set_name("about")?;
    page.set_column_width(0, 26.0)?;
    page.set_column_width(1, 90.0)?;
    let mut row = 0;
    for (what, text) in about {
        page.write_string_with_format(row, 0, what, &looks.head)?;
        page.write_string_with_format(row, 1, bearable(text), &looks.wrapped)?;
        row += 1;
    }
    for sheet in sheets {
        page.write_string_with_format(row, 0, &sheet.name, &looks.head)?;
        let words = format!("{} rows. {}", sheet.rows.len(), sheet.meaning);
        page.write_string_with_format(row, 1, words, &looks.wrapped)?;
        row += 1;
    }
    Ok(())
}

fn write_definitions(
    page: &mut Worksheet,
    metrics: &[MetricCard],
    sheets: &[Sheet],
    looks: &Looks,
) -> Result<(), XlsxError> {
    page.set_name("definitions")?;
    page.set_freeze_panes(1, 1)?;
    let heads = [
        "name",
        "symbol",
        "meaning",
        "unit",
        "definition",
        "source",
        "revision",
    ];
    let widths = [36.0, 10.0, 44.0, 12.0, 90.0, 50.0, 9.0];
    for (at, (head, width)) in (0u16..).zip(heads.iter().zip(widths)) {
        page.write_string_with_format(0, at, *head, &looks.head)?;
        page.set_column_width(at, width)?;
    }
    let mut row = 1;
    for card in metrics {
        let cells = [
            card.id.to_owned(),
            card.symbol.to_owned(),
            card.name.to_owned(),
            card.unit.to_string(),
            card.definition.to_owned(),
            card.source.words(),
        ];
        for (at, text) in (0u16..).zip(cells) {
            page.write_string_with_format(row, at, text, &looks.wrapped)?;
        }
        page.write_number(row, 6, f64::from(card.revision))?;
        row += 1;
    }
    for sheet in sheets {
        for column in &sheet.columns {
            let name = format!("{}.{}", sheet.name, column.name);
            for (at, text) in [(0, name.as_str()), (2, &column.meaning), (3, &column.unit)] {
                page.write_string_with_format(row, at, text, &looks.wrapped)?;
            }
            row += 1;
        }
    }
    Ok(())
}
