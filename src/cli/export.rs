//! `doughtrace export`: an archive as files that need no program of ours.

use super::print;
use crate::pipeline::{self, ExportForm, Hand};
use crate::schema::ExitStatus;
use clap::{Args, ValueEnum};
use std::path::PathBuf;

#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(super) struct Options {
    /// Archive, or an output folder that holds one
    #[arg(long, value_name = "DIR")]
    archive: PathBuf,
    /// Folder for the export; new or empty
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// What is written
    #[arg(long = "as", value_enum)]
    form: Form,
    /// For whom or why; it is kept in the ledger
    #[arg(long, value_name = "TEXT", default_value = "")]
    note: String,
    /// Person who hands it over; the user name when left out
    #[arg(long, value_name = "NAME")]
    operator: Option<String>,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Form {
    /// Originals, tables (CSV and Parquet) and ledger with RO-Crate 1.1 metadata
    RoCrate,
    /// Tables in force as Parquet
    Parquet,
    /// Tables in force as CSV
    Csv,
    /// One workbook for a spreadsheet: tables in force, units, definitions
    Xlsx,
}

const AFTER_HELP: &str = "\
Examples:
  doughtrace export --archive lab-archive --out hand-over --as ro-crate --note \"for the customer\"
  doughtrace export --archive reports/clean-day --out tables --as csv

Tables hold what is in force; results that others took the place of stand in superseded-results. \
Every export has a list of digests; whoever receives it checks it without this program:
  cd EXPORT && sha256sum -c SHA256SUMS
The list's own digest is in the archive's ledger.";

pub(super) fn run(options: &Options) -> anyhow::Result<ExitStatus> {
    let when = super::made_at()?;
    let who = super::who(options.operator.as_deref());
    let hand = Hand {
        archive: &options.archive,
        who: &who,
        when: &when,
        reason: &options.note,
    };
    let form = match options.form {
        Form::RoCrate => ExportForm::RoCrate,
        Form::Parquet => ExportForm::Parquet,
        Form::Csv => ExportForm::Csv,
        Form::Xlsx => ExportForm::Workbook,
    };
    let done = pipeline::export(&hand, &options.out, form)?;
    print::data(&format!(
        "{} files, {} results in force, {} superseded; ledger line {}. Check it anywhere: cd {} && sha256sum -c SHA256SUMS",
        done.files,
        done.results,
        done.superseded,
        done.seq,
        done.folder.display()
    ))?;
    Ok(ExitStatus::Done)
}
