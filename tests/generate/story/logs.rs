//! The bakery's process logs: two doughs of each mixer, and a water jet as a separate example.
//!
//! Work levels follow what the trade knows (HANDBOOK §8.2): about 40 kJ/kg for a high-speed mixer
//! (published), 4 to 8 Wh/kg for a spiral and less for a gentle one (from memory, low confidence).
//! Mixers, doughs and numbers are invented.

use super::super::layout::LogLayout;
use super::super::mixer_log::{
    Instruments, JetLogRun, Load, LogFacts, LogRecorder, MixerLogRun, Physics, Recorded,
};
use super::super::noise::Noise;
use super::{Blend, LOWMARSH, METHODS, Method};

/// Boundary of every log of the story: from flour and water to a dough ready to rest.
const BOUNDARY: &str = "flour to dough";

/// A file of a mixer's log.
#[derive(Debug, Clone)]
pub struct MixerLogFile {
    /// Name of the file.
    pub name: String,
    /// Its layout.
    pub layout: LogLayout,
    /// Its run.
    pub run: MixerLogRun,
}

impl MixerLogFile {
    /// Returns its bytes.
    pub fn bytes(&self) -> Vec<u8> {
        self.layout.write(&self.run)
    }
}

/// Returns one log for every bakery dough: three methods, morning and afternoon.
pub fn mixer_logs() -> Vec<MixerLogFile> {
    let mut files = Vec::new();
    let mut number = 501;
    for block in ["morning", "afternoon"] {
        for method in METHODS {
            let mut run = log_of(number, method, block);
            make_awkward(&mut run);
            let layout = layout_of(&run);
            files.push(MixerLogFile {
                name: format!("{}.{}", run.facts.run_id, layout.extension()),
                layout,
                run,
            });
            number += 1;
        }
    }
    files
}

/// Returns the layout of what `run` records.
pub(super) fn layout_of(run: &MixerLogRun) -> LogLayout {
    match run.recorded {
        Recorded::Power => LogLayout::Power,
        Recorded::TorqueAt(_) => LogLayout::Torque,
    }
}

/// Empty run (W), load over minutes (W), ripple (W, Hz), and water (°C) of a method's mixer.
struct Machine {
    idle_w: f64,
    knots_min: &'static [(f64, f64)],
    ripple: (f64, f64),
    water_c: f64,
    recorded: Recorded,
    instrument: &'static str,
}

fn machine(method: Method) -> Machine {
    match method.word {
        "spiral" => Machine {
            idle_w: 420.0,
            knots_min: &[
                (0.0, 500.0),
                (3.0, 900.0),
                (3.1, 2400.0),
                (6.5, 3100.0),
                (8.0, 2900.0),
            ],
            ripple: (180.0, 0.37),
            water_c: 14.0,
            recorded: Recorded::Power,
            instrument: "spiral-mixer",
        },
        "two-arm" => Machine {
            idle_w: 260.0,
            knots_min: &[(0.0, 350.0), (4.0, 800.0), (11.0, 1050.0), (14.0, 1000.0)],
            ripple: (120.0, 0.8),
            water_c: 18.0,
            recorded: Recorded::TorqueAt(48.0),
            instrument: "two-arm-mixer",
        },
        _ => Machine {
            idle_w: 1600.0,
            knots_min: &[(0.0, 4000.0), (0.5, 7500.0), (2.6, 10_500.0), (4.0, 9800.0)],
            ripple: (350.0, 0.71),
            water_c: 4.0,
            recorded: Recorded::Power,
            instrument: "high-speed-mixer",
        },
    }
}

/// Faults of the bakery's instruments; the same for all its logs, well inside what is declared.
fn bakery_instruments() -> Instruments {
    Instruments {
        power: 1.004,
        speed: 0.998,
        idle: 1.02,
        pressure: 0.996,
        flow: 1.003,
        jet_speed: 1.01,
        thermometer_k: 0.12,
        moisture_points: -0.04,
        efficiency_points: 1.0,
    }
}

fn physics_of(
    method: Method,
    blend: Blend,
    block: &str,
    water_c: f64,
    draw: &mut Noise,
) -> Physics {
    let warm = if block.ends_with("afternoon") {
        2.0
    } else {
        0.0
    };
    let flour_kg = 30.0;
    Physics {
        flour_kg,
        // Water as the method's blend takes it at the bakery.
        water_kg: flour_kg * bakery_water_pct(method, blend) / 100.0,
        salt_kg: 0.02 * flour_kg,
        moisture_pct: blend.moisture_pct,
        lost_kg: 0.05,
        protein_dry_pct: 15.1,
        room_c: 21.0 + warm,
        flour_c: 19.5 + 0.5 * warm + draw.uniform(-0.3, 0.3),
        water_c: water_c + draw.uniform(-0.3, 0.3),
        tap_c: 13.0,
        aim_c: 0.0,
        flour_heat: 1.78,
        hydration_kj: 15.6 * flour_kg,
        loss_pct: 6.0,
    }
}

/// Returns the bakery's water for a blend, % of the flour as is: 1.3 points more than the
/// recording mixer's.
pub(super) fn bakery_water_pct(method: Method, blend: Blend) -> f64 {
    blend.absorption + 1.3 + method.absorption
}

fn log_of(number: u32, method: Method, block: &str) -> MixerLogRun {
    log_of_blend(number, (method, LOWMARSH), block, 1.0)
}

/// Returns the log of a dough of `blend` by `method`, whose load is `load_share` of the usual.
pub(super) fn log_of_blend(
    number: u32,
    (method, blend): (Method, Blend),
    block: &str,
    load_share: f64,
) -> MixerLogRun {
    let mut draw = Noise::new(u64::from(number));
    let machine = machine(method);
    let scatter = load_share * (1.0 + 0.03 * draw.normal_within(2.0));
    let knots = machine
        .knots_min
        .iter()
        .map(|(min, w)| (60.0 * min, w * scatter));
    let load = Load {
        knots: knots.collect(),
        ripple_w: machine.ripple.0,
        ripple_hz: machine.ripple.1,
    };
    let mut physics = physics_of(method, blend, block, machine.water_c, &mut draw);
    let work_kj = load.work_to(load.length_s()) / 1000.0;
    // The baker aims well: at most 0.4 °C off, to a whole half degree.
    physics.aim_c = (2.0 * physics.end_c(work_kj)).round() / 2.0;
    let instruments = bakery_instruments();
    let facts = LogFacts {
        run_id: format!("ML-{number}"),
        batch_id: format!("{}-{}-{block}-bakery", blend.sample_id, method.word),
        sample_id: blend.sample_id.to_owned(),
        treatment: method.word.to_owned(),
        block: block.to_owned(),
        replicate: "1".to_owned(),
        stage: "mixing",
        boundary: format!("{BOUNDARY}: mixing"),
        instrument_id: machine.instrument.to_owned(),
        operator: format!("operator {}", 1 + number % 2),
        idle_w: Some(machine.idle_w * instruments.idle),
        hydration_basis: "flour",
        loss_pct: Some(5.0),
        ..LogFacts::read(&physics, work_kj, &instruments, &mut draw)
    };
    let step_s = match machine.recorded {
        Recorded::Power => 1.0,
        Recorded::TorqueAt(_) => 0.5,
    };
    MixerLogRun {
        facts,
        recorded: machine.recorded,
        idle_w: machine.idle_w,
        load,
        physics,
        instruments,
        recorder: LogRecorder {
            step_s,
            lead_s: 8.3 + draw.unit(),
            tail_s: 12.0,
            noise_share: 0.01,
            gap_s: None,
            seed: 5_000_000 + u64::from(number),
        },
        trouble: "",
    }
}

/// Gives each afternoon log one trouble.
fn make_awkward(run: &mut MixerLogRun) {
    let facts = &mut run.facts;
    if facts.block != "afternoon" {
        return;
    }
    match facts.treatment.as_str() {
        "spiral" => {
            run.recorder.gap_s = Some((250.2, 272.6));
            run.trouble = "22 s of the log missing";
        }
        "two-arm" => {
            facts.idle_w = None;
            run.trouble = "no empty run stated: gross power only";
        }
        _ => {
            run.physics.aim_c -= 2.0;
            facts.temperatures_c[4] -= 2.0;
            run.physics.lost_kg += 0.9;
            facts.dough_moisture_pct = facts.dough_moisture_pct.map(|m| m - 1.0);
            run.trouble = "dough 2 °C too warm, and 1 point drier than dosed";
        }
    }
}

/// Returns the log of a water jet at 100 bar and of the mixing after it, of one invented dough.
pub fn water_jet_logs() -> (JetLogRun, MixerLogRun) {
    let mut draw = Noise::new(591);
    let mut physics = physics_of(METHODS[0], LOWMARSH, "morning", 11.0, &mut draw);
    let share = 0.2;
    physics.flour_kg *= share;
    physics.water_kg *= share;
    physics.salt_kg *= share;
    physics.hydration_kj *= share;
    physics.lost_kg *= share;
    let instruments = bakery_instruments();
    let recorder = LogRecorder {
        step_s: 0.5,
        lead_s: 4.2,
        tail_s: 5.0,
        noise_share: 0.005,
        gap_s: None,
        seed: 5_000_591,
    };
    let mut jet = JetLogRun {
        facts: LogFacts::default(),
        bar: 100.0,
        velocity_coefficient: 0.94,
        efficiency_pct: 78.0,
        length_s: 40.0,
        physics,
        instruments,
        recorder,
    };
    let work_kj = jet.work_kj();
    jet.physics.aim_c = (2.0 * jet.physics.end_c(work_kj)).round() / 2.0;
    let common = LogFacts {
        batch_id: "jet-example".to_owned(),
        sample_id: LOWMARSH.sample_id.to_owned(),
        treatment: "jet".to_owned(),
        block: "example".to_owned(),
        replicate: "1".to_owned(),
        boundary: format!("{BOUNDARY}: jet + after-mix"),
        operator: "operator 1".to_owned(),
        hydration_basis: "flour",
        loss_pct: Some(5.0),
        ..LogFacts::read(&jet.physics, work_kj, &instruments, &mut draw)
    };
    jet.facts = LogFacts {
        run_id: "WJ-591".to_owned(),
        stage: "jet",
        instrument_id: "water-jet".to_owned(),
        efficiency_pct: Some(jet.efficiency_pct + instruments.efficiency_points),
        ..common.clone()
    };
    let after = MixerLogRun {
        facts: LogFacts {
            run_id: "WJ-592".to_owned(),
            stage: "after-mix",
            instrument_id: "small-mixer".to_owned(),
            idle_w: Some(92.0),
            ..common
        },
        recorded: Recorded::Power,
        idle_w: 90.0,
        load: Load {
            knots: vec![(0.0, 260.0), (60.0, 420.0), (120.0, 390.0)],
            ripple_w: 25.0,
            ripple_hz: 0.43,
        },
        physics: jet.physics,
        instruments,
        recorder: LogRecorder {
            step_s: 1.0,
            lead_s: 6.4,
            tail_s: 8.0,
            noise_share: 0.01,
            gap_s: None,
            seed: 5_000_592,
        },
        trouble: "",
    };
    (jet, after)
}
