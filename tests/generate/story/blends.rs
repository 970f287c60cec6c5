//! Pin-mixer and heating runs of the story's blends, for the full day.
//!
//! What the pin mixer and the heating test see is a method's blend with water at their own speed,
//! as with the recording dough mixer. Finer wholemeal develops sooner, breaks down faster and takes
//! more water (from memory); the numbers are invented.

use super::super::facts::Facts;
use super::super::heating::{END_MIN, HeatingFacts, HeatingModel, HeatingRun, Step};
use super::super::pin::{PinFacts, PinModel, PinRun};
use super::{Blend, Method};

/// Torque of one percent of the pin mixer's full scale, N m; invented.
const PIN_TORQUE_NM: f64 = 0.0074;
/// Fall of the logarithm of C1 per percent of water; invented.
const C1_PER_PERCENT: f64 = 0.045;
/// C1 that gives the absorption, N m; HANDBOOK §3, from memory.
const TARGET_NM: f64 = 1.10;
/// Dough mass of the heating test, g; HANDBOOK §3, from memory.
const HEATING_DOUGH_G: f64 = 75.0;

fn rounded(value: f64, digits: i32) -> f64 {
    let scale = libm::pow(10.0, f64::from(digits));
    (value * scale).round() / scale
}

fn lab(prefix: &str, number: u32, blend: &Blend, method: &Method, replicate: u32) -> Facts {
    Facts {
        run_id: format!("{prefix}-{number}"),
        sample_id: blend.sample_id.to_owned(),
        flour_name: blend.name.to_owned(),
        flour_kind: "blend".to_owned(),
        batch_id: format!("{}-{}-{prefix}-{replicate}", blend.sample_id, method.word),
        treatment: method.word.to_owned(),
        block: "morning".to_owned(),
        replicate: replicate.to_string(),
        moisture_pct: Some(blend.moisture_pct),
        water_contact_s: Some(0.0),
        operator: "operator 2".to_owned(),
        started_at: "2026-03-12 10:00".to_owned(),
        note: format!("{} wholemeal", method.grind),
        ..Facts::default()
    }
}

/// Returns the pin-mixer run of a method's blend in the 10 g bowl: `number` names it and is the seed
/// of its noise, `replicate` scatters it.
pub fn pin_run(number: u32, blend: &Blend, method: &Method, replicate: u32) -> PinRun {
    let scatter = 1.0 + 0.015 * (f64::from(replicate) - 1.5);
    let flour_g = rounded(10.0 * 86.0 / (100.0 - blend.moisture_pct), 2);
    let absorption = blend.absorption + method.absorption;
    let water_ml = rounded(
        flour_g * (100.0 - blend.moisture_pct) / 8600.0 * (100.0 + absorption) - flour_g,
        2,
    );
    PinRun {
        facts: PinFacts {
            lab: Facts {
                bowl_g: Some(10.0),
                purpose: "study".to_owned(),
                flour_g: Some(flour_g),
                water_ml: Some(water_ml),
                thermostat_c: Some(25.2),
                instrument_id: "pin-1".to_owned(),
                ..lab("PM", number, blend, method, replicate)
            },
            dough_g: Some(rounded(flour_g + water_ml, 2)),
            spring: "8".to_owned(),
            torque_per_percent_nm: Some(PIN_TORQUE_NM),
            speed_per_min: Some(88.0),
            protein_pct: Some(12.4),
            protein_basis: "14 %".to_owned(),
        },
        model: PinModel {
            hump_pct: 31.0,
            hump_min: 0.62 * blend.peak_min * method.peak * scatter,
            steepness: 1.5 * method.slope,
            floor_pct: 17.0,
            wetting_min: 0.22,
            half_band_pct: 0.18 * blend.half_band_fu,
            follow: 0.9,
            narrowing: 0.35 + 0.08 * (method.slope - 1.0),
            speed_per_min: 88.0,
            second_share: 0.3,
        },
        step_s: 0.1,
        length_min: 10.0,
        noise_pct: 0.35,
        seed: u64::from(number),
    }
}

/// Returns the heating run of a method's blend with `beyond` percent of water more than its
/// absorption; several with different `beyond` are the search for it.
pub fn heating_run(number: u32, blend: &Blend, method: &Method, beyond: f64) -> HeatingRun {
    let wanted = heating_absorption(blend, method);
    let hydration = rounded(wanted + beyond, 1);
    let flour_14 = 100.0 * HEATING_DOUGH_G / (100.0 + hydration);
    let flour_g = rounded(flour_14 * 86.0 / (100.0 - blend.moisture_pct), 2);
    let stiffness = libm::exp(-C1_PER_PERCENT * (hydration - wanted));
    let c1 = TARGET_NM * stiffness;
    HeatingRun {
        facts: HeatingFacts {
            lab: Facts {
                purpose: if beyond.abs() < 0.5 {
                    "final"
                } else {
                    "titration"
                }
                .to_owned(),
                flour_g: Some(flour_g),
                water_ml: Some(rounded(HEATING_DOUGH_G - flour_g, 2)),
                hydration_pct: Some(hydration),
                instrument_id: "heating-1".to_owned(),
                ..lab("HT", number, blend, method, 1)
            },
            hydration_basis: "14 %".to_owned(),
            dough_g: Some(HEATING_DOUGH_G),
            speed_per_min: Some(80.0),
        },
        model: HeatingModel {
            developed_nm: c1 + 0.04,
            development_min: 0.13 * blend.peak_min * method.peak,
            softening_nm_per_min: 0.0011 * blend.slope_fu_per_min * method.slope,
            weakening: Step {
                nm: 0.58 * stiffness + 0.02 * method.slope,
                at_min: 13.6,
                within_min: 1.1,
            },
            gelatinisation: Step {
                nm: 1.38,
                at_min: 19.4,
                within_min: 0.7,
            },
            breakdown: Step {
                nm: 0.28 + 0.1 * (method.slope - 1.0),
                at_min: 26.2,
                within_min: 0.8,
            },
            setback: Step {
                nm: 0.95,
                at_min: 36.4,
                within_min: 1.5,
            },
            half_band_nm: 0.0011 * blend.half_band_fu,
            speed_per_min: 80.0,
            second_share: 0.35,
            lag_min: 0.8,
            dough_start_c: 27.4,
        },
        step_s: 0.4,
        length_min: END_MIN,
        noise_nm: 0.004,
        noise_c: 0.05,
        seed: u64::from(number),
    }
}

/// Returns the water in ml per 100 g of flour at 14 % moisture at which the blend of a method comes
/// to 1.10 N m; invented, a little below that of the recording dough mixer. The C1 of a generated run
/// lies within 0.01 N m of what this asks for, by the softening before it.
pub fn heating_absorption(blend: &Blend, method: &Method) -> f64 {
    blend.absorption + method.absorption - 1.5
}
