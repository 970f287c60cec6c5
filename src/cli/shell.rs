//! `doughtrace completions` and `doughtrace man`: what a shell and a reader of manuals want.

use super::print;
use crate::schema::ExitStatus;
use anyhow::{Context as _, bail};
use clap::Args;
use clap_complete::Shell;
use std::path::PathBuf;

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  doughtrace completions bash > ~/.local/share/bash-completion/completions/doughtrace
  doughtrace completions zsh > ~/.zfunc/_doughtrace")]
pub(super) struct CompletionOptions {
    /// Shell
    #[arg(value_enum)]
    shell: Shell,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  doughtrace man process | man -l -
  doughtrace man --out ~/.local/share/man/man1")]
pub(super) struct ManOptions {
    /// Command; the program itself when left out
    command: Option<String>,
    /// Folder to write the pages of all commands into
    #[arg(long, value_name = "DIR", conflicts_with = "command")]
    out: Option<PathBuf>,
}

pub(super) fn run_completions(options: &CompletionOptions) -> anyhow::Result<ExitStatus> {
    let mut text = Vec::new();
    clap_complete::generate(
        options.shell,
        &mut super::declared(),
        "doughtrace",
        &mut text,
    );
    print_text(&text)
}

pub(super) fn run_man(options: &ManOptions) -> anyhow::Result<ExitStatus> {
    let mut command = super::declared();
    command.build();
    if let Some(folder) = &options.out {
        std::fs::create_dir_all(folder)
            .with_context(|| format!("make folder {}", folder.display()))?;
        let own = command.get_subcommands().filter(|c| c.get_name() != "help");
        for page in std::iter::once(&command).chain(own) {
            let name = format!("{}.1", page_name(page));
            let path = folder.join(&name);
            std::fs::write(&path, man_page(page)?)
                .with_context(|| format!("write {}", path.display()))?;
            print::data(&path.display().to_string())?;
        }
        return Ok(ExitStatus::Done);
    }
    let page = match &options.command {
        None => &command,
        Some(name) => match command.find_subcommand(name) {
            Some(found) => found,
            None => {
                let names = command.get_subcommands().map(clap::Command::get_name);
                let known: Vec<&str> = names.filter(|name| *name != "help").collect();
                bail!(
                    "found command `{name}`; expected one of {}",
                    known.join(", ")
                );
            }
        },
    };
    print_text(&man_page(page)?)
}

/// Returns the name of a page: `doughtrace`, `doughtrace-process`, ….
fn page_name(command: &clap::Command) -> String {
    let name = command.get_display_name().unwrap_or(command.get_name());
    name.to_owned()
}

fn man_page(command: &clap::Command) -> anyhow::Result<Vec<u8>> {
    let mut text = Vec::new();
    clap_mangen::Man::new(command.clone())
        .render(&mut text)
        .context("write the manual page")?;
    Ok(text)
}

fn print_text(text: &[u8]) -> anyhow::Result<ExitStatus> {
    print::data(String::from_utf8_lossy(text).trim_end())?;
    Ok(ExitStatus::Done)
}
