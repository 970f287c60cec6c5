//! The columns of a profile: what each header cell holds, for each kind of record.

use super::error::ProfileError;
use super::header::{Gives, Header, Rest};
use super::model::{CurveContent, FieldReading, ItemReading, ObservationItem, TimeFormat};
use super::resolve::{read_field, read_unit};
use super::words::{CURVE_CONTENTS, Holds, Place, TIME_FORMATS};
use super::written::WrittenColumn;
use crate::schema::{Axis, Channel, Field, Unit};

/// Columns of one kind of record, with the header line they make.
pub(super) struct Columns<T> {
    pub header: Header,
    pub contents: Vec<T>,
}

/// Returns the columns of a curve file.
pub(super) fn curve_columns(
    place: &Place<'_>,
    written: &[WrittenColumn],
) -> Result<Columns<CurveContent>, ProfileError> {
    let header = read_header(place, written, &[Gives::Run, Gives::Curve])?;
    let mut contents = Vec::new();
    for (index, column) in written.iter().enumerate() {
        let key = format!("columns.{}", index + 1);
        no_words(place, &key, column)?;
        contents.push(curve_content(place, &key, column)?);
    }
    let is_abscissa =
        |c: &CurveContent| matches!(c, CurveContent::Time(_) | CurveContent::Length(..));
    let abscissas = contents.iter().filter(|c| is_abscissa(c)).count();
    if abscissas != 1 {
        return Err(place.error(
            "columns",
            format!("{abscissas} columns of time or length"),
            "exactly one abscissa",
            "say holds = \"time\", \"chart-mm\" or \"hook-travel-mm\" for one column, and \
             holds = \"ignore\" for what is not needed",
        ));
    }
    let channels: Vec<Channel> = contents.iter().filter_map(channel_of).collect();
    let twice = channels
        .iter()
        .enumerate()
        .find(|(i, c)| channels.iter().take(*i).any(|earlier| earlier == *c));
    if let Some((_, channel)) = twice {
        return Err(place.error(
            "columns",
            format!("channel `{}` twice", channel.word()),
            "each channel at most once",
            "for several runs in one file use arrangement = \"side-by-side\"",
        ));
    }
    if channels.iter().all(|c| c.goes_beside()) {
        return Err(place.error(
            "columns",
            "no column that holds the recorded curve".to_owned(),
            "a column with holds = \"signal\", \"middle\" or a channel of a log such as \"power\"",
            "say which column is the recorded curve",
        ));
    }
    if header.rest.is_some() && channels != [Channel::Signal] {
        return Err(place.error(
            "columns",
            "further channels beside a repeated column".to_owned(),
            "curves side by side: one abscissa and the repeated signal column",
            "say holds = \"ignore\" for the others",
        ));
    }
    Ok(Columns { header, contents })
}

fn channel_of(content: &CurveContent) -> Option<Channel> {
    match content {
        CurveContent::Ordinate(channel, _) => Some(*channel),
        _ => None,
    }
}

fn curve_content(
    place: &Place<'_>,
    key: &str,
    column: &WrittenColumn,
) -> Result<CurveContent, ProfileError> {
    let word = column.holds.as_deref().unwrap_or("");
    let holds = place.choose(&format!("{key}.holds"), word, CURVE_CONTENTS)?;
    let format_key = format!("{key}.format");
    let unit_key = format!("{key}.unit");
    let only = |what: &str, given: &Option<String>, key: &str| match given {
        None => Ok(()),
        Some(text) => Err(place.error(
            key,
            format!("`{text}`"),
            &format!("this key only for {what}"),
            "leave it out",
        )),
    };
    if !matches!(holds, Holds::Time) {
        only("time", &column.format, &format_key)?;
    }
    match holds {
        Holds::Time => {
            only(
                "lengths and ordinates; a time has a format",
                &column.unit,
                &unit_key,
            )?;
            let word = column.format.as_deref().unwrap_or("");
            let format: TimeFormat = place.choose(&format_key, word, TIME_FORMATS)?;
            Ok(CurveContent::Time(format))
        }
        Holds::Length(axis) => {
            let own = match axis {
                Axis::VolumeMl => Unit::Millilitre,
                _ => Unit::Millimetre,
            };
            let unit = read_unit(place, &unit_key, column.unit.as_deref(), Some(own))?;
            Ok(CurveContent::Length(axis, unit.unwrap_or(own)))
        }
        Holds::Ordinate(channel) => {
            let unit = ordinate_unit(place, &unit_key, channel, column.unit.as_deref())?;
            Ok(CurveContent::Ordinate(channel, unit))
        }
        Holds::Passed => {
            only("columns that are read", &column.unit, &unit_key)?;
            Ok(CurveContent::Passed)
        }
    }
}

fn ordinate_unit(
    place: &Place<'_>,
    key: &str,
    channel: Channel,
    written: Option<&str>,
) -> Result<Unit, ProfileError> {
    if channel.goes_beside() {
        let own = Unit::Celsius;
        return Ok(read_unit(place, key, written, Some(own))?.unwrap_or(own));
    }
    let text = written.unwrap_or("");
    let allowed = channel.quantities();
    let unit = Unit::parse(text).ok();
    if let Some(unit) = unit.filter(|unit| allowed.contains(&unit.quantity())) {
        return Ok(unit);
    }
    let known = Unit::all().filter(|unit| allowed.contains(&unit.quantity()));
    let known: Vec<&str> = known.map(Unit::symbol).collect();
    Err(place.error(
        key,
        format!("`{text}`"),
        &format!(
            "a unit that channel `{}` is recorded in, \"a.u.\" for a curve whose unit nobody \
             documented",
            channel.word()
        ),
        &format!("write one of {}", known.join(", ")),
    ))
}

/// Returns the columns of a run sheet.
pub(super) fn sheet_columns(
    place: &Place<'_>,
    written: &[WrittenColumn],
) -> Result<Columns<Option<FieldReading>>, ProfileError> {
    let header = read_header(place, written, &[Gives::Field])?;
    let mut contents = Vec::new();
    for (index, column) in written.iter().enumerate() {
        let key = format!("columns.{}", index + 1);
        no_format(place, &key, column)?;
        let is_pattern = header.rest.is_some() && index == header.exact.len();
        match column.holds.as_deref() {
            None if is_pattern => {}
            Some("ignore") => contents.push(None),
            name => {
                let name = name.unwrap_or("");
                place.field(&format!("{key}.holds"), name)?;
                let unit = column.unit.as_deref();
                contents.push(Some(read_field(place, &key, name, unit, &column.words)?));
            }
        }
    }
    let has_file = contents.iter().flatten().any(|r| r.field == Field::File);
    if !has_file {
        return Err(place.error(
            "columns",
            "no column that holds `file`".to_owned(),
            "one column with holds = \"file\"",
            "a run sheet says which raw file each line speaks of",
        ));
    }
    Ok(Columns { header, contents })
}

/// Returns the columns of an observation sheet.
pub(super) fn observation_columns(
    place: &Place<'_>,
    written: &[WrittenColumn],
) -> Result<Columns<Option<ItemReading>>, ProfileError> {
    let header = read_header(place, written, &[])?;
    let list: Vec<(&str, Option<ObservationItem>)> = ObservationItem::ALL
        .iter()
        .map(|item| (item.name(), Some(*item)))
        .chain([("ignore", None)])
        .collect();
    let mut contents = Vec::new();
    for (index, column) in written.iter().enumerate() {
        let key = format!("columns.{}", index + 1);
        no_format(place, &key, column)?;
        let word = column.holds.as_deref().unwrap_or("");
        let item = place.choose(&format!("{key}.holds"), word, &list)?;
        let own = match item {
            Some(ObservationItem::MixTimeMin | ObservationItem::RestMin) => Some(Unit::Minute),
            _ => None,
        };
        let unit = read_unit(place, &format!("{key}.unit"), column.unit.as_deref(), own)?;
        contents.push(item.map(|item| ItemReading {
            item,
            unit,
            words: column.words.clone(),
        }));
    }
    let holds = |item| {
        contents
            .iter()
            .flatten()
            .any(|r: &ItemReading| r.item == item)
    };
    if !holds(ObservationItem::BatchId)
        || !(holds(ObservationItem::Grade) || holds(ObservationItem::Value))
    {
        return Err(place.error(
            "columns",
            "no column for the dough, or none for grade or value".to_owned(),
            "columns with holds = \"batch_id\" and holds = \"grade\" (or \"value\")",
            "say which columns hold them",
        ));
    }
    Ok(Columns { header, contents })
}

fn read_header(
    place: &Place<'_>,
    written: &[WrittenColumn],
    allowed: &[Gives],
) -> Result<Header, ProfileError> {
    let mut exact: Vec<String> = Vec::new();
    let mut rest = None;
    for (index, column) in written.iter().enumerate() {
        let key = format!("columns.{}.header", index + 1);
        let cell = column.header.trim();
        let pattern = [
            ("{run}", Gives::Run),
            ("{curve}", Gives::Curve),
            ("{field}", Gives::Field),
        ]
        .into_iter()
        .filter(|(_, gives)| allowed.contains(gives))
        .find_map(|(word, gives)| cell.split_once(word).map(|(a, b)| (a, b, gives)));
        match pattern {
            Some(_) if index + 1 != written.len() => {
                return Err(place.error(
                    &key,
                    format!("`{cell}` before the last column"),
                    "a repeated column as the last one",
                    "move it to the end",
                ));
            }
            Some((before, after, gives)) => {
                rest = Some(Rest {
                    before: before.to_owned(),
                    after: after.to_owned(),
                    gives,
                    at_least: column.at_least.unwrap_or(1),
                });
            }
            None if !cell.is_empty() && exact.iter().any(|earlier| earlier == cell) => {
                return Err(place.error(
                    &key,
                    format!("`{cell}` a second time"),
                    "different header cells",
                    "a column is known by its header; two alike cannot be told apart",
                ));
            }
            None => exact.push(cell.to_owned()),
        }
    }
    if exact.iter().all(String::is_empty) {
        return Err(place.error(
            "columns",
            format!("{} columns, none with a literal header", written.len()),
            "at least one column with the header cell that the file shows",
            "write one [[columns]] entry for each column, from the left",
        ));
    }
    Ok(Header { exact, rest })
}

fn no_words(place: &Place<'_>, key: &str, column: &WrittenColumn) -> Result<(), ProfileError> {
    match column.words.is_empty() {
        true => Ok(()),
        false => Err(place.error(
            &format!("{key}.words"),
            "words".to_owned(),
            "none: a curve column holds numbers",
            "for cells that stand for no value use text.missing",
        )),
    }
}

fn no_format(place: &Place<'_>, key: &str, column: &WrittenColumn) -> Result<(), ProfileError> {
    match &column.format {
        None => Ok(()),
        Some(text) => Err(place.error(
            &format!("{key}.format"),
            format!("`{text}`"),
            "this key only for the time of a curve",
            "leave it out",
        )),
    }
}
