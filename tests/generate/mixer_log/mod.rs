//! Process logs of a mixer and of a water jet, with their truth.
//!
//! Shape: the machine is switched on and off between readings; in between, its power is that of the
//! empty run plus a load that runs straight from knot to knot, plus a ripple (invented). Physics:
//! HANDBOOK §8 — work over time, pressure times volume, heat balance, water balance — written here
//! a second time, in closed form. All integrals are exact.

mod jet;
mod physics;

use super::noise::Noise;
use super::truth::{Truth, TruthValue};
use std::f64::consts::TAU;

pub use jet::JetLogRun;
pub use physics::Physics;

/// Specific heat of water, kJ/(kg K); HANDBOOK §8.4.
const WATER_HEAT: f64 = 4.18;
/// Density of water, kg/l; HANDBOOK V-J2.
const WATER_KG_PER_L: f64 = 0.9982;
/// Length of the mean whose greatest value is the peak, s; definition of the metric.
const PEAK_S: f64 = 5.0;

/// Load of the dough over the time since the machine was switched on.
#[derive(Debug, Clone)]
pub struct Load {
    /// Times, s, and loads, W; straight between; the last time is when it is switched off.
    pub knots: Vec<(f64, f64)>,
    /// Amplitude of the ripple, W.
    pub ripple_w: f64,
    /// Frequency of the ripple, Hz.
    pub ripple_hz: f64,
}

impl Load {
    /// Returns how long the machine runs, s.
    pub fn length_s(&self) -> f64 {
        self.knots.last().map_or(0.0, |k| k.0)
    }

    /// Returns the load at `s` since the start, W.
    pub fn at(&self, s: f64) -> f64 {
        let straight = self.knots.windows(2).find(|w| s <= w[1].0).map(|w| {
            let share = (s - w[0].0) / (w[1].0 - w[0].0);
            w[0].1 + share * (w[1].1 - w[0].1)
        });
        straight.unwrap_or(0.0) + self.ripple_w * libm::sin(TAU * self.ripple_hz * s)
    }

    /// Returns the work of the load up to `s`, J.
    pub fn work_to(&self, s: f64) -> f64 {
        let pieces = self.knots.windows(2).map(|w| {
            let end = s.clamp(w[0].0, w[1].0);
            let share = (end - w[0].0) / (w[1].0 - w[0].0);
            let there = w[0].1 + share * (w[1].1 - w[0].1);
            0.5 * (w[0].1 + there) * (end - w[0].0)
        });
        let omega = TAU * self.ripple_hz;
        let ripple = match self.ripple_hz > 0.0 {
            true => self.ripple_w * (1.0 - libm::cos(omega * s)) / omega,
            false => 0.0,
        };
        pieces.sum::<f64>() + ripple
    }

    /// Returns the greatest mean over 5 s, W.
    pub fn peak_w(&self) -> f64 {
        let steps = ((self.length_s() - PEAK_S) / 0.02).max(0.0) as usize;
        let mean = |i: usize| {
            let from = 0.02 * i as f64;
            (self.work_to(from + PEAK_S) - self.work_to(from)) / PEAK_S
        };
        (0..=steps).map(mean).fold(0.0, f64::max)
    }
}

/// How wrong the instruments are: what is read over what is true, and offsets.
#[derive(Debug, Clone, Copy)]
pub struct Instruments {
    /// Power meter, or torque meter.
    pub power: f64,
    /// Speed.
    pub speed: f64,
    /// Stated empty run over the true one.
    pub idle: f64,
    /// Pressure gauge.
    pub pressure: f64,
    /// Water meter.
    pub flow: f64,
    /// Speed of the jet.
    pub jet_speed: f64,
    /// Thermometer, K.
    pub thermometer_k: f64,
    /// Moisture, percentage points.
    pub moisture_points: f64,
    /// Stated efficiency less the true one, percentage points.
    pub efficiency_points: f64,
}

impl Instruments {
    /// Returns instruments that read what is true.
    pub fn perfect() -> Instruments {
        Instruments {
            power: 1.0,
            speed: 1.0,
            idle: 1.0,
            pressure: 1.0,
            flow: 1.0,
            jet_speed: 1.0,
            thermometer_k: 0.0,
            moisture_points: 0.0,
            efficiency_points: 0.0,
        }
    }
}

/// Returns the same value for a source of readings that are off by up to `share`.
fn off_by(draw: &mut Noise, share: f64) -> f64 {
    1.0 + draw.uniform(-share, share)
}

/// What a log states, as it was read; an empty text or `None` is not stated.
#[derive(Debug, Clone, Default)]
pub struct LogFacts {
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
    /// Replicate.
    pub replicate: String,
    /// Part of the process.
    pub stage: &'static str,
    /// Boundary of the energies.
    pub boundary: String,
    /// Machine.
    pub instrument_id: String,
    /// Person (invented number).
    pub operator: String,
    /// Power of the empty run, W (of its torque times speed, where a torque is recorded).
    pub idle_w: Option<f64>,
    /// Dough, kg.
    pub dough_kg: Option<f64>,
    /// Flour, kg.
    pub flour_kg: f64,
    /// Water, l.
    pub water_l: f64,
    /// Salt on flour, %.
    pub salt_pct: Option<f64>,
    /// Moisture of the flour, %.
    pub moisture_pct: f64,
    /// Moisture of the dough, %.
    pub dough_moisture_pct: Option<f64>,
    /// Protein, %.
    pub protein_pct: f64,
    /// Basis of the protein.
    pub protein_basis: &'static str,
    /// Room, flour, water, tap, aim and dough, °C.
    pub temperatures_c: [f64; 6],
    /// Basis of the heat of hydration; the published heat is not stated.
    pub hydration_basis: &'static str,
    /// Loss, %.
    pub loss_pct: Option<f64>,
    /// Efficiency of the pump, %.
    pub efficiency_pct: Option<f64>,
}

impl LogFacts {
    /// Returns what is read of `physics` after `work_kj`, with the faults of the instruments and of
    /// each reading.
    pub fn read(physics: &Physics, work_kj: f64, by: &Instruments, draw: &mut Noise) -> LogFacts {
        // Faults of each reading: 0.2 %, 0.2 K, 0.07 points, as the method declares them.
        let mass = |draw: &mut Noise, kg: f64| kg * off_by(draw, 0.002);
        let celsius = |draw: &mut Noise, c: f64| c + by.thermometer_k + draw.uniform(-0.2, 0.2);
        let moisture = |draw: &mut Noise, pct: f64| pct + by.moisture_points + 0.07 * draw.normal();
        let p = physics;
        let temperatures_c = [p.room_c, p.flour_c, p.water_c, p.tap_c]
            .map(|c| celsius(draw, c))
            .to_vec();
        let dough_c = celsius(draw, p.end_c(work_kj));
        let protein = 0.86 * p.protein_dry_pct + draw.uniform(-0.2, 0.2);
        LogFacts {
            dough_kg: Some(mass(draw, p.dough_kg())),
            flour_kg: mass(draw, p.flour_kg),
            water_l: mass(draw, p.water_kg) * by.flow / WATER_KG_PER_L,
            salt_pct: Some(100.0 * p.salt_kg / p.flour_kg),
            moisture_pct: moisture(draw, p.moisture_pct),
            dough_moisture_pct: Some(moisture(draw, p.dough_moisture_pct(p.lost_kg))),
            protein_pct: protein,
            protein_basis: "14 %",
            temperatures_c: [
                temperatures_c[0],
                temperatures_c[1],
                temperatures_c[2],
                temperatures_c[3],
                p.aim_c,
                dough_c,
            ],
            ..LogFacts::default()
        }
    }
}

/// What a mixer's log records.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Recorded {
    /// Power.
    Power,
    /// Torque and this speed, 1/min.
    TorqueAt(f64),
}

/// How a log was recorded.
#[derive(Debug, Clone, Copy)]
pub struct LogRecorder {
    /// Interval of the readings, s.
    pub step_s: f64,
    /// Time before the machine is switched on, s.
    pub lead_s: f64,
    /// Time after it is switched off, s.
    pub tail_s: f64,
    /// Standard deviation of the noise, as a share of the full load.
    pub noise_share: f64,
    /// Readings missing: from and to, s of the record.
    pub gap_s: Option<(f64, f64)>,
    /// Seed of the noise.
    pub seed: u64,
}

impl LogRecorder {
    /// Returns the times of the readings, s, for a machine that runs for `length_s`.
    pub(super) fn times(&self, length_s: f64) -> Vec<f64> {
        let end = self.lead_s + length_s + self.tail_s;
        let count = (end / self.step_s).floor() as usize;
        let all = (0..=count).map(|i| i as f64 * self.step_s);
        let missing = |t: &f64| self.gap_s.is_some_and(|(from, to)| *t > from && *t < to);
        all.filter(|t| !missing(t)).collect()
    }
}

/// One log of a mixer.
#[derive(Debug, Clone)]
pub struct MixerLogRun {
    /// What is stated.
    pub facts: LogFacts,
    /// What is recorded.
    pub recorded: Recorded,
    /// Power of the empty run, W.
    pub idle_w: f64,
    /// The load.
    pub load: Load,
    /// The dough.
    pub physics: Physics,
    /// The instruments.
    pub instruments: Instruments,
    /// How it was recorded.
    pub recorder: LogRecorder,
    /// What is wrong with it, in words; empty for nothing.
    pub trouble: &'static str,
}

impl MixerLogRun {
    /// Returns the work of the tool on the dough, kJ.
    pub fn work_kj(&self) -> f64 {
        self.load.work_to(self.load.length_s()) / 1000.0
    }

    /// Returns time (s from the start of the record) and power (W) or torque (N m) of each reading,
    /// and the speed (1/min).
    pub fn samples(&self) -> Vec<(f64, f64, f64)> {
        let mut noise = Noise::new(self.recorder.seed);
        let length = self.load.length_s();
        let top = self.load.knots.iter().map(|k| k.1).fold(0.0, f64::max);
        let scatter = self.recorder.noise_share * top;
        let reading = |t: f64| {
            let s = t - self.recorder.lead_s;
            let on = (0.0..length).contains(&s);
            let true_w = match on {
                true => self.idle_w + self.load.at(s),
                false => 0.0,
            };
            let watt = match on {
                true => self.instruments.power * true_w + scatter * noise.normal(),
                false => 0.0,
            };
            match self.recorded {
                Recorded::Power => (t, watt, 0.0),
                Recorded::TorqueAt(per_min) => {
                    let omega = TAU * per_min / 60.0;
                    let read = match on {
                        true => per_min * self.instruments.speed,
                        false => 0.0,
                    };
                    (t, watt / omega, read)
                }
            }
        };
        self.recorder
            .times(length)
            .into_iter()
            .map(reading)
            .collect()
    }

    /// Returns the truth of the log's metrics.
    pub fn truth(&self) -> Truth {
        let (length, work) = (self.load.length_s(), self.work_kj());
        let idle_kj = self.idle_w * length / 1000.0;
        let kg = self.physics.dough_kg();
        let exact = TruthValue::Exact;
        let mut truth = Truth::default();
        let net = match self.facts.idle_w {
            Some(_) => exact(work / kg),
            None => TruthValue::NotComputable,
        };
        truth.state("mixer-log.specific_energy", "net", net);
        truth.state(
            "mixer-log.specific_energy",
            "gross",
            exact((work + idle_kj) / kg),
        );
        truth.state(
            "mixer-log.peak_power",
            "",
            exact(self.idle_w + self.load.peak_w()),
        );
        let mean = self.idle_w + 1000.0 * work / length;
        truth.state("mixer-log.mean_power", "", exact(mean));
        truth.state("mixer-log.mixing_time", "", exact(length / 60.0));
        let basis = self.facts.hydration_basis;
        // Without an empty run the balance takes the gross work; the truth does not.
        if self.facts.idle_w.is_some() {
            self.physics.state(&mut truth, work, basis);
        }
        truth
    }
}
