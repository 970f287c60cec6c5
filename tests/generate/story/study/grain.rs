//! Beside the doughs: bran and kernels in water, and the stronger flour lot in the pin mixer and
//! in the test that kneads and heats.

use super::super::super::facts::Facts;
use super::super::super::layout::{HeatingLayout, PinLayout, UPTAKE_PROFILE, write_uptake};
use super::super::super::noise::Noise;
use super::super::super::pin::PinRun;
use super::super::super::uptake::UptakeRun;
use super::super::blends;
use super::sheet::SheetLine;
use super::{LOWMARSH, SPIRAL, StudyFile};

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
    file.truths = runs
        .iter()
        .map(|run| (run.run_id.clone(), run.truth()))
        .collect();
    file
}

fn soak_facts(
    sample: &str,
    soaked: &str,
    initial: f64,
    target: f64,
) -> Vec<(&'static str, String)> {
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
    let portions =
        [coarse, coarse, fine, fine].map(|(grade, radius, k1)| portion(grade, radius, k1));
    let facts = soak_facts("lowmarsh-bran", "bran", 12.6, 120.0);
    soak(
        "bran-in-water.csv",
        &facts,
        &BRAN_MIN,
        (601, 12.6, 0.8),
        &portions,
    )
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
    soak(
        "kernels-in-water.csv",
        &facts,
        &KERNEL_MIN,
        (611, 14.2, 0.25),
        &portions,
    )
}

/// Leaves the study's design out of what a test of the flour lot states.
fn without_design(lab: &mut Facts, batch_id: String) {
    lab.batch_id = batch_id;
    lab.treatment.clear();
    lab.block.clear();
}

fn lab_line(name: &str, curve: &str, started_at: &str) -> SheetLine {
    SheetLine::new(name, curve)
        .with("flour_name", LOWMARSH.name)
        .with("flour_kind", "blend")
        .with("water_contact_s", "0")
        .with("operator", "operator 2")
        .with("started_at", started_at)
}

/// Two doughs of the stronger lot in the pin mixer.
fn pins() -> StudyFile {
    let name = "pin-mixer.txt";
    let runs: Vec<PinRun> = [1_u32, 2]
        .into_iter()
        .map(|replicate| {
            let mut run = blends::pin_run(770 + replicate, &LOWMARSH, &SPIRAL, replicate);
            without_design(&mut run.facts.lab, format!("PD-{}", 770 + replicate));
            run.step_s = 0.2;
            run
        })
        .collect();
    let layout = PinLayout::Stacked;
    let mut file = StudyFile::new(name, layout.profile(), layout.write(&runs));
    for (place, run) in runs.iter().enumerate() {
        let id = &run.facts.lab.run_id;
        let started_at = format!("2026-05-13 10:{}0", 2 * place);
        file.lines.push(lab_line(name, id, &started_at));
        file.truths.push((id.clone(), run.truth()));
    }
    file
}

/// Two hydrations of the stronger lot that bracket 1.10 N m, and both within 1.05 to 1.15 N m.
fn heating_pair() -> Vec<StudyFile> {
    [(781_u32, -0.8), (782, 0.7)]
        .into_iter()
        .map(|(number, beyond)| {
            let mut run = blends::heating_run(number, &LOWMARSH, &SPIRAL, beyond);
            without_design(&mut run.facts.lab, format!("HD-{number}"));
            run.step_s = 0.5;
            let id = run.facts.lab.run_id.clone();
            let name = format!("{id}.csv");
            let layout = HeatingLayout::Clock;
            let mut file = StudyFile::new(&name, layout.profile(), layout.write(&run));
            let started_at = format!("2026-05-13 1{}:00", number - 780);
            file.lines = vec![lab_line(&name, "", &started_at)];
            file.truths = vec![(id, run.truth())];
            file
        })
        .collect()
}
