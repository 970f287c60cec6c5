//! Water and protein on every basis, and the mass balance of the dough's moisture.

use super::amounts::{flour_mass, lacking, not_stated, plain, remark, water_mass};
use super::prepare::Prepared;
use super::settings::{shared, source};
use crate::derive::mixing::water::{BASIS_PCT, absorption_on_basis};
use crate::derive::{Metric, Reading, metric, or_outcome};
use crate::numerics::{Input, Propagated, propagate};
use crate::record::Outcome;
use crate::schema::{Field, Unit};

/// What a percentage is counted on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Basis {
    /// On the flour at the moisture that it has.
    AsIs,
    /// On flour of this moisture, %; 0 is dry matter.
    Moisture(f64),
}

impl Basis {
    /// Returns the basis that `text` names: `as is`, `dry`, or a moisture such as `14 %` or `13,5`.
    pub fn parse(text: &str) -> Option<Basis> {
        let bare = text.trim().trim_end_matches('%').trim().to_lowercase();
        match bare.replace(['-', '_'], " ").as_str() {
            "as is" => Some(Basis::AsIs),
            "dry" | "dry basis" | "dry matter" => Some(Basis::Moisture(0.0)),
            other => {
                let percent: f64 = other.replace(',', ".").parse().ok()?;
                (0.0..100.0)
                    .contains(&percent)
                    .then_some(Basis::Moisture(percent))
            }
        }
    }

    fn of(variant: &str) -> Basis {
        match variant {
            "as-is" => Basis::AsIs,
            "dry" => Basis::Moisture(0.0),
            _ => Basis::Moisture(BASIS_PCT),
        }
    }

    /// Returns the moisture of the flour that the basis speaks of, for flour of `moisture` %.
    fn moisture(self, moisture: f64) -> f64 {
        match self {
            Basis::AsIs => moisture,
            Basis::Moisture(percent) => percent,
        }
    }
}

/// Returns a content in % on another basis: `x (100 − to)/(100 − from)` (HANDBOOK 8.5).
pub fn content_on_basis(percent: f64, from: f64, to: f64) -> f64 {
    percent * (100.0 - to) / (100.0 - from)
}

/// Returns water on flour in % on another basis, by the water balance (HANDBOOK 1.5).
pub fn water_on_basis(percent: f64, from: f64, to: f64) -> f64 {
    let on_14 = (percent + from) * (100.0 - BASIS_PCT) / (100.0 - from) - BASIS_PCT;
    absorption_on_basis(on_14, to)
}

/// Returns the moisture of a dough in % of its mass, for water and salt on flour as is in % and the
/// moisture of the flour in %: `(w + M)/(1 + w + s)` (HANDBOOK 8.5; salt by mass balance).
pub fn dough_moisture(water: f64, moisture: f64, salt: f64) -> f64 {
    100.0 * (water + moisture) / (100.0 + water + salt)
}

/// Water on flour as is, %, and moisture of the flour, %.
struct Dosed {
    water: Input,
    moisture: Input,
    from: &'static str,
}

fn flour_moisture(p: &Prepared) -> Result<Input, Outcome> {
    p.stated(Field::FlourMoisturePct)
        .filter(|m| (0.0..100.0).contains(m))
        .map(|m| p.settings.moisture(m))
        .ok_or_else(|| not_stated(&[Field::FlourMoisturePct]))
}

/// Returns what was dosed: the masses, else the stated hydration on its stated basis.
fn dosed(p: &Prepared, needs_moisture: bool) -> Result<Dosed, Outcome> {
    let moisture = match flour_moisture(p) {
        Ok(moisture) => moisture,
        Err(outcome) if needs_moisture => return Err(outcome),
        Err(_) => Input::known(0.0),
    };
    if let (Some(flour), Some(water)) = (flour_mass(p), water_mass(p)) {
        let ratio = propagate(&[flour, water], |v| 100.0 * v[1] / v[0]);
        return Ok(Dosed {
            water: water_input(ratio),
            moisture,
            from: "masses",
        });
    }
    let missing = || not_stated(&lacking(p, &[Field::FlourG, Field::WaterMl]));
    let stated = p.stated(Field::HydrationPct).ok_or_else(missing)?;
    let text = p.metadata.text(Field::HydrationBasis).unwrap_or_default();
    let Some(basis) = Basis::parse(&text) else {
        return Err(Outcome::NotComputable(format!(
            "hydration_basis `{text}` names no basis: write `as is`, `dry` or a moisture such as `14 %`"
        )));
    };
    let on_basis = p.settings.water(stated);
    if basis == Basis::AsIs {
        return Ok(Dosed {
            water: on_basis,
            moisture,
            from: "hydration_pct",
        });
    }
    let moisture = flour_moisture(p)?;
    let as_is = propagate(&[on_basis, moisture], |v| {
        water_on_basis(v[0], basis.moisture(v[1]), v[1])
    });
    Ok(Dosed {
        water: water_input(as_is),
        moisture,
        from: "hydration_pct",
    })
}

fn water_input(found: Propagated) -> Input {
    Input {
        value: found.value,
        own: found.own,
        shared: found.shared,
        source: source::FLOW,
    }
}

metric! {
    /// Water on flour, from the masses dosed (water at 0.9982 g/ml), else from the hydration stated
    /// on its basis; each reading names what it is counted on. A percentage without its basis means
    /// nothing.
    HYDRATION for Prepared {
        id: "mixer-log.hydration", symbol: "w", name: "hydration",
        unit: Unit::Percent, decimals: 1, revision: 1,
        source: ("water balance", "moisture bases", Derived),
        variants: [
            ("as-is", "on the flour as it is"),
            ("basis-14", "on flour at 14 % moisture"),
            ("dry", "all water, the flour's too, on dry flour"),
        ],
        read: read_hydration,
    }
}

fn read_hydration(p: &Prepared, variant: &'static str) -> Reading {
    let basis = Basis::of(variant);
    let dosed = or_outcome!(dosed(p, basis != Basis::AsIs));
    let inputs = [dosed.water, dosed.moisture];
    let found = propagate(&inputs, |v| {
        water_on_basis(v[0], v[1], basis.moisture(v[1]))
    });
    remark(plain(found), &format!("from={}", dosed.from))
}

metric! {
    /// Moisture of the dough in % of its mass: measured, or what the dosed water and flour make it.
    DOUGH_MOISTURE for Prepared {
        id: "mixer-log.dough_moisture", symbol: "M_d", name: "dough moisture (of dough mass)",
        unit: Unit::Percent, decimals: 2, revision: 1,
        source: ("mass balance", "moisture bases", Derived),
        variants: [
            ("measured", "as determined on the dough (dough_moisture_pct); where it is known, it is what counts"),
            ("dosed", "from what was dosed: (w + M)/(1 + w + salt), the salt as stated, else none"),
        ],
        read: read_dough_moisture,
    }
}

fn measured(p: &Prepared) -> Result<Input, Outcome> {
    p.stated(Field::DoughMoisturePct)
        .map(|m| p.settings.moisture(m))
        .ok_or_else(|| not_stated(&[Field::DoughMoisturePct]))
}

fn salt(p: &Prepared) -> (f64, &'static str) {
    match p.stated(Field::SaltPct) {
        Some(percent) => (percent, "stated"),
        None => (0.0, "none stated"),
    }
}

fn read_dough_moisture(p: &Prepared, variant: &'static str) -> Reading {
    if variant == "measured" {
        let moisture = or_outcome!(measured(p));
        return plain(propagate(&[moisture], |v| v[0]));
    }
    let dosed = or_outcome!(dosed(p, true));
    let (salt, whose) = salt(p);
    let found = propagate(&[dosed.water, dosed.moisture], |v| {
        dough_moisture(v[0], v[1], salt)
    });
    remark(plain(found), &format!("from={}; salt={whose}", dosed.from))
}

metric! {
    /// Moisture of the dough as dosed less as measured, percentage points: what was lost on the
    /// way. More than 0.5 points is a finding.
    MOISTURE_LOSS for Prepared {
        id: "mixer-log.moisture_loss", symbol: "ΔM_d", name: "moisture lost (points)",
        unit: Unit::Percent, decimals: 2, revision: 1,
        source: ("mass balance", "dough moisture", Derived),
        variants: [], read: read_moisture_loss,
    }
}

fn read_moisture_loss(p: &Prepared, _: &'static str) -> Reading {
    let measured = or_outcome!(measured(p));
    let dosed = or_outcome!(dosed(p, true));
    let (salt, whose) = salt(p);
    let found = propagate(&[dosed.water, dosed.moisture, measured], |v| {
        dough_moisture(v[0], v[1], salt) - v[2]
    });
    remark(plain(found), &format!("from={}; salt={whose}", dosed.from))
}

metric! {
    /// Protein of the flour on each basis, from the content stated on its basis (protein_basis):
    /// x (100 − to)/(100 − from).
    PROTEIN for Prepared {
        id: "mixer-log.protein", symbol: "PC", name: "protein of the flour",
        unit: Unit::Percent, decimals: 2, revision: 1,
        source: ("mass balance", "moisture bases", Derived),
        variants: [
            ("basis-14", "of flour at 14 % moisture"),
            ("dry", "of dry flour"),
            ("as-is", "of the flour as it is"),
        ],
        read: read_protein,
    }
}

fn read_protein(p: &Prepared, variant: &'static str) -> Reading {
    let Some(stated) = p.stated(Field::ProteinPct) else {
        return Reading::of(not_stated(&[Field::ProteinPct]));
    };
    let text = p.metadata.text(Field::ProteinBasis).unwrap_or_default();
    let Some(from) = Basis::parse(&text) else {
        return Reading::of(Outcome::NotComputable(format!(
            "protein_basis `{text}` names no basis: write `as is`, `dry` or a moisture such as `14 %`"
        )));
    };
    let to = Basis::of(variant);
    let moisture = match (from, to) {
        (Basis::Moisture(_), Basis::Moisture(_)) => Input::known(0.0),
        _ => or_outcome!(flour_moisture(p)),
    };
    let content = shared(stated, p.settings.protein_tolerance_points, source::PROTEIN);
    let found = propagate(&[content, moisture], |v| {
        content_on_basis(v[0], from.moisture(v[1]), to.moisture(v[1]))
    });
    remark(plain(found), &format!("stated_on={text}"))
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] =
    &[&HYDRATION, &DOUGH_MOISTURE, &MOISTURE_LOSS, &PROTEIN];
