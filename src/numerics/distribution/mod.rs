//! Probabilities and quantiles of the normal, Student and Fisher distributions.
//!
//! The incomplete beta function and the normal quantile come from a library; this room keeps the
//! small tail exact (a p-value is never computed as 1 minus something), covers the degrees of
//! freedom at which the library's continued fraction stops early, and polishes quantiles until
//! they reproduce their probability. A Student distribution with infinite degrees of freedom is
//! the normal one.

mod chi_squared;
mod fisher;
mod noncentral;
mod normal;
mod scale;
mod student;

use super::error;

pub use chi_squared::{chi_squared_quantile, chi_squared_upper};
pub use fisher::{fisher_quantile, fisher_upper};
pub use noncentral::{noncentral_t_cdf, noncentral_t_quantile, noncentral_t_upper};
pub use normal::{normal_cdf, normal_density, normal_quantile};
pub use scale::mean_over_scale;
pub(super) use scale::normal_nodes;
pub use student::{student_quantile, student_two_sided, student_upper};
