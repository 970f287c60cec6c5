//! The full day's pieces of bakery dough: stretched by the hook, and graded as membranes.
//!
//! Here the mixing methods themselves are at work: the pieces come from doughs that the three
//! machines mixed. That resistance rises and extensibility falls with rest is from memory; every
//! number is invented.

use super::super::extension::{Abscissa, ExtensionModel, ExtensionRun, Failure, PieceFacts};
use super::super::file::GeneratedFile;
use super::super::layout::ExtensionLayout;
use super::super::membrane::{GradeRow, Piece, grade_pieces};
use super::super::noise::Noise;
use super::{HIGH_SPEED, LOWMARSH, METHODS, Method, SPIRAL};

/// Planned rests, min; HANDBOOK §4, from memory.
const RESTS_MIN: [f64; 3] = [45.0, 90.0, 135.0];
/// Mixing times at which membranes were taken, min.
const MIX_MIN: [f64; 5] = [2.0, 4.0, 6.0, 8.0, 10.0];
/// Ordinate scale of the first instrument's chart, EU/cm; invented.
const EU_PER_CM: f64 = 50.0;

/// Returns maximum (EU), extensibility (chart mm) and best mixing time (min) of a method's dough.
fn character(method: Method) -> (f64, f64, f64) {
    match method.word {
        "spiral" => (330.0, 152.0, 8.0),
        "two-arm" => (305.0, 166.0, 9.0),
        _ => (365.0, 141.0, 4.6),
    }
}

/// Returns one file for every stretch: three methods, two blocks, two pieces, three rests on the
/// same pieces; and two stretches on a lent instrument that records hook travel.
pub fn extension_files() -> Vec<GeneratedFile> {
    let mut files = Vec::new();
    let mut number = 401;
    for block in ["morning", "afternoon"] {
        for method in METHODS {
            for rest_min in RESTS_MIN {
                for piece in ["A", "B"] {
                    let mut run = stretch(number, method, block, piece, rest_min);
                    make_awkward(&mut run);
                    let path = format!("full-day/{}.csv", run.facts.run_id);
                    files.push(GeneratedFile::of_piece(path, ExtensionLayout::Block, run));
                    number += 1;
                }
            }
        }
    }
    for piece in ["C", "D"] {
        let mut run = stretch(number, SPIRAL, "morning", piece, RESTS_MIN[0]);
        on_lent_instrument(&mut run);
        let path = format!("full-day/{}.csv", run.facts.run_id);
        files.push(GeneratedFile::of_piece(path, ExtensionLayout::Hook, run));
        number += 1;
    }
    files
}

fn stretch(number: u32, method: Method, block: &str, piece: &str, rest_min: f64) -> ExtensionRun {
    let mut draw = Noise::new(u64::from(number));
    let mut scatter = |share: f64| 1.0 + share * draw.normal_within(2.0);
    let (maximum, length, _) = character(method);
    let rested = rest_min / RESTS_MIN[0] - 1.0;
    let maximum_eu = maximum * (1.0 + 0.11 * rested) * scatter(0.02);
    let rupture_mm = length * (1.0 - 0.05 * rested) * scatter(0.02);
    let model = ExtensionModel {
        slack_mm: (40.0 * scatter(0.1)).round() / 10.0,
        peak_mm: 0.76 * rupture_mm * scatter(0.02),
        rupture_mm,
        maximum_eu,
        rupture_eu: maximum_eu * 0.9 * scatter(0.02),
        rise_power: 0.55 * scatter(0.03),
        fall_power: 1.6,
        slip_share: 0.0,
    };
    ExtensionRun {
        facts: PieceFacts {
            run_id: format!("EX-{number}"),
            batch_id: bakery_dough(method, block),
            sample_id: LOWMARSH.sample_id.to_owned(),
            treatment: method.word.to_owned(),
            block: block.to_owned(),
            replicate: "1".to_owned(),
            piece: piece.to_owned(),
            rest_min,
            rest_planned_min: rest_min,
            eu_per_cm: Some(EU_PER_CM),
            thermostat_c: 30.0,
            operator: format!("operator {}", 1 + number % 2),
            note: String::new(),
        },
        abscissa: Abscissa::ChartMm,
        model,
        failure: Failure::Middle,
        step_mm: 0.5,
        noise_eu: 1.5,
        seed: 2_000_000 + u64::from(number),
        trouble: "",
    }
}

fn bakery_dough(method: Method, block: &str) -> String {
    format!("{}-{}-{block}-bakery", LOWMARSH.sample_id, method.word)
}

/// Gives six afternoon stretches one trouble each.
fn make_awkward(run: &mut ExtensionRun) {
    let facts = &mut run.facts;
    if facts.block != "afternoon" {
        return;
    }
    let rest = facts.rest_planned_min as u32;
    match (facts.treatment.as_str(), facts.piece.as_str(), rest) {
        ("spiral", "B", 45) => {
            facts.eu_per_cm = None;
            run.trouble = "ordinate scale not stated";
        }
        ("spiral", "B", 90) => {
            run.failure = Failure::Slipped;
            run.model.slip_share = 0.3;
            run.trouble = "slipped in its clamp";
        }
        ("two-arm", "A", 45) => {
            facts.rest_min = 53.0;
            run.trouble = "rested 53 min instead of 45";
        }
        ("two-arm", "B", 135) => {
            run.model.maximum_eu *= 0.62;
            run.model.rupture_eu *= 0.62;
            run.trouble = "area more than 15 % off the mean of both pieces";
        }
        ("high-speed", "A", 90) => {
            run.failure = Failure::Clamp;
            tear_at(&mut run.model, 84.0);
            run.trouble = "tore at the clamp";
        }
        ("high-speed", "B", 135) => {
            tear_at(&mut run.model, 44.0);
            run.trouble = "tore before 50 mm";
        }
        _ => {}
    }
}

/// Tears the piece at `rupture_mm`, while its resistance still rises: the curve up to there is
/// that of the whole piece, since a power law cut short is the same power law.
fn tear_at(model: &mut ExtensionModel, rupture_mm: f64) {
    let peak_mm = rupture_mm - 1.0;
    model.maximum_eu = model.resistance(peak_mm);
    model.rupture_eu = 0.99 * model.maximum_eu;
    model.peak_mm = peak_mm;
    model.rupture_mm = rupture_mm;
}

/// Turns a stretch into one recorded over hook travel.
fn on_lent_instrument(run: &mut ExtensionRun) {
    let travel = 14.5 / 6.5;
    run.abscissa = Abscissa::HookTravelMm;
    run.facts.note = "lent instrument, records hook travel".to_owned();
    run.facts.eu_per_cm = None;
    run.model.slack_mm = 9.0;
    run.model.peak_mm *= travel;
    run.model.rupture_mm *= travel;
    run.step_mm = 1.0;
}

/// Returns the morning's grades: mixing times, and a hydration series of two methods.
pub fn morning_grades() -> Vec<GradeRow> {
    let mut pieces = by_mixing_time("morning");
    for method in [SPIRAL, HIGH_SPEED] {
        let (_, _, best) = character(method);
        for (level, delay) in [("62", -0.4), ("65", 0.0), ("68", 0.5)] {
            for piece in ["A", "B"] {
                pieces.push(Piece {
                    batch_id: format!("{}-h{level}", bakery_dough(method, "morning")),
                    treatment: method.word.to_owned(),
                    block: "morning".to_owned(),
                    piece: piece.to_owned(),
                    mix_min: if best > 6.0 { 7.0 } else { 4.0 },
                    // More water develops later (from memory).
                    best_min: best + 2.0 * delay,
                    note: format!("hydration {level} % as is"),
                });
            }
        }
    }
    // Blind repeats: one piece in seven is shown again to the first grader (at least 10 %,
    // HANDBOOK §7.2, choice).
    let repeated: Vec<usize> = (0..pieces.len()).step_by(7).collect();
    let mut rows = grade_pieces(&pieces, &repeated, 501);
    // Photos of every fifth stretch, with the scale of their picture; one scale was forgotten.
    for (index, row) in rows.iter_mut().enumerate().step_by(5) {
        row.photo = format!("window-{:03}.png", index + 1);
        row.px_per_mm = (index != 10).then_some(18.5);
    }
    rows
}

/// Returns the afternoon's grades; in one row the codebook was forgotten, and one piece was seen
/// by the first grader only.
pub fn afternoon_grades() -> Vec<GradeRow> {
    let mut rows = grade_pieces(&by_mixing_time("afternoon"), &[], 502);
    if let Some(row) = rows.get_mut(4) {
        row.codebook.clear();
    }
    rows.pop();
    rows
}

fn by_mixing_time(block: &str) -> Vec<Piece> {
    let mut pieces = Vec::new();
    for method in METHODS {
        for mix_min in MIX_MIN {
            for piece in ["A", "B"] {
                pieces.push(Piece {
                    batch_id: bakery_dough(method, block),
                    treatment: method.word.to_owned(),
                    block: block.to_owned(),
                    piece: piece.to_owned(),
                    mix_min,
                    best_min: character(method).2,
                    note: String::new(),
                });
            }
        }
    }
    pieces
}
