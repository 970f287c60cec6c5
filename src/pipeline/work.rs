//! One raw file from bytes to results: the unit of work, independent of all others.

use super::figures::Sketch;
use super::kept::{Known, Received};
use super::link::Sheets;
use super::{FoundFile, Plan, import, link};
use crate::derive;
use crate::intake::Records;
use crate::record::{Fault, Observation, Run, RunRecord};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;

/// What came of one file.
pub(super) struct FileWork {
    pub runs: Vec<(Run, RunRecord, Sketch)>,
    pub observations: Vec<Observation>,
    pub notes: Vec<Fault>,
    pub fault: Option<Fault>,
    /// The file as it was received, where an archive wants it.
    pub received: Option<Received>,
}

/// Time of the parallel stages, added up over threads.
#[derive(Default)]
pub(super) struct ThreadTimes {
    pub intake: AtomicU64,
    pub derive: AtomicU64,
}

/// What is known beside the file itself: run sheets, and corrections up to a ledger line.
#[derive(Clone, Copy)]
pub(super) struct Beside<'a> {
    pub sheets: &'a Sheets,
    pub known: Option<&'a Known>,
    /// Whether charts will be drawn: without them no sketch is kept, and memory grows less.
    pub sketch: bool,
}

/// Imports a file and derives its runs. A fault of this program in one file takes no other with it.
pub(super) fn work_on(
    plan: &Plan,
    file: &FoundFile,
    beside: Beside<'_>,
    clock: &ThreadTimes,
) -> FileWork {
    let work = std::panic::AssertUnwindSafe(|| import_and_derive(plan, file, beside, clock));
    std::panic::catch_unwind(work).unwrap_or_else(|_| FileWork {
        runs: Vec::new(),
        observations: Vec::new(),
        notes: Vec::new(),
        fault: Some(internal_fault(file)),
        received: None,
    })
}

fn import_and_derive(
    plan: &Plan,
    file: &FoundFile,
    beside: Beside<'_>,
    clock: &ThreadTimes,
) -> FileWork {
    let mut work = FileWork {
        runs: Vec::new(),
        observations: Vec::new(),
        notes: Vec::new(),
        fault: None,
        received: None,
    };
    let begin = Instant::now();
    let opened = match import::open(file) {
        Ok(opened) => opened,
        Err(fault) => {
            work.fault = Some(fault);
            return work;
        }
    };
    let wanted = link::profile_named_for(&file.name, beside.sheets);
    let imported = import::import_opened(plan, &opened, wanted);
    if beside.known.is_some() {
        work.received = Some(Received {
            raw: opened.raw,
            kept_as: file.kept_as.clone(),
            bytes: opened.bytes,
            profile: imported.as_ref().ok().map(|(_, stamp)| stamp.clone()),
        });
    }
    add_time(&clock.intake, begin);
    let intake = match imported {
        Ok((intake, _)) => intake,
        Err(fault) => {
            work.fault = Some(fault);
            return work;
        }
    };
    work.notes = intake.notes;
    let begin = Instant::now();
    match intake.records {
        Records::Curves(runs) => {
            let known = beside.known.map(|known| (known, u64::MAX));
            work.runs = runs
                .into_iter()
                .map(|run| derive_run(run, beside.sheets, known, beside.sketch))
                .collect();
        }
        Records::Observations(observations) => work.observations = observations,
        // A run sheet that its head did not show as one: nothing to derive.
        Records::Sheet(_) => {}
    }
    add_time(&clock.derive, begin);
    work
}

fn internal_fault(file: &FoundFile) -> Fault {
    Fault {
        file: file.name.clone(),
        line: None,
        column: None,
        found: "something at which this program stopped".into(),
        expected: "a file it can read or refuse".into(),
        remedy: "please report it with this file; the other files were processed".into(),
    }
}

/// Joins run sheet and corrections to `run` and derives it. Corrections are those of `known` that
/// stand before the given ledger line.
pub(super) fn derive_run(
    mut run: Run,
    sheets: &Sheets,
    known: Option<(&Known, u64)>,
    sketch: bool,
) -> (Run, RunRecord, Sketch) {
    let in_sheet = link::join_run_sheet(&mut run, sheets);
    let excluded = known.and_then(|(known, before)| known.amend(&mut run, before));
    let conditions = Arc::new(run.conditions());
    let (record, sketch) = match derive::derive_run(&run, Arc::clone(&conditions)) {
        Some(derived) => {
            let sketch = match sketch {
                true => Sketch::of(&derived.curve, run.test),
                false => Sketch::default(),
            };
            let (facts, results) = (derived.facts, derived.results);
            let record = RunRecord::new(&run, conditions, facts, results, in_sheet);
            (record, sketch)
        }
        None => (
            RunRecord::new(&run, conditions, Default::default(), Vec::new(), in_sheet),
            Sketch::default(),
        ),
    };
    match excluded {
        Some(exclusion) => (run, record.excluded_by(exclusion), sketch),
        None => (run, record, sketch),
    }
}

fn add_time(total: &AtomicU64, begin: Instant) {
    let nanos = u64::try_from(begin.elapsed().as_nanos()).unwrap_or(u64::MAX);
    total.fetch_add(nanos, Ordering::Relaxed);
}
