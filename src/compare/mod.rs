//! Claims judged from evidence: one file per question under `kinds`.
//!
//! Rows become doughs (`gather`), the design is asked whether it can answer at all (`layout`), a
//! model gives a contrast with its error (`contrast`), an interval meets the margin (`inference`),
//! and all claims of a study are judged together (`family`). This room knows no file and no
//! archive; statistics come from [`crate::numerics`]. HANDBOOK §7, 8, 11, 12, 19.

mod answer;
mod assess;
mod contrast;
mod evidence;
mod family;
mod fieller;
mod figures;
mod gather;
mod inference;
mod kinds;
mod layout;
mod margins;
mod order;
mod plan;
mod precision;
mod times;
mod told;

pub use assess::{Assessment, evaluate};
pub use contrast::Residual;
pub use evidence::{CurveRow, Evidence, GradeRow, Origin, ResultRow};
pub use figures::{
    AgreementPair, ClaimPicture, CurveBand, CurveRegion, Dot, EnergyPart, Figures, ForestRow,
    GradeBar, HydrationLine, HydrationLines,
};
pub use order::SheetRow;
pub use plan::{Plan, PlannedDoughs, plan};
pub use precision::{Precision, Scatter, precision};
