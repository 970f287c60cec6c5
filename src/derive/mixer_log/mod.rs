//! Process logs: a mixer, a jet of water, mixing after the jet (HANDBOOK §8).
//!
//! [`prepare()`] finds traces, gaps and times at work once; each metric then reads from that.
//! Energies are per kg of dough. Every number has a standard uncertainty of its own and one that it
//! shares with all numbers read with the same instruments; the parameters keep the second apart as
//! `shared_u`, because it does not average out over doughs. What several logs of one dough give
//! together on one stated boundary is a number of the dough. The tool reads records; it controls
//! nothing.

mod amounts;
mod balance;
mod dough;
mod energy;
mod hydration;
mod jet;
mod prepare;
mod settings;
mod signal;
mod temperature;

pub use balance::{HeatBalance, friction_factor, ice, specific_heat, water_by_rule};
pub use dough::{Boundary, DoughLogs, groups};
pub use hydration::{Basis, content_on_basis, dough_moisture, water_on_basis};
pub use jet::{hydraulic_by_ratio, ideal_speed, water_warming};
pub use prepare::{Jet, Power, PowerSource, Prepared, Stage, prepare};
pub use settings::{
    ICE_K, SPEED_POSSIBLE, SPEED_USUAL, Settings, WATER_DENSITY, WATER_SPECIFIC_HEAT,
};
pub use signal::{Integral, Trace, Work};

use super::{Derived, Metric, read_in_declared_units};
use crate::numerics::rolling_mean;
use crate::record::{Conditions, ReadCurve, Run};
use crate::schema::MethodCard;
use std::sync::Arc;

/// Returns every metric of a single log, in report order.
pub fn metrics() -> Vec<&'static Metric<Prepared>> {
    [
        energy::METRICS,
        jet::METRICS,
        energy::TIME_METRICS,
        temperature::METRICS,
        hydration::METRICS,
    ]
    .concat()
}

/// Returns the method's card.
pub fn card() -> MethodCard {
    let of_log = metrics().into_iter().map(|metric| metric.card);
    let of_dough = dough::METRICS.iter().map(|metric| metric.card);
    MethodCard {
        id: "mixer-log",
        name: "process log of a mixer or jet",
        metrics: of_log.chain(of_dough).collect(),
        parameters: Settings::default().cards(),
    }
}

/// Derives every metric of the method from `run`: those of a jet from a log with a pressure, those
/// of a mixer from a log with a power or torque, and what the stated masses and temperatures give.
pub fn derive(run: &Run, conditions: Arc<Conditions>) -> Derived {
    derive_with(run, conditions, Settings::default())
}

/// Derives every metric of the method from `run` with parameters of one's own.
pub fn derive_with(run: &Run, conditions: Arc<Conditions>, settings: Settings) -> Derived {
    let prepared = prepare(run, settings);
    let of_machine = match (prepared.is_jet, prepared.power.is_ok()) {
        (true, false) => jet::METRICS.to_vec(),
        (true, true) => [energy::METRICS, jet::METRICS].concat(),
        (false, _) => energy::METRICS.to_vec(),
    };
    let metrics = [
        &of_machine[..],
        energy::TIME_METRICS,
        temperature::METRICS,
        hydration::METRICS,
    ]
    .concat();
    let text = settings.name();
    let on = (text.as_str(), prepared.t.as_slice());
    let results = read_in_declared_units(run, &conditions, &prepared, &metrics, on);
    let half = 0.5 * settings.peak_window_s;
    let readable = prepared.facts.time_steps_back.is_empty();
    Derived {
        results,
        curve: ReadCurve {
            x: prepared.t.iter().map(|s| s / 60.0).collect(),
            centre: match readable {
                true => rolling_mean(&prepared.t, &prepared.y, half),
                false => prepared.y.clone(),
            },
            signal: prepared.y,
            ..ReadCurve::default()
        },
        facts: prepared.facts,
    }
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
