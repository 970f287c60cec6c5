//! From what an author wrote to a checked profile.

use super::columns::{self, Columns};
use super::error::ProfileError;
use super::model::{
    Arrangement, Block, Constant, CurveForm, FieldReading, Form, Profile, TextForm,
};
use super::words::{DECIMALS, DELIMITERS, ENCODINGS, Place, THOUSANDS};
use super::written::{Written, WrittenBlock, WrittenCurves, WrittenText};
use crate::schema::{Digest, Field, FieldKind, Test, Unit};
use std::collections::BTreeMap;

impl Profile {
    /// Returns the profile written in `toml_text`.
    ///
    /// # Errors
    /// [`ProfileError`] at the first key that is unknown, missing, of the wrong type or
    /// contradicts another.
    pub fn parse(toml_text: &str) -> Result<Profile, ProfileError> {
        let written: Written = toml::from_str(toml_text).map_err(|e| from_toml(toml_text, &e))?;
        let place = Place {
            profile: &written.id,
        };
        check_id(&place, &written.id)?;
        let text = resolve_text(&place, &written.text)?;
        let block = written
            .block
            .as_ref()
            .map(|block| resolve_block(&place, block))
            .transpose()?;
        let test = written
            .test
            .as_deref()
            .map(|word| {
                let list: Vec<(&str, Test)> = Test::ALL.iter().map(|t| (t.word(), *t)).collect();
                place.choose("test", word, &list)
            })
            .transpose()?;
        let (form, header) = resolve_form(&place, &written, test)?;
        let units_row = written.signature.units_row.clone();
        if !units_row.is_empty() && units_row.len() != header.exact.len() {
            return Err(place.error(
                "signature.units_row",
                format!("{} cells", units_row.len()),
                &format!("{} cells, one for each column", header.exact.len()),
                "write the units row cell by cell as it stands in the file",
            ));
        }
        Ok(Profile {
            id: written.id.clone(),
            title: written.title.clone(),
            digest: Digest::of(toml_text.as_bytes()),
            text,
            first_line: written.signature.first_line.clone(),
            header,
            units_row,
            block,
            form,
            constants: resolve_constants(&place, &written.constants)?,
        })
    }
}

fn from_toml(text: &str, error: &toml::de::Error) -> ProfileError {
    let at = error.span().map_or(0, |span| span.start).min(text.len());
    let before = text.get(..at).unwrap_or("");
    let line = before.matches('\n').count() + 1;
    let table = before
        .lines()
        .rev()
        .map(str::trim)
        .find(|l| l.starts_with('['))
        .map_or("", |l| l.trim_matches(['[', ']']));
    let whole_line = text.lines().nth(line - 1).unwrap_or("").trim();
    let name = whole_line.split('=').next().unwrap_or("").trim();
    let own_table = whole_line.starts_with('[') || table.is_empty();
    let key = match own_table {
        true => name.trim_matches(['[', ']']).to_owned(),
        false => format!("{table}.{name}"),
    };
    let id = text
        .lines()
        .find_map(|l| l.trim().strip_prefix("id"))
        .and_then(|rest| rest.split('"').nth(1))
        .unwrap_or("");
    // The TOML reader calls a key a field; here a field is a fact about a run.
    let message = error
        .message()
        .replace("unknown field", "unknown key")
        .replace("missing field", "missing key");
    let (found, expected) = message
        .split_once(", expected ")
        .unwrap_or((&message, "a key that every profile has"));
    ProfileError {
        profile: id.to_owned(),
        key,
        found: format!("{found} on line {line}"),
        expected: expected.to_owned(),
        remedy: "compare with `profile show` of a built-in profile and correct the line".to_owned(),
    }
}

fn check_id(place: &Place<'_>, id: &str) -> Result<(), ProfileError> {
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    if id.is_empty() || id.len() > 60 || !id.chars().all(plain) {
        return Err(place.error(
            "id",
            format!("`{id}`"),
            "1 to 60 lower-case letters, digits and hyphens",
            "choose a short name such as `our-mixing-layout`",
        ));
    }
    Ok(())
}

fn resolve_text(place: &Place<'_>, written: &WrittenText) -> Result<TextForm, ProfileError> {
    let form = TextForm {
        encoding: place.choose("text.encoding", &written.encoding, ENCODINGS)?,
        delimiter: place.choose("text.delimiter", &written.delimiter, DELIMITERS)?,
        decimal: place.choose("text.decimal", &written.decimal, DECIMALS)?,
        thousands: match &written.thousands {
            None => None,
            Some(word) => place.choose("text.thousands", word, THOUSANDS)?,
        },
        missing: written
            .missing
            .iter()
            .map(|m| m.trim().to_owned())
            .collect(),
    };
    if form.decimal.byte() == form.delimiter.byte() {
        return Err(place.error(
            "text.decimal",
            format!("`{}`, the same character as the delimiter", written.decimal),
            "two different characters",
            "look at the file again: one of the two is something else",
        ));
    }
    if form.thousands.map(|m| m.word()) == Some(form.decimal.word()) {
        return Err(place.error(
            "text.thousands",
            format!("`{}`, the same as the decimal mark", form.decimal.word()),
            "a different mark, or none",
            "write thousands = \"none\" if the layout groups no digits",
        ));
    }
    Ok(form)
}

fn resolve_block(place: &Place<'_>, written: &WrittenBlock) -> Result<Block, ProfileError> {
    if written.separator.is_empty() {
        return Err(place.error(
            "block.separator",
            "an empty text".to_owned(),
            "the text between key and value, such as \":\"",
            "write it as it stands in the file",
        ));
    }
    let mut keys = BTreeMap::new();
    for (key, wanted) in &written.keys {
        let path = format!("block.keys.{key:?}");
        let reading = read_field(
            place,
            &path,
            &wanted.field,
            wanted.unit.as_deref(),
            &wanted.words,
        )?;
        keys.insert(key.trim().to_owned(), reading);
    }
    Ok(Block {
        separator: written.separator.clone(),
        keys,
    })
}

/// Returns how a fact called `name`, written in `unit` and `words`, is read.
pub(super) fn read_field(
    place: &Place<'_>,
    path: &str,
    name: &str,
    unit: Option<&str>,
    words: &BTreeMap<String, String>,
) -> Result<FieldReading, ProfileError> {
    let field = place.field(&format!("{path}.field"), name)?;
    if let FieldKind::Choice(choices) = field.kind() {
        let list: Vec<(&str, ())> = choices.iter().map(|word| (*word, ())).collect();
        for (theirs, ours) in words {
            place.choose(&format!("{path}.words.{theirs:?}"), ours, &list)?;
        }
    }
    let own = match field.kind() {
        FieldKind::Number(own) => Some(own),
        _ => None,
    };
    Ok(FieldReading {
        field,
        unit: read_unit(place, &format!("{path}.unit"), unit, own)?,
        words: words.clone(),
    })
}

/// Returns the unit written in the file where it differs from `own`, after checking that both
/// measure the same.
pub(super) fn read_unit(
    place: &Place<'_>,
    key: &str,
    written: Option<&str>,
    own: Option<Unit>,
) -> Result<Option<Unit>, ProfileError> {
    let Some(text) = written else {
        return Ok(None);
    };
    let Some(own) = own else {
        return Err(place.error(
            key,
            format!("unit `{text}`"),
            "no unit: this is a text",
            "leave the unit out",
        ));
    };
    let unit = Unit::parse(text)
        .map_err(|e| place.error(key, format!("`{text}`"), "a known unit", &e.to_string()))?;
    if unit.quantity() != own.quantity() {
        return Err(place.error(
            key,
            format!("`{text}`"),
            &format!("a unit of the same quantity as `{own}`"),
            "correct the unit, or the field it belongs to",
        ));
    }
    Ok((unit != own).then_some(unit))
}

fn resolve_form(
    place: &Place<'_>,
    written: &Written,
    test: Option<Test>,
) -> Result<(Form, super::header::Header), ProfileError> {
    let need_test = || {
        test.ok_or_else(|| {
            place.error(
                "test",
                "nothing".to_owned(),
                "mixing, extension or membrane",
                "say which test the layout records",
            )
        })
    };
    let no_curves = || match written.curves {
        None => Ok(()),
        Some(_) => Err(place.error(
            "curves",
            format!("a table in a profile of record `{}`", written.record),
            "no such table",
            "leave it out, or write record = \"curve\"",
        )),
    };
    let records = [("curve", 0), ("run-sheet", 1), ("observation-sheet", 2)];
    match place.choose("record", &written.record, &records)? {
        0 => {
            let test = need_test()?;
            let curves = written.curves.as_ref().ok_or_else(|| {
                place.error(
                    "curves",
                    "nothing".to_owned(),
                    "a table with the arrangement of the curves",
                    "write [curves] and arrangement = \"one\"",
                )
            })?;
            let Columns { header, contents } = columns::curve_columns(place, &written.columns)?;
            let arrangement = resolve_arrangement(place, curves, &header, written)?;
            let form = CurveForm {
                test,
                arrangement,
                columns: contents,
                summary: curves.summary.clone(),
            };
            Ok((Form::Curves(form), header))
        }
        1 => {
            no_curves()?;
            let Columns { header, contents } = columns::sheet_columns(place, &written.columns)?;
            Ok((Form::RunSheet(contents), header))
        }
        _ => {
            no_curves()?;
            need_test()?;
            let Columns { header, contents } =
                columns::observation_columns(place, &written.columns)?;
            Ok((Form::ObservationSheet(contents), header))
        }
    }
}

fn resolve_arrangement(
    place: &Place<'_>,
    curves: &WrittenCurves,
    header: &super::header::Header,
    written: &Written,
) -> Result<Arrangement, ProfileError> {
    let list = [("one", 0), ("side-by-side", 1), ("stacked", 2)];
    let choice = place.choose("curves.arrangement", &curves.arrangement, &list)?;
    if (choice == 1) != header.rest.is_some() {
        return Err(place.error(
            "columns",
            format!("arrangement `{}`", curves.arrangement),
            "a header with {run} or {curve} for curves side by side, and only for them",
            "write the header of the repeated column as in the file, with {run} for the name",
        ));
    }
    if (choice == 2) != curves.starts_with.is_some() {
        return Err(place.error(
            "curves.starts_with",
            format!("arrangement `{}`", curves.arrangement),
            "this key for stacked curves, and only for them",
            "write the key of the line that opens each curve",
        ));
    }
    match (choice, &curves.starts_with) {
        (0, _) => Ok(Arrangement::One),
        (1, _) => Ok(Arrangement::SideBySide),
        (_, start) => {
            let starts_with = start.clone().unwrap_or_default();
            let known = written
                .block
                .as_ref()
                .is_some_and(|block| block.keys.contains_key(&starts_with));
            if !known {
                return Err(place.error(
                    "curves.starts_with",
                    format!("`{starts_with}`"),
                    "a key of block.keys",
                    "add the opening key to [block.keys], usually with field = \"run_id\"",
                ));
            }
            Ok(Arrangement::Stacked { starts_with })
        }
    }
}

fn resolve_constants(
    place: &Place<'_>,
    written: &BTreeMap<String, toml::Value>,
) -> Result<Vec<(Field, Constant)>, ProfileError> {
    let mut constants = Vec::new();
    for (name, value) in written {
        let key = format!("constants.{name}");
        let field = place.field(&key, name)?;
        let constant = match (field.kind(), value) {
            (FieldKind::Number(_), toml::Value::Integer(n)) => i32::try_from(*n)
                .ok()
                .map(|n| Constant::Number(f64::from(n))),
            (FieldKind::Number(_), toml::Value::Float(v)) if v.is_finite() => {
                Some(Constant::Number(*v))
            }
            (FieldKind::Text, toml::Value::String(text)) => Some(Constant::Text(text.clone())),
            (FieldKind::Choice(list), toml::Value::String(text))
                if list.contains(&text.as_str()) =>
            {
                Some(Constant::Text(text.clone()))
            }
            _ => None,
        };
        let expected = match field.kind() {
            FieldKind::Number(unit) => format!("a number in {unit}"),
            FieldKind::Text => "a text in quotes".to_owned(),
            FieldKind::Choice(list) => format!("one of {}", list.join(", ")),
        };
        let constant = constant.ok_or_else(|| {
            place.error(&key, format!("`{value}`"), &expected, "correct the value")
        })?;
        constants.push((field, constant));
    }
    Ok(constants)
}
