//! Agreement of graders: kappa, alpha, intraclass correlation, and who tends to grade higher.
//!
//! Plain statistics: they know no membrane and no grade. Every function returns `None` where the
//! coefficient is not defined (too few pairs, or no variation at all), never a number in its stead.

mod alpha;
mod counts;
mod icc;
mod kappa;
mod superiority;

pub use alpha::{Difference, alpha_of_coincidences, krippendorff_alpha, unit_coincidences};
pub use counts::{Counts, fleiss_kappa, gwet_ac1, percent_agreement};
pub use icc::{Intraclass, intraclass};
pub use kappa::{Kappa, Weights, pair_table, scott_pi, weighted_kappa};
pub use superiority::{Superiority, superiority};
