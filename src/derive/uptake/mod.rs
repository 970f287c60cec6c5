//! Water uptake of bran and kernels.
//!
//! A run is moisture in % of dry mass over time, or mass with the dry solids. [`prepare()`] fits
//! Peleg's law, diffusion into a sphere and the early line over root time once; every metric reads
//! from those fits, with the interval that the fit gives. Equilibrium and rates are the laws', not
//! the sample's: each is given by each law and named after it.

mod laws;
mod metrics;
mod prepare;
mod settings;
mod target;

pub use laws::{Law, Laws};
pub use metrics::becker_diffusivity;
pub use prepare::{Prepared, prepare};
pub use settings::Settings;

use super::{Derived, Metric, read_in_declared_units};
use crate::numerics::fit::{Model, Peleg};
use crate::record::{Conditions, ReadCurve, Run};
use crate::schema::MethodCard;
use std::sync::Arc;

/// Returns every metric of the method, in report order.
pub fn metrics() -> Vec<&'static Metric<Prepared>> {
    metrics::METRICS.to_vec()
}

/// Returns the method's card.
pub fn card() -> MethodCard {
    MethodCard {
        id: "uptake",
        name: "water uptake of bran and kernels",
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
    let mut prepared = prepare(run, settings);
    prepared.facts.gain_shown = metrics::shown_share(&prepared);
    let text = settings.name();
    let on = (text.as_str(), prepared.minutes.as_slice());
    let results = read_in_declared_units(run, &conditions, &prepared, metrics::METRICS, on);
    Derived {
        facts: prepared.facts.clone(),
        results,
        curve: read_curve(prepared),
    }
}

/// Returns the moistures with Peleg's law drawn through them where it was fitted.
fn read_curve(p: Prepared) -> ReadCurve {
    let model = Peleg { initial: p.initial };
    let fitted = p
        .laws
        .as_ref()
        .ok()
        .and_then(|laws| laws.peleg.as_ref().ok());
    let centre = match fitted {
        Some(law) => {
            let at = |t: &f64| model.value(*t, &law.fit.parameters);
            p.minutes.iter().map(at).collect()
        }
        None => p.moisture.clone(),
    };
    ReadCurve {
        x: p.minutes,
        signal: p.moisture,
        centre,
        ..ReadCurve::default()
    }
}
