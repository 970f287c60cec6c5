//! `doughtrace verify`: whether an archive is what was written, and its numbers what it gives.

use super::{Format, print};
use crate::archive::{Head, TrustedKey, VerifyOptions};
use crate::pipeline::{self, Miss, Verified, open_archive};
use crate::schema::{Digest, ExitStatus};
use anyhow::{Context as _, anyhow};
use clap::Args;
use std::path::PathBuf;

#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(super) struct Options {
    /// Archive, or an output folder that holds one
    #[arg(long, value_name = "DIR")]
    archive: PathBuf,
    /// Line that a report or letter states, as LINE:DIGEST; the ledger must still hold it
    #[arg(long, value_name = "LINE:DIGEST", value_parser = head)]
    head: Vec<Head>,
    /// Public key (PEM) that you trust: says whose seals are
    #[arg(long, value_name = "PUBKEY.pem")]
    trust: Vec<PathBuf>,
    /// How the outcome is printed
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

const AFTER_HELP: &str = "\
Examples:
  doughtrace verify --archive reports/clean-day
  doughtrace verify --archive lab-archive --trust pubkey.pem

Every kept file is hashed again, every ledger line walked, every result computed again from the raw \
bytes and compared with the kept one. Exit code 3 when anything does not hold.

This finds any change to what was kept. It cannot know of a ledger that was written anew as a whole: \
compare the head with the one printed in a report (--head) or seal the ledger (`seal`, --trust). It \
says nothing of what was never handed in. A tool can support compliance; only a laboratory can be \
compliant.";

fn head(text: &str) -> Result<Head, String> {
    let wrong = || format!("found `{text}`, expected LINE:DIGEST as a report prints it");
    let (seq, digest) = text.split_once(':').ok_or_else(wrong)?;
    Ok(Head {
        seq: seq.parse().map_err(|_| wrong())?,
        digest: Digest::parse(digest).map_err(|_| wrong())?,
    })
}

pub(super) fn run(options: &Options) -> anyhow::Result<ExitStatus> {
    let archive = open_archive(&options.archive)?;
    let mut trusted_keys = Vec::new();
    for path in &options.trust {
        let text = std::fs::read_to_string(path)
            .with_context(|| format!("read key `{}`", path.display()))?;
        trusted_keys.push(TrustedKey::from_pem(&text).map_err(|e| anyhow!("{e}"))?);
    }
    let settings = VerifyOptions {
        threads: std::thread::available_parallelism().map_or(1, usize::from),
        trusted_keys,
        stated_heads: options.head.clone(),
    };
    let found = pipeline::verify(&archive, &settings)?;
    match options.format {
        Format::Json => {
            let mut value = serde_json::to_value(&found).context("write JSON")?;
            if let Some(object) = value.as_object_mut() {
                object.insert("verified".into(), found.holds().into());
            }
            print::data(&serde_json::to_string_pretty(&value).context("write JSON")?)?;
        }
        Format::Csv => print::data(&print::csv_text(&rows(&found))?)?,
        Format::Human => {
            for line in lines(&found, !options.trust.is_empty()) {
                print::data(&line)?;
            }
        }
    }
    Ok(match found.holds() {
        true => ExitStatus::Done,
        false => ExitStatus::NotVerified,
    })
}

/// Lines of one kind printed to people at most; JSON and CSV have them all.
const MOST_LINES: usize = 50;

fn lines(found: &Verified, asked_for_trust: bool) -> Vec<String> {
    let chain = &found.chain;
    let numbers = &found.recomputed;
    let mut lines = Vec::new();
    let failures = failures(found);
    match failures.first() {
        None => lines.push("The archive verifies.".to_owned()),
        Some(first) => {
            lines.push(format!(
                "THE ARCHIVE DOES NOT VERIFY. First failure: {first}"
            ));
            let others = failures.iter().skip(1).take(MOST_LINES);
            lines.extend(others.map(|failure| format!("also: {failure}")));
            if failures.len() > MOST_LINES + 1 {
                let more = failures.len() - MOST_LINES - 1;
                lines.push(format!("and {more} more: see --format json"));
            }
        }
    }
    lines.push(format!(
        "{} ledger lines, {} kept files ({} bytes) hashed again; head: {}:{}",
        chain.events, chain.files, chain.bytes, chain.head.seq, chain.head.digest
    ));
    lines.push(format!(
        "{} results of {} runs computed again: {} bit for bit, {} within their decimals, {} not recomputable by this version, {} failed",
        numbers.results,
        numbers.runs,
        numbers.bit_for_bit,
        numbers.within_decimals,
        numbers.not_recomputable.len(),
        numbers.failures.len()
    ));
    let old = numbers.not_recomputable.iter();
    lines.extend(
        old.take(MOST_LINES)
            .map(|miss| format!("not recomputable: {miss}")),
    );
    lines.extend(
        chain
            .notices
            .iter()
            .map(|notice| format!("notice: {notice}")),
    );
    for seal in &chain.seals {
        let whose = match (seal.trusted, asked_for_trust) {
            (true, _) => "by a key that you trust",
            (false, true) => "by ANOTHER key than those you trust",
            (false, false) => "by a key that nobody vouched for; name yours with --trust",
        };
        lines.push(format!(
            "seal on line {}: covers lines 1 to {}, {whose} ({}), {} by {}",
            seal.seq, seal.covers.seq, seal.public_key, seal.when, seal.who
        ));
    }
    lines
}

fn failures(found: &Verified) -> Vec<String> {
    let chain = found.chain.failures.iter().map(ToString::to_string);
    let numbers = found.recomputed.failures.iter().map(ToString::to_string);
    chain.chain(numbers).collect()
}

fn rows(found: &Verified) -> Vec<Vec<String>> {
    let mut rows = vec![["kind", "words"].map(String::from).to_vec()];
    let mut add = |kind: &str, words: String| rows.push(vec![kind.to_owned(), words]);
    failures(found).into_iter().for_each(|f| add("failure", f));
    let old: &Vec<Miss> = &found.recomputed.not_recomputable;
    old.iter()
        .for_each(|miss| add("not-recomputable", miss.to_string()));
    let notices = &found.chain.notices;
    notices
        .iter()
        .for_each(|notice| add("notice", notice.to_string()));
    rows
}
