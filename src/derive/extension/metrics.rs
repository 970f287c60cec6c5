//! The metrics of the extension curve.

use super::prepare::{Prepared, Stretch};
use super::settings::{CHART_MM_PER_S, HOOK_MM_PER_S, MILLINEWTON_PER_EU, READ_AT_MM};
use crate::derive::place::Place;
use crate::derive::{Metric, Reading, metric};
use crate::numerics::value_at;
use crate::record::{Estimate, Outcome};
use crate::schema::{Axis, Unit};

fn not_computable(reason: &str) -> Outcome {
    Outcome::NotComputable(reason.to_owned())
}

/// Returns the reading with the abscissa it is given on.
fn on_abscissa(p: &Prepared, reading: Reading) -> Reading {
    let remark = format!("abscissa={}", p.axis.word());
    reading.with_remark(remark)
}

/// Returns how far the record shows the piece, mm from first contact: rupture or the record's end.
fn reach(p: &Prepared, s: &Stretch) -> f64 {
    match s.rupture {
        Some((place, _)) => place.at,
        None => p.x.get(s.last).copied().unwrap_or(0.0),
    }
}

metric! {
    /// Resistance at an extension of 50 mm from first contact of the hook, on the declared
    /// abscissa. A piece that tears before 50 mm has none.
    RESISTANCE_50MM for Prepared {
        id: "extension.resistance_50mm", symbol: "R50", name: "resistance at 50 mm",
        unit: Unit::Eu, decimals: 0, revision: 1,
        source: ("ISO 5530-2 and ICC 114/1", "resistance to constant deformation", FromMemoryHigh),
        variants: [], read: read_resistance_50mm,
    }
}

fn read_resistance_50mm(p: &Prepared, _: &'static str) -> Reading {
    let reading = match resistance_50mm(p) {
        Ok(estimate) => {
            let half = p.half_width();
            Reading::of(Outcome::Exact(estimate)).over(READ_AT_MM - half, READ_AT_MM + half)
        }
        Err(outcome) => Reading::of(outcome),
    };
    on_abscissa(p, reading)
}

fn resistance_50mm(p: &Prepared) -> Result<Estimate, Outcome> {
    let s = p.stretch.clone()?;
    let reach = reach(p, &s);
    if reach < READ_AT_MM {
        let what = match s.rupture {
            Some(_) => "the piece tore",
            None => "the record ends",
        };
        return Err(Outcome::NotReached(format!(
            "{what} at {reach:.1} mm, before {READ_AT_MM:.0} mm"
        )));
    }
    let (x, y) = (&p.x[..=s.last], &p.centre[..=s.last]);
    let at = |mm: f64| value_at(x, y, mm);
    // Between the last reading and rupture the trace follows the force read at rupture.
    let value = at(READ_AT_MM).or(s.rupture.map(|(_, force)| force));
    let value = value.ok_or_else(|| not_computable("the record has no reading at 50 mm"))?;
    let slope = match (at(READ_AT_MM - 1.0), at(READ_AT_MM + 1.0)) {
        (Some(a), Some(b)) => 0.5 * (b - a),
        _ => 0.0,
    };
    let u = p.u_reading.hypot(slope * s.contact.u());
    Estimate::new(value, u).map_err(|e| Outcome::NotComputable(e.to_string()))
}

metric! {
    /// Greatest resistance between first contact and rupture; of a noisy curve, that of its
    /// smoothed line.
    MAXIMUM_RESISTANCE for Prepared {
        id: "extension.maximum_resistance", symbol: "Rm", name: "maximum resistance",
        unit: Unit::Eu, decimals: 0, revision: 1,
        source: ("ISO 5530-2 and ICC 114/1", "maximum resistance", FromMemoryHigh),
        variants: [], read: read_maximum,
    }
}

fn read_maximum(p: &Prepared, _: &'static str) -> Reading {
    let reading = match (maximum(p), &p.stretch) {
        (outcome, Ok(s)) => {
            let half = p.half_width();
            let at = p.x.get(s.top).copied().unwrap_or(0.0);
            Reading::of(outcome).over(at - half, at + half)
        }
        (outcome, Err(_)) => Reading::of(outcome),
    };
    on_abscissa(p, reading)
}

fn maximum(p: &Prepared) -> Outcome {
    let s = match &p.stretch {
        Ok(s) => s,
        Err(outcome) => return outcome.clone(),
    };
    let value = p.centre.get(s.top).copied().unwrap_or(f64::NAN);
    let at = p.x.get(s.top).copied().unwrap_or(0.0);
    // The piece had not torn: a maximum at the very end may not be the last.
    if s.rupture.is_none() && reach(p, s) - at <= p.settings.rupture_within_mm {
        return Outcome::Above(value);
    }
    Outcome::exact(value, p.u_reading.hypot(s.u_top))
}

metric! {
    /// Extension from first contact of the hook to rupture, on the declared abscissa: from where
    /// the force leaves zero (contact shows when it exceeds 2 % of its maximum, or 5 EU where that
    /// is more) to where it starts to fall by more than half of its maximum within 5 mm.
    EXTENSIBILITY for Prepared {
        id: "extension.extensibility", symbol: "E", name: "extensibility",
        unit: Unit::Millimetre, decimals: 0, revision: 1,
        source: ("ISO 5530-2 and ICC 114/1", "extensibility", FromMemoryHigh),
        variants: [], read: read_extensibility,
    }
}

fn read_extensibility(p: &Prepared, _: &'static str) -> Reading {
    let reading = match &p.stretch {
        Ok(s) => Reading::of(extensibility(p, s)).over(0.0, reach(p, s)),
        Err(outcome) => Reading::of(outcome.clone()),
    };
    on_abscissa(p, reading)
}

fn extensibility(p: &Prepared, s: &Stretch) -> Outcome {
    let Some((rupture, _)) = s.rupture else {
        return Outcome::Above(reach(p, s));
    };
    let contact: Place = s.contact;
    let low = (rupture.at - rupture.low).hypot(contact.high - contact.at);
    let high = (rupture.high - rupture.at).hypot(contact.at - contact.low);
    let u = rupture.u().hypot(contact.u());
    match Estimate::with_interval(rupture.at, rupture.at - low, rupture.at + high, u) {
        Ok(estimate) => Outcome::Exact(estimate),
        Err(error) => Outcome::NotComputable(error.to_string()),
    }
}

/// Returns the area below the curve from first contact to rupture, in the curve's unit times mm,
/// with its standard uncertainty; not exact when the record ends before rupture.
fn area(p: &Prepared) -> Result<(f64, f64, bool), Outcome> {
    let s = p.stretch.clone()?;
    let mut points = vec![(0.0, s.at_contact)];
    let inner = s.first..=s.last;
    points.extend(inner.filter_map(|i| Some((*p.x.get(i)?, *p.y.get(i)?)).filter(|q| q.0 > 0.0)));
    if let Some((place, force)) = s.rupture {
        points.push((place.at, force));
    }
    let area: f64 = points
        .windows(2)
        .map(|w| 0.5 * (w[0].1 + w[1].1) * (w[1].0 - w[0].0))
        .sum();
    let length = reach(p, &s).max(0.0);
    let u_noise = p.noise * length / (points.len() as f64).sqrt();
    let u_end = s.rupture.map_or(0.0, |(place, force)| place.u() * force);
    Ok((area, u_noise.hypot(u_end), s.rupture.is_some()))
}

/// Returns the area scaled to a metric's unit, with a relative uncertainty of the scale.
fn scaled_area(p: &Prepared, scale: f64, relative_u: f64) -> Reading {
    let reading = match area(p) {
        Ok((area, _, false)) => Reading::of(Outcome::Above(area * scale)),
        Ok((area, u, true)) => {
            let u = (u * scale).hypot(area * scale * relative_u);
            Reading::of(Outcome::exact(area * scale, u))
        }
        Err(outcome) => return on_abscissa(p, Reading::of(outcome)),
    };
    let reading = match &p.stretch {
        Ok(s) => reading.over(0.0, reach(p, s)),
        Err(_) => reading,
    };
    on_abscissa(p, reading)
}

metric! {
    /// Area below the curve from first contact to rupture on the recorder's chart: the integral of
    /// resistance over chart millimetres, divided by ten times the ordinate scale in EU per cm.
    /// The scale is a property of the recorder: it must be stated, there is no default. A record
    /// over hook travel has no chart area.
    ENERGY_AREA for Prepared {
        id: "extension.energy_area", symbol: "A", name: "energy as chart area",
        unit: Unit::SquareCentimetre, decimals: 0, revision: 1,
        source: ("ISO 5530-2 and ICC 114/1", "energy", Derived),
        variants: [], read: read_energy_area,
    }
}

fn read_energy_area(p: &Prepared, _: &'static str) -> Reading {
    let refused = match (p.axis, p.eu_per_cm) {
        (Axis::HookTravelMm, _) => "the abscissa is hook travel: it has no area on a chart",
        _ if p.unit != Unit::Eu => "the record is not in EU: it has no area on the chart",
        (_, None) => "ordinate scale of the recorder (EU per cm) not stated",
        (_, Some(scale)) => return scaled_area(p, 1.0 / (10.0 * scale), 0.0),
    };
    let outcome = match &p.stretch {
        Err(outcome @ Outcome::Rejected(_)) => outcome.clone(),
        _ => not_computable(refused),
    };
    on_abscissa(p, Reading::of(outcome))
}

metric! {
    /// Work done on the piece from first contact to rupture: the integral of force over hook
    /// travel, with 12.3 mN per EU and, for a record over chart millimetres only, 14.5/6.5 mm of
    /// hook travel per chart millimetre. The interval holds the tolerances of force and speed; the
    /// sinking of the sample holder is ignored.
    ENERGY_WORK for Prepared {
        id: "extension.energy_work", symbol: "W", name: "energy as work",
        unit: Unit::Joule, decimals: 2, revision: 1,
        source: ("ISO 5530-2 force per EU and hook speed", "apparatus", Derived),
        variants: [], read: read_energy_work,
    }
}

fn read_energy_work(p: &Prepared, _: &'static str) -> Reading {
    let relative = |(value, tolerance): (f64, f64)| tolerance / value / 3.0_f64.sqrt();
    let (newton, u_force) = match p.unit {
        Unit::Eu => (MILLINEWTON_PER_EU.0 / 1000.0, relative(MILLINEWTON_PER_EU)),
        Unit::Newton => (1.0, 0.0),
        other => {
            let outcome = match &p.stretch {
                Err(outcome) => outcome.clone(),
                Ok(_) => Outcome::NotComputable(format!("the force of one {other} is not known")),
            };
            return on_abscissa(p, Reading::of(outcome));
        }
    };
    let (travel, u_travel) = match p.axis {
        Axis::ChartMm => (HOOK_MM_PER_S.0 / CHART_MM_PER_S, relative(HOOK_MM_PER_S)),
        _ => (1.0, 0.0),
    };
    // N mm to J.
    scaled_area(p, newton * travel / 1000.0, u_force.hypot(u_travel))
}

metric! {
    /// Resistance at 50 mm divided by extensibility. Not to be confused with the ratio of the
    /// maximum resistance, which is also in use.
    RATIO_R50_E for Prepared {
        id: "extension.ratio_r50_e", symbol: "R50/E", name: "ratio of resistance at 50 mm to extensibility",
        unit: Unit::EuPerMillimetre, decimals: 2, revision: 1,
        source: ("ISO 5530-2 and ICC 114/1", "ratio number", FromMemoryHigh),
        variants: [], read: read_ratio_r50_e,
    }
}

fn read_ratio_r50_e(p: &Prepared, _: &'static str) -> Reading {
    let resistance = match resistance_50mm(p) {
        Ok(estimate) => Outcome::Exact(estimate),
        Err(outcome) => outcome,
    };
    ratio(p, resistance)
}

metric! {
    /// Maximum resistance divided by extensibility. Not to be confused with the ratio of the
    /// resistance at 50 mm, which is also in use.
    RATIO_RM_E for Prepared {
        id: "extension.ratio_rm_e", symbol: "Rm/E", name: "ratio of maximum resistance to extensibility",
        unit: Unit::EuPerMillimetre, decimals: 2, revision: 1,
        source: ("ISO 5530-2 and ICC 114/1", "maximum ratio number", FromMemoryHigh),
        variants: [], read: read_ratio_rm_e,
    }
}

fn read_ratio_rm_e(p: &Prepared, _: &'static str) -> Reading {
    ratio(p, maximum(p))
}

/// Returns resistance over extensibility; a bound where the extensibility is one.
fn ratio(p: &Prepared, resistance: Outcome) -> Reading {
    let s = match &p.stretch {
        Ok(s) => s,
        Err(outcome) => return on_abscissa(p, Reading::of(outcome.clone())),
    };
    let outcome = match (resistance, extensibility(p, s)) {
        _ if p.unit != Unit::Eu => not_computable("the record is not in EU"),
        (Outcome::Exact(r), Outcome::Exact(e)) if e.value() > 0.0 => {
            let value = r.value() / e.value();
            let relative =
                |e: Estimate| e.std_uncertainty() / e.value().abs().max(f64::MIN_POSITIVE);
            Outcome::exact(value, value.abs() * relative(r).hypot(relative(e)))
        }
        (Outcome::Exact(r), Outcome::Above(e)) if e > 0.0 => Outcome::Below(r.value() / e),
        (Outcome::NotReached(reason), _) => {
            Outcome::NotComputable(format!("no resistance to divide: {reason}"))
        }
        (Outcome::Above(_), _) => not_computable(
            "the piece had not torn at the end of the record: neither resistance nor extensibility is known",
        ),
        _ => not_computable("resistance or extensibility is not known"),
    };
    on_abscissa(p, Reading::of(outcome).over(0.0, reach(p, s)))
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] = &[
    &RESISTANCE_50MM,
    &MAXIMUM_RESISTANCE,
    &EXTENSIBILITY,
    &ENERGY_AREA,
    &ENERGY_WORK,
    &RATIO_R50_E,
    &RATIO_RM_E,
];
