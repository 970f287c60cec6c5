//! Precision of a test: repeatability, reproducibility, consistency of laboratories, acceptance of
//! replicates.
//!
//! Modelled on ISO 5725-2 and ISO 5725-6; check against the standards' text. The word
//! reproducibility belongs to several laboratories only: one laboratory has a [`Repeatability`],
//! and between its days or operators an intermediate precision
//! ([`fit_mixed`](super::mixed::fit_mixed) gives its components).

mod acceptance;
mod consistency;
mod laboratories;
mod repeatability;

pub use acceptance::{Judgement, Verdict, critical_range_factor, judge_replicates};
pub use consistency::{
    Consistency, Flag, LaboratoryFlags, Suspect, check_consistency, cochran_critical,
    grubbs_critical, mandel_h_critical, mandel_k_critical,
};
pub use laboratories::{Cell, Precision, estimate_precision};
pub use repeatability::{LIMIT_FACTOR, Repeatability, pool_repeatability};
