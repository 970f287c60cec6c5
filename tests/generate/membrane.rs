//! Graded membrane stretches: latent development, two graders, and the counts that are true.
//!
//! The codebook's steps are HANDBOOK §7.1 (no standard exists, common practice). The latent scale,
//! the graders' leanings and all scatter are invented.

use super::noise::Noise;
use std::collections::BTreeMap;

/// Latent value above which a membrane earns grade 1, 2, 3, 4.
const STEPS: [f64; 4] = [0.5, 1.5, 2.5, 3.5];
/// Latent value lost per minute past the best mixing time.
const LOST_PER_MIN: f64 = 0.75;
/// Minutes past the best mixing time from which a dough may be called overmixed.
const OVERMIXED_AFTER_MIN: f64 = 2.6;
/// Version of the codebook in force.
pub const CODEBOOK: &str = "window-1";
/// Letters and digits of blind codes: none that looks like another.
const CODE_LETTERS: &[u8] = b"ACDEFHKMPRTWXY34679";

/// One row of an observation sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct GradeRow {
    /// Dough.
    pub batch_id: String,
    /// Mixing method.
    pub treatment: String,
    /// Block.
    pub block: String,
    /// Piece.
    pub piece: String,
    /// Mixing time, min.
    pub mix_min: f64,
    /// Rest, min.
    pub rest_min: f64,
    /// Grade 0–4; `None` where the piece is overmixed and got no grade.
    pub grade: Option<u8>,
    /// Whether the grader calls it overmixed.
    pub overmixed: bool,
    /// Edge of the first tear, where there was a membrane.
    pub edge: Option<&'static str>,
    /// Grader (invented).
    pub grader: String,
    /// Blind code of this showing of the piece.
    pub blind_code: String,
    /// Position in the grader's order.
    pub order: u32,
    /// Codebook version; empty where it was forgotten.
    pub codebook: String,
    /// Photo.
    pub photo: String,
    /// Scale of the photo, px/mm.
    pub px_per_mm: Option<f64>,
    /// Anything else.
    pub note: String,
}

/// A piece before anybody grades it.
#[derive(Debug, Clone)]
pub struct Piece {
    /// Dough.
    pub batch_id: String,
    /// Mixing method.
    pub treatment: String,
    /// Block.
    pub block: String,
    /// Number of the piece.
    pub piece: String,
    /// Mixing time, min.
    pub mix_min: f64,
    /// Mixing time at which the method's dough is best, min.
    pub best_min: f64,
    /// Anything else.
    pub note: String,
}

impl Piece {
    /// Returns the latent development, on the scale of grades, without any scatter.
    pub fn development(&self) -> f64 {
        let share = (self.mix_min / self.best_min).min(1.0);
        let past = (self.mix_min - self.best_min).max(0.0);
        0.3 + 3.9 * share * (2.0 - share) - LOST_PER_MIN * past
    }
}

/// A grader of the story.
#[derive(Debug, Clone, Copy)]
pub struct Grader {
    /// Name in the sheet.
    pub name: &'static str,
    /// How much higher than the scale this grader grades.
    pub leaning: f64,
    /// Scatter of this grader.
    pub scatter: f64,
}

/// The two graders: the second is a little stricter.
pub const GRADERS: [Grader; 2] = [
    Grader {
        name: "grader-1",
        leaning: 0.08,
        scatter: 0.28,
    },
    Grader {
        name: "grader-2",
        leaning: -0.18,
        scatter: 0.34,
    },
];

/// Returns every piece graded by both graders, each in an order of its own; the pieces at
/// `repeated` are shown to the first grader once more under a new code.
pub fn grade_pieces(pieces: &[Piece], repeated: &[usize], seed: u64) -> Vec<GradeRow> {
    let mut draw = Noise::new(seed);
    let latent: Vec<f64> = pieces
        .iter()
        .map(|piece| piece.development() + 0.25 * draw.normal())
        .collect();
    let mut rows = Vec::new();
    for (who, grader) in GRADERS.iter().enumerate() {
        let mut shown: Vec<usize> = (0..pieces.len()).collect();
        let firsts = shown.len();
        if who == 0 {
            shown.extend_from_slice(repeated);
        }
        let order = shuffled(shown.len(), &mut draw);
        for (place, slot) in order.into_iter().enumerate() {
            let index = shown[slot];
            let mut row = grade(&pieces[index], latent[index], grader, &mut draw);
            row.order = place as u32 + 1;
            if slot >= firsts {
                row.note = "blind repeat".to_owned();
            }
            rows.push(row);
        }
    }
    rows
}

fn grade(piece: &Piece, latent: f64, grader: &Grader, draw: &mut Noise) -> GradeRow {
    let seen = latent + grader.leaning + grader.scatter * draw.normal();
    let past = piece.mix_min - piece.best_min;
    let overmixed = past + 0.4 * draw.normal() > OVERMIXED_AFTER_MIN;
    let step = STEPS.iter().filter(|s| seen > **s).count() as u8;
    // A sticky, flowing piece often gets no grade at all.
    let ungraded = overmixed && draw.unit() < 0.6;
    let edge = match step {
        _ if ungraded => None,
        0 => None,
        4 => Some("clean"),
        3 if draw.unit() < 0.35 => Some("clean"),
        _ => Some("rough"),
    };
    GradeRow {
        batch_id: piece.batch_id.clone(),
        treatment: piece.treatment.clone(),
        block: piece.block.clone(),
        piece: piece.piece.clone(),
        mix_min: piece.mix_min,
        rest_min: 10.0,
        grade: (!ungraded).then_some(step),
        overmixed,
        edge,
        grader: grader.name.to_owned(),
        blind_code: blind_code(draw),
        order: 0,
        codebook: CODEBOOK.to_owned(),
        photo: String::new(),
        px_per_mm: None,
        note: piece.note.clone(),
    }
}

fn blind_code(draw: &mut Noise) -> String {
    (0..4)
        .map(|_| {
            let index = (draw.unit() * CODE_LETTERS.len() as f64) as usize;
            char::from(CODE_LETTERS[index])
        })
        .collect()
}

/// Returns 0..`count` in a drawn order (Fisher and Yates).
fn shuffled(count: usize, draw: &mut Noise) -> Vec<usize> {
    let mut order: Vec<usize> = (0..count).collect();
    for last in (1..count).rev() {
        let other = (draw.unit() * (last + 1) as f64) as usize;
        order.swap(last, other);
    }
    order
}

/// What is true of the grades of one treatment at one mixing time.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct GradeCounts {
    /// How often each grade 0–4 was given without the overmixed flag.
    pub grades: [usize; 5],
    /// How often the piece was called overmixed, graded or not.
    pub overmixed: usize,
}

/// Returns the counts per treatment and mixing time (in tenths of a minute); blind repeats are
/// left out, since a piece counts once per grader.
pub fn count_grades(rows: &[GradeRow]) -> BTreeMap<(String, u32), GradeCounts> {
    let mut counts: BTreeMap<(String, u32), GradeCounts> = BTreeMap::new();
    for row in rows.iter().filter(|row| row.note != "blind repeat") {
        let key = (row.treatment.clone(), (10.0 * row.mix_min).round() as u32);
        let entry = counts.entry(key).or_default();
        match row.grade {
            Some(grade) if !row.overmixed => entry.grades[usize::from(grade)] += 1,
            _ => entry.overmixed += 1,
        }
    }
    counts
}

/// Returns the grades that both graders gave the same piece, first showings only; a piece that
/// either left ungraded is left out.
pub fn grade_pairs(rows: &[GradeRow]) -> Vec<(u8, u8)> {
    let mut seen: BTreeMap<(&str, &str, u32), [Option<u8>; 2]> = BTreeMap::new();
    for row in rows.iter().filter(|row| row.note != "blind repeat") {
        let key = (
            row.batch_id.as_str(),
            row.piece.as_str(),
            (10.0 * row.mix_min).round() as u32,
        );
        let place = usize::from(row.grader == GRADERS[1].name);
        seen.entry(key).or_default()[place] = row.grade;
    }
    seen.values()
        .filter_map(|pair| Some((pair[0]?, pair[1]?)))
        .collect()
}
