//! Scalar records of bread and dough: loaf volume by seed displacement with its box check,
//! specific volume, bake loss, crumb moisture, mould, dough density and gas, stickiness, solvent
//! retention, free water.
//!
//! A record is one line of a sheet: quantity, value, unit, for a dough and where it applies a loaf
//! (the piece) and an age. Loaves of a dough are sub-samples: each dough has a mean over its
//! loaves. Lines about the box (full box, calibration block) hold for all loaves of their sheet,
//! whatever dough they name. The closed list of quantities is
//! [`ScalarQuantity`].

mod records;
mod scalars;
mod settings;
mod volume;

pub use settings::Settings;

use super::subject::{Subject, dough_conditions};
use super::{Metric, readings};
use crate::record::{Grading, MetricResult, Observation};
use crate::schema::{MethodCard, MetricCard, ScalarQuantity, Test};
use records::{Record, SeedBox, by, entries, is_of_box, records_of};
use scalars::Scalars;
use std::sync::Arc;
use volume::{Loaf, Loaves};

/// A metric, and the quantities of which the dough must have at least one record.
type Needing<P> = (&'static Metric<P>, &'static [ScalarQuantity]);

/// Returns the cards of every metric of the method, in report order.
fn metric_cards() -> Vec<MetricCard> {
    let of_loaves = volume::OF_LOAVES.iter().map(|(metric, _)| metric.card);
    let of_doughs = volume::OF_DOUGHS.iter().map(|(metric, _)| metric.card);
    let of_scalars = scalars::METRICS.iter().map(|(metric, _)| metric.card);
    of_loaves.chain(of_doughs).chain(of_scalars).collect()
}

/// Returns the method's card.
pub fn card() -> MethodCard {
    MethodCard {
        id: "loaf",
        name: "scalar records of bread and dough",
        metrics: metric_cards(),
        parameters: Settings::default().cards(),
    }
}

/// Returns what the scalar records among `observations` came to.
pub fn derive(observations: &[Observation]) -> Grading {
    derive_with(observations, Settings::default())
}

/// Returns what the scalar records came to, with parameters of one's own.
pub fn derive_with(observations: &[Observation], settings: Settings) -> Grading {
    let mut results = Vec::new();
    for sheet in by(&records_of(observations), |r| r.line.file.name.as_str()).values() {
        let seed_box = SeedBox::of(sheet);
        let of_doughs: Vec<Record<'_>> = sheet.iter().filter(|r| !is_of_box(r)).cloned().collect();
        for dough in by(&of_doughs, |r| r.line.batch_id.as_str()).values() {
            add_bread(dough, &seed_box, settings, &mut results);
            // Bits of an age, which is never negative, sort as the ages do.
            let age = |r: &Record<'_>| r.line.age_d.map(|d| d.max(0.0).to_bits());
            for at_age in by(dough, age).values() {
                add_scalars(at_age, settings, &mut results);
            }
        }
    }
    Grading {
        results,
        ..Grading::default()
    }
}

/// Adds volume, specific volume and bake loss of a dough's loaves and of the dough.
fn add_bread(
    dough: &[Record<'_>],
    seed_box: &SeedBox<'_>,
    settings: Settings,
    results: &mut Vec<MetricResult>,
) {
    use ScalarQuantity as Q;
    let of_loaf = |r: &&Record<'_>| {
        matches!(
            r.entry.quantity,
            Q::SeedsAroundLoaf | Q::LoafMass | Q::DoughPieceMass
        )
    };
    let of_loaves: Vec<Record<'_>> = dough.iter().filter(of_loaf).cloned().collect();
    let mut loaves = Vec::new();
    for (name, records) in by(&of_loaves, |r| r.entry.piece.clone()) {
        let loaf = Loaf::of(&entries(&records), seed_box, settings);
        let named = name.map_or(String::new(), |name| format!(", loaf {name}"));
        let lines = lines_with(&records, seed_box);
        let subject = subject(&lines, &named, settings);
        read_needed(&subject, &loaf, volume::OF_LOAVES, &of_loaves, results);
        loaves.push(loaf);
    }
    if !loaves.is_empty() {
        let lines = lines_with(&of_loaves, seed_box);
        let subject = subject(&lines, ", bread", settings);
        let loaves = Loaves(loaves);
        read_needed(&subject, &loaves, volume::OF_DOUGHS, &of_loaves, results);
    }
}

/// Adds the other scalar metrics of a dough at one age, or without an age.
fn add_scalars(at_age: &[Record<'_>], settings: Settings, results: &mut Vec<MetricResult>) {
    let lines: Vec<&Observation> = at_age.iter().map(|r| r.line).collect();
    let age = lines.first().and_then(|o| o.age_d);
    let named = age.map_or(String::new(), |age| format!(" at {age} d"));
    let scalars = Scalars {
        entries: entries(at_age),
        settings,
    };
    let subject = subject(&lines, &named, settings);
    read_needed(&subject, &scalars, scalars::METRICS, at_age, results);
}

/// Returns the lines of some records, with those of their box.
fn lines_with<'a>(records: &[Record<'a>], seed_box: &SeedBox<'a>) -> Vec<&'a Observation> {
    let own = records.iter().map(|r| r.line);
    own.chain(seed_box.lines.iter().copied()).collect()
}

fn subject<'a>(lines: &'a [&'a Observation], named: &str, settings: Settings) -> Subject<'a> {
    let dough = lines.first().map_or("", |o| o.batch_id.as_str());
    Subject {
        test: Test::Loaf,
        name: format!("dough {dough}{named}"),
        lines,
        conditions: Arc::new(dough_conditions(lines)),
        settings: settings.name(),
    }
}

/// Adds the results of those metrics that the records have something for.
fn read_needed<P>(
    subject: &Subject<'_>,
    prepared: &P,
    metrics: &[Needing<P>],
    records: &[Record<'_>],
    results: &mut Vec<MetricResult>,
) {
    for (metric, needed) in metrics {
        let has = |r: &Record<'_>| needed.contains(&r.entry.quantity);
        if records.iter().any(has) {
            let read = readings(prepared, &[*metric]).into_iter();
            results.extend(read.filter_map(|reading| subject.result(reading)));
        }
    }
}
