//! The metrics of one disc.

use super::numbers::{
    ENERGY, FAILURE_STRAIN, FAILURE_STRESS, K_EXP, K_POW, LENGTH, N_EXP, N_POW, PRESSURE,
    STABILITY, VOLUME,
};
use super::prepare::{Bubble, Prepared};
use super::settings::{ML_PER_MM_OF_FLOW, ML_PER_MM_OF_G};
use crate::derive::hardening::{Law, Laws, Stability};
use crate::derive::{Metric, Reading, metric, or_outcome};
use crate::record::{Estimate, Outcome};
use crate::schema::{Axis, Unit};

fn not_computable(reason: &str) -> Outcome {
    Outcome::NotComputable(reason.to_owned())
}

/// Why a bubble that burst has no length.
const FADED: &str = "the pressure falls into its noise before a rupture can be seen";

fn bubble(p: &Prepared) -> Result<&Bubble, Outcome> {
    p.bubble.as_ref().map_err(Outcome::clone)
}

/// Returns number `which` with its uncertainty.
fn number(p: &Prepared, which: usize) -> Option<Outcome> {
    let value = p.numbers.values.get(which).copied().flatten()?;
    let u = p.numbers.u.get(which).copied().unwrap_or(0.0);
    Some(Outcome::exact(value, u))
}

/// Returns where the record shows the bubble end, mm.
fn end(p: &Prepared, bubble: &Bubble) -> f64 {
    let last = p.x.get(bubble.last).copied().unwrap_or(0.0);
    bubble.rupture.map_or(last, |(place, _)| place.at)
}

/// Returns a number of the whole inflation; a bound where the bubble had not burst by the end.
fn whole(p: &Prepared, which: usize) -> Reading {
    let bubble = or_outcome!(bubble(p));
    let value = number(p, which).unwrap_or_else(|| not_computable("nothing was read"));
    let outcome = match (bubble.rupture, value) {
        (None, _) if bubble.faded => not_computable(FADED),
        (None, Outcome::Exact(estimate)) => Outcome::Above(estimate.value()),
        (_, value) => value,
    };
    Reading::of(outcome).over(0.0, end(p, bubble))
}

/// Returns the outcome times `factor`.
fn scaled(outcome: Outcome, factor: f64) -> Outcome {
    let times = |e: Estimate| Outcome::exact(e.value() * factor, e.std_uncertainty() * factor);
    match outcome {
        Outcome::Exact(estimate) => times(estimate),
        Outcome::Above(bound) => Outcome::Above(bound * factor),
        other => other,
    }
}

metric! {
    /// Greatest overpressure in one disc: 1.1 times the greatest height of the legacy manometer, or
    /// the maximum of a pressure sensor, in mm of water; of a noisy record, that of its smoothed
    /// line.
    PRESSURE_OF_DISC for Prepared {
        id: "inflation.disc_overpressure", symbol: "P", name: "maximum overpressure of a disc",
        unit: Unit::MillimetreWater, decimals: 1, revision: 1,
        source: ("ISO 27971", "maximum pressure P", Published),
        variants: [], read: read_pressure,
    }
}

fn read_pressure(p: &Prepared, _: &'static str) -> Reading {
    let bubble = or_outcome!(bubble(p));
    let at = p.x.get(bubble.top).copied().unwrap_or(0.0);
    let half = p.settings.smoothing_half_width_mm;
    let unfinished = bubble.rupture.is_none() && bubble.top == bubble.last;
    let outcome = match p.centre.get(bubble.top) {
        Some(bound) if unfinished => Outcome::Above(*bound),
        _ => number(p, PRESSURE).unwrap_or_else(|| not_computable("no maximum")),
    };
    Reading::of(outcome).over(at - half, at + half)
}

metric! {
    /// Chart length from the start of the air to rupture of one disc. Rupture is the first sustained
    /// drop: the pressure falls by more than 30 % of itself within 2 mm and never comes back above
    /// the middle of that fall. The record counts from the start of the air.
    LENGTH_OF_DISC for Prepared {
        id: "inflation.disc_extensibility", symbol: "L", name: "length to rupture of a disc",
        unit: Unit::Millimetre, decimals: 1, revision: 1,
        source: ("ISO 27971", "abscissa at rupture L", Published),
        variants: [
            ("4.955", "volumes and times turned into chart length with 4.955 ml/mm, as G = 2.226 sqrt(L) implies"),
            ("4.848", "with 4.848 ml/mm, which 96 l/h on a chart at 5.5 mm/s are"),
        ],
        read: read_length,
    }
}

fn read_length(p: &Prepared, variant: &'static str) -> Reading {
    let reading = whole(p, LENGTH);
    let factor = match (variant, p.axis) {
        ("4.848", Axis::Time | Axis::VolumeMl) => ML_PER_MM_OF_G / ML_PER_MM_OF_FLOW,
        _ => 1.0,
    };
    Reading {
        outcome: scaled(reading.outcome.clone(), factor),
        ..reading
    }
    .with_remark(format!("abscissa={}", p.axis.word()))
}

metric! {
    /// Energy of one disc, 1.32 (V/L) S with V = G²: 6.54 times the area below its curve in cm² of
    /// the legacy chart. It is energy per gram of a disc of about 8 g, not the energy of the air:
    /// it belongs in no energy balance.
    ENERGY_OF_DISC for Prepared {
        id: "inflation.disc_energy", symbol: "W", name: "deformation energy of a disc",
        unit: Unit::TenthMillijoule, decimals: 0, revision: 1,
        source: ("ISO 27971", "deformation energy W", FromMemoryHigh),
        variants: [], read: read_energy,
    }
}

fn read_energy(p: &Prepared, _: &'static str) -> Reading {
    whole(p, ENERGY)
}

metric! {
    /// Air in the bubble at rupture. The measured flow or volume is the physical one; the constants
    /// of G and of the nominal flow differ by 2 %. Where the dead volume between pump and disc is
    /// stated, the air is taken as compressed at constant temperature.
    VOLUME_AT_RUPTURE for Prepared {
        id: "inflation.rupture_volume", symbol: "V", name: "volume at rupture",
        unit: Unit::Millilitre, decimals: 0, revision: 1,
        source: ("air flow times time", "volume", Derived),
        variants: [
            ("measured", "from the recorded volume or the stated air flow"),
            ("4.955", "L times 4.955 ml/mm, as G = 2.226 sqrt(L) implies"),
            ("4.848", "L times 4.848 ml/mm, which 96 l/h on a chart at 5.5 mm/s are"),
        ],
        read: read_volume,
    }
}

fn read_volume(p: &Prepared, variant: &'static str) -> Reading {
    let factor = match variant {
        "4.955" => ML_PER_MM_OF_G,
        "4.848" if p.axis == Axis::ChartMm => ML_PER_MM_OF_FLOW,
        "4.848" => {
            or_outcome!(bubble(p));
            let why = "the record counts the air itself, not chart length at a nominal flow";
            return Reading::of(not_computable(why));
        }
        _ if p.flow_stated => {
            let dead = p
                .dead_volume_ml
                .map_or("not corrected".into(), |v| format!("{v} ml"));
            return whole(p, VOLUME).with_remark(format!("dead volume={dead}"));
        }
        _ => {
            or_outcome!(bubble(p));
            return Reading::of(not_computable("air_flow_l_h not stated"));
        }
    };
    let reading = whole(p, LENGTH);
    Reading {
        outcome: scaled(reading.outcome.clone(), factor),
        ..reading
    }
}

/// Returns the reading with the model it holds for and what was assumed.
fn nominal(p: &Prepared, reading: Reading) -> Reading {
    let mut remark = String::from("model=spherical_cap_nominal");
    if !reading.remarks.is_empty() {
        remark.push_str("; ");
        remark.push_str(&reading.remarks);
    }
    if !p.disc_stated {
        let disc = p.disc;
        remark.push_str(&format!(
            "; disc assumed: radius {} mm, thickness {} mm",
            disc.radius_mm, disc.thickness_mm
        ));
    }
    if !p.flow_stated {
        remark.push_str("; flow=96 l/h assumed");
    }
    reading.with_remark(remark)
}

metric! {
    /// Nominal biaxial Hencky strain ln(1 + h²/a²) at the pole of a spherical cap at rupture; h is
    /// the height of the cap that holds the air. Nominal: bubbles are spherical only at first.
    STRAIN for Prepared {
        id: "inflation.nominal_failure_strain", symbol: "eps_b nominal", name: "nominal strain at rupture",
        unit: Unit::One, decimals: 3, revision: 1,
        source: ("Dobraszczyk and Roberts 1994; Bloksma 1957", "spherical cap", FromMemoryHigh),
        variants: [], read: read_strain,
    }
}

fn read_strain(p: &Prepared, _: &'static str) -> Reading {
    at_rupture(p, FAILURE_STRAIN)
}

metric! {
    /// Nominal stress dP R / (2 d) at the pole of a spherical cap at rupture, with its thinning
    /// d = H0 (a²/(a²+h²))². The model overestimates the stress up to four times at large strain:
    /// for ranking, not as material data.
    STRESS for Prepared {
        id: "inflation.nominal_failure_stress", symbol: "sigma nominal", name: "nominal stress at rupture",
        unit: Unit::Kilopascal, decimals: 0, revision: 1,
        source: ("Dobraszczyk and Roberts 1994; Bloksma 1957", "spherical cap", FromMemoryHigh),
        variants: [], read: read_stress,
    }
}

fn read_stress(p: &Prepared, _: &'static str) -> Reading {
    at_rupture(p, FAILURE_STRESS)
}

fn burst(p: &Prepared) -> Result<&Bubble, Outcome> {
    let bubble = bubble(p)?;
    match bubble.rupture {
        Some(_) => Ok(bubble),
        None if bubble.faded => Err(not_computable(FADED)),
        None => Err(not_computable("the record ends before the bubble burst")),
    }
}

fn at_rupture(p: &Prepared, which: usize) -> Reading {
    let bubble = or_outcome!(burst(p));
    let at = end(p, bubble);
    let missing = || not_computable("no bubble had formed at rupture");
    let outcome = number(p, which).unwrap_or_else(missing);
    nominal(p, Reading::of(outcome).over(at - 2.0, at))
}

metric! {
    /// Exponent n of sigma = K exp(n eps), fitted to nominal ln sigma against eps from strain 0.3 to
    /// 0.9 of the failure strain. Another quantity than n_pow: the two are never averaged.
    N_EXPONENTIAL for Prepared {
        id: "inflation.nominal_n_exp", symbol: "n_exp nominal", name: "nominal strain hardening, exponential law",
        unit: Unit::One, decimals: 3, revision: 1,
        source: ("van Vliet et al. 1992", "strain hardening index", FromMemoryHigh),
        variants: [], read: read_n_exp,
    }
}

fn read_n_exp(p: &Prepared, _: &'static str) -> Reading {
    fitted(p, N_EXP, |laws| &laws.exponential)
}

metric! {
    /// Factor K of the nominal law sigma = K exp(n eps): its stress at strain nought.
    K_EXPONENTIAL for Prepared {
        id: "inflation.nominal_k_exp", symbol: "K_exp nominal", name: "factor of the nominal exponential law",
        unit: Unit::Kilopascal, decimals: 2, revision: 1,
        source: ("van Vliet et al. 1992", "strain hardening index", FromMemoryHigh),
        variants: [], read: read_k_exp,
    }
}

fn read_k_exp(p: &Prepared, _: &'static str) -> Reading {
    fitted(p, K_EXP, |laws| &laws.exponential)
}

metric! {
    /// Exponent n of sigma = K eps^n, fitted to nominal ln sigma against ln eps from strain 0.3 to
    /// 0.9 of the failure strain. Another quantity than n_exp: the two are never averaged.
    N_POWER for Prepared {
        id: "inflation.nominal_n_pow", symbol: "n_pow nominal", name: "nominal strain hardening, power law",
        unit: Unit::One, decimals: 3, revision: 1,
        source: ("Dobraszczyk and Roberts 1994", "strain hardening index", FromMemoryHigh),
        variants: [], read: read_n_pow,
    }
}

fn read_n_pow(p: &Prepared, _: &'static str) -> Reading {
    fitted(p, N_POW, |laws| &laws.power)
}

metric! {
    /// Factor K of the nominal law sigma = K eps^n: its stress at strain one.
    K_POWER for Prepared {
        id: "inflation.nominal_k_pow", symbol: "K_pow nominal", name: "factor of the nominal power law",
        unit: Unit::Kilopascal, decimals: 2, revision: 1,
        source: ("Dobraszczyk and Roberts 1994", "strain hardening index", FromMemoryHigh),
        variants: [], read: read_k_pow,
    }
}

fn read_k_pow(p: &Prepared, _: &'static str) -> Reading {
    fitted(p, K_POW, |laws| &laws.power)
}

/// Returns a number of one of the laws, with range, points and R² of its fit.
fn fitted(p: &Prepared, which: usize, law: fn(&Laws) -> &Law) -> Reading {
    let bubble = or_outcome!(burst(p));
    let laws = match &p.numbers.laws {
        Some(Ok(laws)) => laws,
        Some(Err(why)) => return Reading::of(Outcome::NotComputable(why.clone())),
        None => return Reading::of(not_computable("no bubble had formed at rupture")),
    };
    let missing = || not_computable("no law could be fitted");
    let outcome = number(p, which).unwrap_or_else(missing);
    let reading = Reading::of(outcome)
        .over(0.0, end(p, bubble))
        .with_remark(law(laws).remark());
    nominal(p, reading)
}

metric! {
    /// Nominal strain beyond which the wall no longer thins evenly (biaxial): where the slope of
    /// nominal ln sigma against eps falls to 2 and stays below. For an exponential law the slope is
    /// n_exp throughout.
    STABILITY_LIMIT for Prepared {
        id: "inflation.nominal_stability_strain", symbol: "eps_stab nominal", name: "nominal strain at the limit of stability",
        unit: Unit::One, decimals: 3, revision: 1,
        source: ("van Vliet et al. 1992", "stability of stretched dough films, biaxial", FromMemoryHigh),
        variants: [
            ("local", "from the local slope over 0.3 of strain, between strain 0.3 and rupture"),
            ("power-law", "n_pow / 2, the strain at which the fitted power law has slope 2"),
        ],
        read: read_stability,
    }
}

fn read_stability(p: &Prepared, variant: &'static str) -> Reading {
    or_outcome!(burst(p));
    let failure = p.numbers.values.get(FAILURE_STRAIN).copied().flatten();
    let failure = failure.unwrap_or(f64::INFINITY);
    if variant == "power-law" {
        let reading = fitted(p, N_POW, |laws| &laws.power);
        let outcome = match scaled(reading.outcome.clone(), 0.5) {
            Outcome::Exact(e) if e.value() > failure => Outcome::NotReached(format!(
                "n_pow / 2 = {:.3} lies beyond the failure strain {failure:.3}",
                e.value()
            )),
            other => other,
        };
        return Reading { outcome, ..reading };
    }
    let outcome = match p.numbers.stability {
        Some(Stability::LostAt { .. }) => {
            number(p, STABILITY).unwrap_or_else(|| not_computable("no limit"))
        }
        Some(Stability::Kept { slope, until }) => Outcome::NotReached(format!(
            "the slope of ln stress is still {slope:.2} at strain {until:.2}, the last it can be read at"
        )),
        Some(Stability::LostBefore { strain }) => Outcome::Below(strain),
        None => not_computable("the bubble burst too early to read a slope"),
    };
    nominal(p, Reading::of(outcome))
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] = &[
    &PRESSURE_OF_DISC,
    &LENGTH_OF_DISC,
    &ENERGY_OF_DISC,
    &VOLUME_AT_RUPTURE,
    &STRAIN,
    &STRESS,
    &N_EXPONENTIAL,
    &K_EXPONENTIAL,
    &N_POWER,
    &K_POWER,
    &STABILITY_LIMIT,
];
