//! Simulation proof of the claims: how often verdicts are wrong when the truth lies exactly at the
//! margin, how often intervals cover the truth, and whether `plan` gives the power it promises.
//!
//! Studies are drawn here, from random blocks, doughs and pieces; nothing but rows reaches the
//! tool. Run with
//! `cargo test --release --no-default-features --test simulation -- --ignored --nocapture`.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::indexing_slicing,
    reason = "tests may stop, and this one reports its figures"
)]

mod draw;
mod means;
mod others;
mod tally;
mod water;
