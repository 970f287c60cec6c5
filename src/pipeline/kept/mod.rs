//! The archive at work: what `process` keeps, and what can be done with it later.
//!
//! What each event of the ledger holds:
//!
//! | action | goes in | comes out | parameters |
//! |---|---|---|---|
//! | import | – | raw files, run sheets, profiles | series |
//! | derive | raw files (`from`: their profile), run sheets | runs (`id`: of the curve, `holds`: results, `from`: raw, profile, sheet, instrument), segments of runs, results, observations | plan, platform, how names were shortened, records superseded |
//! | check | files | segment of findings | count; rules as `metrics` |
//! | report | – | report (`id`: of what it says, `digest`: of the page, `from`: runs) | series, version, supersedes, changes, head printed |
//! | correct, exclude | runs | – | field, old, new, reason |
//! | calibrate | instrument | certificate | what, on, due |
//! | review | run, report or series | – | step, outcome, note |
//!
//! Names of kept files begin with the name of their day folder, so that `run-1.csv` of two days
//! are two files. The same bytes under the same name make no new record. `day=` in the place of a
//! segment is the day on which it was written.

mod amend;
mod book;
mod chain;
mod crate_metadata;
mod export;
mod from_results;
mod in_force;
mod keeper;
mod known;
mod place;
mod rejected;
mod replay;
mod review;
mod trace;
mod unit;
mod verify;

pub use amend::{Amend, Amended, Target, amend};
pub use chain::{ClaimTrace, FileTrace, ResultTrace, RunTrace, Stated, Trace};
pub use export::{ExportForm, Exported, export};
pub use from_results::{results_in_chart, trace_chart};
pub use known::{Amendment, Change, Known, ReportLine, RunLine};
pub use place::{find_archive, open_archive};
pub use review::{Hand, NewCalibration, calibrate, review, seal};
pub use trace::trace;
pub use unit::{KeptCounts, ReportStamp};
pub use verify::{Miss, Recomputed, Verified, verify};

pub(super) use in_force::{Part, each_part};
pub(super) use keeper::Keeper;
pub(super) use known::{LIMITS, PROFILES, RAW_KIND, instrument_key};
pub(super) use place::{
    ARCHIVE, is_archive, parent_of, part_prefix, put_back, refuse_buried_archive, refuse_overlap,
    remove_without_archive,
};
pub(super) use rejected::rejected_runs;
pub(super) use replay::{Replay, raw_inputs};
pub(super) use unit::{Received, Recipe, Unit};
