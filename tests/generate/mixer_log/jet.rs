//! The log of a water jet (HANDBOOK §8.3).

use super::super::noise::Noise;
use super::super::truth::{Truth, TruthValue};
use super::{Instruments, LogFacts, LogRecorder, Physics, WATER_HEAT, WATER_KG_PER_L};

/// One log of a water jet.
#[derive(Debug, Clone)]
pub struct JetLogRun {
    /// What is stated.
    pub facts: LogFacts,
    /// Pressure before the nozzle, bar.
    pub bar: f64,
    /// True velocity coefficient of the nozzle.
    pub velocity_coefficient: f64,
    /// Efficiency of pump and motor, %.
    pub efficiency_pct: f64,
    /// How long the jet works, s.
    pub length_s: f64,
    /// The dough.
    pub physics: Physics,
    /// The instruments.
    pub instruments: Instruments,
    /// How it was recorded.
    pub recorder: LogRecorder,
}

impl JetLogRun {
    fn litre_per_min(&self) -> f64 {
        self.physics.water_kg / WATER_KG_PER_L / (self.length_s / 60.0)
    }

    fn ideal_m_s(&self) -> f64 {
        (2.0 * self.bar * 1e5 / (1000.0 * WATER_KG_PER_L)).sqrt()
    }

    /// Returns the energy of the jet, kJ: pressure times volume.
    pub fn work_kj(&self) -> f64 {
        self.bar * 1e5 * self.physics.water_kg / (1000.0 * WATER_KG_PER_L) / 1000.0
    }

    /// Returns time (s), pressure (bar), flow (l/min) and speed (m/s) of each reading.
    pub fn samples(&self) -> Vec<[f64; 4]> {
        let mut noise = Noise::new(self.recorder.seed);
        let by = self.instruments;
        let reading = |t: f64| {
            let s = t - self.recorder.lead_s;
            if !(0.0..self.length_s).contains(&s) {
                return [t, 0.0, 0.0, 0.0];
            }
            let mut scatter = || 1.0 + self.recorder.noise_share * noise.normal();
            [
                t,
                self.bar * by.pressure * scatter(),
                self.litre_per_min() * by.flow * scatter(),
                self.ideal_m_s() * self.velocity_coefficient * by.jet_speed * scatter(),
            ]
        };
        let times = self.recorder.times(self.length_s);
        times.into_iter().map(reading).collect()
    }

    /// Returns the truth of the log's metrics.
    pub fn truth(&self) -> Truth {
        let exact = TruthValue::Exact;
        let hydraulic = self.work_kj() / self.physics.dough_kg();
        // The ratio knows flour and water only.
        let by_ratio = self.work_kj() / (self.physics.flour_kg + self.physics.water_kg);
        let warming = 100.0 * self.bar / (1000.0 * WATER_KG_PER_L * WATER_HEAT);
        let mut truth = Truth::default();
        for (metric, variant, value) in [
            ("mixer-log.hydraulic_energy", "flow", hydraulic),
            ("mixer-log.hydraulic_energy", "ratio", by_ratio),
            (
                "mixer-log.electric_energy",
                "",
                100.0 * hydraulic / self.efficiency_pct,
            ),
            ("mixer-log.jet_pressure", "", self.bar),
            ("mixer-log.jet_water", "", 1000.0 * self.physics.water_kg),
            ("mixer-log.ideal_jet_speed", "bound", self.ideal_m_s()),
            (
                "mixer-log.jet_speed",
                "",
                self.ideal_m_s() * self.velocity_coefficient,
            ),
            ("mixer-log.jet_speed_ratio", "", self.velocity_coefficient),
            ("mixer-log.water_warming", "", warming),
            ("mixer-log.mixing_time", "", self.length_s / 60.0),
        ] {
            truth.state(metric, variant, exact(value));
        }
        self.physics
            .state(&mut truth, self.work_kj(), self.facts.hydration_basis);
        truth
    }
}
