//! `doughtrace trace`: from a number to its raw bytes, and back.

use super::{Format, print};
use crate::derive::METHODS;
use crate::pipeline::{self, ResultTrace, RunTrace, Trace, find_archive};
use crate::schema::{ExitStatus, ParameterCard};
use anyhow::{Context as _, bail};
use clap::Args;
use std::path::{Path, PathBuf};

#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(super) struct Options {
    /// Result (or its first 8 digits or more), run, raw file's name or SHA-256, report, chart's PNG
    /// or SVG file, certificate or instrument
    id: String,
    /// Archive, or an output folder that holds one
    #[arg(long, value_name = "DIR")]
    archive: PathBuf,
    /// Print the raw lines that each result was read from
    #[arg(long)]
    show_rows: bool,
    /// How the trace is printed
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

const AFTER_HELP: &str = "\
Examples:
  doughtrace trace 9c41d02e7a55 --archive reports/clean-day
  doughtrace trace SM-101 --archive lab-archive --format json
  doughtrace trace SM-101.csv --archive lab-archive
  doughtrace trace reports/clean-day/charts/run-SM-101.png --archive lab-archive";

pub(super) fn run(options: &Options) -> anyhow::Result<ExitStatus> {
    let folder = find_archive(&options.archive)?;
    let reader = crate::archive::Archive::at(&folder)
        .read()
        .map_err(pipeline::ProcessError::from)?;
    if let Some(trouble) = reader.trouble() {
        print::message(&format!(
            "the end of this archive's ledger does not hold: {trouble}"
        ));
    }
    let trace = match is_picture(&options.id) {
        Some(path) => {
            let results = pipeline::results_in_chart(path)?;
            if results.is_empty() {
                bail!(
                    "`{}` carries no results: it is no chart of ours, or a program has removed its text chunks; trace the run by its name",
                    options.id
                );
            }
            pipeline::trace_chart(&reader, &options.id, &results, options.show_rows)?
        }
        None => pipeline::trace(&reader, &options.id, options.show_rows)?,
    };
    match options.format {
        Format::Json => {
            print::data(&serde_json::to_string_pretty(&trace).context("write JSON")?)?;
        }
        Format::Csv => print::data(&print::csv_text(&rows(&trace))?)?,
        Format::Human => {
            for line in lines(&trace) {
                print::data(&line)?;
            }
        }
    }
    Ok(ExitStatus::Done)
}

fn is_picture(id: &str) -> Option<&Path> {
    let path = Path::new(id);
    let chart = path.extension().is_some_and(|e| {
        ["png", "svg"]
            .iter()
            .any(|kind| e.eq_ignore_ascii_case(kind))
    });
    (chart && path.is_file()).then_some(path)
}

fn lines(trace: &Trace) -> Vec<String> {
    let mut lines = vec![format!(
        "{} ({})",
        trace.asked,
        trace.kind.replace('-', " ")
    )];
    for file in &trace.files {
        lines.push(format!(
            "kept file: {}, {} bytes, SHA-256 {}, taken in {} by {} (ledger line {})",
            file.name, file.bytes, file.sha256, file.received, file.who, file.seq
        ));
    }
    for c in &trace.claims {
        lines.push(format!(
            "claim {}: {} (study {}, ledger line {}, {} by {})",
            c.name, c.plain, c.study, c.seq, c.when, c.who
        ));
    }
    for c in &trace.calibrations {
        lines.push(format!(
            "calibration: {} of {}, on {}, due {}, certificate {} (SHA-256 {}), entered by {} (ledger line {})",
            c.what, c.instrument, c.on, c.due, c.certificate, c.sha256, c.who, c.seq
        ));
    }
    for run in &trace.runs {
        lines.push(String::new());
        lines.extend(run_lines(run));
    }
    if trace.runs.is_empty() {
        lines.push("no run in this archive was made from it".to_owned());
    }
    for report in &trace.reports {
        lines.push(String::new());
        lines.push(format!(
            "report {}: {}, version {} of {}, made {} by {} (ledger line {})",
            report.id,
            report.title,
            report.version,
            report.series,
            report.when,
            report.who,
            report.seq
        ));
        if let Some(sha256) = &report.sha256 {
            lines.push(format!("  SHA-256 of its page: {sha256}"));
        }
        if let Some(earlier) = &report.supersedes {
            lines.push(format!("  takes the place of report {earlier}"));
        }
    }
    lines
}

fn run_lines(run: &RunTrace) -> Vec<String> {
    let record = &run.record;
    let mut lines = vec![format!(
        "run {} (derived {} by {} with {}, ledger line {})",
        run.run, record.when, record.who, record.software, record.seq
    )];
    if let Some(later) = run.superseded_by {
        lines.push(format!(
            "  SUPERSEDED: ledger line {later} takes the place of this record"
        ));
    }
    if let Some(excluded) = &run.excluded {
        lines.push(format!(
            "  EXCLUDED by {} on {}: {}",
            excluded.who, excluded.when, excluded.reason
        ));
    }
    for result in &run.results {
        lines.extend(result_lines(result));
    }
    let curve = match run.curve.as_str() {
        "" => String::new(),
        name => format!(" ({name})"),
    };
    if let Some(sha256) = &run.curve_sha256 {
        lines.push(format!("  curve{curve} {sha256}"));
    }
    lines.push(format!(
        "  profile {}, SHA-256 {}",
        run.profile, run.profile_sha256
    ));
    let rows = run
        .rows
        .map(|rows| format!(", lines {} to {}", rows.first, rows.last));
    lines.push(format!(
        "  raw file {}, {} bytes, SHA-256 {}{}, taken in {} by {} (ledger line {})",
        run.raw.name,
        run.raw.bytes,
        run.raw.sha256,
        rows.unwrap_or_default(),
        run.raw.received,
        run.raw.who,
        run.raw.seq
    ));
    lines.push("  stated:".to_owned());
    for s in &run.stated {
        let standing = match (s.in_force, s.agrees) {
            (true, _) => "",
            (false, true) => " [says the same]",
            (false, false) => " [NOT IN FORCE]",
        };
        lines.push(format!(
            "    {} = {} ({}){standing}",
            s.field, s.value, s.origin
        ));
    }
    match run.amendments.as_slice() {
        [] => lines.push("  corrections and exclusions: none".to_owned()),
        all => {
            lines.push("  corrections and exclusions:".to_owned());
            lines.extend(all.iter().map(|words| format!("    {words}")));
        }
    }
    for c in &run.calibrations {
        lines.push(format!(
            "  calibration of {}: {} on {}, due {}, certificate {} (ledger line {})",
            c.instrument, c.what, c.on, c.due, c.certificate, c.seq
        ));
    }
    for r in &run.reviews {
        lines.push(format!(
            "  review: {} by {} on {}: {} {} (ledger line {})",
            r.step, r.who, r.when, r.outcome, r.note, r.seq
        ));
    }
    for report in &run.reports {
        lines.push(format!(
            "  printed in report {}, version {} of {} (ledger line {})",
            report.id, report.version, report.series, report.seq
        ));
    }
    lines
}

fn result_lines(result: &ResultTrace) -> Vec<String> {
    let reading = match result.variant.as_str() {
        "" => String::new(),
        variant => format!(", reading {variant}"),
    };
    let name = result.name.unwrap_or_default();
    let mut lines = vec![
        format!("  result {}: {}", result.id, value_words(result)),
        format!(
            "    {} ({name}) revision {}{reading}",
            result.metric, result.revision
        ),
    ];
    match (result.definition, &result.source) {
        (Some(definition), Some(source)) => {
            lines.push(format!("    definition: {definition}"));
            lines.push(format!("    source: {source}"));
        }
        _ => lines.push("    definition: of another revision than this version's".to_owned()),
    }
    if !result.from_results.is_empty() {
        let ids = result.from_results.join(", ");
        lines.push(format!("    computed from results: {ids}"));
    }
    if !result.parameters.is_empty() {
        lines.push(format!("    parameters: {}", result.parameters));
        lines.extend(spelled_out(result).map(|text| format!("    these settings are: {text}")));
    }
    if let Some(rows) = result.rows {
        lines.push(format!(
            "    read from lines {} to {}",
            rows.first, rows.last
        ));
    }
    if let Some(later) = &result.superseded_by {
        lines.push(format!("    superseded by result {later}"));
    }
    for (number, text) in &result.raw_lines {
        lines.push(format!("    {number:>7} | {text}"));
    }
    lines
}

/// Returns the settings that the result names, where they are those of this version; else the plan
/// of the day, in the ledger line of its derivation, spells them out.
fn spelled_out(result: &ResultTrace) -> Option<String> {
    let method = METHODS
        .iter()
        .find(|method| result.metric.split('.').next() == Some(method.test.word()))?;
    let parameters = (method.card)().parameters;
    let name = ParameterCard::settings_name(&parameters);
    result
        .parameters
        .starts_with(&name)
        .then(|| ParameterCard::text_of(&parameters))
}

fn value_words(result: &ResultTrace) -> String {
    let value = result.printed.clone().unwrap_or_default();
    match result.status.as_str() {
        "exact" => {
            let interval = result.low.zip(result.high).map(|(low, high)| {
                let u = result.std_uncertainty.unwrap_or(0.0);
                let d = usize::from(result.decimals.unwrap_or(6));
                format!(
                    " (95 % interval {low:.d$} to {high:.d$}, u = {u:.0$})",
                    d + 1
                )
            });
            format!("{value} {}{}", result.unit, interval.unwrap_or_default())
        }
        "above" => format!("above {value} {}", result.unit),
        "below" => format!("below {value} {}", result.unit),
        status => format!("{status}: {}", result.reason),
    }
}

/// One line a result.
fn rows(trace: &Trace) -> Vec<Vec<String>> {
    let head = [
        "result_id",
        "metric",
        "revision",
        "variant",
        "status",
        "value",
        "unit",
        "run",
        "superseded_by",
        "row_first",
        "row_last",
        "file",
        "sha256",
        "profile",
        "profile_sha256",
        "ledger_line",
    ];
    let mut rows = vec![head.map(String::from).to_vec()];
    for run in &trace.runs {
        for r in &run.results {
            rows.push(vec![
                r.id.clone(),
                r.metric.clone(),
                r.revision.to_string(),
                r.variant.clone(),
                r.status.clone(),
                r.value.map(|v| v.to_string()).unwrap_or_default(),
                r.unit.clone(),
                run.run.clone(),
                r.superseded_by.clone().unwrap_or_default(),
                r.rows.map(|x| x.first.to_string()).unwrap_or_default(),
                r.rows.map(|x| x.last.to_string()).unwrap_or_default(),
                run.raw.name.clone(),
                run.raw.sha256.to_string(),
                run.profile.clone(),
                run.profile_sha256.to_string(),
                run.record.seq.to_string(),
            ]);
        }
    }
    rows
}
