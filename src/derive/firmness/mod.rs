//! Firmness of crumb (AACC 74-09.01) and its rise with age.
//!
//! A run is one compression of one slice: [`prepare()`] finds noise and contact, and each metric
//! reads from that. Slices of a loaf and loaves of a dough are sub-samples: [`groups`] forms the
//! mean of a dough at each age from the means of its loaves, and Avrami's law over the ages.
//! Results are computed with rules modelled on the standard, not verified against its text.

mod ages;
mod firming;
mod metrics;
mod prepare;
mod settings;

pub use ages::groups;
pub use prepare::{Force, Prepared, prepare};
pub use settings::{READ_AT_MM, READ_AT_SHARE, Settings};

use super::{Derived, read_in_declared_units};
use crate::record::{Conditions, ReadCurve, Run};
use crate::schema::{MethodCard, MetricCard};
use std::sync::Arc;

/// Returns the cards of every metric of the method, in report order.
fn metric_cards() -> Vec<MetricCard> {
    let of_slices = metrics::METRICS.iter().map(|metric| metric.card);
    let of_ages = ages::METRICS.iter().map(|metric| metric.card);
    let of_doughs = firming::METRICS.iter().map(|metric| metric.card);
    of_slices.chain(of_ages).chain(of_doughs).collect()
}

/// Returns the method's card.
pub fn card() -> MethodCard {
    MethodCard {
        id: "firmness",
        name: "compression of crumb",
        metrics: metric_cards(),
        parameters: Settings::default().cards(),
    }
}

/// Derives every metric of one slice from `run`.
pub fn derive(run: &Run, conditions: Arc<Conditions>) -> Derived {
    derive_with(run, conditions, Settings::default())
}

/// Derives every metric of one slice from `run` with parameters of one's own.
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
            centre: prepared.y.clone(),
            signal: prepared.y,
            ..ReadCurve::default()
        },
    }
}
