//! Linear models: factors, designs, least squares, contrasts and checks of their assumptions.
//!
//! A [`Design`] holds the columns of the model and their orthogonal basis; any number of responses
//! are fitted against it. Questions are asked as *weights* over the coefficients: a marginal mean,
//! a difference, a slope come from the design, and every fit answers them with an
//! [`Estimate`](super::Estimate).

mod basis;
mod blocks;
mod contrasts;
mod design;
mod factor;
mod fit;
mod normality;
mod spread;

pub(super) use basis::dot;
pub use blocks::{BlockedAnova, analyse_blocks};
pub use contrasts::{Contrasts, difference_of};
pub use design::{Coding, Design, Setting, Variable};
pub use factor::Factor;
pub(super) use fit::test_term;
pub use fit::{LinearFit, fit_linear};
pub use normality::{Normality, shapiro_wilk};
pub use spread::{Centre, compare_spread};
