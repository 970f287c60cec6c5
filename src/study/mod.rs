//! The study file: what is compared, in which design, and which claims were fixed before the data.
//!
//! This room turns the text of a `study.toml` into a checked [`Study`], or into the list of every
//! problem in it. It knows no result and no statistics: [`mod@crate::compare`] judges the claims.

mod claims;
mod error;
mod model;
mod question;
mod reader;
mod resolve;
#[cfg(test)]
mod tests;
mod words;

pub use error::StudyError;
pub use model::{
    Basis, Blocking, ErrorChoice, Excluded, Factors, PlannedClaim, Scope, Study, StudyExclusion,
};
pub use question::{Direction, Margin, Question, Scale, Target};
pub use resolve::parse;
pub use words::suggest;
