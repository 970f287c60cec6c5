//! Pin-mixing and heating runs: derived values against the generator's truth and against general
//! libraries, the coverage of the intervals, and the rules.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "tests may stop, and some print the figures they measured"
)]

#[path = "../generate/mod.rs"]
mod generate;

mod bakery;
mod coverage;
mod heating_rules;
mod pin_rules;
mod reference;
mod runs;
mod tally;
mod water;
