//! Agreement of graders: kappa, alpha, intraclass correlation, and who tends to grade higher; and
//! of instruments that measure the same quantity: bias, limits, and the line between them.
//!
//! Plain statistics: they know no membrane and no grade. Every function returns `None` where the
//! coefficient is not defined (too few pairs, or no variation at all), never a number in its stead.

mod alpha;
mod bland_altman;
mod counts;
mod deming;
mod icc;
mod kappa;
mod passing_bablok;
mod superiority;

pub use alpha::{Difference, alpha_of_coincidences, krippendorff_alpha, unit_coincidences};
pub use bland_altman::{BlandAltman, Trend, bland_altman};
pub use counts::{Counts, fleiss_kappa, gwet_ac1, percent_agreement};
pub use deming::{Deming, deming, error_ratio};
pub use icc::{Intraclass, intraclass};
pub use kappa::{Kappa, Weights, pair_table, scott_pi, weighted_kappa};
pub use passing_bablok::{PassingBablok, passing_bablok};
pub(crate) use superiority::tie_sum;
pub use superiority::{Superiority, superiority};
