//! The metrics of one compression curve.

use super::prepare::Prepared;
use super::settings::{READ_AT_MM, READ_AT_SHARE};
use crate::derive::{Metric, Reading, metric, or_outcome};
use crate::record::Outcome;
use crate::schema::Unit;
use std::f64::consts::PI;

/// Returns the depth at which a variant reads, mm, with its standard uncertainty.
fn depth(p: &Prepared, variant: &str) -> Result<(f64, f64), Outcome> {
    if variant == "fixed-depth" {
        return Ok((READ_AT_MM, 0.0));
    }
    match p.thickness_mm {
        Some(thickness) => Ok((
            READ_AT_SHARE * thickness,
            READ_AT_SHARE * p.settings.u_thickness_mm,
        )),
        None => Err(Outcome::NotComputable(
            "thickness of the crumb (thickness_mm) not stated".into(),
        )),
    }
}

/// Returns the force at the depth of a variant with its standard uncertainty, and the depth.
fn firmness(p: &Prepared, variant: &str) -> Result<(f64, f64, f64), Outcome> {
    let u_contact = p.contact.clone()?;
    let (at, u_depth) = depth(p, variant)?;
    let Some(force) = p.force_at(at) else {
        return Err(Outcome::NotReached(format!(
            "the record ends {:.1} mm after contact, before {at:.2} mm",
            p.reach()
        )));
    };
    let place = force.slope * u_contact.hypot(u_depth);
    Ok((force.value, force.u.hypot(place), at))
}

metric! {
    /// Force on the probe when the crumb is compressed by a quarter of its own thickness, from
    /// contact of the probe (force of the trigger), read on the straight line through the readings
    /// about that depth. A quarter of the actual thickness, whatever it is; the other reading at
    /// 6.2 mm belongs to slices of 25 mm. Slices of a loaf are sub-samples.
    FORCE_25 for Prepared {
        id: "firmness.force_25", symbol: "F25", name: "crumb firmness at 25 % compression",
        unit: Unit::Newton, decimals: 2, revision: 1,
        source: ("AACC 74-09.01; Baker, Walker and Kemp 1988, Cereal Chem. 65:302", "force at 25 % compression", FromMemoryMedium),
        variants: [
            ("actual-thickness", "at 25 % of the stated thickness"),
            ("fixed-depth", "at 6.2 mm, whatever the thickness"),
        ],
        read: read_force,
    }
}

fn read_force(p: &Prepared, variant: &'static str) -> Reading {
    let (force, u, at) = or_outcome!(firmness(p, variant));
    Reading::of(Outcome::exact(force, u)).over(0.0, at)
}

metric! {
    /// Apparent modulus at 25 % compression: force over the area of the probe, divided by the
    /// strain of 0.25. Apparent, since crumb is neither linear nor loaded over its whole face.
    APPARENT_MODULUS for Prepared {
        id: "firmness.apparent_modulus", symbol: "E25", name: "apparent modulus of the crumb",
        unit: Unit::Kilopascal, decimals: 2, revision: 1,
        source: ("force per area and strain", "HANDBOOK 10, V-S3", Derived),
        variants: [], read: read_modulus,
    }
}

fn read_modulus(p: &Prepared, _: &'static str) -> Reading {
    let (force, u, at) = or_outcome!(firmness(p, "actual-thickness"));
    let Some(diameter) = p.diameter_mm else {
        return Reading::of(Outcome::NotComputable(
            "diameter of the probe (probe_diameter_mm) not stated".into(),
        ));
    };
    let area = PI * diameter * diameter / 4.0;
    // N/mm² to kPa.
    let scale = 1000.0 / (area * READ_AT_SHARE);
    let by_area = 2.0 * p.settings.u_diameter_mm / diameter;
    let u = (scale * u).hypot(scale * force * by_area);
    Reading::of(Outcome::exact(scale * force, u)).over(0.0, at)
}

metric! {
    /// Greatest compression of the record from contact, in % of the thickness. The trade
    /// compresses to 40 %.
    COMPRESSION for Prepared {
        id: "firmness.compression", symbol: "ε", name: "compression reached",
        unit: Unit::Percent, decimals: 1, revision: 1,
        source: ("AACC 74-09.01", "compression to 40 %", FromMemoryMedium),
        variants: [], read: read_compression,
    }
}

fn read_compression(p: &Prepared, _: &'static str) -> Reading {
    let u_contact = or_outcome!(p.contact.clone());
    let Some(thickness) = p.thickness_mm else {
        return Reading::of(Outcome::NotComputable(
            "thickness of the crumb (thickness_mm) not stated".into(),
        ));
    };
    let reached = p.reach() / thickness;
    let u = (u_contact / thickness).hypot(reached * p.settings.u_thickness_mm / thickness);
    Reading::of(Outcome::exact(100.0 * reached, 100.0 * u)).over(0.0, p.reach())
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] = &[&FORCE_25, &APPARENT_MODULUS, &COMPRESSION];
