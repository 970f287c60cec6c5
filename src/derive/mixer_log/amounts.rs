//! Masses of the dough, and how a computed value becomes a reading.

use super::prepare::Prepared;
use super::settings::{WATER_DENSITY, half_width, shared, source};
use super::signal::Integral;
use crate::derive::Reading;
use crate::numerics::{Input, Propagated, propagate};
use crate::record::{Estimate, Outcome};
use crate::schema::{Field, Unit};

/// Mass of a dough, with what it was taken from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct DoughMass {
    /// Mass, g.
    pub grams: Input,
    /// Where it comes from.
    pub from: &'static str,
}

/// Returns an outcome that names what is not stated.
pub(super) fn not_stated(fields: &[Field]) -> Outcome {
    let names: Vec<&str> = fields.iter().map(|field| field.name()).collect();
    Outcome::NotComputable(format!(
        "not stated: {}; state it in the file or in the run sheet",
        names.join(", ")
    ))
}

/// Returns the fields of `wanted` that nothing is stated for.
pub(super) fn lacking(p: &Prepared, wanted: &[Field]) -> Vec<Field> {
    let missing = wanted.iter().filter(|field| p.stated(**field).is_none());
    missing.copied().collect()
}

/// Returns the mass of the dosed water in g, from its volume at 20 °C.
pub(super) fn water_mass(p: &Prepared) -> Option<Input> {
    let grams = p.stated(Field::WaterMl)? * WATER_DENSITY / 1000.0;
    Some(p.settings.water(grams)).filter(|water| water.value > 0.0)
}

/// Returns the mass of the flour as weighed, g.
pub(super) fn flour_mass(p: &Prepared) -> Option<Input> {
    let grams = p.stated(Field::FlourG).filter(|g| *g > 0.0)?;
    Some(p.settings.mass(grams))
}

/// Returns the mass of the dough: stated, or flour and water and salt, or what flowed.
pub(super) fn dough_mass(p: &Prepared) -> Result<DoughMass, Outcome> {
    if let Some(grams) = p.stated(Field::DoughG).filter(|g| *g > 0.0) {
        return Ok(DoughMass {
            grams: p.settings.mass(grams),
            from: "stated",
        });
    }
    if let (Some(flour), Some(water)) = (flour_mass(p), water_mass(p)) {
        let salt = p.stated(Field::SaltPct).unwrap_or(0.0) / 100.0;
        let sum = propagate(&[flour, water], |v| v[0] * (1.0 + salt) + v[1]);
        return Ok(DoughMass {
            grams: of_source(sum, source::FLOW),
            from: "flour + water",
        });
    }
    let flows = p.jet.as_ref().ok().and_then(|jet| {
        let (water, flour) = (jet.flow.as_ref()?, jet.flour_flow.as_ref()?);
        let s = &p.settings;
        let water = water.integral(s).scaled(WATER_DENSITY / 60.0);
        let flour = flour.integral(s).scaled(1000.0 / 60.0);
        let gain = |tolerance, source| shared(1.0, tolerance / 100.0, source);
        let amounts = [
            own(water),
            own(flour),
            gain(s.flow_tolerance_pct, source::FLOW),
            gain(s.flour_flow_tolerance_pct, source::FLOUR_FLOW),
        ];
        let sum = propagate(&amounts, |v| v[0] * v[2] + v[1] * v[3]);
        (sum.value > 0.0).then_some(DoughMass {
            grams: of_source(sum, source::FLOW),
            from: "flows",
        })
    });
    flows.ok_or_else(|| not_stated(&[Field::DoughG]))
}

/// Returns an integral as an input whose uncertainty is its own.
pub(super) fn own(integral: Integral) -> Input {
    Input {
        value: integral.value,
        own: integral.u,
        shared: 0.0,
        source: 0,
    }
}

/// Returns a computed value as an input of the next, its shared part of one source.
pub(super) fn of_source(found: Propagated, source: u8) -> Input {
    Input {
        value: found.value,
        own: found.own,
        shared: found.shared,
        source,
    }
}

/// Returns a gain of 1 with the tolerance of an instrument, % of reading.
pub(super) fn gain(tolerance_pct: f64, source: u8) -> Input {
    Input {
        shared: half_width(tolerance_pct / 100.0),
        ..shared(1.0, 0.0, source)
    }
}

/// Returns the reading of a computed value, its interval widened by what the gaps may hold.
///
/// The parameters keep the shared part of the standard uncertainty apart, as `shared_u`: it does
/// not average out over doughs and is added once to a mean or difference (HANDBOOK 19).
pub(super) fn reading(found: Propagated, less: f64, more: f64) -> Reading {
    let u_gaps = half_width(0.5 * (less + more));
    let half = 2.0 * found.u();
    let estimate = Estimate::with_interval(
        found.value,
        found.value - half - less,
        found.value + half + more,
        found.u().hypot(u_gaps),
    );
    let outcome = match estimate {
        Ok(estimate) => Outcome::Exact(estimate),
        Err(error) => Outcome::NotComputable(error.to_string()),
    };
    Reading::of(outcome).with_remark(format!("shared_u={}", found.shared))
}

/// Returns the reading of a value that no gap touches.
pub(super) fn plain(found: Propagated) -> Reading {
    reading(found, 0.0, 0.0)
}

/// Adds a remark behind those already there.
pub(super) fn remark(reading: Reading, more: &str) -> Reading {
    let text = match reading.remarks.is_empty() {
        true => more.to_owned(),
        false => format!("{}; {more}", reading.remarks),
    };
    reading.with_remark(text)
}

/// Returns the reading of a specific energy with its value in Wh/kg among the remarks.
pub(super) fn energy(reading: Reading) -> Reading {
    match reading.outcome.value_or_bound() {
        Some(kilojoule) => {
            let wh = Unit::WattHourPerKilogram.from_canonical(kilojoule);
            remark(reading, &format!("wh_per_kg={wh:.3}"))
        }
        None => reading,
    }
}
