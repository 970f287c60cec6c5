//! Curves of realistic variety for the simulation of coverage.
//!
//! Ranges: development time 1.5–9 min, stability from about 2 to more than 15 min, band 60–90 FU
//! at the peak (HANDBOOK §1.1, from memory), noise 1–4 FU, sampling 0.25 or 0.5 s. The noise is
//! white: a real recorder's slow wander is not simulated, and the coverage says nothing about it.

use super::curve::{Band, CurveModel, JOINT_PERIOD_S, Ripple, Rise, Softening};
use super::facts::Facts;
use super::file::{GeneratedRun, RunSpec, Trouble};
use super::noise::Noise;
use super::samples::{Recorder, Sampling, WettingSpike};
use super::water::{flour_to_weigh_g, water_for_line_ml};

/// Keeps the seeds of curve shapes apart from the seeds of their noise.
const NOISE_SEED_OFFSET: u64 = 1 << 32;
/// Length of every random record, s: softening at 12 min fits behind the latest peak.
const LENGTH_S: f64 = 24.0 * 60.0;

/// Returns the run that `seed` stands for.
pub fn random_curve(seed: u64) -> GeneratedRun {
    let mut draw = Noise::new(seed);
    let model = random_model(&mut draw);
    let bowl_g = if draw.unit() < 0.75 { 300.0 } else { 50.0 };
    let moisture = (draw.uniform(11.5, 15.0) * 10.0).round() / 10.0;
    let flour = (flour_to_weigh_g(bowl_g, moisture) * 10.0).round() / 10.0;
    let water = water_for_line_ml(bowl_g, moisture, draw.uniform(54.0, 68.0));
    let facts = Facts {
        run_id: format!("random-{seed}"),
        sample_id: format!("flour-{seed}"),
        batch_id: format!("dough-{seed}"),
        treatment: "spiral".to_owned(),
        block: "1".to_owned(),
        replicate: "1".to_owned(),
        purpose: "final".to_owned(),
        procedure: "constant-flour".to_owned(),
        bowl_g: Some(bowl_g),
        moisture_pct: Some(moisture),
        flour_g: Some(flour),
        water_ml: Some((water * 10.0).round() / 10.0),
        thermostat_c: Some(30.0),
        water_contact_s: Some(0.0),
        ..Facts::default()
    };
    let wetting = (draw.unit() < 0.5).then(|| WettingSpike {
        at_s: draw.uniform(4.0, 8.0),
        height_fu: draw.uniform(60.0, 350.0),
        width_s: draw.uniform(0.5, 1.2),
    });
    let recorder = Recorder {
        sampling: Sampling {
            first_s: 0.0,
            last_s: LENGTH_S,
            step_s: if draw.unit() < 0.5 { 0.25 } else { 0.5 },
            contact_s: 0.0,
        },
        noise_fu: draw.uniform(1.0, 4.0),
        seed: seed ^ NOISE_SEED_OFFSET,
        wetting,
        damage: Vec::new(),
    };
    GeneratedRun::alone(RunSpec {
        sheet: facts.clone(),
        facts,
        model,
        recorder,
        trouble: Trouble::None,
    })
}

fn random_model(draw: &mut Noise) -> CurveModel {
    let rise = if draw.unit() < 0.5 {
        Rise::Power(draw.uniform(1.8, 3.0))
    } else {
        Rise::TwoStage {
            share: draw.uniform(0.55, 0.8),
            until: draw.uniform(0.15, 0.35),
            power: draw.uniform(1.8, 2.6),
        }
    };
    CurveModel {
        peak_fu: draw.uniform(485.0, 515.0),
        peak_min: draw.log_uniform(1.5, 9.0),
        plateau_min: 0.0,
        rise,
        softening: Softening {
            slope_fu_per_min: draw.log_uniform(3.0, 35.0),
            onset_min: draw.uniform(0.3, 2.0),
            limit_fu: draw.uniform(140.0, 260.0),
        },
        dip: None,
        band: Band {
            half_fu: draw.uniform(30.0, 45.0),
            follow: draw.uniform(0.5, 0.9),
            narrowing: draw.uniform(0.1, 0.4),
        },
        ripple: Ripple::new(draw.uniform(0.3, 0.9), draw.uniform(0.0, JOINT_PERIOD_S)),
    }
}
