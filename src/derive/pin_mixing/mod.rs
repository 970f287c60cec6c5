//! Mixing curve of a pin mixer (AACC 54-40).
//!
//! [`prepare()`] finds time zero, contours and both peaks once, and reads every number together with
//! its spread when the noise is drawn anew; each metric then reads from that. Heights are in % of
//! full scale, or in N m where a torque calibration is stated. No angle between the slopes is
//! given: it depends on the scaling of the axes. All constants of the standard are from memory of
//! the trade: results are computed with rules modelled on it, not verified against its text.

mod height;
mod items;
mod prepare;
mod protein;
mod settings;
mod work;

pub use items::{ITEMS, Item};
pub use prepare::{Band, FoundPeak, PeakState, Prepared, Stated, prepare};
pub use protein::suggested_absorption;
pub use settings::{SPEED_PER_MIN, Settings};

use super::{Derived, Metric, ReadingContext, lines_of, read_all};
use crate::record::{Conditions, ReadCurve, Run};
use crate::schema::{MethodCard, Unit};
use std::sync::Arc;

/// Returns every metric of the method, in report order.
pub fn metrics() -> Vec<&'static Metric<Prepared>> {
    [height::METRICS, work::METRICS, protein::METRICS].concat()
}

/// Returns the method's card.
pub fn card() -> MethodCard {
    MethodCard {
        id: "pin-mixing",
        name: "mixing curve of a pin mixer",
        metrics: metrics().iter().map(|metric| metric.card).collect(),
        parameters: Settings::default().cards(),
    }
}

/// Derives every metric of the method from `run`.
pub fn derive(run: &Run, conditions: Arc<Conditions>) -> Derived {
    derive_with(run, conditions, Settings::default())
}

/// Derives every metric of the method from `run` with parameters of one's own.
pub fn derive_with(run: &Run, conditions: Arc<Conditions>, settings: Settings) -> Derived {
    let prepared = prepare(run, Arc::clone(&conditions), settings);
    let lines_of = |(from, to): (f64, f64)| lines_of(run, &prepared.t, from, to);
    let unit_of = |declared| printed_unit(&prepared, declared);
    let text = settings.name();
    let context = ReadingContext {
        settings: &text,
        unit_of: &unit_of,
        lines_of: &lines_of,
    };
    let results = read_all(run, &conditions, &prepared, &metrics(), &context);
    let band = prepared.band.ok();
    let (upper, lower) = band.map(|band| (band.upper, band.lower)).unzip();
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

/// Returns the unit in which a number of this run is printed: N m and its kin where the torque is
/// calibrated, the record's own where it is neither that nor % of full scale.
fn printed_unit(p: &Prepared, declared: Unit) -> Unit {
    match (declared, p.torque_per_unit_nm().is_some()) {
        (Unit::Percent, true) => Unit::NewtonMetre,
        (Unit::Percent, false) => p.unit,
        (Unit::PercentPerMinute, true) => Unit::NewtonMetrePerMinute,
        (Unit::PercentMinute, true) => Unit::NewtonMetreMinute,
        (other, _) => other,
    }
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
