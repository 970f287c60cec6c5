//! Studies: claims judged from archives, with their charts, report and ledger lines; and what is
//! planned before the first dough.

mod compare;
mod curves;
mod evidence;
mod figures;
mod page;
mod plan;
mod setup;
mod standing;

pub(super) use compare::{CLAIM_KIND, STUDIES};
pub use compare::{CompareRequest, Compared, claim_lines, compare};
pub use plan::{PlanRequest, StudyPlanned, plan_study};
pub use standing::Planned;
