//! Linear mixed models: fixed effects of a design, random intercepts of any groupings.
//!
//! Groupings may be nested (samples within batches within lots, by
//! [`Factor::nested_in`](super::linear::Factor::nested_in)) or crossed. Variances are estimated by
//! restricted or full maximum likelihood, with exact zeros where the data ask for them; contrasts
//! carry degrees of freedom after Satterthwaite. A design with blocks as a grouping instead of a
//! term is the analysis with random blocks, and recovers what incomplete blocks say between them.
//!
//! The likelihood is profiled as in Bates et al. 2015 (J. Stat. Softw. 67(1), section 3); its
//! gradient and curvature follow Searle, Casella and McCulloch 1992 (Variance Components, 6.6, 6.12).

mod effects;
mod either;
mod fit;
mod optimum;
mod profile;
mod satterthwaite;
mod sparse;

pub use either::{Blocks, Fit};
pub use fit::{Criterion, MixedFit, fit_mixed};
