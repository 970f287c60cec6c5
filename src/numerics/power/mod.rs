//! How likely a study settles its question, and how many units of replication that takes.
//!
//! All from Student's t, never from its normal approximation: HANDBOOK V-TOSTn shows the difference.

mod count;
mod probability;

pub use count::{Layout, Planned, smallest_count};
pub use probability::{Aim, power};
