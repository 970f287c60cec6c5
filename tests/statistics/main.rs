//! Statistics against published answers and general-purpose libraries.
//!
//! Open data sets with printed answers lie outside the repository, in the folder that
//! `DOUGHTRACE_SHARED_DATA` names (default: `../shared/data`), and are not copied into it; each
//! `SOURCE.md` there says who prints the answers. What a library computed stands in
//! `tests/reference/statistics.json`, with the script and the versions.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "tests may stop, and say when they have no data"
)]

mod data;
mod equivalence;
mod exact;
mod linear;
mod mixed;
mod multiple;
mod parallel;
mod power;
mod precision;
