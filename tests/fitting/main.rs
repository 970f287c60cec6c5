//! The fitting code against certified and independently computed answers.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "tests may stop, and these say when they have no data"
)]

mod dual;
mod laws;
mod nist;
mod sets;
