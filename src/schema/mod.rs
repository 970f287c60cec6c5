//! The vocabulary every room shares: units, identifiers, fields, metric and rule cards, columns.
//!
//! This room owns words and their meaning. It knows no data: a value of a run lives in
//! [`crate::record`], a formula in [`crate::derive`]. It imports no other room.

mod card;
mod channel;
mod claim;
mod column;
mod exit;
mod field;
mod id;
mod quantity;
mod scalar;
mod status;
mod test;
mod unit;

pub use card::{
    Address, Evidence, MethodCard, MetricCard, ParameterCard, RuleCard, Source, Variant,
};
pub use channel::{Axis, Channel};
pub use claim::{ClaimKind, Gate, Verdict};
pub use column::{Cell, Column, ColumnKind, Table};
pub use exit::ExitStatus;
pub use field::{Field, FieldKind};
pub use id::{BatchId, Digest, IdError, InstrumentId, ResultId, RunId, SampleId};
pub use quantity::Quantity;
pub use scalar::ScalarQuantity;
pub use status::{Level, Status};
pub use test::{Bowl, Procedure, Purpose, Test};
pub use unit::{Unit, UnknownUnit};
