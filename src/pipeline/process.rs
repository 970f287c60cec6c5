//! The main job: a day's raw files in, one output folder out.

use super::discover::is_earlier_output;
use super::figures::Sketch;
use super::kept::{Keeper, KeptCounts, Received, Recipe, ReportStamp, Unit};
use super::link::Sheets;
use super::output::{Kept, Staging, write_manifest, write_tables};
use super::page::{Standing, content_digest, head_words, write_report};
use super::work::{Beside, FileWork, ThreadTimes, work_on};
use super::{Discovered, FoundFile, Plan, ProcessError, import, link, pictures, trend};
use crate::archive::Head;
use crate::check;
use crate::derive;
use crate::intake::Records;
use crate::limits;
use crate::record::{ChangedFile, Day, Finding, Observation, Run, RunRecord};
use crate::report::{ChartSet, DaySummary};
use crate::table::CurveWriter;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::atomic::Ordering;
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
    /// Whether an earlier output was left in place, since nothing could be read.
    pub kept_earlier: bool,
    /// What the archive has of it; `None` where none is kept.
    pub archived: Option<Archived>,
    /// Where the time went.
    pub times: StageTimes,
}

/// What the archive has of a day.
#[derive(Debug, Clone)]
pub struct Archived {
    /// Folder of the archive.
    pub folder: PathBuf,
    /// What came in.
    pub counts: KeptCounts,
    /// Last line of the ledger.
    pub head: Head,
    /// The report's place among those of its series.
    pub report: ReportStamp,
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
    let found = plan.find_files()?;
    progress.files(found.files.len());
    let staging = Staging::open(&plan.out)?;
    let mut keeper = plan
        .archive
        .as_ref()
        .map(|folder| Keeper::open(folder, &plan.operator, made_at))
        .transpose()?;
    let mut day = Day::default();
    if let Some(keeper) = &keeper {
        day.calibrations.clone_from(&keeper.known.calibrations);
        keeper.day().clone_into(&mut day.taken_in_on);
    }
    let files = read_run_sheets(plan, &found, &mut day, keeper.as_mut())?;
    times.discover = begin.elapsed();

    let begin = Instant::now();
    let sketches = first_pass(
        plan,
        &files,
        (&mut day, keeper.as_mut()),
        (&staging, progress),
        &mut times,
    )?;
    if let Some(keeper) = &mut keeper {
        keeper.commit_import(&plan.series, plan)?;
    }
    day.groups = derive::derive_groups(&day.runs);
    day.grading = derive::derive_observations(&day.observations);
    let trends = trend::of_day(
        plan.archive.as_deref(),
        keeper.as_ref().map(|k| &k.known),
        &day,
    )?;
    day.trends = trend::notes(&trends);
    day.deliveries = limits::judge(&day, &plan.limit_list);
    times.first_pass = begin.elapsed();

    let begin = Instant::now();
    let findings = check::check(&day);
    times.check = begin.elapsed();

    let draw = || match plan.charts {
        true => pictures::draw(
            plan,
            &found,
            (&day, &findings),
            (&sketches, &trends),
            (&staging, progress),
        ),
        false => Ok(ChartSet::default()),
    };
    // Tables and archive each on a thread of their own (the table engine stays out of the pool),
    // pictures on the pool meanwhile; the page waits for the archive alone, whose head it prints.
    let shared = (&day, &findings[..]);
    let stopped = |what: &str| ProcessError::Internal(format!("the writer of {what} stopped"));
    let (summary, archived, keeper) = std::thread::scope(|scope| {
        let tables = scope.spawn(|| {
            let begin = Instant::now();
            write_tables(&staging, &day, &findings).map(|()| begin.elapsed())
        });
        let kept = scope.spawn(move || -> Result<Option<Keeper>, ProcessError> {
            let mut keeper = keeper;
            if let Some(keeper) = &mut keeper {
                keep_day(plan, keeper, shared)?;
            }
            Ok(keeper)
        });
        let begin = Instant::now();
        let charts = draw();
        times.charts = begin.elapsed();
        let mut keeper = kept
            .join()
            .unwrap_or_else(|_| Err(stopped("the archive")))?;
        let charts = charts?;
        let begin = Instant::now();
        let shown = (&charts, made_at, &staging);
        let (summary, archived) = report(plan, &found, shared, keeper.as_mut(), shown)?;
        times.report = begin.elapsed();
        times.tables = tables
            .join()
            .unwrap_or_else(|_| Err(stopped("the tables")))?;
        Ok::<_, ProcessError>((summary, archived, keeper))
    })?;
    let kept = archived.as_ref().map(|archived| Kept {
        ledger_head: head_words(&archived.head),
        report: &archived.report,
    });
    write_manifest(&staging, plan, &day, &summary, (made_at, kept))?;
    // The lock is let go before the archive moves into its new output.
    drop(keeper);
    // A mistyped or empty folder must not cost an earlier day its report.
    let nothing_read = day.runs.is_empty() && day.observations.is_empty();
    let kept_earlier = nothing_read && is_earlier_output(&plan.out);
    let replaced = if kept_earlier {
        false
    } else {
        staging.publish()?
    };
    Ok(Processed {
        day,
        findings,
        summary,
        replaced,
        kept_earlier,
        archived,
        times,
    })
}

/// Keeps the day's runs, observations and findings, as far as they are new.
fn keep_day(
    plan: &Plan,
    keeper: &mut Keeper,
    (day, findings): (&Day, &[Finding]),
) -> Result<(), ProcessError> {
    let recipe = Recipe {
        plan: plan.to_value()?,
        strip: plan.strip(),
        several_days: plan.several_days(),
        sheets: keeper.sheet_items(&day.sheets),
    };
    // Gradings first: they belong into one event, with all the sheets of the day.
    let mut units = Unit::of_grading(&day.grading);
    units.extend(day.runs.iter().map(Unit::of_run));
    let observed: Vec<&Observation> = day.observations.iter().collect();
    let names = day.runs.iter().map(|run| &run.file.name);
    let names = names.chain(day.observations.iter().map(|seen| &seen.file.name));
    let files: BTreeMap<String, _> = names
        .filter_map(|name| Some((name.clone(), keeper.item_of(name)?.clone())))
        .collect();
    keeper.commit_units(&recipe, &units, &files, &observed)?;
    keeper.commit_units(&recipe, &Unit::of_groups(day, &plan.series), &files, &[])?;
    keeper.commit_findings(findings)
}

/// Writes the page, and enters it in the ledger.
fn report(
    plan: &Plan,
    found: &Discovered,
    (day, findings): (&Day, &[Finding]),
    keeper: Option<&mut Keeper>,
    shown: (&ChartSet, &str, &Staging),
) -> Result<(DaySummary, Option<Archived>), ProcessError> {
    let (Some(keeper), Some(folder)) = (keeper, &plan.archive) else {
        let (summary, _) = write_report(plan, found, (day, findings), None, shown)?;
        return Ok((summary, None));
    };
    let runs: Vec<&RunRecord> = day.runs.iter().collect();
    let content = content_digest(plan, day, findings)?;
    let stamp = keeper.stamp_report(&plan.series, &content, &runs);
    let standing = Standing {
        head: keeper.head().clone(),
        reviews: keeper.known.reviews_of(&plan.series, &stamp.id, &runs),
        stamp,
    };
    let day_and_findings = (day, findings);
    let (summary, page) = write_report(plan, found, day_and_findings, Some(&standing), shown)?;
    let stamp = standing.stamp;
    keeper.commit_report(
        &plan.series,
        (&plan.title, page.as_bytes()),
        &stamp,
        (&runs, &day.grading, &Unit::of_groups(day, &plan.series)),
    )?;
    let archived = Archived {
        folder: folder.clone(),
        counts: keeper.counts.clone(),
        head: keeper.head().clone(),
        report: stamp,
    };
    Ok((summary, Some(archived)))
}

/// Reads the run sheets into the day and returns the other files.
fn read_run_sheets<'f>(
    plan: &Plan,
    found: &'f Discovered,
    day: &mut Day,
    mut keeper: Option<&mut Keeper>,
) -> Result<Vec<&'f FoundFile>, ProcessError> {
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
        let opened = match import::open(file) {
            Ok(opened) => opened,
            Err(fault) => {
                day.faults.push(fault);
                continue;
            }
        };
        let imported = import::import_opened(plan, &opened, None);
        let profile = imported.as_ref().ok().map(|(_, stamp)| stamp.clone());
        match imported {
            Ok((intake, _)) => {
                day.notes.extend(intake.notes);
                if let Records::Sheet(sheet) = intake.records {
                    day.sheets.push(sheet);
                }
            }
            Err(fault) => day.faults.push(fault),
        }
        if let Some(keeper) = keeper.as_deref_mut() {
            day.changed_files.extend(keeper.receive(Received {
                raw: opened.raw,
                kept_as: file.kept_as.clone(),
                bytes: opened.bytes,
                profile,
            })?);
        }
    }
    Ok(rest)
}

/// Imports and derives every file, streams the curves table, hands the files to the archive, and
/// returns the sketches.
fn first_pass(
    plan: &Plan,
    files: &[&FoundFile],
    (day, keeper): (&mut Day, Option<&mut Keeper>),
    (staging, progress): (&Staging, &dyn Progress),
    times: &mut StageTimes,
) -> Result<Vec<Sketch>, ProcessError> {
    let clock = ThreadTimes::default();
    let writer = CurveWriter::new(std::io::BufWriter::new(
        staging.create("tables/curves.parquet")?,
    ))?;
    let mut names = link::UniqueNames::default();
    let mut sketches = Vec::new();
    let sheets = Sheets {
        list: std::mem::take(&mut day.sheets),
    };
    // While files are taken in, corrections are only read.
    let known = keeper.as_ref().map(|keeper| keeper.known.amendments_only());
    let beside = Beside {
        sheets: &sheets,
        known: known.as_ref(),
        sketch: plan.charts,
    };
    let outcome = std::thread::scope(|scope| {
        let (to_curves, curves) = std::sync::mpsc::sync_channel(1);
        let (to_archive, received) = std::sync::mpsc::sync_channel(1);
        let curves = scope.spawn(move || stream_curves(writer, curves));
        let archive = scope.spawn(move || keep_files(keeper, received));
        for batch in files.chunks(BATCH_FILES) {
            let mut works: Vec<FileWork> = batch
                .par_iter()
                .map(|file| {
                    let work = work_on(plan, file, beside, &clock);
                    progress.file();
                    work
                })
                .collect();
            let received = works.iter_mut().filter_map(|work| work.received.take());
            let received: Vec<Received> = received.collect();
            let mut runs = Vec::new();
            for work in works {
                take_in(work, day, &mut names, &mut sketches, &mut runs);
            }
            // A send fails only when the receiver has stopped with an error, returned below.
            if to_curves.send(runs).is_err() || to_archive.send(received).is_err() {
                break;
            }
        }
        drop((to_curves, to_archive));
        let stopped = |what: &str| ProcessError::Internal(format!("the writer of {what} stopped"));
        let curves = curves.join().unwrap_or_else(|_| Err(stopped("curves")));
        let changed = archive.join().unwrap_or_else(|_| Err(stopped("files")));
        curves.and(changed)
    });
    day.sheets = sheets.list;
    times.intake = Duration::from_nanos(clock.intake.load(Ordering::Relaxed));
    times.derive = Duration::from_nanos(clock.derive.load(Ordering::Relaxed));
    day.changed_files.extend(outcome?);
    Ok(sketches)
}

/// Writes the curves as they come. The table engine must not run inside the thread pool's tasks:
/// it has a thread of its own, and at most two batches wait for it.
fn stream_curves(
    mut writer: CurveWriter<std::io::BufWriter<std::fs::File>>,
    batches: std::sync::mpsc::Receiver<Vec<Run>>,
) -> Result<(), ProcessError> {
    for runs in batches {
        writer.append(&runs.iter().collect::<Vec<_>>())?;
    }
    Ok(writer.finish()?)
}

/// Hands the files to the archive as they come; returns those that changed.
fn keep_files(
    mut keeper: Option<&mut Keeper>,
    batches: std::sync::mpsc::Receiver<Vec<Received>>,
) -> Result<Vec<ChangedFile>, ProcessError> {
    let mut changed = Vec::new();
    for batch in batches {
        for file in batch {
            if let Some(keeper) = keeper.as_deref_mut() {
                changed.extend(keeper.receive(file)?);
            }
        }
    }
    Ok(changed)
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
