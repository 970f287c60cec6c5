//! Proof of the archive: stopped at every point, damaged at every byte, read while written.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop at the first surprise"
)]

mod damage;
mod failing;
mod outside;
mod seals;
mod sim;
mod stops;
mod tell;
mod together;
mod tracing;
