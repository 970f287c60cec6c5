//! Inflation of dough discs into bubbles (ISO 27971, AACC 54-30; HANDBOOK §6).
//!
//! [`prepare()`] brings every record to overpressure over chart length once; each metric of a disc
//! reads from that, and the numbers of the test come from the discs of a dough together
//! ([`groups()`]). Stress and strain are those of a spherical cap and are called nominal. Results are
//! computed with rules modelled on the standards, not verified against their text.

mod cap;
mod dough;
mod mean;
mod metrics;
mod numbers;
mod prepare;
mod settings;

pub use cap::Disc;
pub use dough::{DoughOfDiscs, groups};
pub use mean::{Shape, mean_curve};
pub use numbers::Numbers;
pub use prepare::{Bubble, Prepared, prepare};
pub use settings::{
    AIR_FLOW_L_H, BIAXIAL_LIMIT, CHART_MM_PER_S, ENERGY_FACTOR, KPA_PER_MM_WATER,
    ML_PER_MM_OF_FLOW, ML_PER_MM_OF_G, MM_WATER_PER_MM, SWELLING_FACTOR, Settings,
};

use super::{Derived, Metric, read_in_declared_units};
use crate::record::{Conditions, ReadCurve, Run};
use crate::schema::MethodCard;
use std::sync::Arc;

/// Returns every metric of one disc, in report order.
pub fn metrics() -> Vec<&'static Metric<Prepared>> {
    metrics::METRICS.to_vec()
}

/// Returns the method's card: the metrics of a dough first, then those of a disc.
pub fn card() -> MethodCard {
    let of_dough = dough::METRICS.iter().map(|metric| metric.card);
    MethodCard {
        id: "inflation",
        name: "inflation of dough discs into bubbles",
        metrics: of_dough
            .chain(metrics::METRICS.iter().map(|metric| metric.card))
            .collect(),
        parameters: Settings::default().cards(),
    }
}

/// Derives every metric of a disc from `run`.
pub fn derive(run: &Run, conditions: Arc<Conditions>) -> Derived {
    derive_with(run, conditions, Settings::default())
}

/// Derives every metric of a disc from `run` with parameters of one's own.
pub fn derive_with(run: &Run, conditions: Arc<Conditions>, settings: Settings) -> Derived {
    let prepared = prepare(run, settings);
    let text = settings.name();
    let on = (text.as_str(), prepared.x.as_slice());
    let results = read_in_declared_units(run, &conditions, &prepared, metrics::METRICS, on);
    Derived {
        facts: prepared.facts,
        results,
        curve: ReadCurve {
            x: prepared.x,
            signal: prepared.y,
            centre: prepared.centre,
            ..ReadCurve::default()
        },
    }
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
