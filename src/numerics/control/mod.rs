//! Control charts of one quantity measured again and again on the same reference flour.
//!
//! ISO 7870-2 (individuals and moving range), ISO 7870-4 (CUSUM) and ISO 7870-6 (EWMA), with the
//! numbers of HANDBOOK §11.4. Limits come from a base period and stay frozen; a new lot is tied to
//! the old one by days on which both were measured; ageing is told from jumps.
//!
//! The charts take the values as independent from one measurement to the next; a reference flour
//! that ages breaks that, so its drift is taken out first (see [`separate_drift`]).

mod cusum;
mod drift;
mod ewma;
mod limits;
mod lots;
mod rules;

pub use cusum::{Cusum, CusumPoint, cusum};
pub use drift::{Drift, Jump, JumpSearch, separate_drift};
pub use ewma::{Ewma, EwmaPoint, ewma};
pub use limits::{ControlLimits, DuplicateLimits, moving_ranges};
pub use lots::{LotShift, lot_shift};
pub use rules::{RunRule, RunSignal, find_runs};

/// The side of the centre line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Above the centre, or rising.
    High,
    /// Below the centre, or falling.
    Low,
}
