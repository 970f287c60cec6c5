//! The reference flour on one instrument, once a working day: the instrument reads higher from a
//! certain day on.

use super::super::super::file::GeneratedRun;
use super::super::super::layout::Layout;
use super::super::super::noise::Noise;
use super::super::super::truth::Rules;
use super::super::{Blend, Plan, SPIRAL};
use super::StudyFile;
use super::sheet::{SheetLine, write};

/// Folder below the sample runs.
const FOLDER: &str = "reference-flour";
/// Runs.
pub const RUNS: u32 = 30;
/// How many of the last runs read higher.
pub const JUMPED: u32 = 6;
/// How much higher they read, FU.
pub const JUMP_FU: f64 = 8.0;
/// Scatter of the runs, FU.
const SCATTER_FU: f64 = 1.6;
/// Interval of the records, s.
const STEP_S: f64 = 0.5;
/// Length of the records, s.
const LENGTH_S: f64 = 600.0;

/// The laboratory's reference flour, invented.
const REFERENCE: Blend = Blend {
    sample_id: "reference-26-1",
    name: "reference flour (invented)",
    moisture_pct: 13.2,
    absorption: 58.4,
    peak_min: 2.6,
    slope_fu_per_min: 9.0,
    half_band_fu: 36.0,
};

/// Returns the file of all runs and its run sheet.
pub fn reference_flour() -> Vec<StudyFile> {
    let name = "reference-flour.csv";
    let mut draw = Noise::new(90_001);
    let (mut runs, mut lines) = (Vec::new(), Vec::new());
    for index in 0..RUNS {
        let plan = Plan {
            number: 901 + index,
            blend: REFERENCE,
            method: SPIRAL,
            block: "morning",
            replicate: index + 1,
            bowl_g: 300.0,
            step_s: STEP_S,
        };
        let mut spec = plan.final_run();
        spec.facts.run_id = format!("RF-{}", 901 + index);
        let jump = if index + JUMPED >= RUNS { JUMP_FU } else { 0.0 };
        spec.model.peak_fu = 499.0 + SCATTER_FU * draw.normal_within(2.0) + jump;
        spec.recorder.sampling.last_s = LENGTH_S;
        spec.recorder.wetting = None;
        let facts = &spec.facts;
        let number = |value: Option<f64>| value.map(|v| format!("{v:.1}")).unwrap_or_default();
        lines.push(
            SheetLine::new(name, &facts.run_id)
                .with("sample_id", REFERENCE.sample_id)
                .with("flour_name", REFERENCE.name)
                .with("flour_kind", "reference")
                .with("flour_moisture_pct", &number(facts.moisture_pct))
                .with("batch_id", &format!("RD-{}", 901 + index))
                .with("purpose", "final")
                .with("procedure", "constant-flour")
                .with("flour_g", &number(facts.flour_g))
                .with("water_ml", &number(facts.water_ml))
                .with("water_contact_s", "0")
                .with("instrument_id", "mixer-2")
                .with("operator", &format!("operator {}", 1 + index % 2))
                .with("started_at", &started_at(index)),
        );
        runs.push(GeneratedRun::selected(spec));
    }
    let layout = Layout::SideBySide;
    let mut file = StudyFile::new(name, layout.profile(), layout.write(&runs));
    file.path = format!("{FOLDER}/{name}");
    file.truths = runs
        .iter()
        .map(|run| (run.run_id.clone(), run.truth(Rules::default())))
        .collect();
    let bytes = write(lines.iter()).into_bytes();
    let mut sheet = StudyFile::new("run-sheet.csv", "run-sheet", bytes);
    sheet.path = format!("{FOLDER}/run-sheet.csv");
    vec![file, sheet]
}

/// Returns the morning of the run: Monday to Friday, six weeks from 6 April 2026.
fn started_at(index: u32) -> String {
    let day = 6 + 7 * (index / 5) + index % 5;
    let (month, day) = if day > 30 { (5, day - 30) } else { (4, day) };
    format!("2026-{month:02}-{day:02} 07:30")
}
