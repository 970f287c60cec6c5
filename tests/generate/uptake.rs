//! Water uptake by Peleg's law, with its truth (HANDBOOK §9).

use super::noise::Noise;
use super::truth::{Truth, TruthValue};

/// A portion in water.
#[derive(Debug, Clone)]
pub struct UptakeRun {
    /// Name of the run.
    pub run_id: String,
    /// Moisture before soaking, % of dry mass.
    pub initial_pct: f64,
    /// Peleg's rate constant, min/%.
    pub k1: f64,
    /// Peleg's capacity constant, 1/%.
    pub k2: f64,
    /// Standard deviation of the noise, points of dry mass.
    pub noise_pct: f64,
    /// Seed of the noise.
    pub seed: u64,
}

impl UptakeRun {
    /// Returns the moisture after `minutes`, % of dry mass.
    pub fn moisture(&self, minutes: f64) -> f64 {
        self.initial_pct + minutes / (self.k1 + self.k2 * minutes)
    }

    /// Returns the readings at `minutes`.
    pub fn samples(&self, minutes: &[f64]) -> Vec<f64> {
        let mut noise = Noise::new(self.seed);
        let read = |t: &f64| self.moisture(*t) + self.noise_pct * noise.normal();
        minutes.iter().map(read).collect()
    }

    /// Returns the truth of the law's numbers.
    pub fn truth(&self) -> Truth {
        let mut truth = Truth::default();
        for (metric, value) in [
            ("uptake.peleg_k1", self.k1),
            ("uptake.peleg_k2", self.k2),
            (
                "uptake.equilibrium_moisture",
                self.initial_pct + 1.0 / self.k2,
            ),
        ] {
            truth.state(metric, "", TruthValue::Exact(value));
        }
        truth
    }
}
