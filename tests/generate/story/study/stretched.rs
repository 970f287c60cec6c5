//! Pieces of the study's doughs: under the hook, as strips, as bubbles and as graded membranes.

use super::super::super::extension::{Abscissa, ExtensionModel, ExtensionRun, Failure, PieceFacts};
use super::super::super::inflation::{BubbleAbscissa, DiscDough, dough_truth};
use super::super::super::layout::{BubbleLayout, ExtensionLayout, GradeLayout, StripLayout};
use super::super::super::membrane::{Piece, grade_pieces};
use super::super::super::noise::Noise;
use super::super::super::strip::{DoughFacts, StripDough};
use super::{StudyDough, StudyFile};

/// Rest of the pieces, min; HANDBOOK §4, from memory.
const REST_MIN: f64 = 45.0;
/// Strips of a dough.
const STRIPS: u32 = 6;
/// Discs of a dough; HANDBOOK §6, from memory.
const DISCS: u32 = 5;
/// Pieces of a dough that were graded.
const MEMBRANES: [&str; 3] = ["C", "D", "E"];
/// Seed of the grades.
const GRADES: u64 = 84_000;

/// Returns two stretches of each dough, its strips and its bubbles, and the sheet of grades.
pub fn files(doughs: &[StudyDough]) -> Vec<StudyFile> {
    let mut files: Vec<StudyFile> = doughs
        .iter()
        .flat_map(|dough| [stretch(dough, 0), stretch(dough, 1)])
        .collect();
    files.extend(doughs.iter().map(strips));
    files.extend(doughs.iter().map(bubbles));
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

fn facts(dough: &StudyDough) -> DoughFacts {
    DoughFacts {
        batch_id: dough.batch_id(),
        sample_id: dough.blend.sample_id.to_owned(),
        treatment: dough.method.word.to_owned(),
        block: dough.block(),
        replicate: "1".to_owned(),
        moisture_pct: Some(dough.blend.moisture_pct),
        thermostat_c: Some(25.0),
        operator: dough.operator(),
        ..DoughFacts::default()
    }
}

fn strips(dough: &StudyDough) -> StudyFile {
    let facts = DoughFacts {
        rest_min: Some(40.0),
        ..facts(dough)
    };
    let of_dough = StripDough {
        k_kpa: dough.own([1.90, 1.80, 2.10], 0.92, 0.02, 13),
        n: dough.own([1.72, 1.77, 1.64], 0.97, 0.01, 14),
        rupture_mm: dough.own([40.0, 43.0, 37.5], 0.97, 0.02, 15),
        k_scatter: 0.04,
        n_scatter: 0.015,
        rupture_scatter: 0.04,
    };
    let runs = of_dough.strips(&facts, 1001 + STRIPS * dough.place, STRIPS);
    let layout = StripLayout::Stacked;
    let name = format!("strips-{}.csv", dough.batch_id());
    let mut file = StudyFile::new(&name, layout.profile(), layout.write(&runs));
    for run in &runs {
        file.lines.push(
            dough
                .line(&name, &run.run_id)
                .with("instrument_id", "strip-hook-1")
                .with("started_at", &dough.clock(dough.day(), 85)),
        );
        file.truths.push((run.run_id.clone(), run.truth()));
    }
    file
}

/// The five discs of a dough, made of flour and salt water by the method of that test; the
/// bakery's dough is too wet for it, and its own pieces are not inflated.
fn bubbles(dough: &StudyDough) -> StudyFile {
    let moisture = dough.blend.moisture_pct;
    let facts = DoughFacts {
        flour_g: Some(250.0),
        // HANDBOOK §6.1, from memory.
        water_ml: Some((10.0 * (191.175 - 4.411_75 * moisture)).round() / 10.0),
        mix_time_min: Some(8.0),
        rest_min: Some(20.0),
        dough_temp_c: Some(24.0),
        ..facts(dough)
    };
    let of_dough = DiscDough {
        k_kpa: dough.own([4.60, 4.52, 5.20], 0.90, 0.015, 16),
        n: dough.own([1.55, 1.56, 1.51], 1.0, 0.006, 17),
        rupture_ml: dough.own([390.0, 400.0, 345.0], 0.94, 0.015, 18),
        k_scatter: 0.02,
        n_scatter: 0.008,
        rupture_scatter: 0.03,
    };
    let number = 2001 + DISCS * dough.place;
    let discs = of_dough.discs(&facts, BubbleAbscissa::Chart, number, DISCS);
    let layout = BubbleLayout::Discs;
    let name = format!("bubbles-{}.csv", dough.batch_id());
    let mut file = StudyFile::new(&name, layout.profile(), layout.write(&discs));
    for disc in &discs {
        file.lines.push(
            dough
                .line(&name, &disc.run_id)
                .with("instrument_id", "bubble-1")
                .with("started_at", &dough.clock(dough.day(), 60)),
        );
        file.truths.push((disc.run_id.clone(), disc.truth()));
    }
    file.truths.push((dough.batch_id(), dough_truth(&discs)));
    file
}

/// Three membranes of each dough, one early and two when it was done; two graders, blind.
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
        for (place, piece) in MEMBRANES.iter().enumerate() {
            // The first is taken out early.
            let taken_at = if place == 0 { 0.35 * mix_min } else { mix_min };
            pieces.push(Piece {
                batch_id: dough.batch_id(),
                treatment: dough.method.word.to_owned(),
                block: dough.block(),
                piece: (*piece).to_owned(),
                mix_min: taken_at,
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
