//! The metrics of the uptake curve.

use super::laws::{Law, Laws};
use super::prepare::Prepared;
use crate::derive::interval::widened;
use crate::derive::{Metric, Reading, metric, or_outcome};
use crate::numerics::LineFit;
use crate::numerics::fit::Profile;
use crate::record::Outcome;
use crate::schema::Unit;
use std::f64::consts::PI;

fn missing(reason: &str) -> Outcome {
    Outcome::NotComputable(reason.to_owned())
}

fn laws(p: &Prepared) -> Result<&Laws, Outcome> {
    p.laws.as_ref().map_err(Outcome::clone)
}

/// Returns the law that a variant names, or the outcome that stands for it.
pub(super) fn law_of<'p>(p: &'p Prepared, variant: &str) -> Result<&'p Law, Outcome> {
    let laws = laws(p)?;
    let law = match variant {
        "sphere" => &laws.sphere,
        _ => &laws.peleg,
    };
    law.as_ref().map_err(|reason| missing(reason))
}

fn root_time(p: &Prepared) -> Result<&LineFit, Outcome> {
    laws(p)?
        .root_time
        .as_ref()
        .map_err(|reason| missing(reason))
}

/// Returns a reading with what its fit rests on: points, condition of the parameters, and how much
/// of the fitted gain the record shows.
pub(super) fn remark_on(p: &Prepared, law: &Law, outcome: Outcome) -> Reading {
    let held = if p.initial.is_some() {
        "stated"
    } else {
        "fitted"
    };
    let mut remark = format!("M0={held}; condition={:.0}", law.fit.condition);
    if let Some(share) = shown_share(p) {
        remark.push_str(&format!("; gain_shown={share:.2}"));
    }
    Reading::of(outcome).with_remark(remark).over(0.0, p.end())
}

/// Returns how much of the gain to the equilibrium of Peleg's law the record shows at its end.
pub(super) fn shown_share(p: &Prepared) -> Option<f64> {
    let fit = &laws(p).ok()?.peleg.as_ref().ok()?.fit;
    let (k1, k2) = (fit.parameters[0], fit.parameters[1]);
    let end = p.end();
    (k2 > 0.0).then(|| k2 * end / (k1 + k2 * end))
}

/// Returns the standard uncertainty of parameter `index` by the inputs that no scatter shows.
fn shared_u(p: &Prepared, law: &Law, index: usize) -> f64 {
    let by_initial = law.by_initial[index] * p.settings.u_initial_pct;
    if !p.from_mass {
        return by_initial;
    }
    // A share by which the solids are wrong stretches 100 + M by that share; parameters in 1/%
    // shrink by what gains grow. Moisture of a few times 100 % at most: taken at the mean.
    let mean = p.moisture.iter().sum::<f64>() / p.moisture.len().max(1) as f64;
    let scale = p.settings.u_solids_share * (100.0 + mean) / mean.abs().max(1.0);
    by_initial.hypot(scale * law.fit.parameters[index])
}

/// Returns parameter `index` with the interval of its profile; a bound where one side is open.
fn parameter(p: &Prepared, law: &Law, index: usize) -> Outcome {
    let value = law.fit.parameters[index];
    let error = law.fit.standard_errors[index];
    let shared = shared_u(p, law, index);
    match law.profiles[index] {
        None => widened(value, (value, value), error, shared),
        Some(Profile {
            low: Some(low),
            high: Some(high),
        }) => widened(value, (low, high), error, shared),
        Some(Profile { low: Some(low), .. }) => Outcome::Above(low),
        Some(Profile {
            high: Some(high), ..
        }) => Outcome::Below(high),
        Some(_) => missing("the record rules out no value of it"),
    }
}

/// Returns an outcome under a transformation that turns low into high: `1/x` and the like.
fn turned(outcome: Outcome, u: f64, turn: impl Fn(f64) -> f64) -> Outcome {
    match outcome {
        Outcome::Exact(e) if e.low() > 0.0 => {
            let value = turn(e.value());
            widened(value, (turn(e.high()), turn(e.low())), u, 0.0)
        }
        // The interval reaches nought: what it turns into has no upper end.
        Outcome::Exact(e) if e.high() > 0.0 => Outcome::Above(turn(e.high())),
        Outcome::Below(high) if high > 0.0 => Outcome::Above(turn(high)),
        Outcome::Above(low) if low > 0.0 => Outcome::Below(turn(low)),
        Outcome::Exact(_) | Outcome::Above(_) | Outcome::Below(_) => {
            missing("the fitted constant is not positive")
        }
        other => other,
    }
}

metric! {
    /// Rate constant k1 of Peleg's law `M(t) = M0 + t / (k1 + k2 t)`, moisture in % of dry mass,
    /// fitted by least squares to the moistures themselves (the straight line of t/(M - M0)
    /// overweights late points). M0 is the stated initial moisture, else it is fitted. The interval
    /// is that of the profile of the sum of squares, with the uncertainty of the stated inputs.
    PELEG_K1 for Prepared {
        id: "uptake.peleg_k1", symbol: "k1", name: "rate constant of Peleg's law",
        unit: Unit::MinutePerPercent, decimals: 3, revision: 1,
        source: ("Peleg 1988, J. Food Sci. 53:1216", "HANDBOOK 9, V-U1", Published),
        variants: [], read: read_k1,
    }
}

fn read_k1(p: &Prepared, _: &'static str) -> Reading {
    let law = or_outcome!(law_of(p, "peleg"));
    remark_on(p, law, parameter(p, law, 0))
}

metric! {
    /// Capacity constant k2 of Peleg's law; the gain at equilibrium is 1/k2. Its sign of change
    /// with temperature differs between studies and is not constrained (HANDBOOK D16).
    PELEG_K2 for Prepared {
        id: "uptake.peleg_k2", symbol: "k2", name: "capacity constant of Peleg's law",
        unit: Unit::PerPercent, decimals: 4, revision: 1,
        source: ("Peleg 1988, J. Food Sci. 53:1216", "HANDBOOK 9, V-U1", Published),
        variants: [], read: read_k2,
    }
}

fn read_k2(p: &Prepared, _: &'static str) -> Reading {
    let law = or_outcome!(law_of(p, "peleg"));
    remark_on(p, law, parameter(p, law, 1))
}

metric! {
    /// Rate of uptake at the start by Peleg's law, 1/k1.
    INITIAL_RATE for Prepared {
        id: "uptake.initial_rate", symbol: "1/k1", name: "initial rate of uptake",
        unit: Unit::PercentPerMinute, decimals: 3, revision: 1,
        source: ("Peleg 1988, J. Food Sci. 53:1216", "HANDBOOK 9", Published),
        variants: [], read: read_initial_rate,
    }
}

fn read_initial_rate(p: &Prepared, _: &'static str) -> Reading {
    let law = or_outcome!(law_of(p, "peleg"));
    let k1 = law.fit.parameters[0];
    let u = law.fit.standard_errors[0].hypot(shared_u(p, law, 0)) / (k1 * k1);
    remark_on(p, law, turned(parameter(p, law, 0), u, |k| 1.0 / k))
}

metric! {
    /// Moisture at equilibrium, in % of dry mass, as each law has it: `M0 + 1/k2` of Peleg's, Me of
    /// the sphere. Peleg's law creeps towards it, the sphere comes to it: the two differ even on
    /// good data. A record that stops far from it knows only a bound.
    EQUILIBRIUM for Prepared {
        id: "uptake.equilibrium_moisture", symbol: "Me", name: "moisture at equilibrium",
        unit: Unit::Percent, decimals: 1, revision: 1,
        source: ("Peleg 1988; Crank, The Mathematics of Diffusion", "HANDBOOK 9, V-U1", Published),
        variants: [("peleg", "M0 + 1/k2"), ("sphere", "Me of diffusion into a sphere")],
        read: read_equilibrium,
    }
}

fn read_equilibrium(p: &Prepared, variant: &'static str) -> Reading {
    let law = or_outcome!(law_of(p, variant));
    if variant == "sphere" {
        return remark_on(p, law, parameter(p, law, 0));
    }
    let k2 = law.fit.parameters[1];
    let Some(initial) = laws(p).ok().and_then(|laws| laws.initial(p)) else {
        return Reading::of(missing("the initial moisture is not known"));
    };
    let mut u = law.fit.standard_errors[1].hypot(shared_u(p, law, 1)) / (k2 * k2);
    if p.initial.is_none() {
        // M0 and k2 of one fit go together: the delta method knows how.
        let both = law.fit.function(|q| q[2] + 1.0 / q[1]);
        u = both.map_or(u, |e| e.standard_error);
    }
    let outcome = turned(parameter(p, law, 1), u, |k| initial + 1.0 / k);
    remark_on(p, law, outcome)
}

metric! {
    /// Residual standard deviation about each law, in points of dry mass: which law follows the
    /// curve. Its uncertainty is that of a standard deviation, s/√(2ν).
    FIT_RESIDUAL for Prepared {
        id: "uptake.fit_residual", symbol: "s", name: "residual of the law",
        unit: Unit::Percent, decimals: 2, revision: 1,
        source: ("residual standard deviation", "", Derived),
        variants: [("peleg", "about Peleg's law"), ("sphere", "about diffusion into a sphere")],
        read: read_residual,
    }
}

fn read_residual(p: &Prepared, variant: &'static str) -> Reading {
    let law = or_outcome!(law_of(p, variant));
    let s = law.fit.residual_deviation;
    let u = s / (2.0 * law.fit.degrees_of_freedom as f64).sqrt();
    remark_on(p, law, Outcome::exact(s, u))
}

metric! {
    /// Diffusion coefficient of water into a sphere of the stated equivalent radius. `sphere`: Fick's
    /// series (at short times its equivalent) fitted to the whole curve. `root-time`: from the slope
    /// of the straight line over root time, `D = π/4 · (slope/(Me - Mi))² · (r/3)²` with Mi the
    /// line's own start and Me of the sphere; it leaves out the curvature of the sphere and is
    /// therefore lower. A sphere of one radius stands for particles of many: it ranks, it does not
    /// measure.
    DIFFUSION for Prepared {
        id: "uptake.diffusion_coefficient", symbol: "D", name: "diffusion coefficient",
        unit: Unit::SquareMicrometrePerSecond, decimals: 3, revision: 1,
        source: ("Crank, The Mathematics of Diffusion; Becker 1960, Cereal Chem. 37:309", "HANDBOOK 9, V-U2, V-U3", FromMemoryHigh),
        variants: [
            ("sphere", "Fick's series over the whole curve"),
            ("root-time", "slope over root time, early part"),
        ],
        read: read_diffusion,
    }
}

/// mm²/min to µm²/s.
const MICROMETRES_SQUARED_PER_S: f64 = 1e6 / 60.0;

fn read_diffusion(p: &Prepared, variant: &'static str) -> Reading {
    let sphere = or_outcome!(law_of(p, "sphere"));
    let Some(radius) = p.radius_mm else {
        return Reading::of(missing(
            "equivalent radius (equivalent_radius_mm) not stated",
        ));
    };
    let by_radius = 2.0 * p.settings.u_radius_share;
    let outcome = match variant {
        "root-time" => {
            let line = or_outcome!(root_time(p));
            diffusion_of_line(line, sphere, radius, by_radius)
        }
        _ => {
            let scale = radius * radius * MICROMETRES_SQUARED_PER_S;
            match parameter(p, sphere, 1) {
                Outcome::Exact(e) => {
                    let value = scale * e.value();
                    let ends = (scale * e.low(), scale * e.high());
                    widened(value, ends, scale * e.std_uncertainty(), by_radius * value)
                }
                Outcome::Above(low) => Outcome::Above(scale * low),
                Outcome::Below(high) => Outcome::Below(scale * high),
                other => other,
            }
        }
    };
    let mut reading = remark_on(p, sphere, outcome);
    if let Some(becker) = p.water_c.map(becker_diffusivity) {
        let beside = format!("; becker_1960={becker:.3}");
        reading.remarks.push_str(&beside);
    }
    reading
}

fn diffusion_of_line(line: &LineFit, sphere: &Law, radius: f64, by_radius: f64) -> Outcome {
    let gain = sphere.fit.parameters[0] - line.intercept();
    let relative = line.slope / gain;
    let value =
        0.25 * PI * relative * relative * (radius / 3.0).powi(2) * MICROMETRES_SQUARED_PER_S;
    let Some(t) = line.coverage_factor() else {
        return missing("too few early readings");
    };
    // Slope and start of one line go together: a steeper one starts lower, which widens the gain.
    let slope_share = line.slope_error / line.slope;
    let start_error = line.error_at(0.0).hypot(sphere.fit.standard_errors[0]);
    let own = 2.0 * value * slope_share.hypot(start_error / gain);
    widened(
        value,
        (value - t * own, value + t * own),
        own,
        by_radius * value,
    )
}

/// Returns the diffusion coefficient of water in whole wheat at a temperature in °C, in µm²/s:
/// `30 exp(-12300/(R T))` with R = 1.987 cal/(mol K), cm²/s assumed (Becker 1960, Cereal Chem.
/// 37:309; HANDBOOK V-U2).
pub fn becker_diffusivity(celsius: f64) -> f64 {
    let cm2_per_s = 30.0 * libm::exp(-12_300.0 / (1.987 * (celsius + 273.15)));
    cm2_per_s * 1e8
}

metric! {
    /// Slope of moisture over the square root of time in the early part of the curve, up to 0.4 of
    /// the gain to the sphere's equilibrium.
    ROOT_TIME_SLOPE for Prepared {
        id: "uptake.root_time_slope", symbol: "dM/d√t", name: "slope over root time",
        unit: Unit::PercentPerRootMinute, decimals: 3, revision: 1,
        source: ("Becker 1960, Cereal Chem. 37:309", "HANDBOOK 9", Published),
        variants: [], read: read_root_time_slope,
    }
}

/// Returns a reading of the line over root time.
fn of_line(p: &Prepared, value: impl Fn(&LineFit) -> (f64, f64)) -> Reading {
    let line = or_outcome!(root_time(p));
    let (value, error) = value(line);
    let t = line.coverage_factor().unwrap_or(2.0);
    let ends = (value - t * error, value + t * error);
    let last = (line.line.x * 2.0).powi(2).min(p.end());
    Reading::of(widened(value, ends, error, 0.0))
        .with_remark(format!(
            "points={}; explained={:.3}",
            line.points, line.explained
        ))
        .over(0.0, last)
}

fn read_root_time_slope(p: &Prepared, _: &'static str) -> Reading {
    of_line(p, |line| (line.slope, line.slope_error))
}

metric! {
    /// Water taken up at once, before diffusion: where the line over root time starts, less the
    /// stated initial moisture, in points of dry mass. Of whole wheat about 4.5 (Becker 1960).
    INSTANT_UPTAKE for Prepared {
        id: "uptake.instant_uptake", symbol: "ΔM0", name: "instant uptake",
        unit: Unit::Percent, decimals: 2, revision: 1,
        source: ("Becker 1960, Cereal Chem. 37:309", "HANDBOOK 9", Published),
        variants: [], read: read_instant_uptake,
    }
}

fn read_instant_uptake(p: &Prepared, _: &'static str) -> Reading {
    or_outcome!(root_time(p));
    let Some(initial) = p.initial else {
        return Reading::of(missing(
            "initial moisture (initial_moisture_db_pct) not stated",
        ));
    };
    let u = p.settings.u_initial_pct;
    of_line(p, |line| {
        (line.intercept() - initial, line.error_at(0.0).hypot(u))
    })
}

metric! {
    /// Time in water to the stated target moisture, by each law, with its interval by the delta
    /// method. Above the record when the law passes the target later than the record ends: nothing
    /// is extrapolated. Not reached when the law's equilibrium lies below the target.
    TIME_TO_TARGET for Prepared {
        id: "uptake.time_to_target", symbol: "t(M)", name: "time to the target moisture",
        unit: Unit::Minute, decimals: 1, revision: 1,
        source: ("Peleg 1988; Crank, The Mathematics of Diffusion", "solved for time", Derived),
        variants: [("peleg", "by Peleg's law"), ("sphere", "by diffusion into a sphere")],
        read: super::target::read_time_to_target,
    }
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] = &[
    &PELEG_K1,
    &PELEG_K2,
    &INITIAL_RATE,
    &EQUILIBRIUM,
    &FIT_RESIDUAL,
    &TIME_TO_TARGET,
    &DIFFUSION,
    &ROOT_TIME_SLOPE,
    &INSTANT_UPTAKE,
];
