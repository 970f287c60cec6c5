//! doughtrace: from a day's raw dough-test files to checked metrics, charts and a report that
//! traces to the raw bytes.
//!
//! The rooms, in the order in which data flows through them:
//! [`schema`] (words) → [`profile`] + [`intake`] (raw bytes to records) → [`record`] (the data) →
//! [`numerics`] + [`mod@derive`] (metrics) → [`check`] (findings), [`limits`] (deliveries) → `table`, `chart`, `report`
//! [`numerics`] + [`mod@derive`] (metrics) → [`check`] (findings) → [`study`] + [`compare`]
//! (claims and their verdicts) → `table`, `chart`, `report`
//! (what people see) → `pipeline` (the order) → `cli` (the conversation).

pub mod archive;
#[cfg(feature = "chart")]
pub mod chart;
pub mod check;
#[cfg(feature = "cli")]
pub mod cli;
pub mod compare;
pub mod derive;
pub mod intake;
pub mod limits;
pub mod numerics;
#[cfg(feature = "pipeline")]
pub mod pipeline;
pub mod profile;
pub mod record;
#[cfg(feature = "report")]
pub mod report;
pub mod schema;
pub mod study;
#[cfg(feature = "table")]
pub mod table;
pub mod trend;
