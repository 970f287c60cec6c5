//! The story behind the sample runs. All of it is invented.
//!
//! The Saltmarrow island bakery, a cooperative, wants to know how to mix its tin loaf of 40 %
//! wholemeal: `spiral` (today), `two-arm` or `high-speed`. Each method is offered with the grind
//! of wholemeal it is meant for (coarse, medium, fine), and what the recording dough mixer tests
//! is flour blend and water at its own fixed blade speed. So the mixing curves say what each
//! method's *blend* does; the methods' *machines* come in with the extension and membrane tests,
//! which are made on pieces of their doughs.
//!
//! That finer wholemeal takes more water, develops sooner and softens faster is from memory; the
//! numbers are invented.

pub mod awkward;
pub mod blends;
pub mod clean;
pub mod full;
pub mod logs;
pub mod pieces;
pub mod readme;
pub mod stretched;
pub mod study;

use super::curve::{Band, CurveModel, JOINT_PERIOD_S, Ripple, Rise, Softening};
use super::facts::Facts;
use super::file::{GeneratedFile, RunSpec, Trouble};
use super::noise::Noise;
use super::samples::{Recorder, Sampling, WettingSpike};
use super::water::{Dosing, flour_to_weigh_g, water_for_line_ml};

pub use awkward::awkward_day;
pub use clean::clean_day;
pub use full::full_day;
pub use logs::{MixerLogFile, mixer_logs, water_jet_logs};
pub use readme::readme;
pub use stretched::{inflation_files, strip_files};

/// Length of an ordinary record, s: 20-minute drop and 12-minute softening fit in.
pub const LENGTH_S: f64 = 21.0 * 60.0;
/// Scatter of doughs of one blend: water absorption, ml/100 g (invented; well inside 2.5 ml).
const ABSORPTION_SCATTER: f64 = 0.12;

/// A flour blend of the story.
#[derive(Debug, Clone, Copy)]
pub struct Blend {
    /// Flour lot.
    pub sample_id: &'static str,
    /// Name for people.
    pub name: &'static str,
    /// Moisture, % as is.
    pub moisture_pct: f64,
    /// Water absorption with coarse wholemeal, ml/100 g at 14 %.
    absorption: f64,
    /// Time of the peak with coarse wholemeal, min.
    peak_min: f64,
    /// Softening with coarse wholemeal, FU/min.
    slope_fu_per_min: f64,
    /// Half band at the peak, FU.
    half_band_fu: f64,
}

/// A strong blend, invented.
pub const LOWMARSH: Blend = Blend {
    sample_id: "lowmarsh-40",
    name: "Lowmarsh blend (invented)",
    moisture_pct: 12.8,
    absorption: 63.2,
    peak_min: 5.4,
    slope_fu_per_min: 7.5,
    half_band_fu: 42.0,
};

/// A weaker blend, invented.
pub const NORTHDYKE: Blend = Blend {
    sample_id: "northdyke-40",
    name: "Northdyke blend (invented)",
    moisture_pct: 13.6,
    absorption: 60.4,
    peak_min: 3.6,
    slope_fu_per_min: 13.0,
    half_band_fu: 38.0,
};

/// A slow, lasting blend, invented.
pub const EASTBANK: Blend = Blend {
    sample_id: "eastbank-40",
    name: "Eastbank blend (invented)",
    moisture_pct: 14.2,
    absorption: 61.8,
    peak_min: 6.4,
    slope_fu_per_min: 6.0,
    half_band_fu: 43.0,
};

/// A mixing method of the story, with the wholemeal grind it is offered with.
#[derive(Debug, Clone, Copy)]
pub struct Method {
    /// Word in files and tables.
    pub word: &'static str,
    /// Grind of the wholemeal.
    pub grind: &'static str,
    /// Added water absorption against coarse wholemeal, ml/100 g at 14 %: the true gain of the
    /// method's blend at equal consistency.
    pub absorption: f64,
    /// Factor on the time of the peak.
    peak: f64,
    /// Factor on the softening.
    slope: f64,
}

/// Today's method, with coarse wholemeal.
pub const SPIRAL: Method = Method {
    word: "spiral",
    grind: "coarse",
    absorption: 0.0,
    peak: 1.0,
    slope: 1.0,
};
/// The gentle method, with medium wholemeal.
pub const TWO_ARM: Method = Method {
    word: "two-arm",
    grind: "medium",
    absorption: 0.6,
    peak: 0.92,
    slope: 1.05,
};
/// The fast method, with fine wholemeal.
pub const HIGH_SPEED: Method = Method {
    word: "high-speed",
    grind: "fine",
    absorption: 1.3,
    peak: 0.82,
    slope: 1.2,
};
/// The three methods, today's first.
pub const METHODS: [Method; 3] = [SPIRAL, TWO_ARM, HIGH_SPEED];

/// What is planned for one run.
#[derive(Debug, Clone, Copy)]
pub struct Plan {
    /// Number of the run; also the seed of its noise and its place in the day.
    pub number: u32,
    /// Blend.
    pub blend: Blend,
    /// Method.
    pub method: Method,
    /// Block.
    pub block: &'static str,
    /// Replicate.
    pub replicate: u32,
    /// Bowl, g.
    pub bowl_g: f64,
    /// Sampling interval, s.
    pub step_s: f64,
}

impl Plan {
    /// Returns the name of the run.
    pub fn run_id(&self) -> String {
        format!("SM-{}", self.number)
    }

    /// Returns the ordinary final run of this plan: nothing is wrong with it.
    pub fn final_run(&self) -> RunSpec {
        let mut draw = Noise::new(u64::from(self.number));
        let facts = self.facts();
        let model = self.model(&facts, &mut draw);
        let wetting = (draw.unit() < 0.4).then(|| WettingSpike {
            at_s: draw.uniform(4.5, 7.0),
            height_fu: draw.uniform(80.0, 220.0),
            width_s: draw.uniform(0.8, 1.2),
        });
        let recorder = Recorder {
            sampling: Sampling {
                first_s: 0.0,
                last_s: LENGTH_S,
                step_s: self.step_s,
                contact_s: 0.0,
            },
            noise_fu: draw.uniform(1.2, 2.2),
            seed: 1_000_000 + u64::from(self.number),
            wetting,
            damage: Vec::new(),
        };
        RunSpec {
            sheet: facts.clone(),
            facts,
            model,
            recorder,
            trouble: Trouble::None,
        }
    }

    fn facts(&self) -> Facts {
        let blend = self.blend;
        let tenth = |value: f64| (10.0 * value).round() / 10.0;
        let absorption = blend.absorption + self.method.absorption;
        let water = water_for_line_ml(self.bowl_g, blend.moisture_pct, absorption);
        // The burette is read to 0.5 ml for the large bowl and to 0.1 ml for the small one.
        let water = if self.bowl_g > 100.0 {
            (2.0 * water).round() / 2.0
        } else {
            tenth(water)
        };
        Facts {
            run_id: self.run_id(),
            sample_id: blend.sample_id.to_owned(),
            flour_name: blend.name.to_owned(),
            flour_kind: "blend".to_owned(),
            batch_id: format!(
                "{}-{}-{}-{}",
                blend.sample_id, self.method.word, self.block, self.replicate
            ),
            treatment: self.method.word.to_owned(),
            block: self.block.to_owned(),
            replicate: self.replicate.to_string(),
            purpose: "final".to_owned(),
            procedure: "constant-flour".to_owned(),
            bowl_g: Some(self.bowl_g),
            moisture_pct: Some(blend.moisture_pct),
            flour_g: Some(tenth(flour_to_weigh_g(self.bowl_g, blend.moisture_pct))),
            water_ml: Some(water),
            thermostat_c: Some(30.0),
            water_contact_s: Some(0.0),
            instrument_id: match self.number % 2 {
                _ if self.bowl_g < 100.0 => "small-mixer-1".to_owned(),
                0 => "mixer-1".to_owned(),
                _ => "mixer-2".to_owned(),
            },
            operator: format!("operator {}", 1 + self.number % 2),
            started_at: self.started_at(),
            note: format!("{} wholemeal", self.method.grind),
            ..Facts::default()
        }
    }

    /// Returns the start of the run: a quarter of an hour apart, on two mixers in turn.
    fn started_at(&self) -> String {
        let day = 11 + self.number / 100;
        let begin = if self.block == "morning" { 6 } else { 13 };
        let minute = 15 * (self.number % 25);
        format!(
            "2026-03-{day} {:02}:{:02}",
            begin + minute / 60,
            minute % 60
        )
    }

    fn model(&self, facts: &Facts, draw: &mut Noise) -> CurveModel {
        let (blend, method) = (self.blend, self.method);
        let dosing = Dosing {
            bowl_g: self.bowl_g,
            moisture_pct: blend.moisture_pct,
            flour_g: facts.flour_g.unwrap_or(self.bowl_g),
            water_ml: facts.water_ml.unwrap_or(0.0),
        };
        let absorption =
            blend.absorption + method.absorption + ABSORPTION_SCATTER * draw.normal_within(2.0);
        let mut scatter = |share: f64| 1.0 + share * draw.normal_within(2.0);
        let mut model = CurveModel {
            peak_fu: dosing.consistency(absorption),
            peak_min: blend.peak_min * method.peak * scatter(0.04),
            plateau_min: 0.0,
            rise: Rise::TwoStage {
                share: 0.72,
                until: 0.22,
                power: 2.2,
            },
            softening: Softening {
                slope_fu_per_min: blend.slope_fu_per_min * method.slope * scatter(0.06),
                onset_min: 1.2,
                limit_fu: 180.0,
            },
            dip: None,
            band: Band {
                half_fu: blend.half_band_fu * scatter(0.04),
                follow: 0.7,
                narrowing: 0.25,
            },
            ripple: Ripple::new(0.5, 0.0),
        };
        model.ripple = Ripple::new(draw.uniform(0.4, 0.7), draw.uniform(0.0, JOINT_PERIOD_S));
        model
    }
}

/// Returns every file of the story, README included.
pub fn whole_story() -> Vec<GeneratedFile> {
    let mut files = clean_day();
    files.extend(awkward_day());
    files.extend(full_day());
    let words = readme(&files);
    files.push(words);
    files
}
