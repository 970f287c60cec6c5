//! Metrics of the curve's course: stability, amplitude, the three slopes.

use super::items::{Item, Limb, Point, SlopeReading};
use super::points::{readable, shown};
use super::prepare::Prepared;
use crate::derive::{Metric, Reading, clock, metric, or_outcome};
use crate::record::Outcome;
use crate::schema::Unit;

metric! {
    /// How long the smoothed centre stays at 89 % of C1 or above (C1 less 11 %): from its first rise
    /// to that torque to its first fall below it, each for at least 10 s.
    STABILITY for Prepared {
        id: "heating.stability", symbol: "S", name: "stability",
        unit: Unit::Minute, decimals: 2, revision: 1,
        source: ("ISO 17718", "stability", FromMemoryHigh),
        variants: [], read: read_stability,
    }
}

fn read_stability(p: &Prepared, _: &'static str) -> Reading {
    let (_, first) = or_outcome!(shown(p, Point::C1));
    if p.rising_at_constant_end {
        return Reading::of(Outcome::NotComputable(
            "C1 is not passed within the constant phase: the torque that bounds the stability is not known".into(),
        ));
    }
    let remark = format!("level={:.4}", p.settings.stability_share * first);
    let from = p.t.iter().copied().find(|t| *t >= 0.0).unwrap_or(0.0);
    let rise = p.value(Item::Rise);
    let reading = match (rise, p.value(Item::Fall)) {
        (Some(rise), Some(fall)) => {
            let half = 2.0 * p.u_noise(Item::Stability);
            let length = fall - rise;
            let interval = ((length - half).max(0.0), length + half);
            // Both ends are read off the clock.
            let u_time = std::f64::consts::SQRT_2 * p.u_time_s();
            Reading::of(clock::time_outcome(u_time, length, interval)).over(rise, fall)
        }
        // The record begins at that torque, or does not come to fall below it.
        (None, Some(fall)) => Reading::of(Outcome::Above((fall - from) / 60.0)).over(from, fall),
        (Some(rise), None) => {
            Reading::of(Outcome::Above((p.end_s() - rise) / 60.0)).over(rise, p.end_s())
        }
        (None, None) => {
            Reading::of(Outcome::Above((p.end_s() - from) / 60.0)).over(from, p.end_s())
        }
    };
    reading.with_remark(remark)
}

metric! {
    /// Width of the band at C1: smoothed upper contour minus smoothed lower contour.
    AMPLITUDE for Prepared {
        id: "heating.amplitude", symbol: "A", name: "amplitude",
        unit: Unit::NewtonMetre, decimals: 3, revision: 1,
        source: ("ISO 17718", "amplitude", FromMemoryMedium),
        variants: [], read: read_amplitude,
    }
}

fn read_amplitude(p: &Prepared, _: &'static str) -> Reading {
    let (at_s, _) = or_outcome!(shown(p, Point::C1));
    if p.rising_at_constant_end {
        return Reading::of(Outcome::NotComputable(
            "C1 is not passed within the constant phase".into(),
        ));
    }
    let u_side = match &p.band {
        Ok(band) => band.u_side,
        Err(reason) => return Reading::of(Outcome::NotComputable(reason.clone())),
    };
    let outcome = match p.value(Item::Amplitude) {
        Some(width) => {
            let u = p.u_noise(Item::Amplitude).hypot(2.0 * u_side);
            Outcome::exact(width, u.hypot(p.u_reading))
        }
        None => Outcome::NotComputable("the record does not show it".into()),
    };
    let half = p.settings.smoothing_half_width_s;
    Reading::of(outcome).over(at_s - half, at_s + half)
}

metric! {
    /// Slope between the end of the 30 °C phase and C2; negative where the proteins weaken.
    ALPHA for Prepared {
        id: "heating.alpha", symbol: "α", name: "slope alpha, to C2",
        unit: Unit::NewtonMetrePerMinute, decimals: 4, revision: 1,
        source: ("ISO 17718", "slope alpha", FromMemoryHigh),
        variants: [
            ("regression", "line of least squares through the central 80 % of the stretch"),
            ("chord", "from one end of the stretch to the other"),
            ("max-derivative", "steepest of the lines of 60 s within the stretch, in the direction it goes"),
        ],
        read: read_alpha,
    }
}

metric! {
    /// Slope between C2 and C3: how fast the starch gelatinises.
    BETA for Prepared {
        id: "heating.beta", symbol: "β", name: "slope beta, C2 to C3",
        unit: Unit::NewtonMetrePerMinute, decimals: 4, revision: 1,
        source: ("ISO 17718", "slope beta", FromMemoryHigh),
        variants: [
            ("regression", "line of least squares through the central 80 % of the stretch"),
            ("chord", "from one end of the stretch to the other"),
            ("max-derivative", "steepest of the lines of 60 s within the stretch, in the direction it goes"),
        ],
        read: read_beta,
    }
}

metric! {
    /// Slope between C3 and C4: how fast the hot gel breaks down. Not computable where C4 was not
    /// reached.
    GAMMA for Prepared {
        id: "heating.gamma", symbol: "γ", name: "slope gamma, C3 to C4",
        unit: Unit::NewtonMetrePerMinute, decimals: 4, revision: 1,
        source: ("ISO 17718", "slope gamma", FromMemoryHigh),
        variants: [
            ("regression", "line of least squares through the central 80 % of the stretch"),
            ("chord", "from one end of the stretch to the other"),
            ("max-derivative", "steepest of the lines of 60 s within the stretch, in the direction it goes"),
        ],
        read: read_gamma,
    }
}

fn read_alpha(p: &Prepared, variant: &'static str) -> Reading {
    read_slope(p, Limb::Alpha, variant)
}

fn read_beta(p: &Prepared, variant: &'static str) -> Reading {
    read_slope(p, Limb::Beta, variant)
}

fn read_gamma(p: &Prepared, variant: &'static str) -> Reading {
    read_slope(p, Limb::Gamma, variant)
}

/// Returns start and end of a limb, s, or why it has none.
fn limb_ends(p: &Prepared, limb: Limb) -> Result<(f64, f64), Outcome> {
    readable(p)?;
    let time = |point| match shown(p, point) {
        Ok((at_s, _)) => Ok(at_s),
        Err(Outcome::NotReached(reason)) => Err(Outcome::NotComputable(format!(
            "{}: {reason}",
            point.name()
        ))),
        Err(other) => Err(other),
    };
    Ok(match limb {
        Limb::Alpha => (60.0 * p.settings.constant_end_min, time(Point::C2)?),
        Limb::Beta => (time(Point::C2)?, time(Point::C3)?),
        Limb::Gamma => (time(Point::C3)?, time(Point::C4)?),
    })
}

fn read_slope(p: &Prepared, limb: Limb, variant: &'static str) -> Reading {
    let (from, to) = or_outcome!(limb_ends(p, limb));
    let reading = match variant {
        "chord" => SlopeReading::Chord,
        "max-derivative" => SlopeReading::GreatestDerivative,
        _ => SlopeReading::Regression,
    };
    let item = Item::Slope(limb, reading);
    let outcome = match p.value(item) {
        Some(slope) => Outcome::exact(slope, p.u_noise(item)),
        None => Outcome::NotComputable(format!(
            "the stretch of {:.0} s is too short for this reading",
            to - from
        )),
    };
    Reading::of(outcome).over(from, to)
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] = &[&STABILITY, &AMPLITUDE, &ALPHA, &BETA, &GAMMA];
