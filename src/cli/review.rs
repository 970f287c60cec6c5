//! `doughtrace review`, `calibrate` and `seal`: what people add to the ledger.

use super::print;
use crate::pipeline::{self, Hand, NewCalibration};
use crate::schema::ExitStatus;
use clap::{Args, ValueEnum};
use std::path::PathBuf;

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  doughtrace review SM-101 --archive lab-archive --as checked --operator \"B. Checker\"
  doughtrace review 2026-03-12 --archive lab-archive --as approved --outcome accepted --operator \"C. Head\"")]
pub(super) struct Options {
    /// Run, report's identifier (or 8 digits of it or more), or name of a day folder
    of: String,
    /// Archive, or an output folder that holds one
    #[arg(long, value_name = "DIR")]
    archive: PathBuf,
    /// What the person did
    #[arg(long = "as", value_enum)]
    step: Step,
    /// With which outcome
    #[arg(long, value_enum, default_value_t)]
    outcome: Outcome,
    /// Remark
    #[arg(long, value_name = "TEXT", default_value = "")]
    note: String,
    /// Who
    #[arg(long, value_name = "NAME")]
    operator: String,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Step {
    /// Made it
    Prepared,
    /// Looked it through
    Checked,
    /// Released it
    Approved,
}

#[derive(Debug, Clone, Copy, ValueEnum, Default)]
enum Outcome {
    /// It may be used
    #[default]
    Accepted,
    /// It must be worked on
    Returned,
}

pub(super) fn run(options: &Options) -> anyhow::Result<ExitStatus> {
    let step = match options.step {
        Step::Prepared => "prepared",
        Step::Checked => "checked",
        Step::Approved => "approved",
    };
    let outcome = match options.outcome {
        Outcome::Accepted => "accepted",
        Outcome::Returned => "returned",
    };
    let when = super::made_at()?;
    let hand = Hand {
        archive: &options.archive,
        who: &options.operator,
        when: &when,
        reason: &options.note,
    };
    let (seq, of) = pipeline::review(&hand, &options.of, step, outcome)?;
    print::data(&format!(
        "{of}: {step} by {}, {outcome}; ledger line {seq}. The next report of this day shows it.",
        options.operator
    ))?;
    Ok(ExitStatus::Done)
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  doughtrace calibrate mixer-1 --archive lab-archive --what torque --on 2026-01-12 --due 2027-01-12 --certificate certificate.pdf --operator \"A. Analyst\"")]
pub(super) struct CalibrateOptions {
    /// Instrument, as run sheets and files name it
    instrument: String,
    /// Archive, or an output folder that holds one
    #[arg(long, value_name = "DIR")]
    archive: PathBuf,
    /// What was calibrated
    #[arg(long, value_name = "TEXT")]
    what: String,
    /// Day of the calibration, YYYY-MM-DD
    #[arg(long, value_name = "DAY")]
    on: String,
    /// Last day on which it holds, YYYY-MM-DD
    #[arg(long, value_name = "DAY")]
    due: String,
    /// Certificate file; it is kept as it is
    #[arg(long, value_name = "FILE")]
    certificate: PathBuf,
    /// Who enters it
    #[arg(long, value_name = "NAME")]
    operator: String,
}

pub(super) fn run_calibrate(options: &CalibrateOptions) -> anyhow::Result<ExitStatus> {
    let when = super::made_at()?;
    let hand = Hand {
        archive: &options.archive,
        who: &options.operator,
        when: &when,
        reason: "",
    };
    let new = NewCalibration {
        instrument: &options.instrument,
        what: &options.what,
        on: &options.on,
        due: &options.due,
        certificate: &options.certificate,
    };
    let seq = pipeline::calibrate(&hand, &new)?;
    print::data(&format!(
        "{}: calibrated {}, due {}; ledger line {seq}. Runs outside its calibrations carry a finding from the next report on.",
        options.instrument, options.on, options.due
    ))?;
    Ok(ExitStatus::Done)
}

#[derive(Debug, Args)]
#[command(after_help = SEAL_HELP)]
pub(super) struct SealOptions {
    /// Archive, or an output folder that holds one
    #[arg(long, value_name = "DIR")]
    archive: PathBuf,
    /// Private key: Ed25519, PKCS #8, PEM
    #[arg(long, value_name = "FILE")]
    key: PathBuf,
    /// Who seals
    #[arg(long, value_name = "NAME")]
    operator: String,
}

const SEAL_HELP: &str = "\
Examples:
  doughtrace seal --archive lab-archive --key key.pem --operator \"A. Analyst\"

A key pair is made with any program that knows Ed25519, for example:
  openssl genpkey -algorithm ed25519 -out key.pem
  openssl pkey -in key.pem -pubout -out pubkey.pem

What a seal proves: the holder of the key had this ledger line, and so every line and byte up to it, \
and nothing up to it was changed since. What it does not prove: who holds the key, when the seal was \
made (the time is the sealer's own statement), that the contents are right, or anything about later \
lines. Check it with `verify --trust pubkey.pem`, the public key handed over by another way. A tool \
can support compliance; only a laboratory can be compliant.";

pub(super) fn run_seal(options: &SealOptions) -> anyhow::Result<ExitStatus> {
    let when = super::made_at()?;
    let hand = Hand {
        archive: &options.archive,
        who: &options.operator,
        when: &when,
        reason: "",
    };
    let (seq, key) = pipeline::seal(&hand, &options.key)?;
    print::data(&format!(
        "Sealed: ledger line {seq} signs all lines before it, with the key {key}. Check with `doughtrace verify --trust PUBKEY.pem`."
    ))?;
    Ok(ExitStatus::Done)
}
