//! Response against dose by treatment: parallel lines, horizontal shift, ratio of slopes.

mod parallel;
mod ratio;
mod slope_ratio;

pub use parallel::{Comparison, ParallelLines};
pub use ratio::{Limits, Ratio, ratio_of_contrasts};
pub use slope_ratio::{SlopeRatio, analyse_slope_ratio};
