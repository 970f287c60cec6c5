//! Deterministic sample runs, each with the truth of its curve.
//!
//! Everything here is invented: flours, doughs, treatments, curves. What is *not* invented is the
//! geometry of the recording dough mixer (blade speeds, bowl sizes, water correction) and the
//! definitions of the metrics; those come from HANDBOOK §1 and are flagged where they are used.
//!
//! Used by test binaries and benches through `mod generate;`; it depends on nothing but the
//! package's own `rand_chacha`, `rand_core` and `libm`, and on the standard library, so that the
//! truth never comes from the code under test.

#![allow(
    dead_code,
    unused_imports,
    reason = "each test binary uses its own part of the generator"
)]

pub mod anatomy;
pub mod bench;
pub mod bread;
pub mod curve;
pub mod extension;
pub mod facts;
pub mod file;
pub mod heating;
pub mod inflation;
pub mod kneading;
pub mod layout;
pub mod membrane;
pub mod mixer_log;
pub mod noise;
pub mod pin;
pub mod random;
pub mod samples;
pub mod story;
pub mod strip;
pub mod truth;
pub mod uptake;
pub mod water;

pub use bench::{bench_day, write_bench_day};
pub use extension::ExtensionRun;
pub use file::{GeneratedFile, GeneratedRun, RunSpec, Trouble};
pub use heating::HeatingRun;
pub use inflation::DiscRun;
pub use layout::{BubbleLayout, ExtensionLayout, GradeLayout, Layout, LogLayout, StripLayout};
pub use layout::{HeatingLayout, PinLayout};
pub use membrane::GradeRow;
pub use mixer_log::{JetLogRun, MixerLogRun};
pub use pin::PinRun;
pub use random::random_curve;
pub use samples::Samples;
pub use strip::StripRun;
pub use truth::{Rules, Truth, TruthValue};
