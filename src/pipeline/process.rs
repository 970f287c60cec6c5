//! The main job: a day's raw files in, one output folder out.

use super::figures::Sketch;
use super::output::{Staging, write_manifest, write_tables};
use super::{Discovered, FoundFile, Plan, ProcessError, discover, import, link, pictures};
use crate::check;
use crate::derive::{self, METHODS};
use crate::intake::Records;
use crate::record::{Day, Fault, Finding, Observation, Run, RunRecord, RunSheet};
use crate::report::{ChartSet, DayReport, DaySummary, Provenance};
use crate::schema::Field;
use crate::table::CurveWriter;
use rayon::prelude::*;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Hears how far the work has come.
pub trait Progress: Sync {
    /// So many files will be read.
    fn files(&self, _count: usize) {}
    /// One more file was read and derived.
    fn file(&self) {}
    /// One more file's charts were drawn.
    fn chart(&self) {}
}

/// Hears nothing.
#[derive(Debug, Clone, Copy)]
pub struct NoProgress;

impl Progress for NoProgress {}

/// Time spent in each stage; threads' times are added up for the stages that run in parallel.
#[derive(Debug, Clone, Copy, Default)]
pub struct StageTimes {
    /// Finding files and reading run sheets (wall).
    pub discover: Duration,
    /// Reading, hashing, matching and parsing (threads added up).
    pub intake: Duration,
    /// Deriving (threads added up).
    pub derive: Duration,
    /// First pass as a whole, with the curves table (wall).
    pub first_pass: Duration,
    /// Rules (wall).
    pub check: Duration,
    /// Tables (wall).
    pub tables: Duration,
    /// Charts (wall).
    pub charts: Duration,
    /// Report and manifest (wall).
    pub report: Duration,
}

/// What a day came to.
#[derive(Debug)]
pub struct Processed {
    /// The day.
    pub day: Day,
    /// What the rules found.
    pub findings: Vec<Finding>,
    /// The answers of page one.
    pub summary: DaySummary,
    /// Whether an earlier output was replaced.
    pub replaced: bool,
    /// Where the time went.
    pub times: StageTimes,
}

/// Files handed to the threads at a time: bounds memory, keeps both cores busy.
const BATCH_FILES: usize = 64;

/// Processes the day of `plan` and writes its output folder.
///
/// `made_at` is the time that report and manifest state; nothing else depends on it.
///
/// # Errors
/// [`ProcessError`] when nothing could be written or searched. A file that cannot be read is no
/// error: it is reported in the day, and the rest goes on.
pub fn process(
    plan: &Plan,
    made_at: &str,
    progress: &dyn Progress,
) -> Result<Processed, ProcessError> {
    let mut builder = rayon::ThreadPoolBuilder::new();
    if let Some(threads) = plan.threads {
        builder = builder.num_threads(threads);
    }
    let pool = builder.build()?;
    pool.install(|| run(plan, made_at, progress))
}

fn run(plan: &Plan, made_at: &str, progress: &dyn Progress) -> Result<Processed, ProcessError> {
    let mut times = StageTimes::default();
    let begin = Instant::now();
    let found = discover(&plan.input_paths, &plan.out)?;
    progress.files(found.files.len());
    let staging = Staging::open(&plan.out)?;
    let mut day = Day::default();
    let files = read_run_sheets(plan, &found, &mut day);
    times.discover = begin.elapsed();

    let begin = Instant::now();
    let sketches = first_pass(plan, &files, &mut day, &staging, progress, &mut times)?;
    day.grading = derive::derive_observations(&day.observations);
    times.first_pass = begin.elapsed();

    let begin = Instant::now();
    let findings = check::check(&day);
    times.check = begin.elapsed();

    // Tables on a thread of their own (the table engine stays out of the pool), pictures and page
    // on the pool meanwhile.
    let summary = std::thread::scope(|scope| {
        let tables = scope.spawn(|| {
            let begin = Instant::now();
            write_tables(&staging, &day, &findings).map(|()| begin.elapsed())
        });
        let begin = Instant::now();
        let charts = if plan.charts {
            pictures::draw(
                plan,
                &found,
                &day,
                &findings,
                (&sketches, &staging, progress),
            )?
        } else {
            ChartSet::default()
        };
        times.charts = begin.elapsed();
        let begin = Instant::now();
        let summary = write_report(plan, &found, &day, &findings, (&charts, made_at, &staging))?;
        times.report = begin.elapsed();
        times.tables = tables.join().unwrap_or_else(|_| {
            Err(ProcessError::Internal(
                "the writer of the tables stopped".into(),
            ))
        })?;
        Ok::<_, ProcessError>(summary)
    })?;
    write_manifest(&staging, plan, &day, &summary, made_at)?;
    let replaced = staging.publish()?;
    Ok(Processed {
        day,
        findings,
        summary,
        replaced,
        times,
    })
}

/// Reads the run sheets into the day and returns the other files.
fn read_run_sheets<'f>(plan: &Plan, found: &'f Discovered, day: &mut Day) -> Vec<&'f FoundFile> {
    let is_sheet: Vec<bool> = found
        .files
        .par_iter()
        .map(|file| import::is_run_sheet(plan, file))
        .collect();
    let mut rest = Vec::new();
    for (file, sheet) in found.files.iter().zip(is_sheet) {
        if !sheet {
            rest.push(file);
            continue;
        }
        match import::import_file(plan, file, None) {
            Ok(intake) => {
                day.notes.extend(intake.notes);
                if let Records::Sheet(sheet) = intake.records {
                    day.sheets.push(sheet);
                }
            }
            Err(fault) => day.faults.push(fault),
        }
    }
    rest
}

/// What came of one file.
struct FileWork {
    runs: Vec<(Run, RunRecord, Sketch)>,
    observations: Vec<Observation>,
    notes: Vec<Fault>,
    fault: Option<Fault>,
}

/// Time of the parallel stages, added up over threads.
#[derive(Default)]
struct ThreadTimes {
    intake: AtomicU64,
    derive: AtomicU64,
}

/// Imports and derives every file, streams the curves table, and returns the sketches.
fn first_pass(
    plan: &Plan,
    files: &[&FoundFile],
    day: &mut Day,
    staging: &Staging,
    progress: &dyn Progress,
    times: &mut StageTimes,
) -> Result<Vec<Sketch>, ProcessError> {
    let clock = ThreadTimes::default();
    let mut writer = CurveWriter::new(std::io::BufWriter::new(
        staging.create("tables/curves.parquet")?,
    ))?;
    let mut names = link::UniqueNames::default();
    let mut sketches = Vec::new();
    let sheets = std::mem::take(&mut day.sheets);
    // The table engine must not run inside the thread pool's tasks: it has a thread of its own,
    // and at most two batches wait for it.
    let (send, receive) = std::sync::mpsc::sync_channel::<Vec<Run>>(1);
    let outcome = std::thread::scope(|scope| {
        let curves = scope.spawn(move || -> Result<(), ProcessError> {
            for runs in receive {
                writer.append(&runs.iter().collect::<Vec<_>>())?;
            }
            Ok(writer.finish()?)
        });
        for batch in files.chunks(BATCH_FILES) {
            let works: Vec<FileWork> = batch
                .par_iter()
                .map(|file| {
                    let work = work_on(plan, file, &sheets, &clock);
                    progress.file();
                    work
                })
                .collect();
            let mut runs = Vec::new();
            for work in works {
                take_in(work, day, &mut names, &mut sketches, &mut runs);
            }
            // A send fails only when the writer has stopped with an error, which is returned below.
            if send.send(runs).is_err() {
                break;
            }
        }
        drop(send);
        curves.join().unwrap_or_else(|_| {
            Err(ProcessError::Internal(
                "the writer of the curves table stopped".into(),
            ))
        })
    });
    day.sheets = sheets;
    times.intake = Duration::from_nanos(clock.intake.load(Ordering::Relaxed));
    times.derive = Duration::from_nanos(clock.derive.load(Ordering::Relaxed));
    outcome.map(|()| sketches)
}

fn work_on(plan: &Plan, file: &FoundFile, sheets: &[RunSheet], clock: &ThreadTimes) -> FileWork {
    let begin = Instant::now();
    let wanted = link::profile_named_for(&file.name, sheets);
    let imported = import::import_file(plan, file, wanted);
    add_time(&clock.intake, begin);
    let mut work = FileWork {
        runs: Vec::new(),
        observations: Vec::new(),
        notes: Vec::new(),
        fault: None,
    };
    let intake = match imported {
        Ok(intake) => intake,
        Err(fault) => {
            work.fault = Some(fault);
            return work;
        }
    };
    work.notes = intake.notes;
    let begin = Instant::now();
    match intake.records {
        Records::Curves(runs) => match derive_all(runs, sheets) {
            Some(derived) => work.runs = derived,
            None => work.fault = Some(internal_fault(file)),
        },
        Records::Observations(observations) => work.observations = observations,
        // A run sheet that its head did not show as one: nothing to derive.
        Records::Sheet(_) => {}
    }
    add_time(&clock.derive, begin);
    work
}

/// Derives every run of a file; `None` when this program stops at one: a fault of its own, which
/// must not take the other files with it.
fn derive_all(runs: Vec<Run>, sheets: &[RunSheet]) -> Option<Vec<(Run, RunRecord, Sketch)>> {
    let work = || {
        runs.into_iter()
            .map(|run| derive_run(run, sheets))
            .collect()
    };
    std::panic::catch_unwind(std::panic::AssertUnwindSafe(work)).ok()
}

fn internal_fault(file: &FoundFile) -> Fault {
    Fault {
        file: file.name.clone(),
        line: None,
        column: None,
        found: "a curve at which this program stopped".into(),
        expected: "a curve it can read or refuse".into(),
        remedy: "please report it with this file; the other files were processed".into(),
    }
}

fn add_time(total: &AtomicU64, begin: Instant) {
    let nanos = u64::try_from(begin.elapsed().as_nanos()).unwrap_or(u64::MAX);
    total.fetch_add(nanos, Ordering::Relaxed);
}

fn derive_run(mut run: Run, sheets: &[RunSheet]) -> (Run, RunRecord, Sketch) {
    let in_sheet = link::join_run_sheet(&mut run, sheets);
    let conditions = Arc::new(run.conditions());
    match derive::derive_run(&run, Arc::clone(&conditions)) {
        Some(derived) => {
            let sketch = Sketch::of(&derived.curve, run.test);
            let record = RunRecord::new(&run, conditions, derived.facts, derived.results, in_sheet);
            (run, record, sketch)
        }
        None => {
            let record = RunRecord::new(&run, conditions, Default::default(), Vec::new(), in_sheet);
            (run, record, Sketch::default())
        }
    }
}

/// Adds the work on one file to the day, giving each run a name of its own.
fn take_in(
    work: FileWork,
    day: &mut Day,
    names: &mut link::UniqueNames,
    sketches: &mut Vec<Sketch>,
    curves: &mut Vec<Run>,
) {
    day.notes.extend(work.notes);
    day.faults.extend(work.fault);
    day.observations.extend(work.observations);
    for (mut run, mut record, sketch) in work.runs {
        let name = names.claim(&run.id);
        if name != run.id {
            for result in &mut record.results {
                result.run_id = name.clone();
            }
            record.id = name.clone();
            run.id = name;
        }
        day.runs.push(record);
        sketches.push(sketch);
        curves.push(run);
    }
}

/// Metrics on page one of the report.
const HEADLINE: &[&str] = &[
    "mixing.water_absorption",
    "mixing.development_time",
    "mixing.stability",
    "mixing.tolerance_index",
    "mixing.softening_12min",
    "extension.resistance_50mm",
    "extension.maximum_resistance",
    "extension.extensibility",
    "extension.energy_area",
    "extension.ratio_rm_e",
];

fn write_report(
    plan: &Plan,
    found: &Discovered,
    day: &Day,
    findings: &[Finding],
    (charts, made_at, staging): (&ChartSet, &str, &Staging),
) -> Result<DaySummary, ProcessError> {
    let methods: Vec<_> = METHODS.iter().map(|method| (method.card)()).collect();
    let rules: Vec<_> = check::rules().iter().map(|rule| rule.card).collect();
    let provenance = Provenance {
        tool_version: env!("CARGO_PKG_VERSION").to_owned(),
        generated_at: made_at.to_owned(),
        inputs: plan.inputs.clone(),
        plan: plan.to_json()?,
        skipped: found.skipped.clone(),
        data_label: data_label(day),
        ledger_head: None,
    };
    let report = DayReport {
        title: &plan.title,
        day,
        findings,
        methods: &methods,
        rules: &rules,
        headline: HEADLINE,
        charts,
        provenance: &provenance,
    };
    staging.write("report.html", report.render()?.as_bytes())?;
    Ok(report.summary())
}

/// Returns what must be said on top of the page when runs call their flour or themselves invented.
fn data_label(day: &Day) -> Option<String> {
    let says_so = |run: &&RunRecord| {
        [Field::FlourName, Field::Note, Field::Operator]
            .iter()
            .any(|field| {
                run.metadata
                    .text(*field)
                    .is_some_and(|text| text.to_lowercase().contains("invented"))
            })
    };
    let count = day.runs.iter().filter(says_so).count();
    // One mark is enough: a folder that holds invented runs is a demonstration as a whole.
    (count > 0).then(|| {
        "Invented demonstration data: no measurement stands behind these numbers.".to_owned()
    })
}
