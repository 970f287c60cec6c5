//! The value of a fact: text to number, choice or text, in the unit of its field.

use super::desk::{Complaint, clip, quoted};
use super::number::Numbers;
use crate::profile::FieldReading;
use crate::record::FieldValue;
use crate::schema::{BatchId, Field, FieldKind, IdError, InstrumentId, RunId, SampleId, Unit};

/// Returns the value that `text` states, or `None` where it stands for no value.
pub(super) fn read_value(
    reading: &FieldReading,
    text: &str,
    numbers: &Numbers<'_>,
) -> Result<Option<FieldValue>, Complaint> {
    let bare = text.trim();
    if bare.is_empty() || numbers.is_missing(bare.as_bytes()) {
        return Ok(None);
    }
    let bare = reading.words.get(bare).map_or(bare, String::as_str);
    match reading.field.kind() {
        FieldKind::Number(own) => number(bare, own, reading.unit, numbers)
            .and_then(|value| plausible(bare, reading.field, value)),
        FieldKind::Choice(list) => choice(bare, list),
        FieldKind::Text if reading.field == Field::MarkersS => markers(bare, numbers),
        FieldKind::Text => plain_text(bare, reading.field),
    }
    .map(Some)
}

fn number(
    bare: &str,
    own: Unit,
    written: Option<Unit>,
    numbers: &Numbers<'_>,
) -> Result<FieldValue, Complaint> {
    let value = numbers.parse(bare.as_bytes()).ok_or_else(|| {
        let mut complaint = numbers.complain(bare.as_bytes());
        if !matches!(own, Unit::One) {
            let unit = written.unwrap_or(own);
            complaint.expected = format!("{}, in {unit}", complaint.expected);
        }
        complaint
    })?;
    Ok(FieldValue::Number(match written {
        None => value,
        Some(unit) => own.from_canonical(unit.to_canonical(value)),
    }))
}

/// Refuses a number that the field cannot mean.
fn plausible(bare: &str, field: Field, value: FieldValue) -> Result<FieldValue, Complaint> {
    let (FieldValue::Number(number), Some((least, greatest))) = (&value, field.plausible()) else {
        return Ok(value);
    };
    if (least..=greatest).contains(number) {
        return Ok(value);
    }
    let unit = match field.kind() {
        FieldKind::Number(Unit::One) | FieldKind::Text | FieldKind::Choice(_) => String::new(),
        FieldKind::Number(unit) => format!(" {unit}"),
    };
    Err(Complaint::new(
        &quoted(bare.as_bytes()),
        &format!("a value of {least} to {greatest}{unit}"),
        "check for a lost decimal mark or a wrong column, and correct the value",
    ))
}

fn choice(bare: &str, list: &[&str]) -> Result<FieldValue, Complaint> {
    list.iter()
        .find(|word| word.eq_ignore_ascii_case(bare))
        .map(|word| FieldValue::Text((*word).to_owned()))
        .ok_or_else(|| {
            Complaint::new(
                &quoted(bare.as_bytes()),
                &format!("one of {}", list.join(", ")),
                "correct the word, or write a profile whose words translate it",
            )
        })
}

/// Returns the marker times respelt with a decimal point, as every reader of the field expects.
fn markers(bare: &str, numbers: &Numbers<'_>) -> Result<FieldValue, Complaint> {
    let mut times = Vec::new();
    for part in bare.split_whitespace() {
        let time = numbers
            .parse(part.as_bytes())
            .ok_or_else(|| numbers.complain(part.as_bytes()))?;
        times.push(time.to_string());
    }
    Ok(FieldValue::Text(times.join(" ")))
}

fn plain_text(bare: &str, field: Field) -> Result<FieldValue, Complaint> {
    let checked: Result<(), IdError> = match field {
        Field::RunId => RunId::new(bare).map(drop),
        Field::SampleId => SampleId::new(bare).map(drop),
        Field::BatchId => BatchId::new(bare).map(drop),
        Field::InstrumentId => InstrumentId::new(bare).map(drop),
        _ => Ok(()),
    };
    match checked {
        Ok(()) => Ok(FieldValue::Text(bare.to_owned())),
        Err(error) => Err(Complaint::new(
            &format!("`{}`: {error}", clip(bare)),
            "an identifier of at most 200 bytes without control characters",
            "correct the name",
        )),
    }
}
