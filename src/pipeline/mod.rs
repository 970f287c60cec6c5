//! The order of the steps: discover, import, link, derive, check, chart, report, write.
//!
//! This room knows paths, threads and the clock it is given; every other room is handed plain
//! data. The unit of work is one raw file: memory holds the files of one batch, never the day.

mod chart_options;
mod discover;
mod error;
mod figures;
mod import;
mod kept;
mod link;
mod output;
mod page;
mod pictures;
mod plan;
mod process;
mod rederive;
mod study;
mod trend;
mod watch;
mod work;

use discover::day_label;

pub use chart_options::ChartOptions;
pub use discover::{Discovered, FoundFile, discover};
pub use error::ProcessError;
pub use import::{Imported, import_file};
pub use kept::{
    Amend, Amended, Amendment, Change, ClaimTrace, ExportForm, Exported, FileTrace, Hand,
    KeptCounts, Known, Miss, NewCalibration, Recomputed, ReportLine, ReportStamp, ResultTrace,
    RunLine, RunTrace, Stated, Target, Trace, Verified, amend, calibrate, export, find_archive,
    open_archive, results_in_chart, review, seal, trace, trace_chart, verify,
};
pub use plan::{Plan, Request, read_own_profiles};
pub use process::{Archived, NoProgress, Processed, Progress, StageTimes, process};
pub use study::{
    CompareRequest, Compared, PlanRequest, Planned, StudyPlanned, claim_lines, compare, plan_study,
};
pub use trend::{TrendRequest, Trended, trend};
pub use watch::{Looked, Watch};
