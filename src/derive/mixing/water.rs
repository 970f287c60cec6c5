//! Water: flour mass for a bowl, absorption by both procedures, moisture bases, the next run.

use super::prepare::Prepared;
use super::settings::{ACCEPTED_FU, TARGET_FU};
use super::shape::{counted_peak, u_consistency};
use crate::derive::{Metric, Reading, metric, or_outcome};
use crate::record::Outcome;
use crate::schema::{Bowl, Procedure, Purpose, Unit};

pub use crate::derive::basis::{BASIS_PCT, mass_at_14_g};

/// Returns the flour mass in g to weigh for `bowl` at `moisture_pct` % as is, so that it holds the
/// dry matter of the nominal mass at 14 %. This formula agrees with every row of the published
/// table (ISO 5530-1, as transcribed in TCVN 7848-1:2015) but one misprint (HANDBOOK 1.2).
pub fn flour_mass_g(bowl: Bowl, moisture_pct: f64) -> f64 {
    bowl.flour_g() * (100.0 - BASIS_PCT) / (100.0 - moisture_pct)
}

/// Returns ml of water per FU by which a run misses 500 FU, for `flour_14_g` of flour at 14 %
/// (0.096 ml/FU for 300 g, 0.016 for 50 g: ISO 5530-1; from memory, high confidence).
pub fn correction_ml_per_fu(bowl: Bowl, flour_14_g: f64) -> f64 {
    let nominal = match bowl {
        Bowl::G300 => 0.096,
        Bowl::G50 => 0.016,
    };
    nominal * flour_14_g / bowl.flour_g()
}

/// Returns the absorption on moisture basis `basis_pct` of an absorption on the 14 % basis
/// (water balance, HANDBOOK 1.5; derived).
pub fn absorption_on_basis(absorption_14: f64, basis_pct: f64) -> f64 {
    (absorption_14 + BASIS_PCT) * (100.0 - basis_pct) / (100.0 - BASIS_PCT) - basis_pct
}

/// Flour and water for a run at constant dough mass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConstantDoughMasses {
    /// Flour at 14 %, g.
    pub flour_14_g: f64,
    /// Flour to weigh as is, g.
    pub flour_g: f64,
    /// Water to dose, g.
    pub water_g: f64,
}

/// Returns the masses for `dough_g` of dough at an assumed absorption (AACC 54-22; mass balance of
/// HANDBOOK 1.4; derived).
pub fn constant_dough_masses(
    dough_g: f64,
    absorption_14: f64,
    moisture_pct: f64,
) -> ConstantDoughMasses {
    let flour_14_g = 100.0 * dough_g / (100.0 + absorption_14);
    let flour_g = flour_14_g * (100.0 - BASIS_PCT) / (100.0 - moisture_pct);
    ConstantDoughMasses {
        flour_14_g,
        flour_g,
        water_g: dough_g - flour_g,
    }
}

/// The inputs of an absorption at constant flour mass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AbsorptionInputs {
    /// Bowl.
    pub bowl: Bowl,
    /// Water dosed, ml.
    pub water_ml: f64,
    /// Flour weighed, g.
    pub flour_g: f64,
    /// Flour moisture, % as is.
    pub moisture_pct: f64,
    /// Maximum consistency, FU.
    pub consistency_fu: f64,
}

impl AbsorptionInputs {
    /// Returns the water volume in ml that would have given 500 FU.
    pub fn corrected_volume_ml(&self) -> f64 {
        let flour_14 = mass_at_14_g(self.flour_g, self.moisture_pct);
        self.water_ml
            + correction_ml_per_fu(self.bowl, flour_14) * (self.consistency_fu - TARGET_FU)
    }

    /// Returns the absorption in ml per 100 g of flour at 14 % moisture.
    pub fn absorption(&self) -> f64 {
        let flour_14 = mass_at_14_g(self.flour_g, self.moisture_pct);
        100.0 * (self.corrected_volume_ml() + self.flour_g - flour_14) / flour_14
    }

    /// Returns the standard uncertainty of the absorption for a standard uncertainty of the
    /// consistency, with the declared input uncertainties, by central differences (JCGM 100, 5.1.3).
    pub fn std_uncertainty(&self, u_consistency_fu: f64) -> f64 {
        let shifted = |change: &dyn Fn(&mut AbsorptionInputs, f64), u: f64| {
            let (mut up, mut down) = (*self, *self);
            change(&mut up, u);
            change(&mut down, -u);
            0.5 * (up.absorption() - down.absorption())
        };
        let parts = [
            shifted(&|i, d| i.water_ml += d, U_WATER_ML),
            shifted(&|i, d| i.flour_g += d, U_FLOUR_G),
            shifted(&|i, d| i.moisture_pct += d, U_MOISTURE_PCT),
            shifted(&|i, d| i.consistency_fu += d, u_consistency_fu),
        ];
        parts.iter().map(|part| part * part).sum::<f64>().sqrt()
    }
}

/// Declared uncertainty of the dosed volume: 0.1 ml, rectangular (HANDBOOK V-GUM).
const U_WATER_ML: f64 = 0.1 / 1.732_050_807_568_877_2;
/// Declared uncertainty of the weighed flour, g (HANDBOOK V-GUM).
const U_FLOUR_G: f64 = 0.03;
/// Declared uncertainty of the flour moisture, percentage points (HANDBOOK V-GUM).
const U_MOISTURE_PCT: f64 = 0.1;

metric! {
    /// Flour to weigh for the bowl at the flour's moisture, so that it holds the dry matter of
    /// 300 g or 50 g at 14 %.
    FLOUR_MASS for Prepared {
        id: "mixing.flour_mass", symbol: "m", name: "flour to weigh",
        unit: Unit::Gram, decimals: 1, revision: 1,
        source: ("ISO 5530-1", "flour mass table", Published),
        variants: [], read: read_flour_mass,
    }
}

fn read_flour_mass(p: &Prepared, _: &'static str) -> Reading {
    let (Some(bowl), Some(moisture)) = (p.conditions.bowl, p.conditions.flour_moisture_pct) else {
        return Reading::of(missing(p, false));
    };
    let mass = flour_mass_g(bowl, moisture);
    let u = mass / (100.0 - moisture) * U_MOISTURE_PCT;
    Reading::of(Outcome::exact(mass, u))
}

/// Names every input the absorption lacks.
fn missing(p: &Prepared, water_too: bool) -> Outcome {
    let c = &p.conditions;
    let mut lacking = Vec::new();
    if c.bowl.is_none() {
        lacking.push("bowl size (bowl_g)");
    }
    if c.flour_moisture_pct.is_none() {
        lacking.push("flour moisture (flour_moisture_pct)");
    }
    if water_too && c.water_ml.is_none() {
        lacking.push("water dosed (water_ml)");
    }
    if lacking.is_empty() {
        return Outcome::NotComputable(
            "flour mass or moisture stated is no mass or moisture".into(),
        );
    }
    Outcome::NotComputable(format!(
        "not stated: {}; state it in the file's block or in the run sheet",
        lacking.join(", ")
    ))
}

metric! {
    /// Water in ml per 100 g of flour at 14 % moisture that gives a maximum consistency of 500 FU.
    /// Constant flour mass: the volume dosed is corrected by 0.096 ml/FU (300 g) or 0.016 ml/FU
    /// (50 g), only for a maximum in 480–520 FU, and put on the 14 % basis with the flour really
    /// weighed. Constant dough mass: from the masses dosed, only for a maximum in 480–520 FU.
    WATER_ABSORPTION for Prepared {
        id: "mixing.water_absorption", symbol: "WA", name: "water absorption (14 % basis)",
        unit: Unit::MillilitrePer100Gram, decimals: 1, revision: 1,
        source: ("ISO 5530-1 and ICC 115/1", "water absorption", FromMemoryHigh),
        variants: [], read: read_absorption,
    }
}

fn read_absorption(p: &Prepared, _: &'static str) -> Reading {
    let peak = or_outcome!(counted_peak(p));
    if p.unit != Unit::Fu {
        return Reading::of(Outcome::NotComputable(format!(
            "the unit of the record is {}: the consistency in FU is not known",
            p.unit
        )));
    }
    if let Some(reason) = &p.centre.height_unknown {
        return Reading::of(Outcome::NotComputable(reason.clone()));
    }
    let Some(inputs) = inputs(p, peak.consistency) else {
        return Reading::of(missing(p, true));
    };
    if peak.rising_at_end {
        return Reading::of(Outcome::NotComputable(
            "the centre is still rising at the end of the record: the maximum is not known".into(),
        ));
    }
    if !ACCEPTED_FU.contains(&peak.consistency) {
        let advice = next_dosing(p, &inputs).map(|next| format!("; {}", next.words()));
        return Reading::of(Outcome::NotComputable(format!(
            "the maximum of {:.0} FU lies outside 480–520 FU{}",
            peak.consistency,
            advice.unwrap_or_default()
        )));
    }
    let outcome = if p.conditions.procedure == Some(Procedure::ConstantDough) {
        constant_dough_absorption(&inputs)
    } else {
        Outcome::exact(
            inputs.absorption(),
            inputs.std_uncertainty(u_consistency(p)),
        )
    };
    let mass = if p.conditions.flour_g.is_some() {
        "weighed"
    } else {
        "from moisture"
    };
    let procedure = p.conditions.procedure.unwrap_or(Procedure::ConstantFlour);
    let half = p.settings.smoothing_half_width_s;
    let at = p.t[peak.index];
    Reading::of(outcome)
        .over(at - half, at + half)
        .with_remark(format!("procedure={procedure}; flour mass {mass}"))
}

metric! {
    /// Water volume that would have given a maximum consistency of 500 FU with the flour really
    /// weighed: the volume dosed, corrected by 0.096 ml/FU (300 g) or 0.016 ml/FU (50 g), scaled
    /// with the flour's dry matter; only for a maximum in 480–520 FU. Duplicates are judged by it.
    CORRECTED_VOLUME for Prepared {
        id: "mixing.corrected_volume", symbol: "Vc", name: "corrected water volume",
        unit: Unit::Millilitre, decimals: 1, revision: 1,
        source: ("ISO 5530-1", "corrected volume", FromMemoryHigh),
        variants: [], read: read_corrected_volume,
    }
}

fn read_corrected_volume(p: &Prepared, _: &'static str) -> Reading {
    let absorption = read_absorption(p, "");
    if p.conditions.procedure == Some(Procedure::ConstantDough) {
        return Reading::of(Outcome::NotComputable(
            "the corrected volume belongs to the procedure at constant flour mass".into(),
        ));
    }
    if absorption.outcome.estimate().is_none() {
        return absorption;
    }
    let consistency = p.peak.as_ref().map_or(TARGET_FU, |peak| peak.consistency);
    let Some(inputs) = inputs(p, consistency) else {
        return absorption;
    };
    let flour_14 = mass_at_14_g(inputs.flour_g, inputs.moisture_pct);
    let slope = correction_ml_per_fu(inputs.bowl, flour_14);
    let u = U_WATER_ML.hypot(slope * u_consistency(p));
    Reading {
        outcome: Outcome::exact(inputs.corrected_volume_ml(), u),
        ..absorption
    }
}

fn inputs(p: &Prepared, consistency_fu: f64) -> Option<AbsorptionInputs> {
    let c = &p.conditions;
    let (bowl, moisture_pct) = (c.bowl?, c.flour_moisture_pct?);
    let flour_g = c
        .flour_g
        .unwrap_or_else(|| flour_mass_g(bowl, moisture_pct));
    let usable = flour_g > 0.0 && (0.0..100.0).contains(&moisture_pct);
    usable.then_some(AbsorptionInputs {
        bowl,
        water_ml: c.water_ml?,
        flour_g,
        moisture_pct,
        consistency_fu,
    })
}

/// Absorption from the masses dosed at constant dough mass: `A = 100 (D - F14)/F14` (HANDBOOK 1.4).
fn constant_dough_absorption(inputs: &AbsorptionInputs) -> Outcome {
    let flour_14 = mass_at_14_g(inputs.flour_g, inputs.moisture_pct);
    let dough = inputs.flour_g + inputs.water_ml;
    let u_flour_14 = flour_14 / (100.0 - inputs.moisture_pct) * U_MOISTURE_PCT;
    let u = 100.0 / flour_14 * U_WATER_ML.hypot(dough / flour_14 * u_flour_14);
    Outcome::exact(100.0 * (dough - flour_14) / flour_14, u)
}

/// Flour and water of the next run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct NextDosing {
    /// Water, ml.
    pub water_ml: f64,
    /// Flour to weigh, g, where it changes with the water.
    pub flour_g: Option<f64>,
}

impl NextDosing {
    fn words(&self) -> String {
        match self.flour_g {
            Some(flour) => {
                format!(
                    "weigh {flour:.1} g flour and dose {:.1} ml in the next run",
                    self.water_ml
                )
            }
            None => format!("dose {:.1} ml in the next run", self.water_ml),
        }
    }
}

/// Largest change of water, as a share of what was dosed, that one step of a titration may ask
/// for: beyond it the masses are more likely wrong than the dough (project choice).
const LARGEST_STEP: f64 = 0.3;

/// Returns the masses that would bring the next run to the line. At constant dough mass flour and
/// water change together (HANDBOOK 1.4), with the water per FU of the constant-flour procedure.
fn next_dosing(p: &Prepared, inputs: &AbsorptionInputs) -> Option<NextDosing> {
    let next = if p.conditions.procedure == Some(Procedure::ConstantDough) {
        let flour_14 = mass_at_14_g(inputs.flour_g, inputs.moisture_pct);
        let dough = inputs.flour_g + inputs.water_ml;
        let per_fu = 100.0 * correction_ml_per_fu(inputs.bowl, flour_14) / flour_14;
        let wanted =
            100.0 * (dough - flour_14) / flour_14 + per_fu * (inputs.consistency_fu - TARGET_FU);
        let masses = constant_dough_masses(dough, wanted, inputs.moisture_pct);
        NextDosing {
            water_ml: masses.water_g,
            flour_g: Some(masses.flour_g),
        }
    } else {
        NextDosing {
            water_ml: inputs.corrected_volume_ml(),
            flour_g: None,
        }
    };
    let step = (next.water_ml - inputs.water_ml).abs();
    (next.water_ml > 0.0 && step <= LARGEST_STEP * inputs.water_ml.abs()).then_some(next)
}

/// Returns flour and water of the next run: for a titration run always, for any other only when
/// its maximum left 480–520 FU and it was not part of a planned series.
pub(super) fn dosing_of_next_run(p: &Prepared) -> Option<NextDosing> {
    let peak = p.peak.as_ref().ok()?;
    let known = p.unit == Unit::Fu && p.centre.height_unknown.is_none() && !peak.rising_at_end;
    let off = !ACCEPTED_FU.contains(&peak.consistency);
    let wanted = match p.conditions.purpose {
        Some(Purpose::Study) => false,
        Some(Purpose::Titration) => true,
        Some(Purpose::Final) | None => off,
    };
    let inputs = inputs(p, peak.consistency).filter(|_| known && wanted)?;
    next_dosing(p, &inputs)
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] =
    &[&WATER_ABSORPTION, &CORRECTED_VOLUME, &FLOUR_MASS];
