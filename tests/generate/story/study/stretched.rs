//! Pieces of the study's doughs: under the hook, and as graded membranes.

use super::super::super::extension::{
    Abscissa, ExtensionModel, ExtensionRun, Failure, PieceFacts,
};
use super::super::super::layout::{ExtensionLayout, GradeLayout};
use super::super::super::membrane::{Piece, grade_pieces};
use super::super::super::noise::Noise;
use super::{StudyDough, StudyFile};

/// Rest of the pieces, min; HANDBOOK §4, from memory.
const REST_MIN: f64 = 45.0;
/// Pieces of a dough that were graded.
const MEMBRANES: [&str; 3] = ["C", "D", "E"];
/// Seed of the grades.
const GRADES: u64 = 84_000;

/// Returns two stretches of each dough, and the sheet of grades.
pub fn files(doughs: &[StudyDough]) -> Vec<StudyFile> {
    let mut files: Vec<StudyFile> = doughs
        .iter()
        .flat_map(|dough| [stretch(dough, 0), stretch(dough, 1)])
        .collect();
    files.push(grades(doughs));
    files
}

fn stretch(dough: &StudyDough, piece: u32) -> StudyFile {
    let number = 2 * dough.place + piece + 501;
    let mut draw = Noise::new(85_000_000 + u64::from(number));
    let mut scatter = |share: f64| 1.0 + share * draw.normal_within(2.0);
    let maximum_eu = dough.own([330.0, 322.0, 356.0], 0.88, 0.012, 11) * scatter(0.01);
    let rupture_mm = dough.own([150.0, 163.0, 144.0], 0.95, 0.014, 12) * scatter(0.01);
    let run = ExtensionRun {
        facts: PieceFacts {
            run_id: format!("EX-{number}"),
            batch_id: dough.batch_id(),
            sample_id: dough.blend.sample_id.to_owned(),
            treatment: dough.method.word.to_owned(),
            block: dough.block(),
            replicate: "1".to_owned(),
            piece: ["A", "B"][piece as usize].to_owned(),
            rest_min: REST_MIN,
            rest_planned_min: REST_MIN,
            eu_per_cm: Some(50.0),
            thermostat_c: 30.0,
            operator: dough.operator(),
            note: String::new(),
        },
        abscissa: Abscissa::ChartMm,
        model: ExtensionModel {
            slack_mm: (40.0 * scatter(0.1)).round() / 10.0,
            peak_mm: 0.76 * rupture_mm * scatter(0.02),
            rupture_mm,
            maximum_eu,
            rupture_eu: maximum_eu * 0.9 * scatter(0.02),
            rise_power: 0.55 * scatter(0.03),
            fall_power: 1.6,
            slip_share: 0.0,
        },
        failure: Failure::Middle,
        step_mm: 0.5,
        noise_eu: 1.5,
        seed: 86_000_000 + u64::from(number),
        trouble: "",
    };
    let layout = ExtensionLayout::Block;
    let name = format!("{}.csv", run.facts.run_id);
    let mut file = StudyFile::new(&name, layout.profile(), layout.write(&run));
    let line = dough.line(&name, "").with("instrument_id", "hook-1");
    let after = 75 + 5 * piece;
    file.lines = vec![line.with("started_at", &dough.clock(dough.day(), after))];
    file.truths = vec![(run.facts.run_id.clone(), run.truth())];
    file
}

/// Three membranes of each dough when it was done; two graders, blind.
fn grades(doughs: &[StudyDough]) -> StudyFile {
    let mut pieces = Vec::new();
    for dough in doughs {
        let mix_min = match dough.method.word {
            "spiral" => 8.0,
            "two-arm" => 14.0,
            _ => 4.0,
        };
        // Share of its best mixing time at which the method's dough is taken out.
        let share = dough.own([0.62, 0.66, 0.63], 0.97, 0.05, 21);
        for piece in MEMBRANES {
            pieces.push(Piece {
                batch_id: dough.batch_id(),
                treatment: dough.method.word.to_owned(),
                block: dough.block(),
                piece: piece.to_owned(),
                mix_min,
                best_min: mix_min / share,
                note: String::new(),
            });
        }
    }
    let repeated: Vec<usize> = (0..pieces.len()).step_by(7).collect();
    let rows = grade_pieces(&pieces, &repeated, GRADES);
    let layout = GradeLayout::Sheet;
    StudyFile::new("membranes.csv", layout.profile(), layout.write(&rows))
}
