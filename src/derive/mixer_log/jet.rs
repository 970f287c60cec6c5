//! A jet of water: pressure, speed, hydraulic and electric energy, warming.

use super::amounts::{
    dough_mass, energy, flour_mass, gain, not_stated, own, plain, reading, remark, water_mass,
};
use super::energy::cut_short;
use super::prepare::{Jet, Prepared};
use super::settings::{
    SPEED_POSSIBLE, SPEED_USUAL, WATER_DENSITY, WATER_SPECIFIC_HEAT, shared, source,
};
use super::signal::{Integral, Trace};
use crate::derive::{Metric, Reading, metric, or_outcome};
use crate::numerics::{Input, Propagated, propagate, reading_scatter};
use crate::record::Outcome;
use crate::schema::{Field, Unit};

/// Returns the ideal speed in m/s of a jet of water driven by `kilopascal` through a nozzle of
/// velocity coefficient `cv`: `v = Cv √(2 Δp/ρ)` (Bernoulli; HANDBOOK 8.3), for a density in kg/m³.
pub fn ideal_speed(kilopascal: f64, cv: f64, density: f64) -> f64 {
    cv * (2000.0 * kilopascal.max(0.0) / density).sqrt()
}

/// Returns the hydraulic energy in kJ per kg of dough of water brought in at `kilopascal`, for a
/// mass ratio of water to flour: `e = Δp (w/ρ)/(1 + w)` (HANDBOOK 8.3).
pub fn hydraulic_by_ratio(kilopascal: f64, water_per_flour: f64, density: f64) -> f64 {
    kilopascal * (water_per_flour / density) / (1.0 + water_per_flour)
}

/// Returns by how many K the water of a jet warms when all its energy ends as heat in it:
/// `ΔT = Δp/(ρ c_w)` (HANDBOOK 8.3).
pub fn water_warming(kilopascal: f64, density: f64) -> f64 {
    kilopascal / (density * WATER_SPECIFIC_HEAT)
}

/// Readings of `trace` while the pressure was above the working level.
fn at_work(jet: &Jet, trace: &Trace) -> Trace {
    let working = jet.pressure.y.iter().map(|p| *p > jet.level);
    let points = trace.t.iter().zip(&trace.y).zip(working);
    let (t, y) = points
        .filter(|(_, working)| *working)
        .map(|((t, y), _)| (*t, *y))
        .unzip();
    Trace { t, y }
}

/// Returns the mean of a trace while the jet worked, weighted with the flow where there is one, with
/// the uncertainty of its noise.
fn mean_at_work(jet: &Jet, trace: &Trace, weighted: bool) -> Result<Input, Outcome> {
    let part = at_work(jet, trace);
    let flow = jet.flow.as_ref().filter(|_| weighted);
    let weights = match flow {
        Some(flow) => at_work(jet, flow).y.iter().map(|q| q.max(0.0)).collect(),
        None => vec![1.0; part.y.len()],
    };
    let total: f64 = weights.iter().sum();
    if total <= 0.0 {
        return Err(Outcome::NotReached("the jet never worked".into()));
    }
    let sum: f64 = part.y.iter().zip(&weights).map(|(y, w)| y * w).sum();
    let squares: f64 = weights.iter().map(|w| w * w).sum();
    Ok(Input {
        own: reading_scatter(&part.t, &part.y) * squares.sqrt() / total,
        ..Input::known(sum / total)
    })
}

/// Mean pressure of the jet, kPa, as two inputs: the mean, and the gain of the gauge.
fn pressure(p: &Prepared, jet: &Jet) -> Result<[Input; 2], Outcome> {
    let mean = mean_at_work(jet, &jet.pressure, true)?;
    let gauge = gain(p.settings.pressure_tolerance_pct, source::PRESSURE);
    Ok([mean, gauge])
}

fn over_work(jet: &Jet, reading: Reading) -> Reading {
    match jet.work {
        Some(work) => reading.over(work.from, work.to),
        None => reading,
    }
}

metric! {
    /// Mean pressure before the nozzle while the jet worked (above a tenth of its greatest value),
    /// weighted with the flow where one is recorded.
    JET_PRESSURE for Prepared {
        id: "mixer-log.jet_pressure", symbol: "p", name: "pressure before the nozzle",
        unit: Unit::Bar, decimals: 2, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        variants: [], read: read_pressure,
    }
}

fn read_pressure(p: &Prepared, _: &'static str) -> Reading {
    let jet = or_outcome!(p.jet.as_ref().map_err(Outcome::clone));
    let inputs = or_outcome!(pressure(p, jet));
    let bar = |kilopascal: f64| Unit::Bar.from_canonical(kilopascal);
    over_work(jet, plain(propagate(&inputs, |v| bar(v[0] * v[1]))))
}

metric! {
    /// Water that went through the nozzle: the integral of the flow, at 998.2 kg/m³.
    JET_WATER for Prepared {
        id: "mixer-log.jet_water", symbol: "m_jet", name: "water through the nozzle",
        unit: Unit::Gram, decimals: 0, revision: 1,
        source: ("mass balance", "", Derived),
        variants: [], read: read_jet_water,
    }
}

fn read_jet_water(p: &Prepared, _: &'static str) -> Reading {
    let jet = or_outcome!(p.jet.as_ref().map_err(Outcome::clone));
    let flow = or_outcome!(flow_of(jet));
    let grams = flow.integral(&p.settings).scaled(WATER_DENSITY / 60.0);
    let meter = gain(p.settings.flow_tolerance_pct, source::FLOW);
    let found = propagate(&[own(grams), meter], |v| v[0] * v[1]);
    over_work(jet, bounded(p, jet, reading(found, grams.less, grams.more)))
}

fn flow_of(jet: &Jet) -> Result<&Trace, Outcome> {
    jet.flow.as_ref().ok_or_else(|| {
        Outcome::NotComputable("the log has no flow of water beside its pressure".into())
    })
}

/// A log cut short gives a lower bound of what it sums.
fn bounded(p: &Prepared, jet: &Jet, reading: Reading) -> Reading {
    let Some(reason) = cut_short(p, jet.work.as_ref()) else {
        return reading;
    };
    let mut reading = remark(reading, &reason);
    if let Some(estimate) = reading.outcome.estimate() {
        reading.outcome = Outcome::Above(estimate.low());
    }
    reading
}

metric! {
    /// Energy of the jet per kg of dough: pressure times volume of water. All of it ends as heat in
    /// water and dough.
    HYDRAULIC_ENERGY for Prepared {
        id: "mixer-log.hydraulic_energy", symbol: "e_hyd", name: "hydraulic energy (per kg of dough)",
        unit: Unit::KilojoulePerKilogram, decimals: 3, revision: 1,
        source: ("mechanics (pressure × volume)", "hydraulic energy", Derived),
        variants: [
            ("flow", "integral of pressure times recorded flow over the real times, divided by the mass of the dough"),
            ("ratio", "mean pressure times (w/ρ)/(1 + w), w the mass of water per mass of flour as stated"),
        ],
        read: read_hydraulic,
    }
}

fn read_hydraulic(p: &Prepared, variant: &'static str) -> Reading {
    let jet = or_outcome!(p.jet.as_ref().map_err(Outcome::clone));
    let Hydraulic {
        inputs,
        gaps,
        by_ratio,
        from,
    } = or_outcome!(hydraulic(p, jet, variant));
    let found = propagate(&inputs, |v| hydraulic_of(v, by_ratio));
    let reading = energy(reading(found, gaps.less, gaps.more));
    let reading = match by_ratio {
        true => reading,
        false => bounded(p, jet, reading),
    };
    over_work(jet, remark(reading, &format!("dough_mass={from}")))
}

/// What the hydraulic energy is computed from.
struct Hydraulic {
    /// Energy or pressure, two gains, and masses.
    inputs: [Input; 5],
    /// What gaps may hold, kJ/kg.
    gaps: Integral,
    /// Whether it is computed from the ratio of water to flour.
    by_ratio: bool,
    /// Where the mass of dough comes from.
    from: &'static str,
}

fn hydraulic_of(v: &[f64], by_ratio: bool) -> f64 {
    if by_ratio {
        hydraulic_by_ratio(v[0] * v[1], v[2] / v[3], WATER_DENSITY)
    } else {
        v[0] * v[1] * v[2] / v[3]
    }
}

fn hydraulic(p: &Prepared, jet: &Jet, variant: &str) -> Result<Hydraulic, Outcome> {
    let s = &p.settings;
    if variant == "ratio" {
        let [mean, gauge] = pressure(p, jet)?;
        let (Some(water), Some(flour)) = (water_mass(p), flour_mass(p)) else {
            return Err(not_stated(&[Field::FlourG, Field::WaterMl]));
        };
        return Ok(Hydraulic {
            inputs: [mean, gauge, water, flour, Input::known(1.0)],
            gaps: Integral::default(),
            by_ratio: true,
            from: "flour + water",
        });
    }
    let flow = flow_of(jet)?;
    let mass = dough_mass(p)?;
    // kPa × l/min = W × 60.
    let joule = jet.pressure.times(flow).integral(s).scaled(1.0 / 60.0);
    Ok(Hydraulic {
        inputs: [
            own(joule),
            gain(s.pressure_tolerance_pct, source::PRESSURE),
            gain(s.flow_tolerance_pct, source::FLOW),
            mass.grams,
            Input::known(1.0),
        ],
        gaps: joule.scaled(1.0 / mass.grams.value),
        by_ratio: false,
        from: mass.from,
    })
}

/// Returns the energy in kJ that the jet brought into the dough, for the temperature balance.
pub(super) fn jet_work(p: &Prepared, jet: &Jet) -> Result<Propagated, Outcome> {
    if let Ok(found) = hydraulic(p, jet, "flow") {
        return Ok(propagate(&found.inputs, |v| v[0] * v[1] * v[2] / 1000.0));
    }
    let mut found = hydraulic(p, jet, "ratio")?;
    found.inputs[4] = dough_mass(p)?.grams;
    Ok(propagate(&found.inputs, |v| {
        hydraulic_of(v, true) * v[4] / 1000.0
    }))
}

metric! {
    /// Energy that pump and motor drew from the mains per kg of dough: hydraulic energy (by flow,
    /// else by the stated ratio) divided by the stated efficiency. Without one there is no number;
    /// the reason gives what 70 to 90 % would make of it.
    ELECTRIC_ENERGY for Prepared {
        id: "mixer-log.electric_energy", symbol: "e_el", name: "electric energy of the jet (per kg of dough)",
        unit: Unit::KilojoulePerKilogram, decimals: 3, revision: 1,
        source: ("energy balance", "efficiency", Derived),
        variants: [], read: read_electric,
    }
}

fn read_electric(p: &Prepared, _: &'static str) -> Reading {
    let jet = or_outcome!(p.jet.as_ref().map_err(Outcome::clone));
    let by_flow = hydraulic(p, jet, "flow");
    let mut found = or_outcome!(by_flow.or_else(|_| hydraulic(p, jet, "ratio")));
    let by_ratio = found.by_ratio;
    let Some(percent) = p.stated(Field::PumpEfficiencyPct).filter(|e| *e > 0.0) else {
        let hydraulic = propagate(&found.inputs, |v| hydraulic_of(v, by_ratio)).value;
        let s = &p.settings;
        let at = |percent: f64| 100.0 * hydraulic / percent;
        return Reading::of(Outcome::NotComputable(format!(
            "pump_efficiency_pct not stated: {:.3} kJ/kg at {} %, {:.3} kJ/kg at {} %",
            at(s.efficiency_high_pct),
            s.efficiency_high_pct,
            at(s.efficiency_low_pct),
            s.efficiency_low_pct
        )));
    };
    found.inputs[4] = shared(
        percent,
        p.settings.efficiency_tolerance_points,
        source::EFFICIENCY,
    );
    let computed = propagate(&found.inputs, |v| 100.0 * hydraulic_of(v, by_ratio) / v[4]);
    let by = 100.0 / percent;
    let reading = energy(reading(
        computed,
        found.gaps.less * by,
        found.gaps.more * by,
    ));
    let reading = match by_ratio {
        true => reading,
        false => bounded(p, jet, reading),
    };
    let text = format!(
        "from={}; dough_mass={}",
        if by_ratio { "ratio" } else { "flow" },
        found.from
    );
    over_work(jet, remark(reading, &text))
}

metric! {
    /// Speed that the mean pressure gives a jet of water without friction, √(2 Δp/ρ); in bar and
    /// water 14.14 √p m/s.
    IDEAL_JET_SPEED for Prepared {
        id: "mixer-log.ideal_jet_speed", symbol: "v_id", name: "ideal speed of the jet",
        unit: Unit::MetrePerSecond, decimals: 1, revision: 1,
        source: ("Bernoulli's equation", "outflow through a nozzle", Derived),
        variants: [
            ("bound", "velocity coefficient 1: no jet is faster"),
            ("nozzle", "times the stated velocity coefficient of the nozzle (usually 0.90–0.98)"),
        ],
        read: read_ideal_speed,
    }
}

fn read_ideal_speed(p: &Prepared, variant: &'static str) -> Reading {
    let jet = or_outcome!(p.jet.as_ref().map_err(Outcome::clone));
    let [mean, gauge] = or_outcome!(pressure(p, jet));
    let cv = match (variant, p.stated(Field::NozzleCoefficient)) {
        ("nozzle", None) => return Reading::of(not_stated(&[Field::NozzleCoefficient])),
        ("nozzle", Some(cv)) => shared(cv, p.settings.nozzle_tolerance, source::NOZZLE),
        _ => Input::known(1.0),
    };
    let found = propagate(&[mean, gauge, cv], |v| {
        ideal_speed(v[0] * v[1], v[2], WATER_DENSITY)
    });
    let km_h = Unit::KilometrePerHour.from_canonical(found.value);
    over_work(jet, remark(plain(found), &format!("km_per_h={km_h:.1}")))
}

metric! {
    /// Mean of the recorded speed of the jet while it worked.
    JET_SPEED for Prepared {
        id: "mixer-log.jet_speed", symbol: "v", name: "measured speed of the jet",
        unit: Unit::MetrePerSecond, decimals: 1, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        variants: [], read: read_jet_speed,
    }
}

fn speed(p: &Prepared, jet: &Jet) -> Result<[Input; 2], Outcome> {
    let Some(trace) = &jet.speed else {
        return Err(Outcome::NotComputable(
            "the log has no measured speed of the jet".into(),
        ));
    };
    let mean = mean_at_work(jet, trace, true)?;
    let meter = gain(p.settings.jet_speed_tolerance_pct, source::JET_SPEED);
    Ok([mean, meter])
}

fn read_jet_speed(p: &Prepared, _: &'static str) -> Reading {
    let jet = or_outcome!(p.jet.as_ref().map_err(Outcome::clone));
    let inputs = or_outcome!(speed(p, jet));
    over_work(jet, plain(propagate(&inputs, |v| v[0] * v[1])))
}

metric! {
    /// Measured speed of the jet over the ideal speed at its pressure. More than 1.02 is impossible:
    /// pressure or speed was misread. Less than 0.7 is doubtful.
    JET_SPEED_RATIO for Prepared {
        id: "mixer-log.jet_speed_ratio", symbol: "v/v_id", name: "measured over ideal speed of the jet",
        unit: Unit::One, decimals: 3, revision: 1,
        source: ("Bernoulli's equation", "outflow through a nozzle", Derived),
        variants: [], read: read_speed_ratio,
    }
}

fn read_speed_ratio(p: &Prepared, _: &'static str) -> Reading {
    let jet = or_outcome!(p.jet.as_ref().map_err(Outcome::clone));
    let [v, meter] = or_outcome!(speed(p, jet));
    let [mean, gauge] = or_outcome!(pressure(p, jet));
    let found = propagate(&[v, meter, mean, gauge], |v| {
        v[0] * v[1] / ideal_speed(v[2] * v[3], 1.0, WATER_DENSITY)
    });
    let text = format!("usual={SPEED_USUAL}; possible={SPEED_POSSIBLE}");
    over_work(jet, remark(plain(found), &text))
}

metric! {
    /// Warming of the jet's water when all its energy ends as heat in it: mean pressure over
    /// density and specific heat of water; 2.40 K per 100 bar. In the dough it is less, as the
    /// flour warms too.
    WATER_WARMING for Prepared {
        id: "mixer-log.water_warming", symbol: "ΔT_w", name: "warming of the jet's water",
        unit: Unit::Kelvin, decimals: 2, revision: 1,
        source: ("energy balance", "pressure into heat", Derived),
        variants: [], read: read_water_warming,
    }
}

fn read_water_warming(p: &Prepared, _: &'static str) -> Reading {
    let jet = or_outcome!(p.jet.as_ref().map_err(Outcome::clone));
    let inputs = or_outcome!(pressure(p, jet));
    let found = propagate(&inputs, |v| water_warming(v[0] * v[1], WATER_DENSITY));
    over_work(jet, plain(found))
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] = &[
    &HYDRAULIC_ENERGY,
    &ELECTRIC_ENERGY,
    &JET_PRESSURE,
    &JET_WATER,
    &IDEAL_JET_SPEED,
    &JET_SPEED,
    &JET_SPEED_RATIO,
    &WATER_WARMING,
];
