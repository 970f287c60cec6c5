//! Mixing and heating curve of a dough (ISO 17718, ICC 173).
//!
//! [`prepare()`] finds the start, the smoothed centre and the five points once, and reads every
//! number together with its spread when the noise is drawn anew; each metric then reads from that.
//! The phases of the test are those of the standard's programme, counted from the start; whether
//! the block kept to them is for a rule to say. The water absorption needs several runs of one
//! flour lot and is a number of their group. Constants of the standard are from memory of the
//! trade: results are computed with rules modelled on it, not verified against its text.

mod course;
mod items;
mod points;
mod prepare;
mod programme;
mod settings;
pub mod water;

pub use items::{ITEMS, Item, Limb, Point, SlopeReading};
pub use prepare::{Band, Prepared, Stated, Temperature, prepare};
pub use settings::{ACCEPTED_NM, DOUGH_G, SPEED_PER_MIN, Settings, TARGET_NM};

use super::{Derived, Metric, read_in_declared_units};
use crate::record::{Conditions, ReadCurve, Run, RunGroup, RunRecord};
use crate::schema::MethodCard;
use std::sync::Arc;

/// Returns every metric of one run, in report order.
pub fn metrics() -> Vec<&'static Metric<Prepared>> {
    [points::METRICS, course::METRICS, water::METRICS].concat()
}

/// Returns the method's card.
pub fn card() -> MethodCard {
    let of_runs = metrics().into_iter().map(|metric| metric.card);
    let of_groups = water::GROUP_METRICS.iter().map(|metric| metric.card);
    MethodCard {
        id: "heating",
        name: "mixing and heating curve of a dough",
        metrics: of_runs.chain(of_groups).collect(),
        parameters: Settings::default().cards(),
    }
}

/// Derives every metric of the method from `run`.
pub fn derive(run: &Run, conditions: Arc<Conditions>) -> Derived {
    derive_with(run, conditions, Settings::default())
}

/// Derives every metric of the method from `run` with parameters of one's own.
pub fn derive_with(run: &Run, conditions: Arc<Conditions>, settings: Settings) -> Derived {
    let mut prepared = prepare(run, Arc::clone(&conditions), settings);
    prepared.facts.programme = programme::programme(&prepared);
    let text = settings.name();
    let on = (text.as_str(), prepared.t.as_slice());
    let results = read_in_declared_units(run, &conditions, &prepared, &metrics(), on);
    let (upper, lower) = prepared
        .band
        .ok()
        .map(|band| (band.upper, band.lower))
        .unzip();
    Derived {
        facts: prepared.facts,
        results,
        curve: ReadCurve {
            x: prepared.t.iter().map(|t| t / 60.0).collect(),
            signal: prepared.signal,
            centre: prepared.centre,
            upper,
            lower,
            line: None,
        },
    }
}

/// Derives what the heating runs of a day give together: the water absorption of each flour lot.
pub fn derive_groups(runs: &[&RunRecord]) -> Vec<RunGroup> {
    water::groups(runs)
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
