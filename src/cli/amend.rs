//! `doughtrace amend`: a correction or exclusion, with its reason and person.

use super::{Format, print};
use crate::pipeline::{self, Amend, Amended, Hand, Target};
use crate::schema::ExitStatus;
use anyhow::Context as _;
use clap::{ArgGroup, Args};
use std::path::PathBuf;

#[derive(Debug, Args)]
#[command(
    after_help = AFTER_HELP,
    group(ArgGroup::new("target").required(true).args(["run", "file"])),
    group(ArgGroup::new("what").required(true).args(["set", "exclude", "include"])),
)]
pub(super) struct Options {
    /// Archive, or an output folder that holds one
    #[arg(long, value_name = "DIR")]
    archive: PathBuf,
    /// Run, by name or identifier
    #[arg(long, value_name = "ID")]
    run: Option<String>,
    /// Every run of a raw file, by name or SHA-256
    #[arg(long, value_name = "NAME")]
    file: Option<String>,
    /// Correct a fact; numbers with a decimal point and in the unit of the field
    #[arg(long, value_name = "FIELD=VALUE")]
    set: Option<String>,
    /// Exclude: the run stays visible, its numbers are rejected
    #[arg(long)]
    exclude: bool,
    /// Take an exclusion back
    #[arg(long)]
    include: bool,
    /// Why
    #[arg(long, value_name = "TEXT")]
    reason: String,
    /// Who decides this
    #[arg(long, value_name = "NAME")]
    operator: String,
    /// How the outcome is printed
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

const AFTER_HELP: &str = "\
Examples:
  doughtrace amend --archive lab --run SM-101 --set flour_moisture_pct=13.1 --reason \"oven repeat\" --operator \"A. Analyst\"
  doughtrace amend --archive lab --run SM-104 --exclude --reason \"bowl not scraped\" --operator \"A. Analyst\"

Nothing is overwritten: the earlier value stays, the dependent results come out anew with \
identifiers of their own, and those they take the place of still trace. Process the day again (or \
`process --rederive`) for a report that shows it.";

pub(super) fn run(options: &Options) -> anyhow::Result<ExitStatus> {
    let target = match (&options.run, &options.file) {
        (Some(run), _) => Target::Run(run.clone()),
        (None, file) => Target::File(file.clone().unwrap_or_default()),
    };
    let what = match (&options.set, options.exclude) {
        (Some(set), _) => Amend::Set(set.clone()),
        (None, true) => Amend::Exclude,
        (None, false) => Amend::Include,
    };
    let when = super::made_at()?;
    let hand = Hand {
        archive: &options.archive,
        who: &options.operator,
        when: &when,
        reason: &options.reason,
    };
    let done = pipeline::amend(&hand, &target, &what)?;
    match options.format {
        Format::Json => {
            print::data(&serde_json::to_string_pretty(&done).context("write JSON")?)?;
        }
        Format::Csv => print::data(&print::csv_text(&rows(&done))?)?,
        Format::Human => {
            for (run, change) in &done.changes {
                print::data(&format!("{run}: {change}"))?;
            }
            print::data(&format!(
                "Ledger line {}; {} results derived anew, each in place of an earlier one.",
                done.seq,
                done.results.len()
            ))?;
            print::data(
                "Next: process the day again with this archive, or `doughtrace process --rederive`, for a report that shows it.",
            )?;
        }
    }
    Ok(ExitStatus::Done)
}

fn rows(done: &Amended) -> Vec<Vec<String>> {
    let mut rows = vec![
        ["old_result_id", "new_result_id"]
            .map(String::from)
            .to_vec(),
    ];
    let pairs = done.results.iter();
    rows.extend(pairs.map(|(old, new)| vec![old.clone(), new.clone()]));
    rows
}
