//! Two groups or pairs, and whether their difference lies within margins set before the data.

mod pairs;
mod two_one_sided;

pub use pairs::{one_sample, paired, pooled, welch};
pub use two_one_sided::{TwoOneSided, test_equivalence};
