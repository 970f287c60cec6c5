//! A synthetic stand-in of the shape of an open set of kneading curves of unknown unit.
//!
//! The open set (115 curves side by side, 241 points, 2 s apart, three classes of flour quality)
//! is not committed for its licence. This stand-in repeats its shape only: a wetting spike at
//! 4–8 s, curves that mostly still rise at the end, and class means near those of the open set
//! (441.86, 369.63, 313.32, recomputed from it); every number is drawn here.

use super::curve::{Band, CurveModel, JOINT_PERIOD_S, Ripple, Rise, Softening};
use super::facts::Facts;
use super::file::{GeneratedFile, GeneratedRun, RunSpec, Trouble};
use super::layout::Layout;
use super::noise::Noise;
use super::samples::{Recorder, Sampling, WettingSpike};

/// Curves in the committed stand-in.
const CURVES: usize = 40;
/// Length of a record, s.
const LENGTH_S: f64 = 480.0;
/// Water contact on the clock of the record, s: before its first sample.
const CONTACT_S: f64 = -4.0;
/// Seed of the stand-in.
const SEED: u64 = 4_800;
/// Every curve whose number leaves this remainder by five has its peak inside the record.
const PEAK_INSIDE: usize = 4;

/// Class of flour quality, as the open set has them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quality {
    /// Good.
    Good,
    /// Medium.
    Medium,
    /// Bad.
    Bad,
}

impl Quality {
    /// Mean resistance of the class in the open set, arbitrary units; recomputed from the set.
    fn mean_au(self) -> f64 {
        match self {
            Quality::Good => 441.86,
            Quality::Medium => 369.63,
            Quality::Bad => 313.32,
        }
    }
}

/// One column of the stand-in and what is true of it.
#[derive(Debug, Clone)]
pub struct KneadingColumn {
    /// The curve.
    pub run: GeneratedRun,
    /// Its class.
    pub quality: Quality,
    /// Whether it still rises when the record ends.
    pub still_rising: bool,
    /// Time of its peak on the clock of the record, s; past the end of the record where it still rises.
    pub peak_s: f64,
}

/// Returns the columns of the committed stand-in.
pub fn columns() -> Vec<KneadingColumn> {
    draw_columns(CURVES, SEED, ["wide_kneading_like", "flour"])
}

/// Returns the committed stand-in, below the folder of test fixtures.
pub fn wide_kneading_like() -> GeneratedFile {
    let runs: Vec<GeneratedRun> = columns().into_iter().map(|c| c.run).collect();
    GeneratedFile::of_runs("wide_kneading_like.csv".to_owned(), Layout::Wide, runs)
}

/// Returns `count` columns of the file called `stem`, named `prefix` and a number.
///
/// The file names no runs, so each is called after file and column, as intake does.
pub fn draw_columns(count: usize, seed: u64, [stem, prefix]: [&str; 2]) -> Vec<KneadingColumn> {
    let mut draw = Noise::new(seed);
    (0..count)
        .map(|index| {
            let quality = match index % 3 {
                0 => Quality::Good,
                1 => Quality::Medium,
                _ => Quality::Bad,
            };
            let inside = index % 5 == PEAK_INSIDE;
            let name = format!("{prefix}-{:02}", index + 1);
            let model = draw_model(&mut draw, quality, inside);
            let mut run = draw_run(&mut draw, name, model, seed + 1 + index as u64);
            run.run_id = format!("{stem}:{}", run.selector);
            KneadingColumn {
                quality,
                still_rising: !inside,
                peak_s: 60.0 * model.peak_min + CONTACT_S,
                run,
            }
        })
        .collect()
}

fn draw_model(draw: &mut Noise, quality: Quality, inside: bool) -> CurveModel {
    let peak_min = if inside {
        draw.uniform(4.0, 5.5)
    } else {
        draw.uniform(12.0, 18.0)
    };
    let mut model = CurveModel {
        peak_fu: 1.0,
        peak_min,
        plateau_min: 0.0,
        rise: Rise::TwoStage {
            share: draw.uniform(0.3, 0.4),
            until: 6.0 / 60.0 / peak_min,
            power: draw.uniform(1.5, 2.0),
        },
        softening: Softening {
            slope_fu_per_min: 0.0,
            onset_min: 0.5,
            limit_fu: f64::INFINITY,
        },
        dip: None,
        band: Band {
            half_fu: draw.uniform(6.0, 10.0),
            follow: 0.5,
            narrowing: 0.1,
        },
        ripple: Ripple::new(0.5, draw.uniform(0.0, JOINT_PERIOD_S)),
    };
    let steps = 240;
    let sum: f64 = (0..=steps)
        .map(|i| model.centre(f64::from(i) * 2.0 / 60.0))
        .sum();
    let wanted = quality.mean_au() + 25.0 * draw.normal_within(2.0);
    model.peak_fu = wanted * f64::from(steps + 1) / sum;
    model.softening.slope_fu_per_min = draw.uniform(12.0, 25.0);
    model
}

fn draw_run(draw: &mut Noise, name: String, model: CurveModel, seed: u64) -> GeneratedRun {
    let facts = Facts {
        run_id: name,
        ..Facts::default()
    };
    let recorder = Recorder {
        sampling: Sampling {
            first_s: 0.0,
            last_s: LENGTH_S,
            step_s: 2.0,
            // The open set's curves start high: water was there before the first sample.
            contact_s: CONTACT_S,
        },
        noise_fu: 3.0,
        seed,
        wetting: Some(WettingSpike {
            // Spike at 4–8 s of the record, its clock being 4 s behind water contact.
            at_s: draw.uniform(8.5, 11.5),
            height_fu: draw.uniform(60.0, 140.0),
            width_s: draw.uniform(0.9, 1.6),
        }),
        damage: Vec::new(),
    };
    GeneratedRun::selected(RunSpec {
        sheet: Facts::default(),
        facts,
        model,
        recorder,
        trouble: Trouble::UnknownUnit,
    })
}
