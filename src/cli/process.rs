//! `doughtrace process`: the main job.

use super::{Format, print};
use crate::pipeline::{self, Archived, Plan, Processed, Progress, Request};
use crate::report::Verdict;
use crate::schema::ExitStatus;
use anyhow::Context as _;
use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};
use std::io::IsTerminal as _;
use std::path::PathBuf;

#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(super) struct Options {
    /// Day folders (searched recursively) or single raw files
    #[arg(required_unless_present = "rederive", value_name = "DIR")]
    inputs: Vec<PathBuf>,
    /// Output folder: report.html, charts/, tables/, manifest.json; replaced as a whole
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Archive that keeps originals, numbers and who did what; `archive` in the output folder when
    /// left out
    #[arg(long, value_name = "DIR")]
    archive: Option<PathBuf>,
    /// Derive every run of the archive anew, with the definitions of this version and all
    /// corrections
    #[arg(long, requires = "archive", conflicts_with = "inputs")]
    rederive: bool,
    /// Person who runs this; the user name when left out
    #[arg(long, value_name = "NAME")]
    operator: Option<String>,
    /// Folder of your own import profiles (*.toml), tried before the built-in ones
    #[arg(long, value_name = "DIR")]
    profiles: Option<PathBuf>,
    /// File of delivery limits (TOML): page one says which flour lots they accept
    #[arg(long, value_name = "FILE")]
    limits: Option<PathBuf>,
    /// Draw no charts
    #[arg(long)]
    pub(super) no_charts: bool,
    #[command(flatten)]
    charts: super::charts::Charts,
    /// Threads to use; all cores when left out
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
    /// Title of the report
    #[arg(long, value_name = "TEXT")]
    title: Option<String>,
    /// Go on watching the folders: every so many seconds (2 when left out) new complete files are
    /// taken in and the report is refreshed; stop with Ctrl-C
    #[arg(long, value_name = "SECONDS", num_args = 0..=1, default_missing_value = "2",
          value_parser = clap::value_parser!(u64).range(1..=86_400), conflicts_with = "rederive")]
    watch: Option<u64>,
    /// Print the plan and the files that would be read, and write nothing
    #[arg(long)]
    dry_run: bool,
    /// How the summary is printed
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

const AFTER_HELP: &str = "\
Examples:
  doughtrace process 2026-03-12 --out reports/2026-03-12
  doughtrace process day --out out --profiles my-profiles --format json
  doughtrace process 2026-03-12 --out reports/2026-03-12 --archive lab-archive
  doughtrace process bench-folder --out reports/today --watch 5
  doughtrace process --rederive --archive lab-archive --out reports/all

Data files end in .csv, .tsv, .txt or .dat; other files are counted and left alone. Raw files are \
only read. Files are kept in the archive as received; the same bytes under the same name are kept once. The \
same input gives the same output but for the time and the ledger line that report and manifest \
state; set SOURCE_DATE_EPOCH to fix the time.";

pub(super) fn run(options: &Options) -> anyhow::Result<ExitStatus> {
    let plan = Plan::resolve(Request {
        inputs: options.inputs.clone(),
        out: options.out.clone(),
        profiles: options.profiles.clone(),
        no_charts: options.no_charts,
        chart_options: options.charts.into(),
        threads: options.threads.map(usize::from),
        title: options.title.clone(),
        archive: options.archive.clone(),
        limits: options.limits.clone(),
        no_archive: false,
        rederive: options.rederive,
        operator: Some(super::who(options.operator.as_deref())),
    })?;
    if options.dry_run {
        return dry_run(options, &plan);
    }
    if let Some(seconds) = options.watch {
        return super::watch::run(options, plan, seconds);
    }
    let bar = Bar::new(options.no_charts);
    let done = pipeline::process(&plan, &super::made_at()?, &bar);
    bar.bar.finish_and_clear();
    let done = done?;
    print_summary(options, &plan, &done)?;
    Ok(status_of(&done))
}

/// Returns what the shell is told.
fn status_of(done: &Processed) -> ExitStatus {
    if done.day.runs.is_empty() && done.day.observations.is_empty() {
        ExitStatus::Usage
    } else if done.summary.verdict == Verdict::RedoNeeded {
        ExitStatus::Attention
    } else {
        ExitStatus::Done
    }
}

fn dry_run(options: &Options, plan: &Plan) -> anyhow::Result<ExitStatus> {
    let found = plan.find_files()?;
    let names: Vec<&str> = found.files.iter().map(|file| file.name.as_str()).collect();
    if options.format == Format::Json {
        let value = serde_json::json!({
            "plan": plan,
            "out": plan.out().display().to_string(),
            "threads": options.threads,
            "files": names,
            "skipped": found.skipped,
        });
        print::data(&serde_json::to_string_pretty(&value).context("write JSON")?)?;
        return Ok(ExitStatus::Done);
    }
    print::data(&plan.to_json()?)?;
    let threads = options
        .threads
        .map_or_else(|| "all cores".to_owned(), |n| n.to_string());
    print::data(&format!(
        "output folder: {}; threads: {threads}",
        plan.out().display()
    ))?;
    print::data(&format!("{} files would be read:", names.len()))?;
    for name in names {
        print::data(&format!("  {name}"))?;
    }
    for skipped in &found.skipped {
        print::data(&format!(
            "left alone: {} ({})",
            skipped.files, skipped.reason
        ))?;
    }
    Ok(ExitStatus::Done)
}

pub(super) fn print_summary(
    options: &Options,
    plan: &Plan,
    done: &Processed,
) -> anyhow::Result<()> {
    let report = plan.out().join("report.html");
    match options.format {
        Format::Json => {
            let mut value = serde_json::to_value(&done.summary).context("write JSON")?;
            if let Some(object) = value.as_object_mut() {
                object.insert("report".into(), report.display().to_string().into());
                object.insert("exit_code".into(), status_of(done).code().into());
                if let Some(archived) = &done.archived {
                    let value = serde_json::json!({
                        "folder": archived.folder.display().to_string(),
                        "head": archived.head,
                        "kept": archived.counts,
                        "report": archived.report,
                    });
                    object.insert("archive".into(), value);
                }
            }
            print::data(&serde_json::to_string_pretty(&value).context("write JSON")?)?;
        }
        Format::Csv => print::data(&print::csv_text(&run_lines(done))?)?,
        Format::Human => {
            for line in done.summary.lines() {
                print::data(&line)?;
            }
            if done.day.runs.is_empty() && done.day.observations.is_empty() {
                print::data(
                    "Nothing could be read. See what each profile expects: doughtrace profile check FILE",
                )?;
            }
            if done.kept_earlier {
                print::data("The earlier output was left as it was.")?;
            }
            if done.replaced {
                print::data("The earlier output was replaced.")?;
            }
            if let Some(archived) = &done.archived {
                print::data(&archive_line(archived))?;
            }
            print::data(&format!(
                "Report: {} · next: {}",
                report.display(),
                next_step(done)
            ))?;
        }
    }
    Ok(())
}

/// What the archive has of the day, in one line.
fn archive_line(archived: &Archived) -> String {
    let counts = &archived.counts;
    let files = counts.files - counts.files_already;
    let mut parts = vec![format!("{files} new files, {} new runs", counts.runs_new)];
    if counts.files_already > 0 {
        parts.push(format!(
            "{} files were already in the archive",
            counts.files_already
        ));
    }
    if counts.files_changed > 0 {
        parts.push(format!(
            "{} changed under a known name (both versions are kept)",
            counts.files_changed
        ));
    }
    if counts.runs_superseded > 0 {
        parts.push(format!(
            "results of {} runs take the place of earlier ones",
            counts.runs_superseded
        ));
    }
    format!(
        "Archive: {} · {} · ledger line {}, {}",
        archived.folder.display(),
        parts.join(", "),
        archived.head.seq,
        archived.head.digest
    )
}

fn next_step(done: &Processed) -> &'static str {
    match done.summary.verdict {
        Verdict::RedoNeeded => "open it and work through the list of what to redo",
        _ => "open it in a browser",
    }
}

/// One line a run: verdict, counts of findings, water for the next run, main metrics.
fn run_lines(done: &Processed) -> Vec<Vec<String>> {
    let metrics: Vec<&str> = done
        .day
        .runs
        .first()
        .map(|run| {
            let mut ids: Vec<&str> = run.results.iter().map(|r| r.metric.id).collect();
            ids.dedup();
            ids
        })
        .unwrap_or_default();
    let mut head: Vec<String> = [
        "run_id",
        "file",
        "test",
        "treatment",
        "verdict",
        "next_water_ml",
    ]
    .map(String::from)
    .into();
    for id in &metrics {
        head.push((*id).to_owned());
        head.push(format!("{id} status"));
    }
    let mut rows = vec![head];
    for run in &done.day.runs {
        let mut row = vec![
            run.id.to_string(),
            run.file.name.clone(),
            run.test.to_string(),
            run.conditions.treatment.clone().unwrap_or_default(),
            Verdict::of_run(run, &done.findings).run_words().to_owned(),
            run.facts
                .next_water_ml
                .map(|v| format!("{v:.1}"))
                .unwrap_or_default(),
        ];
        for id in &metrics {
            let result = run.result(id);
            let value = result.and_then(|r| r.outcome.value_or_bound().map(|v| r.metric.format(v)));
            row.push(value.unwrap_or_default());
            row.push(
                result
                    .map(|r| r.outcome.status().to_string())
                    .unwrap_or_default(),
            );
        }
        rows.push(row);
    }
    rows
}

/// Progress on a terminal; nothing elsewhere.
pub(super) struct Bar {
    pub(super) bar: ProgressBar,
    passes: u64,
}

impl Bar {
    pub(super) fn new(no_charts: bool) -> Bar {
        let bar = if std::io::stderr().is_terminal() {
            ProgressBar::new(0)
        } else {
            ProgressBar::hidden()
        };
        // The template is a constant of this program; a fault in it only costs the bar its looks.
        if let Ok(style) = ProgressStyle::with_template("{bar:40} {pos}/{len} {msg}") {
            bar.set_style(style);
        }
        Bar {
            bar,
            passes: if no_charts { 1 } else { 2 },
        }
    }
}

impl Progress for Bar {
    fn files(&self, count: usize) {
        self.bar.set_length(self.passes * count as u64);
        self.bar.set_message("reading files");
    }

    fn file(&self) {
        self.bar.inc(1);
    }

    fn chart(&self) {
        self.bar.set_message("drawing charts");
        self.bar.inc(1);
    }
}
