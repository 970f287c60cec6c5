//! Series of a reference flour: out of an archive, with the readings of today behind them.

use super::super::ProcessError;
use super::super::kept::{Known, each_part};
use super::{frozen_limits, wanted};
use crate::archive::{Archive, Reader};
use crate::record::{Day, RunRecord, iso_day};
use crate::schema::{Field, MetricCard, Status, Unit};
use crate::table::StoredTable;
use crate::trend::{Reading, Series, Trend, judge};
use std::collections::BTreeMap;
use std::path::Path;

/// Word in `flour_kind` by which a run says that its flour is the laboratory's reference.
pub(super) const REFERENCE: &str = "reference";

/// What the runs table says of a run of the reference flour.
struct Test {
    instrument: String,
    lot: String,
    started: String,
}

/// Returns the series of the reference flour in an archive, by instrument and metric.
pub(super) fn series_of(
    reader: &Reader,
    known: &Known,
    lots: &[String],
    cards: &[MetricCard],
) -> Result<Vec<Series>, ProcessError> {
    let mut tests: BTreeMap<(String, String), Test> = BTreeMap::new();
    let mut parts = Vec::new();
    each_part(reader, known, |part| {
        if let Some(table) = &part.runs {
            for row in &table.rows {
                let text = |column: &str| table.text(row, column).to_owned();
                let (lot, kind) = (text("sample_id"), text("flour_kind"));
                let is_reference = match lots.is_empty() {
                    true => kind.eq_ignore_ascii_case(REFERENCE),
                    false => lots.contains(&lot),
                };
                let instrument = text("instrument_id");
                if is_reference && !instrument.is_empty() {
                    let key = (text("run_id"), text("raw_sha256"));
                    let started = text("started_at");
                    tests.insert(
                        key,
                        Test {
                            instrument,
                            lot,
                            started,
                        },
                    );
                }
            }
        }
        parts.extend(part.results);
        Ok(())
    })?;
    let mut series: BTreeMap<(String, &str), Series> = BTreeMap::new();
    for table in &parts {
        add_results(&mut series, table, &tests, cards);
    }
    let frozen = frozen_limits(reader)?;
    Ok(series
        .into_values()
        .map(|mut one| {
            one.readings.sort_by(|a, b| {
                let by_time = a.day.total_cmp(&b.day).then_with(|| a.date.cmp(&b.date));
                by_time.then_with(|| a.run.cmp(&b.run))
            });
            let of_one = frozen.iter().filter(|(instrument, metric, _)| {
                *instrument == one.instrument && metric == one.metric.id
            });
            one.frozen = of_one.map(|(.., limits)| limits.clone()).collect();
            one
        })
        .collect())
}

fn add_results<'c>(
    series: &mut BTreeMap<(String, &'c str), Series>,
    table: &StoredTable,
    tests: &BTreeMap<(String, String), Test>,
    cards: &'c [MetricCard],
) {
    for row in &table.rows {
        let text = |column: &str| table.text(row, column);
        let key = (text("run_id").to_owned(), text("raw_sha256").to_owned());
        let card = cards.iter().find(|card| card.id == text("metric"));
        let (Some(test), Some(card)) = (tests.get(&key), card) else {
            continue;
        };
        let default = card.variants.first().map_or("", |variant| variant.id);
        let value = table.number(row, "value");
        let exact = Status::parse(text("status")) == Some(Status::Exact);
        let (Some(value), true, true) = (value, exact, text("variant") == default) else {
            continue;
        };
        let one = series
            .entry((test.instrument.clone(), card.id))
            .or_insert_with(|| Series {
                instrument: test.instrument.clone(),
                metric: *card,
                variant: default.to_owned(),
                unit: Unit::parse(text("unit")).unwrap_or(card.unit),
                readings: Vec::new(),
                frozen: Vec::new(),
            });
        // A run without a day has no place in time.
        if let Some(day) = day_number(&test.started) {
            one.readings.push(Reading {
                result_id: text("result_id").to_owned(),
                run: key.0,
                day,
                date: date_words(&test.started),
                lot: test.lot.clone(),
                value,
            });
        }
    }
}

/// Returns the day of `started`, with the time of day as a fraction, counted from 1970-01-01.
fn day_number(started: &str) -> Option<f64> {
    let day = iso_day(started)?;
    let date: jiff::civil::Date = day.parse().ok()?;
    let epoch = jiff::civil::date(1970, 1, 1);
    let days = f64::from(date.since(epoch).ok()?.get_days());
    let clock = started.get(day.len()..)?.trim_start_matches(['T', ' ']);
    let mut parts = clock.split(':').map(|part| part.parse::<f64>().ok());
    let hours = parts.next().flatten().unwrap_or(0.0);
    let minutes = parts.next().flatten().unwrap_or(0.0);
    Some(days + (hours + minutes / 60.0) / 24.0)
}

fn date_words(started: &str) -> String {
    iso_day(started).unwrap_or(started).to_owned()
}

/// Returns what control says of the instruments on which the day measured a reference flour: the
/// archive's readings with those of the day behind them.
///
/// # Errors
/// [`ProcessError`] when the archive cannot be read.
pub(in crate::pipeline) fn of_day(
    archive: Option<&Path>,
    known: Option<&Known>,
    day: &Day,
) -> Result<Vec<Trend>, ProcessError> {
    let is_reference = |run: &&RunRecord| {
        let kind = run.metadata.text(Field::FlourKind);
        kind.is_some_and(|kind| kind.trim().eq_ignore_ascii_case(REFERENCE))
    };
    let today: Vec<&RunRecord> = day.runs.iter().filter(is_reference).collect();
    let (Some(folder), Some(known), false) = (archive, known, today.is_empty()) else {
        return Ok(Vec::new());
    };
    let cards = wanted(&[])?;
    let reader = Archive::at(folder).read()?;
    let mut all = series_of(&reader, known, &[], &cards)?;
    for run in &today {
        add_run(&mut all, run, &cards);
    }
    let measured = |series: &Series| {
        let mut today = today.iter();
        today.any(|run| {
            run.conditions
                .instrument_id
                .as_ref()
                .is_some_and(|id| id.as_str() == series.instrument)
        })
    };
    Ok(all.into_iter().filter(measured).filter_map(judge).collect())
}

/// Adds a run of today to the series, unless the archive has its results already.
fn add_run(all: &mut Vec<Series>, run: &RunRecord, cards: &[MetricCard]) {
    let (Some(instrument), Some(lot)) = (&run.conditions.instrument_id, &run.conditions.sample_id)
    else {
        return;
    };
    let started = run.metadata.text(Field::StartedAt).unwrap_or_default();
    let Some(day) = day_number(&started) else {
        return;
    };
    for card in cards {
        let Some(result) = run.result(card.id) else {
            continue;
        };
        let Some(value) = result.outcome.value() else {
            continue;
        };
        let id = result.id.to_string();
        let place = all
            .iter()
            .position(|s| s.instrument == instrument.as_str() && s.metric.id == card.id);
        let place = place.unwrap_or_else(|| {
            all.push(Series {
                instrument: instrument.to_string(),
                metric: *card,
                variant: result.variant.to_owned(),
                unit: result.unit,
                readings: Vec::new(),
                frozen: Vec::new(),
            });
            all.len() - 1
        });
        let Some(series) = all.get_mut(place) else {
            continue;
        };
        if series.readings.iter().any(|known| known.result_id == id) {
            continue;
        }
        let reading = Reading {
            result_id: id,
            run: run.id.to_string(),
            day,
            date: date_words(&started),
            lot: lot.to_string(),
            value,
        };
        let after = series.readings.partition_point(|known| known.day <= day);
        series.readings.insert(after, reading);
    }
}
