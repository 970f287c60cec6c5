//! Uptake, loaf and firmness: handbook values, awkward records, rules, an independent computation
//! by scipy, and the coverage of the intervals.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "tests may stop, and these print the figures they measured"
)]

mod coverage;
mod firmness;
mod layouts;
mod loaf;
mod made;
#[path = "../generate/noise.rs"]
#[allow(dead_code, reason = "shared with the generator")]
mod noise;
mod reference;
mod rules;
#[path = "../sample_files/mod.rs"]
mod sample_files;
mod uptake;
