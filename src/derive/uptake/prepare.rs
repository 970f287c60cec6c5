//! What is done once per soaked sample: moisture over time, and the laws fitted to it.

use super::laws::{Laws, fit_laws};
use super::settings::Settings;
use crate::record::{Curve, Outcome, Run, SignalFacts};
use crate::schema::{Axis, Channel, Field, Quantity};

/// An uptake curve ready to be read.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// Parameters in force.
    pub settings: Settings,
    /// Time in water, min.
    pub minutes: Vec<f64>,
    /// Moisture, % of dry mass.
    pub moisture: Vec<f64>,
    /// Stated moisture before soaking, % of dry mass.
    pub initial: Option<f64>,
    /// Whether the moisture was computed from masses with dry solids.
    pub from_mass: bool,
    /// Moisture to reach, % of dry mass.
    pub target: Option<f64>,
    /// Equivalent radius, mm.
    pub radius_mm: Option<f64>,
    /// Temperature of the water, °C.
    pub water_c: Option<f64>,
    /// The laws fitted, or the outcome every metric has instead.
    pub laws: Result<Laws, Outcome>,
    /// What was seen.
    pub facts: SignalFacts,
}

impl Prepared {
    /// Returns the length of the record, min.
    pub fn end(&self) -> f64 {
        self.minutes.last().copied().unwrap_or(0.0)
    }
}

/// Returns the prepared curve of `run`.
pub fn prepare(run: &Run, settings: Settings) -> Prepared {
    let positive = |field| run.metadata.number(field).filter(|v| *v > 0.0);
    let mut p = Prepared {
        settings,
        minutes: Vec::new(),
        moisture: Vec::new(),
        initial: run.metadata.number(Field::InitialMoistureDbPct),
        from_mass: false,
        target: run.metadata.number(Field::TargetMoistureDbPct),
        radius_mm: positive(Field::EquivalentRadiusMm),
        water_c: run
            .metadata
            .number(Field::ThermostatC)
            .or_else(|| run.metadata.number(Field::WaterTempC)),
        laws: Err(Outcome::NotComputable("the run has no curve".into())),
        facts: SignalFacts::default(),
    };
    let curve = run.curve(Channel::Signal).or_else(|| run.curves.first());
    let Some(curve) = curve else { return p };
    p.facts = SignalFacts {
        points: curve.points(),
        missing_cells: run.missing_cells,
        time_steps_back: curve.steps_back(),
        duration_s: curve.x().last().unwrap_or(&0.0) - curve.x().first().unwrap_or(&0.0),
        ..SignalFacts::default()
    };
    p.minutes = curve.x().iter().map(|s| s / 60.0).collect();
    p.laws = match moisture_of(run, curve, &mut p) {
        Ok(moisture) => {
            p.moisture = moisture;
            p.facts.maximum = p.moisture.iter().copied().max_by(f64::total_cmp);
            fit_laws(&p).map_err(Outcome::NotComputable)
        }
        Err(outcome) => {
            p.moisture = curve.y().to_vec();
            Err(outcome)
        }
    };
    if let Some(law) = p
        .laws
        .as_ref()
        .ok()
        .and_then(|laws| laws.peleg.as_ref().ok())
    {
        p.facts.scatter = Some(law.fit.residual_deviation);
    }
    p
}

/// Returns the moisture in % of dry mass, or why it is not to be had.
fn moisture_of(run: &Run, curve: &Curve, p: &mut Prepared) -> Result<Vec<f64>, Outcome> {
    if let Some(index) = p.facts.time_steps_back.first() {
        return Err(Outcome::Rejected(format!(
            "time steps back at line {} of the file",
            run.line_of(*index)
        )));
    }
    if curve.axis() != Axis::Time {
        return Err(Outcome::NotComputable("the record is not over time".into()));
    }
    match curve.unit().quantity() {
        Quantity::Percent => Ok(curve.y().to_vec()),
        Quantity::Mass => {
            p.from_mass = true;
            let solids = dry_solids(run, curve)?;
            let mass = curve.y().iter();
            Ok(mass.map(|m| 100.0 * (m - solids) / solids).collect())
        }
        other => Err(Outcome::NotComputable(format!(
            "the record is in {} ({other:?}): an uptake curve is moisture in % of dry mass, or mass",
            curve.unit()
        ))),
    }
}

/// Returns the dry solids of a sample recorded by mass, g: as stated, else from the mass before
/// soaking and the initial moisture.
fn dry_solids(run: &Run, curve: &Curve) -> Result<f64, Outcome> {
    let stated = run.metadata.number(Field::DrySolidsG).filter(|s| *s > 0.0);
    let initial = run.metadata.number(Field::InitialMoistureDbPct);
    let first = curve.x().first().zip(curve.y().first());
    let before = first.filter(|(t, _)| **t <= 0.0).map(|(_, mass)| *mass);
    let weighed = before
        .zip(initial)
        .map(|(mass, moisture)| mass / (1.0 + moisture / 100.0));
    stated.or(weighed).ok_or_else(|| {
        Outcome::NotComputable(
            "masses give moisture only with the dry solids (dry_solids_g), or with a mass at time \
             nought and the initial moisture (initial_moisture_db_pct)"
                .into(),
        )
    })
}
