//! Sums that keep their digits: univariate summaries and one-way analysis of variance.
//!
//! What a caller can expect: sums are compensated and taken about the first value, so results carry
//! as many digits as the *given* numbers do. A decimal such as 1000000000000.4 has lost its fourth
//! decimal by the time it is an `f64`, and no later care brings it back: differences of such
//! numbers are good to about `1e-16 * size / difference`. A caller who holds the decimals as text
//! removes their common origin first with [`Decimals`] and loses nothing.

mod decimal;
mod groups;
mod sum;
mod summary;

pub use decimal::Decimals;
pub use groups::{OneWay, one_way};
pub use sum::{sum, sum_of_squares};
pub use summary::{Summary, lag_one_autocorrelation, summarise};
