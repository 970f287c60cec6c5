//! Extension curves of rested dough pieces, with their truth.
//!
//! Shape: a power-law rise to the maximum, a power-law fall to rupture, then the hook runs free
//! (invented; convex rises of wheat dough are common practice, no source). Definitions: HANDBOOK
//! §4 and §19. All integrals are closed forms.

use super::noise::Noise;
use super::truth::{Truth, TruthValue};

/// Force of one EU, N; HANDBOOK §4, from memory.
const NEWTON_PER_EU: f64 = 0.0123;
/// Hook travel per chart millimetre, 14.5/6.5; HANDBOOK §4, derived.
const HOOK_PER_CHART: f64 = 14.5 / 6.5;
/// Distance over which the trace falls when the piece has torn, mm; invented.
const TEAR_MM: f64 = 1.5;
/// Reading of the free hook, EU; invented.
const FREE_HOOK_EU: f64 = 2.0;
/// Record behind the rupture, mm.
const TAIL_MM: f64 = 9.0;
/// Abscissa of the resistance at fixed extension, mm; HANDBOOK §4.
const FIXED_MM: f64 = 50.0;
/// Length over which a slipped piece takes up its load again, mm; invented.
const SLIP_RECOVERY_MM: f64 = 9.0;

/// What the abscissa of an extension curve counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Abscissa {
    /// Millimetres of the chart.
    ChartMm,
    /// Millimetres of hook travel.
    HookTravelMm,
}

/// How the piece failed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Failure {
    /// In the middle, as it should.
    Middle,
    /// It slipped in its clamp and lost a share of its load.
    Slipped,
    /// It tore at the clamp.
    Clamp,
}

impl Failure {
    /// Returns the word in files.
    pub fn word(self) -> &'static str {
        match self {
            Failure::Middle => "middle",
            Failure::Slipped => "slipped",
            Failure::Clamp => "clamp",
        }
    }
}

/// A noise-free extension curve; abscissae count from first contact of hook and dough.
#[derive(Debug, Clone, Copy)]
pub struct ExtensionModel {
    /// Slack before contact, mm.
    pub slack_mm: f64,
    /// Abscissa of the maximum, mm.
    pub peak_mm: f64,
    /// Abscissa of rupture, mm.
    pub rupture_mm: f64,
    /// Maximum, EU.
    pub maximum_eu: f64,
    /// Resistance at rupture, EU.
    pub rupture_eu: f64,
    /// Power of the rise.
    pub rise_power: f64,
    /// Power of the fall.
    pub fall_power: f64,
    /// Share of the load lost by a slip at 40 % of the rise; 0 for none.
    pub slip_share: f64,
}

impl ExtensionModel {
    /// Returns the resistance at `x_mm` from contact up to rupture, EU; 0 before.
    pub fn resistance(&self, x_mm: f64) -> f64 {
        if x_mm <= 0.0 {
            0.0
        } else if x_mm <= self.peak_mm {
            self.maximum_eu * libm::pow(x_mm / self.peak_mm, self.rise_power)
        } else {
            let along = (x_mm - self.peak_mm) / (self.rupture_mm - self.peak_mm);
            let fall = self.maximum_eu - self.rupture_eu;
            self.maximum_eu - fall * libm::pow(along, self.fall_power)
        }
    }

    /// Returns the area below the curve up to rupture, EU mm.
    pub fn area_eu_mm(&self) -> f64 {
        let rise = self.maximum_eu * self.peak_mm / (self.rise_power + 1.0);
        let mean_fall = (self.maximum_eu - self.rupture_eu) / (self.fall_power + 1.0);
        rise + (self.rupture_mm - self.peak_mm) * (self.maximum_eu - mean_fall)
    }

    /// Returns the recorded resistance at `x_mm` from contact: slip and tear included.
    fn recorded(&self, x_mm: f64) -> f64 {
        if x_mm > self.rupture_mm {
            let torn = ((x_mm - self.rupture_mm) / TEAR_MM).min(1.0);
            return self.rupture_eu + torn * (FREE_HOOK_EU - self.rupture_eu);
        }
        let mut value = self.resistance(x_mm);
        let since_slip = x_mm - 0.4 * self.peak_mm;
        if self.slip_share > 0.0 && since_slip >= 0.0 {
            value *= 1.0 - self.slip_share * libm::exp(-since_slip / SLIP_RECOVERY_MM);
        }
        value
    }
}

/// What an extension file states about its piece.
#[derive(Debug, Clone, Default)]
pub struct PieceFacts {
    /// Name of the run.
    pub run_id: String,
    /// Dough.
    pub batch_id: String,
    /// Flour lot.
    pub sample_id: String,
    /// Mixing method.
    pub treatment: String,
    /// Block.
    pub block: String,
    /// Replicate of the dough.
    pub replicate: String,
    /// Piece of the dough.
    pub piece: String,
    /// Rest, min.
    pub rest_min: f64,
    /// Rest that the plan asked for, min.
    pub rest_planned_min: f64,
    /// Ordinate scale of the chart, EU/cm.
    pub eu_per_cm: Option<f64>,
    /// Thermostat, °C.
    pub thermostat_c: f64,
    /// Person (invented number).
    pub operator: String,
    /// Anything else.
    pub note: String,
}

/// One stretched piece.
#[derive(Debug, Clone)]
pub struct ExtensionRun {
    /// What is stated.
    pub facts: PieceFacts,
    /// What the abscissa counts.
    pub abscissa: Abscissa,
    /// The curve.
    pub model: ExtensionModel,
    /// How it failed.
    pub failure: Failure,
    /// Interval of the record, mm.
    pub step_mm: f64,
    /// Standard deviation of the noise, EU.
    pub noise_eu: f64,
    /// Seed of the noise.
    pub seed: u64,
    /// What is wrong with it, in words; empty for nothing.
    pub trouble: &'static str,
}

impl ExtensionRun {
    /// Returns abscissa (from the record's start) and resistance of every sample.
    pub fn samples(&self) -> Vec<(f64, f64)> {
        let mut noise = Noise::new(self.seed);
        let length = self.model.slack_mm + self.model.rupture_mm + TAIL_MM;
        let points = (length / self.step_mm).floor() as usize;
        (0..=points)
            .map(|index| {
                let x = self.step_mm * index as f64;
                let clean = self.model.recorded(x - self.model.slack_mm);
                (x, clean + self.noise_eu * noise.normal())
            })
            .collect()
    }

    /// Returns the truth of every extension metric.
    ///
    /// Pieces that slipped or tore at the clamp are rejected (HANDBOOK §4). The area in cm² is a
    /// chart area: it needs chart millimetres and the ordinate scale (§4, §19).
    pub fn truth(&self) -> Truth {
        let model = &self.model;
        let exact = TruthValue::Exact;
        let reached = model.rupture_mm >= FIXED_MM;
        let r50 = model.resistance(FIXED_MM);
        let per_mm = match self.abscissa {
            Abscissa::ChartMm => HOOK_PER_CHART,
            Abscissa::HookTravelMm => 1.0,
        };
        let area = match (self.abscissa, self.facts.eu_per_cm) {
            (Abscissa::ChartMm, Some(scale)) => exact(model.area_eu_mm() / (10.0 * scale)),
            _ => TruthValue::NotComputable,
        };
        let joule = model.area_eu_mm() * NEWTON_PER_EU * per_mm / 1000.0;
        let when_reached = |value, otherwise| if reached { exact(value) } else { otherwise };
        let mut truth = Truth::default();
        for (metric, value) in [
            (
                "extension.resistance_50mm",
                when_reached(r50, TruthValue::NotReached),
            ),
            ("extension.maximum_resistance", exact(model.maximum_eu)),
            ("extension.extensibility", exact(model.rupture_mm)),
            ("extension.energy_area", area),
            ("extension.energy_work", exact(joule)),
            (
                "extension.ratio_r50_e",
                when_reached(r50 / model.rupture_mm, TruthValue::NotComputable),
            ),
            (
                "extension.ratio_rm_e",
                exact(model.maximum_eu / model.rupture_mm),
            ),
        ] {
            let stated = match self.failure {
                Failure::Middle => value,
                Failure::Slipped | Failure::Clamp => TruthValue::Rejected,
            };
            truth.state(metric, "", stated);
        }
        truth
    }
}
