//! Claims judged from plain rows: outside values through the claim kinds, every verdict, gate,
//! reservation and refusal.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "tests may stop"
)]

mod bench;
mod curves;
mod design;
mod family;
mod grades;
mod handbook;
mod planning;
mod times;
mod water;
