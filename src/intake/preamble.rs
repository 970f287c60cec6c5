//! What stands above the data: the literal first line, the block of keys and values, the header
//! and the units row.

use super::desk::{Complaint, Desk, clip};
use super::lines::{Line, Lines, Splitter};
use super::statement::read_value;
use crate::profile::Constant;
use crate::record::{Fault, FieldValue, Metadata, Origin};
use crate::schema::Field;

/// Most lines between the first line and the header.
pub(super) const LONGEST_PREAMBLE: usize = 200;

/// What a preamble stated.
#[derive(Debug, Clone, Default)]
pub(super) struct Preamble {
    pub metadata: Metadata,
    pub notes: Vec<Fault>,
}

/// A header line that was found.
#[derive(Debug, Clone, Copy)]
pub(super) struct HeaderLine<'a> {
    pub line: Line<'a>,
}

/// Checks the literal first line, if the profile has one.
pub(super) fn pass_first_line(desk: &Desk<'_>, lines: &mut Lines<'_>) -> Result<(), Fault> {
    let Some(wanted) = &desk.profile.first_line else {
        return Ok(());
    };
    let found = lines.next().map_or("", |line| {
        std::str::from_utf8(line.bytes).unwrap_or("").trim()
    });
    if found == wanted {
        return Ok(());
    }
    Err(desk.fault(
        Some(1),
        None,
        Complaint::new(
            &format!("`{}`", clip(found)),
            &format!("`{wanted}` as the first line"),
            "the file is not of this layout: let the tool choose the profile, or name another",
        ),
    ))
}

/// Reads keys and values up to the header, the header and the units row. What the block states
/// goes into `preamble`.
pub(super) fn pass_to_data<'a>(
    desk: &Desk<'_>,
    lines: &mut Lines<'a>,
    splitter: &mut Splitter,
    preamble: &mut Preamble,
) -> Result<HeaderLine<'a>, Fault> {
    let first = lines.next_number();
    let header = find_header(desk, lines, splitter, preamble)?
        .map_err(|stopped_at| no_header(desk, first, stopped_at))?;
    if !desk.profile.units_row.is_empty() {
        let number = lines.next_number();
        let row = lines.next();
        let wanted = &desk.profile.units_row;
        let good = row.is_some_and(|row| is_row(wanted, row, splitter));
        if !good {
            let found = row.as_ref().map_or("", Line::text);
            return Err(desk.fault(
                Some(number),
                None,
                Complaint::new(
                    &format!("`{}`", clip(found)),
                    &format!(
                        "the units row `{}`",
                        clip(&wanted.join(&desk.profile.delimiter().to_string()))
                    ),
                    "other units need a profile of their own",
                ),
            ));
        }
    }
    Ok(header)
}

/// Returns whether the cells of `row` are `wanted`.
pub(super) fn is_row(wanted: &[String], row: Line<'_>, splitter: &mut Splitter) -> bool {
    splitter
        .split(row.bytes)
        .eq(wanted.iter().map(|cell| cell.as_bytes()))
}

/// Returns the header, or the line that stands in its place where no line may be passed over.
fn find_header<'a>(
    desk: &Desk<'_>,
    lines: &mut Lines<'a>,
    splitter: &mut Splitter,
    preamble: &mut Preamble,
) -> Result<Result<HeaderLine<'a>, Option<Line<'a>>>, Fault> {
    for _ in 0..LONGEST_PREAMBLE {
        let Some(line) = lines.next() else {
            return Ok(Err(None));
        };
        if desk.profile.header.matches(splitter.split(line.bytes)) {
            return Ok(Ok(HeaderLine { line }));
        }
        if line.is_blank(desk.delimiter) && desk.profile.first_line.is_some() {
            continue;
        }
        if desk.profile.block.is_none() {
            return Ok(Err(Some(line)));
        }
        state_line(desk, line, preamble)?;
    }
    Ok(Err(None))
}

fn no_header(desk: &Desk<'_>, first: u64, stopped_at: Option<Line<'_>>) -> Fault {
    let (line, found) = match stopped_at {
        Some(line) => (line.number, format!("`{}`", clip(line.text()))),
        None => (first, format!("no header from line {first} on")),
    };
    let words = clip(&desk.profile.header.words(desk.profile.delimiter()));
    desk.fault(
        Some(line),
        None,
        Complaint::new(
            &found,
            &format!("the header `{words}`"),
            "if the file is cut off, copy it again; another header needs a profile of its own",
        ),
    )
}

/// Takes the key and value of `line` into `preamble`; an unknown key becomes a note.
pub(super) fn state_line(
    desk: &Desk<'_>,
    line: Line<'_>,
    preamble: &mut Preamble,
) -> Result<(), Fault> {
    let Some(block) = &desk.profile.block else {
        return Ok(());
    };
    if line.is_blank(desk.delimiter) {
        return Ok(());
    }
    let text = line.text();
    let Some((key, value)) = text.split_once(&block.separator) else {
        preamble.notes.push(desk.fault(
            Some(line.number),
            None,
            Complaint::new(
                &format!("`{}`", clip(text)),
                &format!("a key, `{}` and a value", clip(&block.separator)),
                "nothing to do, unless the line states something that should be kept",
            ),
        ));
        return Ok(());
    };
    let key = key.trim();
    let Some(reading) = block.keys.get(key) else {
        preamble.notes.push(desk.fault(
            Some(line.number),
            Some(key),
            Complaint::new(
                &format!("key `{}` with value `{}`", clip(key), clip(value.trim())),
                &format!("a key that profile `{}` knows", desk.profile.id),
                "nothing to do, unless the fact matters: then write a profile that has the key",
            ),
        ));
        return Ok(());
    };
    let value = bare_value(desk, value);
    let stated = read_value(reading, &value, &desk.numbers)
        .map_err(|complaint| desk.fault(Some(line.number), Some(key), complaint))?;
    if let Some(stated) = stated {
        let origin = Origin::File { line: line.number };
        preamble.metadata.state(reading.field, stated, origin);
    }
    Ok(())
}

/// Returns a value without the delimiters that a spreadsheet adds behind it and without its
/// quotation marks.
fn bare_value(desk: &Desk<'_>, value: &str) -> String {
    let end = [desk.profile.delimiter(), ' ', '\t'];
    let bare = value.trim().trim_end_matches(end);
    match bare
        .strip_prefix('"')
        .and_then(|rest| rest.strip_suffix('"'))
    {
        Some(inner) => inner.replace("\"\"", "\""),
        None => bare.to_owned(),
    }
}

/// Adds the profile's constants behind what the file stated.
pub(super) fn state_constants(desk: &Desk<'_>, metadata: &mut Metadata) {
    for (field, constant) in &desk.profile.constants {
        let value = match constant {
            Constant::Number(v) => FieldValue::Number(*v),
            Constant::Text(text) => FieldValue::Text(text.clone()),
        };
        metadata.state(*field, value, Origin::Profile);
    }
}

/// Returns the run's name as the metadata state it, with its line.
pub(super) fn stated_run(metadata: &Metadata) -> Option<(String, Option<u64>)> {
    let statement = metadata.statement(Field::RunId)?;
    let line = match statement.origin {
        Origin::File { line } => Some(line),
        _ => None,
    };
    Some((statement.value.to_string(), line))
}
