//! The sampled record of a curve: noise, wetting spike and recording troubles included.

use super::curve::CurveModel;
use super::noise::Noise;

/// Torque of the dry flour before water contact, FU; invented.
const DRY_FLOUR_FU: f64 = 6.0;
/// Noise of a supplied contour, as a share of the noise of the raw signal; invented.
const CONTOUR_NOISE_SHARE: f64 = 0.4;

/// When a record was sampled, on its own clock.
#[derive(Debug, Clone, Copy)]
pub struct Sampling {
    /// First sample, s.
    pub first_s: f64,
    /// Last sample, s.
    pub last_s: f64,
    /// Interval, s.
    pub step_s: f64,
    /// Water contact, s.
    pub contact_s: f64,
}

impl Sampling {
    /// Returns the number of samples.
    pub fn points(&self) -> usize {
        ((self.last_s - self.first_s) / self.step_s).round() as usize + 1
    }

    /// Returns the clock time of sample `index`, s.
    pub fn time_s(&self, index: usize) -> f64 {
        self.first_s + self.step_s * index as f64
    }

    /// Returns minutes since water contact at a clock time.
    pub fn since_contact_min(&self, time_s: f64) -> f64 {
        (time_s - self.contact_s) / 60.0
    }

    /// Returns the time of the first sample at or after water contact, min since contact.
    pub fn first_min(&self) -> f64 {
        self.since_contact_min(self.first_s).max(0.0)
    }

    /// Returns the time of the last sample, min since water contact.
    pub fn end_min(&self) -> f64 {
        let last = self.points().saturating_sub(1);
        self.since_contact_min(self.time_s(last))
    }
}

/// The short overshoot when water meets flour (common practice, no source); never the peak.
#[derive(Debug, Clone, Copy)]
pub struct WettingSpike {
    /// Middle, s since water contact.
    pub at_s: f64,
    /// Height, FU.
    pub height_fu: f64,
    /// Half width (Gaussian standard deviation), s.
    pub width_s: f64,
}

/// A trouble of recording, not of the dough. Times are on the clock of the record.
#[derive(Debug, Clone, Copy)]
pub enum Damage {
    /// One sample far off.
    Spike {
        /// Time, s.
        at_s: f64,
        /// Added height, FU.
        height_fu: f64,
    },
    /// The signal falls to nearly nothing for a while.
    DropOut {
        /// Start, s.
        from_s: f64,
        /// End, s.
        to_s: f64,
    },
    /// The recorder cannot show more than this.
    Saturation {
        /// Greatest reading, FU.
        full_scale_fu: f64,
    },
    /// Samples are missing.
    Gap {
        /// First missing time, s.
        from_s: f64,
        /// First time recorded again, s.
        to_s: f64,
    },
    /// The clock steps back and goes on from there.
    StepBack {
        /// Time of the step, s.
        at_s: f64,
        /// Size of the step, s.
        by_s: f64,
    },
}

/// A sampled record.
#[derive(Debug, Clone, Default)]
pub struct Samples {
    /// Clock times, s.
    pub time_s: Vec<f64>,
    /// Signal, FU.
    pub signal: Vec<f64>,
}

/// A record that holds contours instead of the signal.
#[derive(Debug, Clone, Default)]
pub struct Contours {
    /// Clock times, s.
    pub time_s: Vec<f64>,
    /// Upper contour, FU.
    pub upper: Vec<f64>,
    /// Middle, FU.
    pub middle: Vec<f64>,
    /// Lower contour, FU.
    pub lower: Vec<f64>,
}

/// What turns a model into a record.
#[derive(Debug, Clone)]
pub struct Recorder {
    /// Sampling times.
    pub sampling: Sampling,
    /// Standard deviation of the white noise, FU.
    pub noise_fu: f64,
    /// Seed of the noise.
    pub seed: u64,
    /// Wetting spike, if any.
    pub wetting: Option<WettingSpike>,
    /// Troubles of recording, applied in order.
    pub damage: Vec<Damage>,
}

impl Recorder {
    /// Returns the record of `model`.
    pub fn record(&self, model: &CurveModel) -> Samples {
        let mut noise = Noise::new(self.seed);
        let mut samples = Samples::default();
        for index in 0..self.sampling.points() {
            let time_s = self.sampling.time_s(index);
            samples.time_s.push(time_s);
            samples
                .signal
                .push(self.clean(model, time_s) + self.noise_fu * noise.normal());
        }
        for damage in &self.damage {
            damage.apply(&mut samples);
        }
        samples
    }

    /// Returns the record of the contours of `model`; damage is not applied.
    pub fn record_contours(&self, model: &CurveModel) -> Contours {
        let mut noise = Noise::new(self.seed);
        let sd = CONTOUR_NOISE_SHARE * self.noise_fu;
        let mut contours = Contours::default();
        for index in 0..self.sampling.points() {
            let time_s = self.sampling.time_s(index);
            let t_min = self.sampling.since_contact_min(time_s);
            contours.time_s.push(time_s);
            contours
                .upper
                .push(model.upper(t_min) + sd * noise.normal());
            contours
                .middle
                .push(model.centre(t_min) + sd * noise.normal());
            contours
                .lower
                .push(model.lower(t_min) + sd * noise.normal());
        }
        contours
    }

    fn clean(&self, model: &CurveModel, time_s: f64) -> f64 {
        let since_s = time_s - self.sampling.contact_s;
        if since_s < 0.0 {
            return DRY_FLOUR_FU;
        }
        let mut value = model.signal(since_s / 60.0);
        if let Some(wetting) = self.wetting {
            let z = (since_s - wetting.at_s) / wetting.width_s;
            value += wetting.height_fu * libm::exp(-0.5 * z * z);
        }
        value
    }
}

impl Damage {
    fn apply(self, samples: &mut Samples) {
        let times = samples.time_s.clone();
        match self {
            Damage::Spike { at_s, height_fu } => {
                if let Some(index) = times.iter().position(|t| *t >= at_s) {
                    samples.signal[index] += height_fu;
                }
            }
            Damage::DropOut { from_s, to_s } => {
                for (value, time) in samples.signal.iter_mut().zip(&times) {
                    if (from_s..to_s).contains(time) {
                        *value *= 0.02;
                    }
                }
            }
            Damage::Saturation { full_scale_fu } => {
                for value in &mut samples.signal {
                    *value = value.min(full_scale_fu);
                }
            }
            Damage::Gap { from_s, to_s } => {
                let kept = |t: &f64| !(from_s..to_s).contains(t);
                let signal = std::mem::take(&mut samples.signal);
                samples.signal = signal
                    .into_iter()
                    .zip(&times)
                    .filter(|(_, t)| kept(t))
                    .map(|(v, _)| v)
                    .collect();
                samples.time_s.retain(kept);
            }
            Damage::StepBack { at_s, by_s } => {
                for time in samples.time_s.iter_mut().filter(|t| **t >= at_s) {
                    *time -= by_s;
                }
            }
        }
    }
}
