//! Bread: slices under a probe, and the firming of a dough's bread, with their truth.
//!
//! Shapes are invented: force over depth a straight line with a bend, firming Avrami's law with
//! exponent 1 (HANDBOOK §10).

use super::noise::Noise;
use super::truth::{Truth, TruthValue};

/// Force at which depth starts to count, N; the method's trigger.
const TRIGGER_N: f64 = 0.05;
/// Bend of the force over depth, 1/mm.
const BEND: f64 = 0.03;
/// Interval of the record, mm.
const STEP_MM: f64 = 0.25;

/// A slice as it truly is.
#[derive(Debug, Clone, Copy)]
pub struct SliceModel {
    /// Thickness, mm.
    pub thickness_mm: f64,
    /// Force at a quarter of the thickness from the trigger, N.
    pub force_25_n: f64,
    /// Travel of the probe at the trigger, mm.
    pub contact_mm: f64,
}

impl SliceModel {
    /// Returns the force at `travel_mm`, N.
    pub fn force(&self, travel_mm: f64) -> f64 {
        let shape = |depth: f64| depth + BEND * depth * depth.max(0.0);
        let scale = (self.force_25_n - TRIGGER_N) / shape(0.25 * self.thickness_mm);
        (TRIGGER_N + scale * shape(travel_mm - self.contact_mm)).max(0.0)
    }
}

/// A slice as it was compressed.
#[derive(Debug, Clone)]
pub struct SliceRun {
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
    /// Loaf.
    pub loaf: String,
    /// Age of the bread, d.
    pub age_d: f64,
    /// Person (invented number).
    pub operator: String,
    /// The slice.
    pub model: SliceModel,
    /// Standard deviation of the noise, N.
    pub noise_n: f64,
    /// Seed of the noise.
    pub seed: u64,
}

impl SliceRun {
    /// Returns travel and force of every reading, to somewhat beyond 40 % of the thickness.
    pub fn samples(&self) -> Vec<(f64, f64)> {
        let mut noise = Noise::new(self.seed);
        let end = self.model.contact_mm + 0.42 * self.model.thickness_mm;
        (0..=(end / STEP_MM) as usize)
            .map(|i| {
                let travel = STEP_MM * i as f64;
                let force = self.model.force(travel) + self.noise_n * noise.normal();
                (travel, force.max(0.0))
            })
            .collect()
    }

    /// Returns the truth of the slice's force.
    pub fn truth(&self) -> Truth {
        let mut truth = Truth::default();
        let force = TruthValue::Exact(self.model.force_25_n);
        truth.state("firmness.force_25", "actual-thickness", force);
        truth
    }
}

/// How the bread of a dough firms: Avrami's law with exponent 1.
#[derive(Debug, Clone, Copy)]
pub struct FirmingModel {
    /// Force of fresh crumb, N.
    pub initial_n: f64,
    /// Force that it goes to, N.
    pub final_n: f64,
    /// Rate, 1/d.
    pub rate_per_d: f64,
}

impl FirmingModel {
    /// Returns the force at an age, N.
    pub fn force(&self, age_d: f64) -> f64 {
        let left = libm::exp(-self.rate_per_d * age_d);
        self.final_n - (self.final_n - self.initial_n) * left
    }

    /// Returns the truth of the dough's firming.
    pub fn truth(&self) -> Truth {
        let mut truth = Truth::default();
        for (metric, value) in [
            ("firmness.initial", self.initial_n),
            ("firmness.final", self.final_n),
            ("firmness.rate_constant", self.rate_per_d),
            ("firmness.half_time", libm::log(2.0) / self.rate_per_d),
        ] {
            truth.state(metric, "n-1", TruthValue::Exact(value));
        }
        truth
    }
}
