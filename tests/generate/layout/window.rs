//! O1 and O2: observation sheets of graded membrane stretches.

use super::super::facts::{decimal, decimal_comma};
use super::super::membrane::GradeRow;

/// A layout of observation sheets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GradeLayout {
    /// O1: comma, decimal point.
    Sheet,
    /// O2: tab, decimal comma.
    Tab,
}

impl GradeLayout {
    /// Returns the identifier of the import profile that reads the layout.
    pub fn profile(self) -> &'static str {
        match self {
            GradeLayout::Sheet => "window-sheet",
            GradeLayout::Tab => "window-sheet-tab",
        }
    }

    /// Returns the bytes of a sheet that holds `rows`.
    pub fn write(self, rows: &[GradeRow]) -> Vec<u8> {
        let (head, mark, comma) = match self {
            GradeLayout::Sheet => (
                "batch,treatment,block,piece,mix_min,rest_min,grade,overmixed,edge,grader,\
                 blind_code,order,codebook,photo,px_per_mm,note\n",
                ",",
                false,
            ),
            GradeLayout::Tab => (
                "membrane stretch, graded\nDough\tMethod\tBlock\tPiece\tMixed (min)\tRest (min)\t\
                 Grade\tOvermixed\tEdge\tGrader\tCode\tOrder\tCodebook\tPhoto\tpx/mm\tNote\n",
                "\t",
                true,
            ),
        };
        let mut out = String::from(head);
        for row in rows {
            out.push_str(&cells(row, comma).join(mark));
            out.push('\n');
        }
        out.into_bytes()
    }
}

fn cells(row: &GradeRow, comma: bool) -> [String; 16] {
    let number = |value: f64| {
        if comma {
            decimal_comma(value, 1)
        } else {
            decimal(value, 1)
        }
    };
    let yes = if row.overmixed { "yes" } else { "no" };
    [
        row.batch_id.clone(),
        row.treatment.clone(),
        row.block.clone(),
        row.piece.clone(),
        number(row.mix_min),
        number(row.rest_min),
        row.grade.map_or("X".to_owned(), |g| g.to_string()),
        yes.to_owned(),
        row.edge.unwrap_or_default().to_owned(),
        row.grader.clone(),
        row.blind_code.clone(),
        row.order.to_string(),
        row.codebook.clone(),
        row.photo.clone(),
        row.px_per_mm.map(number).unwrap_or_default(),
        row.note.clone(),
    ]
}
