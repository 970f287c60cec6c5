//! Corrections and exclusions: new events beside the old, never in their place.

use super::super::ProcessError;
use super::keeper::Keeper;
use super::known::{Known, RUN_KIND, RunLine};
use super::place::find_archive;
use super::replay::{Replay, raw_inputs};
use super::review::Hand;
use super::unit::Unit;
use crate::archive::{Action, Archive, Entry, Item, Reader};
use crate::record::{FieldValue, RunRecord};
use crate::schema::{Field, FieldKind};
use serde::Serialize;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// Which runs are meant.
#[derive(Debug, Clone)]
pub enum Target {
    /// A run, by name or identifier.
    Run(String),
    /// Every run of a raw file, by name or SHA-256.
    File(String),
}

/// What is to be changed.
#[derive(Debug, Clone)]
pub enum Amend {
    /// A fact: `field=value`.
    Set(String),
    /// The runs are excluded.
    Exclude,
    /// An exclusion is taken back.
    Include,
}

/// What an amendment came to.
#[derive(Debug, Clone, Serialize)]
pub struct Amended {
    /// Ledger line of the amendment.
    pub seq: u64,
    /// For each run: name, and old and new value as words.
    pub changes: Vec<(String, String)>,
    /// Old and new identifier of each result.
    pub results: Vec<(String, String)>,
    /// Last ledger line now.
    pub head: u64,
}

/// Fields that say which record this is, not what it was like.
const FIXED: &[Field] = &[
    Field::RunId,
    Field::File,
    Field::Curve,
    Field::Profile,
    Field::Test,
];

/// Enters an amendment, and derives the runs concerned anew.
///
/// # Errors
/// [`ProcessError::Request`] when no run, or more than one, is called so, the value is none for
/// the field, or nothing would change.
pub fn amend(hand: &Hand<'_>, target: &Target, what: &Amend) -> Result<Amended, ProcessError> {
    let folder = find_archive(hand.archive)?;
    if hand.reason.trim().is_empty() {
        return Err(ProcessError::Request(
            "an amendment needs its reason: give --reason TEXT".into(),
        ));
    }
    let mut keeper = Keeper::open(&folder, hand.who, hand.when)?;
    let reader = Archive::at(&folder).read()?;
    let lines = targets(&keeper.known, &reader, target)?;
    let before = replay(&reader, &keeper.known, &lines)?;
    // An amendment whose runs were not derived anew, because the program was stopped, is made good.
    record(&mut keeper, &before)?;
    let (action, parameters, changes) = describe(what, &before, hand.reason)?;
    let mut event = keeper.event(action);
    event.parameters = parameters;
    event.inputs = before.iter().map(|b| input(&b.line)).collect();
    let seq = keeper.commit(event, Vec::new())?.seq;

    let reader = Archive::at(&folder).read()?;
    keeper.known = Known::load(&reader)?;
    let after = replay(&reader, &keeper.known, &lines)?;
    record(&mut keeper, &after)?;
    let mut results = Vec::new();
    for (old, new) in before.iter().zip(&after) {
        let pairs = old.record.results.iter().zip(&new.record.results);
        results.extend(pairs.map(|(a, b)| (a.id.to_string(), b.id.to_string())));
    }
    Ok(Amended {
        seq,
        changes,
        results,
        head: keeper.head().seq,
    })
}

/// A run in force, made anew.
struct Standing {
    line: RunLine,
    entry: Entry,
    raw: Item,
    record: RunRecord,
}

fn targets(known: &Known, reader: &Reader, target: &Target) -> Result<Vec<RunLine>, ProcessError> {
    let found: Vec<RunLine> = match target {
        Target::Run(name) => known
            .current()
            .filter(|line| {
                line.name == *name || (name.len() >= 8 && line.key.starts_with(name.as_str()))
            })
            .cloned()
            .collect(),
        Target::File(name) => {
            let originals = reader.originals()?;
            let digests: Vec<&str> = originals
                .iter()
                .filter(|o| {
                    o.name == *name
                        || o.name.ends_with(&format!("/{name}"))
                        || (name.len() >= 8 && o.digest.as_str().starts_with(name.as_str()))
                })
                .map(|o| o.digest.as_str())
                .collect();
            known
                .current()
                .filter(|line| digests.contains(&line.raw.as_str()))
                .cloned()
                .collect()
        }
    };
    let found: Vec<RunLine> = found.into_iter().filter(|line| !line.gradings).collect();
    let mut keys: Vec<&str> = found.iter().map(|line| line.key.as_str()).collect();
    keys.sort_unstable();
    keys.dedup();
    match (keys.len(), target) {
        (0, Target::Run(name)) => Err(ProcessError::Request(format!(
            "no run in force is called `{name}`; the runs table lists them"
        ))),
        (0, Target::File(name)) => Err(ProcessError::Request(format!(
            "no run in force was read from a file called `{name}`"
        ))),
        (2.., Target::Run(name)) => Err(ProcessError::Request(format!(
            "{} runs are called `{name}`; give the identifier of the one you mean: {}",
            keys.len(),
            keys.join(", ")
        ))),
        _ => Ok(found),
    }
}

fn replay(
    reader: &Reader,
    known: &Known,
    lines: &[RunLine],
) -> Result<Vec<Standing>, ProcessError> {
    let replay = Replay::new(reader, known);
    let mut standing = Vec::new();
    for line in lines {
        let gone = || {
            ProcessError::Request(format!(
                "run {} cannot be made anew from the archive; run `verify`",
                line.name
            ))
        };
        let entry = reader.event(line.seq)?.ok_or_else(gone)?;
        let recipe = Replay::recipe(&entry);
        let sheets = replay.sheets(&recipe)?;
        let raw = raw_inputs(&entry)
            .into_iter()
            .find(|item| item.digest.as_ref() == Some(&line.raw))
            .ok_or_else(gone)?;
        let made = replay
            .runs(&raw, &recipe, &sheets, u64::MAX)?
            .into_iter()
            .find(|made| made.key == line.key)
            .ok_or_else(gone)?;
        let mut record = made.record;
        if let Ok(id) = crate::schema::RunId::new(&line.name) {
            for result in &mut record.results {
                result.run_id = id.clone();
            }
            record.id = id;
        }
        standing.push(Standing {
            line: line.clone(),
            entry,
            raw,
            record,
        });
    }
    Ok(standing)
}

type Description = (Action, Value, Vec<(String, String)>);

fn describe(what: &Amend, before: &[Standing], reason: &str) -> Result<Description, ProcessError> {
    let Amend::Set(text) = what else {
        let exclude = matches!(what, Amend::Exclude);
        let differs = |b: &&Standing| b.record.excluded.is_some() != exclude;
        if !before.iter().any(|b| differs(&b)) {
            return Err(ProcessError::Request(match exclude {
                true => "the run is excluded already".into(),
                false => "the run is not excluded".into(),
            }));
        }
        let words = match exclude {
            true => "excluded",
            false => "exclusion taken back",
        };
        let changes = before
            .iter()
            .map(|b| (b.line.name.clone(), words.to_owned()))
            .collect();
        let parameters = json!({ "exclude": exclude, "reason": reason });
        return Ok((Action::Exclude, parameters, changes));
    };
    let (field, new) = parse(text)?;
    let mut old = Map::new();
    let mut changes = Vec::new();
    let mut differs = false;
    for b in before {
        let stated = b.record.metadata.statement(field).map(|s| &s.value);
        differs |= stated != Some(&new);
        let value = match stated {
            None => Value::Null,
            Some(FieldValue::Number(n)) => json!(n),
            Some(FieldValue::Text(t)) => json!(t),
        };
        let words = stated.map_or_else(|| "not stated".to_owned(), ToString::to_string);
        changes.push((b.line.name.clone(), format!("{field}: {words} → {new}")));
        old.insert(b.line.key.clone(), value);
    }
    if !differs {
        return Err(ProcessError::Request(format!(
            "{field} is {new} already; nothing was entered"
        )));
    }
    let value = match &new {
        FieldValue::Number(n) => json!(n),
        FieldValue::Text(t) => json!(t),
    };
    let parameters = json!({ "field": field, "old": old, "new": value, "reason": reason });
    Ok((Action::Correct, parameters, changes))
}

/// Returns the field and value of `field=value`; numbers have a decimal point and the unit of the
/// field.
fn parse(text: &str) -> Result<(Field, FieldValue), ProcessError> {
    let wrong = |words: String| ProcessError::Request(words);
    let (name, value) = text
        .split_once('=')
        .ok_or_else(|| wrong(format!("--set: found `{text}`, expected field=value")))?;
    let (name, value) = (name.trim(), value.trim());
    let field = Field::parse(name).ok_or_else(|| {
        let nearest = crate::profile::nearest_field(name);
        wrong(format!(
            "--set: `{name}` is no field; the nearest is `{nearest}`"
        ))
    })?;
    if FIXED.contains(&field) {
        return Err(wrong(format!(
            "--set: `{field}` says which record this is and is not amended; exclude the run, or take in a corrected file or run sheet"
        )));
    }
    if value.is_empty() {
        return Err(wrong(format!("--set: `{field}` is given no value")));
    }
    match field.kind() {
        FieldKind::Number(unit) => match value.parse::<f64>() {
            Ok(number) if number.is_finite() => Ok((field, FieldValue::Number(number))),
            _ => Err(wrong(format!(
                "--set: found `{value}` for {field}, expected a number with decimal point, in {unit}"
            ))),
        },
        FieldKind::Choice(words) if !words.contains(&value) => Err(wrong(format!(
            "--set: found `{value}` for {field}, expected one of {}",
            words.join(", ")
        ))),
        _ => Ok((field, FieldValue::Text(value.to_owned()))),
    }
}

fn input(line: &RunLine) -> Item {
    Item {
        name: Some(line.name.clone()),
        ..Item::with_id(RUN_KIND, &line.key)
    }
}

/// Enters the runs as they are now: one event for each that they were recorded by.
fn record(keeper: &mut Keeper, after: &[Standing]) -> Result<(), ProcessError> {
    let mut by_entry: BTreeMap<u64, Vec<&Standing>> = BTreeMap::new();
    for standing in after {
        by_entry
            .entry(standing.line.seq)
            .or_default()
            .push(standing);
    }
    for group in by_entry.values() {
        let Some(first) = group.first() else { continue };
        let recipe = Replay::recipe(&first.entry);
        let units: Vec<Unit<'_>> = group.iter().map(|s| Unit::of_run(&s.record)).collect();
        let files = group
            .iter()
            .map(|s| (s.record.file.name.clone(), s.raw.clone()))
            .collect();
        keeper.commit_units(&recipe, &units, &files, &[])?;
    }
    Ok(())
}
