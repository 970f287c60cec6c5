//! Several comparisons at once: all pairs, all against one control, several claims.

mod control;
mod holm;
mod pairs;

pub use control::{Control, Sides};
pub use holm::{HolmStep, adjust_holm};
pub use pairs::{studentised_range_quantile, studentised_range_upper, tukey_interval, tukey_p};
