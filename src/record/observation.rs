//! Graded membrane-stretch observations and scalar records.

use super::{RawFile, RowRange};
use crate::schema::{BatchId, Unit};
use serde::Serialize;

/// Grade of a membrane stretch: an ordered word, deliberately without arithmetic.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub enum Grade {
    /// No membrane; the piece parts at once.
    NoMembrane,
    /// Thick, uneven, lumps.
    Thick,
    /// Thin in patches.
    Patchy,
    /// Thin, mostly even.
    MostlyEven,
    /// Very thin and even: the full window.
    FullWindow,
}

impl Grade {
    /// Every grade, lowest first.
    pub const ALL: [Grade; 5] = [
        Grade::NoMembrane,
        Grade::Thick,
        Grade::Patchy,
        Grade::MostlyEven,
        Grade::FullWindow,
    ];

    /// Returns the digit written on the sheet.
    pub fn digit(self) -> char {
        match self {
            Grade::NoMembrane => '0',
            Grade::Thick => '1',
            Grade::Patchy => '2',
            Grade::MostlyEven => '3',
            Grade::FullWindow => '4',
        }
    }

    /// Returns the grade that `digit` stands for.
    pub fn parse(digit: &str) -> Option<Grade> {
        let mut chars = digit.trim().chars();
        let (first, rest) = (chars.next()?, chars.next());
        Grade::ALL
            .into_iter()
            .find(|grade| rest.is_none() && grade.digit() == first)
    }

    /// Returns the grade in words.
    pub fn words(self) -> &'static str {
        match self {
            Grade::NoMembrane => "no membrane",
            Grade::Thick => "thick, uneven",
            Grade::Patchy => "thin in patches",
            Grade::MostlyEven => "thin, mostly even",
            Grade::FullWindow => "full window",
        }
    }
}

/// Edge of the first tear.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub enum TearEdge {
    /// Smooth, round hole.
    Clean,
    /// Ragged.
    Rough,
}

impl TearEdge {
    /// Returns the word stored in tables.
    pub fn word(self) -> &'static str {
        match self {
            TearEdge::Clean => "clean",
            TearEdge::Rough => "rough",
        }
    }
}

/// One observation: a graded stretch of one piece by one grader, or one scalar record.
#[derive(Debug, Clone)]
pub struct Observation {
    /// File it came in.
    pub file: RawFile,
    /// Line of the file.
    pub rows: RowRange,
    /// Dough.
    pub batch_id: BatchId,
    /// Mixing method.
    pub treatment: Option<String>,
    /// Block of the design.
    pub block: Option<String>,
    /// Mixing time when the piece was taken, min.
    pub mix_time_min: Option<f64>,
    /// Rest before stretching, min.
    pub rest_min: Option<f64>,
    /// Piece of the dough.
    pub piece: Option<String>,
    /// Grade; absent for a scalar record.
    pub grade: Option<Grade>,
    /// Sticky, flowing, no recovery: a flag of its own, never a grade above the highest.
    pub overmixed: bool,
    /// Edge of the first tear.
    pub edge: Option<TearEdge>,
    /// Person who graded.
    pub grader: Option<String>,
    /// Code under which the grader saw the piece.
    pub blind_code: Option<String>,
    /// Position in the grading order.
    pub order: Option<u32>,
    /// Version of the codebook the grade refers to.
    pub codebook: Option<String>,
    /// Photo file, as written on the sheet.
    pub photo: Option<String>,
    /// Scale of the photo.
    pub px_per_mm: Option<f64>,
    /// Flour lot.
    pub sample_id: Option<String>,
    /// Replicate of the dough.
    pub replicate: Option<String>,
    /// Age of bread, d.
    pub age_d: Option<f64>,
    /// What a scalar record measures.
    pub quantity: Option<String>,
    /// Its value, in `unit`.
    pub value: Option<f64>,
    /// Unit of the value.
    pub unit: Option<Unit>,
    /// Note.
    pub note: Option<String>,
}
