//! Beside the doughs: bran and kernels in water, and the stronger flour lot in the pin mixer and
//! in the test that kneads and heats.

use super::super::super::facts::Facts;
use super::super::super::heating::{END_MIN, HeatingFacts, HeatingModel, HeatingRun, Step};
use super::super::super::layout::{
    HEATING_PROFILE, PIN_PROFILE, UPTAKE_PROFILE, write_heating, write_pins, write_uptake,
};
use super::super::super::noise::Noise;
use super::super::super::pin::{PinFacts, PinModel, PinRun};
use super::super::super::uptake::UptakeRun;
use super::super::super::water::flour_to_weigh_g;
use super::sheet::SheetLine;
use super::{LOWMARSH, StudyFile};

/// Times at which bran was weighed, min.
const BRAN_MIN: [f64; 9] = [1.0, 2.0, 4.0, 7.0, 12.0, 20.0, 35.0, 60.0, 90.0];
/// Times at which kernels were weighed, min.
const KERNEL_MIN: [f64; 10] = [
    15.0, 30.0, 60.0, 120.0, 240.0, 360.0, 480.0, 720.0, 1080.0, 1440.0,
];

/// Returns the files of bran, kernels, pin mixer and heating.
pub fn files() -> Vec<StudyFile> {
    let mut files = vec![bran(), kernels(), pins()];
    files.extend(heating_pair());
    files
}

/// What differs between the portions of a soak.
struct Portion {
    grade: &'static str,
    water_c: &'static str,
    radius_mm: &'static str,
    k1: f64,
    k2: f64,
}

fn soak(
    name: &str,
    facts: &[(&str, String)],
    minutes: &[f64],
    (first, initial_pct, noise_pct): (u32, f64, f64),
    portions: &[Portion],
) -> StudyFile {
    let mut runs = Vec::new();
    let mut lines = Vec::new();
    for (place, portion) in portions.iter().enumerate() {
        let number = first + place as u32;
        let mut draw = Noise::new(87_000_000 + u64::from(number));
        let mut scatter = |share: f64| 1.0 + share * draw.normal_within(2.0);
        let run_id = format!("UP-{number}");
        let line = SheetLine::new(name, &run_id)
            .with("flour_grade", portion.grade)
            .with("subsample", &(place % 2 + 1).to_string())
            .with("thermostat_c", portion.water_c)
            .with("equivalent_radius_mm", portion.radius_mm)
            .with("started_at", "2026-05-13 08:00")
            .with("note", "surface water taken off with paper for 30 s");
        lines.push(line);
        runs.push(UptakeRun {
            run_id,
            initial_pct,
            k1: portion.k1 * scatter(0.02),
            k2: portion.k2 * scatter(0.01),
            noise_pct,
            seed: 88_000_000 + u64::from(number),
        });
    }
    let bytes = write_uptake(facts, minutes, &runs).into_bytes();
    let mut file = StudyFile::new(name, UPTAKE_PROFILE, bytes);
    file.lines = lines;
    file.truths = runs.iter().map(|run| (run.run_id.clone(), run.truth())).collect();
    file
}

fn soak_facts(sample: &str, soaked: &str, initial: f64, target: f64) -> Vec<(&'static str, String)> {
    vec![
        ("sample", sample.to_owned()),
        ("soaked", soaked.to_owned()),
        ("initial moisture % db", format!("{initial:.1}")),
        ("target moisture % db", format!("{target:.1}")),
        ("operator", "operator 1".to_owned()),
    ]
}

/// Coarse and fine bran, two portions each.
fn bran() -> StudyFile {
    let portion = |grade, radius_mm, k1| Portion {
        grade,
        water_c: "30.0",
        radius_mm,
        k1,
        k2: 0.0072,
    };
    let (coarse, fine) = (("coarse", "0.60", 0.034), ("fine", "0.20", 0.013));
    let portions = [coarse, coarse, fine, fine].map(|(grade, radius, k1)| portion(grade, radius, k1));
    let facts = soak_facts("lowmarsh-bran", "bran", 12.6, 120.0);
    soak("bran-in-water.csv", &facts, &BRAN_MIN, (601, 12.6, 0.8), &portions)
}

/// Whole kernels at 20 and 30 °C, two portions each.
fn kernels() -> StudyFile {
    let portion = |water_c, k1| Portion {
        grade: "whole kernels",
        water_c,
        radius_mm: "1.90",
        k1,
        k2: 0.0150,
    };
    let (cool, warm) = (("20.0", 4.1), ("30.0", 2.6));
    let portions = [cool, cool, warm, warm].map(|(water, k1)| portion(water, k1));
    let facts = soak_facts("lowmarsh-kernels", "kernel", 14.2, 45.0);
    soak("kernels-in-water.csv", &facts, &KERNEL_MIN, (611, 14.2, 0.25), &portions)
}

fn lab_facts(run_id: &str, batch: &str, replicate: &str) -> Facts {
    Facts {
        run_id: run_id.to_owned(),
        sample_id: LOWMARSH.sample_id.to_owned(),
        batch_id: batch.to_owned(),
        replicate: replicate.to_owned(),
        purpose: "final".to_owned(),
        moisture_pct: Some(LOWMARSH.moisture_pct),
        operator: "operator 2".to_owned(),
        ..Facts::default()
    }
}

/// Two doughs of the stronger lot in the pin mixer.
fn pins() -> StudyFile {
    let name = "pin-mixer.txt";
    let runs: Vec<PinRun> = [701_u32, 702]
        .into_iter()
        .map(|number| {
            let mut draw = Noise::new(89_000_000 + u64::from(number));
            let mut scatter = |share: f64| 1.0 + share * draw.normal_within(2.0);
            let flour_g = (100.0 * flour_to_weigh_g(10.0, LOWMARSH.moisture_pct)).round() / 100.0;
            let lab = lab_facts(&format!("PM-{number}"), &format!("PD-{number}"), "");
            PinRun {
                facts: PinFacts {
                    lab: Facts {
                        replicate: (number - 700).to_string(),
                        bowl_g: Some(10.0),
                        flour_g: Some(flour_g),
                        water_ml: Some(6.4),
                        instrument_id: "pin-1".to_owned(),
                        ..lab
                    },
                    dough_g: Some(flour_g + 6.4),
                    spring: "8".to_owned(),
                    torque_per_percent_nm: Some(0.008),
                    speed_per_min: Some(88.0),
                    protein_pct: Some(13.0),
                    protein_basis: "14 %".to_owned(),
                },
                model: PinModel {
                    hump_pct: 29.0 * scatter(0.02),
                    hump_min: 3.6 * scatter(0.03),
                    steepness: 2.1,
                    floor_pct: 17.0,
                    wetting_min: 0.25,
                    half_band_pct: 6.5 * scatter(0.03),
                    follow: 0.9,
                    narrowing: 0.4,
                    speed_per_min: 88.0,
                    second_share: 0.3,
                },
                step_s: 0.2,
                length_min: 10.0,
                noise_pct: 0.3,
                seed: 90_000_000 + u64::from(number),
            }
        })
        .collect();
    let mut file = StudyFile::new(name, PIN_PROFILE, write_pins(&runs).into_bytes());
    for (place, run) in runs.iter().enumerate() {
        let id = &run.facts.lab.run_id;
        file.lines.push(
            SheetLine::new(name, id)
                .with("flour_name", LOWMARSH.name)
                .with("flour_kind", "blend")
                .with("operator", "operator 2")
                .with("started_at", &format!("2026-05-13 10:{}0", place * 2)),
        );
        file.truths.push((id.clone(), run.truth()));
    }
    file
}

/// Two hydrations of the stronger lot that bracket 1.10 N m.
fn heating_pair() -> Vec<StudyFile> {
    [(721_u32, 58.0, 1.205), (722, 60.5, 1.147)]
        .into_iter()
        .map(|(number, hydration_pct, developed_nm)| {
            let run = heating_run(number, hydration_pct, developed_nm);
            let id = run.facts.lab.run_id.clone();
            let name = format!("{id}.csv");
            let mut file = StudyFile::new(&name, HEATING_PROFILE, write_heating(&run));
            file.lines = vec![
                SheetLine::new(&name, "")
                    .with("flour_name", LOWMARSH.name)
                    .with("flour_kind", "blend")
                    .with("started_at", &format!("2026-05-13 1{}:00", number - 719)),
            ];
            file.truths = vec![(id, run.truth())];
            file
        })
        .collect()
}

fn heating_run(number: u32, hydration_pct: f64, developed_nm: f64) -> HeatingRun {
    let lab = lab_facts(&format!("HT-{number}"), &format!("HD-{number}"), "");
    // 75 g of dough; the hydration counts on flour of 14 % (HANDBOOK §3).
    let m14 = 75.0 / (1.0 + hydration_pct / 100.0);
    let flour_g = flour_to_weigh_g(m14, LOWMARSH.moisture_pct);
    HeatingRun {
        facts: HeatingFacts {
            lab: Facts {
                replicate: (number - 720).to_string(),
                hydration_pct: Some(hydration_pct),
                flour_g: Some(flour_g),
                water_ml: Some(75.0 - flour_g),
                instrument_id: "heating-1".to_owned(),
                ..lab
            },
            hydration_basis: "14 %".to_owned(),
            dough_g: Some(75.0),
            speed_per_min: Some(80.0),
        },
        model: HeatingModel {
            developed_nm,
            development_min: 0.55,
            softening_nm_per_min: 0.012,
            weakening: Step { nm: 0.62, at_min: 13.4, within_min: 1.1 },
            gelatinisation: Step { nm: 1.35, at_min: 19.6, within_min: 0.7 },
            breakdown: Step { nm: 0.32, at_min: 26.0, within_min: 0.8 },
            setback: Step { nm: 0.95, at_min: 36.8, within_min: 1.5 },
            half_band_nm: 0.05,
            speed_per_min: 80.0,
            second_share: 0.3,
            lag_min: 0.8,
            dough_start_c: 28.0,
        },
        step_s: 1.0,
        length_min: END_MIN,
        noise_nm: 0.006,
        noise_c: 0.05,
        seed: 91_000_000 + u64::from(number),
    }
}
