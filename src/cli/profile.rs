//! `doughtrace profile`: import profiles, and why one does or does not fit a file.

use super::{Format, print};
use crate::intake::{self, Fit};
use crate::profile::{self, BUILTIN_TEXTS, Profile};
use crate::schema::ExitStatus;
use anyhow::{Context as _, bail};
use clap::{Args, Subcommand};
use std::path::{Path, PathBuf};

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  doughtrace profile list
  doughtrace profile show mixing-semicolon
  doughtrace profile check day/SM-101.csv")]
pub(super) struct Options {
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, Subcommand)]
enum Action {
    /// List the built-in profiles
    List {
        /// How the list is printed
        #[arg(long, value_enum, default_value_t)]
        format: Format,
    },
    /// Print a built-in profile as TOML, to start one of your own from
    Show {
        /// Identifier of the profile
        id: String,
    },
    /// Say of every profile why it does or does not fit a file
    Check {
        /// Raw file
        file: PathBuf,
        /// Folder of your own profiles
        #[arg(long, value_name = "DIR")]
        profiles: Option<PathBuf>,
    },
}

pub(super) fn run(options: &Options) -> anyhow::Result<ExitStatus> {
    match &options.action {
        Action::List { format } => list(*format),
        Action::Show { id } => show(id),
        Action::Check { file, profiles } => check(file, profiles.as_deref()),
    }
}

fn list(format: Format) -> anyhow::Result<ExitStatus> {
    let profiles = profile::builtin()?;
    let row = |p: &Profile| {
        vec![
            p.id.clone(),
            p.record_word().to_owned(),
            p.title.clone(),
            p.digest.to_string(),
        ]
    };
    match format {
        Format::Human => {
            for p in &profiles {
                print::data(&format!("{:28} {:18} {}", p.id, p.record_word(), p.title))?;
            }
        }
        Format::Csv => {
            let head = ["id", "record", "title", "sha256"]
                .map(String::from)
                .to_vec();
            let rows: Vec<Vec<String>> = std::iter::once(head)
                .chain(profiles.iter().map(row))
                .collect();
            print::data(&print::csv_text(&rows)?)?;
        }
        Format::Json => {
            let values: Vec<serde_json::Value> = profiles
                .iter()
                .map(|p| {
                    serde_json::json!({
                        "id": p.id, "record": p.record_word(), "title": p.title,
                        "sha256": p.digest.as_str(),
                    })
                })
                .collect();
            print::data(&serde_json::to_string_pretty(&values).context("write JSON")?)?;
        }
    }
    Ok(ExitStatus::Done)
}

fn show(id: &str) -> anyhow::Result<ExitStatus> {
    let profiles = profile::builtin()?;

    match BUILTIN_TEXTS.iter().find(|(name, _)| *name == id) {
        Some((_, text)) => print::data(text.trim_end())?,
        None => {
            let known: Vec<&str> = profiles.iter().map(|p| p.id.as_str()).collect();
            bail!(
                "profile `{id}` is not built in; known profiles: {}",
                known.join(", ")
            );
        }
    }
    Ok(ExitStatus::Done)
}

fn check(file: &Path, own: Option<&Path>) -> anyhow::Result<ExitStatus> {
    let bytes = std::fs::read(file).with_context(|| format!("read `{}`", file.display()))?;
    let mut profiles = match own {
        Some(folder) => crate::pipeline::read_own_profiles(folder)?,
        None => Vec::new(),
    };
    profiles.extend(profile::builtin()?);
    let fits: Vec<Fit> = profiles
        .iter()
        .map(|p| intake::explain_fit(p, &bytes))
        .collect();
    for fit in &fits {
        let verdict = if fit.fits() { "fits" } else { "does not fit" };
        print::data(&format!(
            "{}: {verdict} (specificity {})",
            fit.profile, fit.specificity
        ))?;
        for reason in &fit.reasons {
            print::data(&format!("    {reason}"))?;
        }
    }
    match intake::select(&profiles, &file.display().to_string(), &bytes) {
        Ok(best) => {
            print::data(&format!(
                "{} is read with profile {}",
                file.display(),
                best.id
            ))?;
            Ok(ExitStatus::Done)
        }
        Err(fault) => {
            print::data(&fault.to_string())?;
            Ok(ExitStatus::Usage)
        }
    }
}
