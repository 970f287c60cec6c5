//! The data: runs, curves, metadata, outcomes, results, findings, and the tables made of them.
//!
//! Constructors are fallible where an invariant can be broken. This room knows the vocabulary of
//! [`crate::schema`] and nothing else: no file path, no formula, no table engine.

mod amendment;
mod claim;
mod curve;
mod day;
mod delivery;
pub mod describe;
mod facts;
mod fault;
mod finding;
mod grading;
mod group;
mod metadata;
mod observation;
mod outcome;
mod pieces;
mod rawfile;
mod readcurve;
mod result;
mod run;
mod sheet;
pub mod tables;
mod trendnote;

pub use amendment::{Calibration, ChangedFile, Exclusion, Review, iso_day};
pub use claim::{Assumption, Claim, ClaimContrast, ContrastUnit, LeftOut};
pub use curve::{Curve, CurveError};
pub use day::{Day, LineMap, RunRecord};
pub use delivery::{DECISION_RULE, Delivery, DeliveryVerdict};
pub use facts::{Gap, Peak, SignalFacts, Spike, TemperatureProgramme};
pub use fault::Fault;
pub use finding::Finding;
pub use grading::{AgreementSummary, GradeCounts, GradeSummary, Grading, MedianGrade};
pub use group::RunGroup;
pub use metadata::{Conflict, FieldValue, Metadata, Origin, Statement};
pub use observation::{Grade, Observation, TearEdge};
pub use outcome::{Estimate, Outcome, OutcomeError};
pub use pieces::{AREA_LIMIT_PCT, PieceGroup, piece_groups};
pub use rawfile::{ProfileStamp, RawFile, RowRange};
pub use readcurve::ReadCurve;
pub use result::MetricResult;
pub use run::{Conditions, Run};
pub use sheet::{RunSheet, SheetLine};
pub use trendnote::TrendNote;
