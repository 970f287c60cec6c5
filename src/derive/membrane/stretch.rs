//! Graded stretches, with blind repeats told from first showings.

use crate::record::{Grade, Observation, TearEdge};
use std::collections::BTreeMap;

/// What a piece is known by: dough, piece, mixing time and rest. A line that names no piece stands
/// for one of its own.
type PieceKey<'a> = (
    &'a str,
    Option<&'a str>,
    [Option<u64>; 2],
    Option<(&'a str, u64)>,
);

fn key_of(o: &Observation) -> PieceKey<'_> {
    let bits = |number: Option<f64>| number.map(f64::to_bits);
    let own = o
        .piece
        .is_none()
        .then_some((o.file.name.as_str(), o.rows.first));
    (
        o.batch_id.as_str(),
        o.piece.as_deref(),
        [bits(o.mix_time_min), bits(o.rest_min)],
        own,
    )
}

/// One piece with all gradings it got.
#[derive(Debug)]
pub(super) struct Piece<'a> {
    /// First grading by each grader.
    pub firsts: Vec<&'a Observation>,
    /// Further gradings by a grader who had seen it before.
    pub repeats: Vec<&'a Observation>,
}

/// Returns whether the observation is a graded stretch and not a scalar record.
pub(super) fn is_graded(o: &Observation) -> bool {
    o.grade.is_some() || o.overmixed
}

/// Returns the name of the grader; lines without one are taken as one unnamed person's.
pub(super) fn grader_of(o: &Observation) -> &str {
    o.grader.as_deref().unwrap_or("unnamed")
}

/// Returns the pieces among `observations`, in the order of their first line. Of several gradings
/// of a piece by one person the first shown counts: one whose note does not call it a blind
/// repeat, and among those the earliest in the grading order.
pub(super) fn pieces_of<'a>(observations: &[&'a Observation]) -> Vec<Piece<'a>> {
    let mut places: BTreeMap<PieceKey<'a>, usize> = BTreeMap::new();
    let mut gradings: Vec<BTreeMap<&str, Vec<&'a Observation>>> = Vec::new();
    for o in observations.iter().copied().filter(|o| is_graded(o)) {
        let place = *places.entry(key_of(o)).or_insert_with(|| {
            gradings.push(BTreeMap::new());
            gradings.len() - 1
        });
        if let Some(by_grader) = gradings.get_mut(place) {
            by_grader.entry(grader_of(o)).or_default().push(o);
        }
    }
    gradings
        .into_iter()
        .map(|by_grader| {
            let mut piece = Piece {
                firsts: Vec::new(),
                repeats: Vec::new(),
            };
            for (_, mut shown) in by_grader {
                shown.sort_by_key(|o| (says_repeat(o), o.order.unwrap_or(u32::MAX), o.rows.first));
                let mut shown = shown.into_iter();
                piece.firsts.extend(shown.next());
                piece.repeats.extend(shown);
            }
            piece
        })
        .collect()
}

fn says_repeat(o: &Observation) -> bool {
    let note = o.note.as_deref().unwrap_or("").to_lowercase();
    note.contains("blind repeat")
}

/// The first gradings of one group of pieces.
#[derive(Debug, Clone, Default)]
pub struct Group {
    /// Each grading: grade, overmixed, edge.
    pub gradings: Vec<(Option<Grade>, bool, Option<TearEdge>)>,
    /// Pieces.
    pub pieces: usize,
    /// Pieces whose edge was noted at least once.
    pub edged_pieces: usize,
    /// Share of overmixed gradings above which there is no median.
    pub most_overmixed: f64,
}

impl Group {
    pub(super) fn of(pieces: &[&Piece<'_>], most_overmixed: f64) -> Group {
        let firsts = pieces.iter().flat_map(|piece| &piece.firsts);
        let edged = |piece: &&&Piece<'_>| piece.firsts.iter().any(|o| o.edge.is_some());
        Group {
            gradings: firsts.map(|o| (o.grade, o.overmixed, o.edge)).collect(),
            pieces: pieces.len(),
            edged_pieces: pieces.iter().filter(edged).count(),
            most_overmixed,
        }
    }
}
