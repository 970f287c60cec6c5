//! Uniaxial extension of rested dough pieces (ISO 5530-2, ICC 114/1, AACC 54-10).
//!
//! [`prepare()`] finds noise, contact, rupture and maximum once; each metric then reads from that.
//! The abscissa is declared by the file's layout, chart millimetres or hook travel; resistance at
//! 50 mm and extensibility are given on that abscissa and never converted. All constants from
//! standards are from memory of the trade unless flagged otherwise: results are computed with
//! rules modelled on the standards, not verified against their text.

mod edges;
mod metrics;
mod onset;
mod pieces;
mod prepare;
mod settings;

pub use pieces::{PieceMean, piece_means};
pub use prepare::{Prepared, Stretch, prepare};
pub use settings::{CHART_MM_PER_S, HOOK_MM_PER_S, MILLINEWTON_PER_EU, READ_AT_MM, Settings};

pub use super::place::Place;
use super::{Derived, Metric, ReadingContext, lines_of, read_all};
use crate::record::{Conditions, ReadCurve, Run};
use crate::schema::{MethodCard, Unit};
use std::sync::Arc;

/// Returns every metric of the method, in report order.
pub fn metrics() -> Vec<&'static Metric<Prepared>> {
    metrics::METRICS.to_vec()
}

/// Returns the method's card.
pub fn card() -> MethodCard {
    MethodCard {
        id: "extension",
        name: "uniaxial extension of rested dough pieces",
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
    let prepared = prepare(run, settings);
    let unit = prepared.unit;
    let lines_of = |(from, to): (f64, f64)| lines_of(run, &prepared.x, from, to);
    // A record in another unit gives resistances in that unit.
    let unit_of = |declared: Unit| match declared {
        Unit::Eu if unit != Unit::Eu => unit,
        other => other,
    };
    let text = settings.name();
    let context = ReadingContext {
        settings: &text,
        unit_of: &unit_of,
        lines_of: &lines_of,
    };
    let results = read_all(run, &conditions, &prepared, metrics::METRICS, &context);
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
