//! The conversation with people: arguments, printing, progress, exit codes.
//!
//! One file per command. Data goes to standard output, messages to standard error; a closed pipe
//! is success.

mod amend;
mod charts;
mod compare;
mod explain;
mod export;
mod print;
mod process;
mod profile;
mod review;
mod shell;
mod trace;
mod trend;
mod verify;
mod watch;

use crate::pipeline::ProcessError;
use crate::schema::ExitStatus;
use anyhow::Context as _;
use clap::{CommandFactory as _, Parser, Subcommand, ValueEnum};
use std::process::ExitCode;

/// From a day's raw dough-test files to checked metrics, charts and a report that traces to the raw
/// bytes.
#[derive(Debug, Parser)]
#[command(name = "doughtrace", version, about, long_about = None, after_help = AFTER_HELP)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

const AFTER_HELP: &str = "\
Examples:
  doughtrace process sample-runs/clean-day --out reports/clean-day
  doughtrace profile check sample-runs/clean-day/SM-101.csv
  doughtrace explain mixing.development_time
  doughtrace trace SM-101 --archive reports/clean-day
  doughtrace verify --archive reports/clean-day

Exit codes: 0 done; 1 done, with reject-level findings or an unreadable file; 2 wrong usage or \
nothing readable; 3 the archive does not verify; 70 internal fault.

This program reads records; it controls no machine. A run without findings says nothing about the \
safety of a machine or of a flour.";

#[derive(Debug, Subcommand)]
enum Command {
    /// Process a day: raw files in, checked metrics, charts and a report out
    Process(process::Options),
    /// Judge the claims of a study: doughs in, verdicts with their intervals, charts and a report out
    Compare(compare::Options),
    /// Plan a study: doughs for each claim, a random run order, and the claims on record before data
    Plan(compare::PlanOptions),
    /// Control charts of the reference flour: what an instrument reads, and since when otherwise
    Trend(trend::Options),
    /// Follow a number to its raw bytes, or raw bytes to every number made from them
    Trace(trace::Options),
    /// Prove that an archive is what was written, and its numbers what its originals give
    Verify(verify::Options),
    /// Correct a fact or exclude a run; the earlier value is kept
    Amend(amend::Options),
    /// Record that a person prepared, checked or approved a run, a day or a report
    Review(review::Options),
    /// Record the calibration of an instrument, with its certificate
    Calibrate(review::CalibrateOptions),
    /// Sign the archive's ledger with a key of your own
    Seal(review::SealOptions),
    /// Hand an archive over: originals, tables and ledger as files that need no program of ours
    Export(export::Options),
    /// Look at import profiles: which there are, what one says, which fits a file
    Profile(profile::Options),
    /// Print the completions of this program for a shell
    Completions(shell::CompletionOptions),
    /// Print the manual page of a command, or write them all into a folder
    Man(shell::ManOptions),
    /// Say what a metric, rule, status or exit code means; without a name, list them all
    Explain(explain::Options),
}

/// How data are printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum, Default)]
enum Format {
    /// For people
    #[default]
    Human,
    /// JSON
    Json,
    /// Comma-separated values
    Csv,
}

/// Returns the whole command line as declared, for manual pages and completions.
fn declared() -> clap::Command {
    Arguments::command()
}

/// Returns the time that records state: now, or SOURCE_DATE_EPOCH where it is set.
fn made_at() -> anyhow::Result<String> {
    let now = match std::env::var("SOURCE_DATE_EPOCH") {
        Ok(text) => {
            let seconds = text
                .trim()
                .parse()
                .with_context(|| format!("SOURCE_DATE_EPOCH: found `{text}`, expected seconds"))?;
            jiff::Timestamp::from_second(seconds).context("SOURCE_DATE_EPOCH")?
        }
        Err(_) => jiff::Timestamp::now(),
    };
    Ok(now.strftime("%Y-%m-%d %H:%M:%S UTC").to_string())
}

/// Returns the person that records name: as given, else the user name.
fn who(given: Option<&str>) -> String {
    let named = ["USER", "LOGNAME", "USERNAME"]
        .iter()
        .filter_map(|name| std::env::var(name).ok())
        .find(|name| !name.trim().is_empty());
    given
        .map(str::to_owned)
        .or(named)
        .unwrap_or_else(|| "not stated".to_owned())
}

/// Runs the program with the process's own arguments and returns its exit code.
pub fn main() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            let status = if error.use_stderr() {
                ExitStatus::Usage
            } else {
                ExitStatus::Done
            };
            // Nothing is left to say when even this cannot be printed.
            let _ = error.print();
            return ExitCode::from(status.code());
        }
    };
    let work = std::panic::AssertUnwindSafe(|| match arguments.command {
        Command::Process(options) => process::run(&options),
        Command::Compare(options) => compare::run(&options),
        Command::Plan(options) => compare::run_plan(&options),
        Command::Trend(options) => trend::run(&options),
        Command::Trace(options) => trace::run(&options),
        Command::Verify(options) => verify::run(&options),
        Command::Amend(options) => amend::run(&options),
        Command::Review(options) => review::run(&options),
        Command::Calibrate(options) => review::run_calibrate(&options),
        Command::Seal(options) => review::run_seal(&options),
        Command::Export(options) => export::run(&options),
        Command::Profile(options) => profile::run(&options),
        Command::Completions(options) => shell::run_completions(&options),
        Command::Man(options) => shell::run_man(&options),
        Command::Explain(options) => explain::run(&options),
    });
    let Ok(outcome) = std::panic::catch_unwind(work) else {
        print::message("error: this program stopped at a fault of its own; please report it");
        return ExitCode::from(ExitStatus::Internal.code());
    };
    let status = outcome.unwrap_or_else(|error| {
        if print::is_broken_pipe(&error) {
            return ExitStatus::Done;
        }
        // Errors of the pipeline already say what caused them.
        let words = match error.downcast_ref::<crate::pipeline::ProcessError>() {
            Some(own) => own.to_string(),
            None => format!("{error:#}"),
        };
        print::message(&format!("error: {words}"));
        match error.downcast_ref::<ProcessError>() {
            Some(error) if error.is_unsound() => ExitStatus::NotVerified,
            Some(error) if !error.is_usage() => ExitStatus::Internal,
            _ => ExitStatus::Usage,
        }
    });
    ExitCode::from(status.code())
}
