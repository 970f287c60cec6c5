//! Mixing curve of a recording dough mixer (ISO 5530-1, ICC 115/1, AACC 54-21 and 54-22).
//!
//! [`prepare()`] finds time zero, spikes, contours and the counted peak once; each metric then reads
//! from that. All constants from standards are from memory of the trade unless flagged otherwise:
//! results are computed with rules modelled on the standards, not verified against their text.

mod contours;
mod line;
mod peak;
mod prepare;
mod settings;
mod shape;
pub mod water;

pub use contours::{Contour, Contours};
pub use peak::torque_per_fu_nm;
pub use prepare::{CountedPeak, Prepared, prepare};
pub use settings::{ACCEPTED_FU, BLADE_PERIOD_S, SLOW_BLADE_PER_MIN, Settings, TARGET_FU};

use super::{Derived, Metric, ReadingContext, lines_of, read_all};
use crate::record::{Conditions, ReadCurve, Run};
use crate::schema::{MethodCard, Unit};
use std::sync::Arc;

/// Returns every metric of the method, in report order.
pub fn metrics() -> Vec<&'static Metric<Prepared>> {
    [water::METRICS, shape::METRICS, peak::METRICS, line::METRICS].concat()
}

/// Returns the method's card.
pub fn card() -> MethodCard {
    MethodCard {
        id: "mixing",
        name: "mixing curve of a recording dough mixer",
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
    let mut prepared = prepare(run, Arc::clone(&conditions), settings);
    prepared.facts.missing_cells = run.missing_cells;
    prepared.facts.line_crossings = line::count_departures(&prepared);
    let next = water::dosing_of_next_run(&prepared);
    prepared.facts.next_water_ml = next.map(|n| n.water_ml);
    prepared.facts.next_flour_g = next.and_then(|n| n.flour_g);
    let (t, unit) = (&prepared.t, prepared.unit);
    let lines_of = |(from, to): (f64, f64)| lines_of(run, t, from, to);
    // A record of undocumented unit gives heights in that unit.
    let unit_of = |declared: Unit| match declared {
        Unit::Fu if unit != Unit::Fu => unit,
        other => other,
    };
    let text = settings.name();
    let context = ReadingContext {
        settings: &text,
        unit_of: &unit_of,
        lines_of: &lines_of,
    };
    let results = read_all(run, &conditions, &prepared, &metrics(), &context);
    prepared.facts.development_spread_min = development_spread(&results);
    let line = prepared.line().ok();
    let contours = prepared.contours.pair().ok();
    let curve = ReadCurve {
        x: prepared.t.iter().map(|t| t / 60.0).collect(),
        upper: contours.map(|(upper, _)| upper.y.clone()),
        lower: contours.map(|(_, lower)| lower.y.clone()),
        signal: prepared.signal,
        centre: prepared.centre.y,
        line,
    };
    Derived {
        facts: prepared.facts,
        results,
        curve,
    }
}

/// Returns the spread of the exact development-time readings, min.
fn development_spread(results: &[crate::record::MetricResult]) -> Option<f64> {
    let values: Vec<f64> = results
        .iter()
        .filter(|result| result.metric.id == "mixing.development_time")
        .filter_map(|result| result.outcome.value())
        .collect();
    let (low, high) = values.iter().fold((f64::MAX, f64::MIN), |(low, high), v| {
        (low.min(*v), high.max(*v))
    });
    (values.len() > 1).then_some(high - low)
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
