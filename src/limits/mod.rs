//! Delivery limits: what a flour of a grade must measure, who said so, and whether a lot does.
//!
//! The decision rule is stated and one for all (ISO/IEC 17025 clause 7.8.6 asks for that; from
//! memory): a guard band of the expanded uncertainty U (k = 2) on both sides of every limit.
//! Inside by more than U is `accept`, outside by more than U is `reject`, all else is `between`.

mod judge;
mod read;

pub use judge::judge;
pub use read::{Limit, Limits, read_limits};
