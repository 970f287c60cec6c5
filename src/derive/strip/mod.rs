//! Strips of dough drawn out by a hook (HANDBOOK §5).
//!
//! [`prepare()`] turns force over travel into stress over Hencky strain once; each metric then reads
//! from that. Two incompatible definitions of the strain-hardening exponent are in use: both are
//! given, under their own names, and never averaged. Strips are sub-samples: what a dough is comes
//! from the mean of its strips ([`groups()`]).

mod dough;
mod geometry;
mod metrics;
mod numbers;
mod prepare;
mod pull;
mod settings;

pub use dough::{DoughOfStrips, groups};
pub use geometry::Geometry;
pub use numbers::Numbers;
pub use prepare::{Prepared, prepare};
pub use pull::{Mark, Pull};
pub use settings::{Settings, UNIAXIAL_LIMIT};

use super::{Derived, Metric, read_in_declared_units};
use crate::record::{Conditions, ReadCurve, Run};
use crate::schema::MethodCard;
use std::sync::Arc;

/// Returns every metric of one strip, in report order.
pub fn metrics() -> Vec<&'static Metric<Prepared>> {
    metrics::METRICS.to_vec()
}

/// Returns the method's card: the metrics of a dough first, then those of a strip.
pub fn card() -> MethodCard {
    let of_dough = dough::METRICS.iter().map(|metric| metric.card);
    MethodCard {
        id: "strip",
        name: "extension of dough strips with a hook",
        metrics: of_dough
            .chain(metrics::METRICS.iter().map(|metric| metric.card))
            .collect(),
        parameters: Settings::default().cards(),
    }
}

/// Derives every metric of a strip from `run`.
pub fn derive(run: &Run, conditions: Arc<Conditions>) -> Derived {
    derive_with(run, conditions, Settings::default())
}

/// Derives every metric of a strip from `run` with parameters of one's own.
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
