//! `doughtrace trend`: control charts of the reference flour.

use super::{Format, print};
use crate::pipeline::{self, TrendRequest, Trended};
use crate::schema::ExitStatus;
use anyhow::Context as _;
use clap::Args;
use std::path::PathBuf;

#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(super) struct Options {
    /// Archive, or an output folder that holds one
    #[arg(long, value_name = "DIR")]
    archive: PathBuf,
    /// Output folder: report.html, charts/, tables/trend.csv; replaced as a whole
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    #[command(flatten)]
    charts: super::charts::Charts,
    /// Lot of the reference flour; may be given several times. Without, every run whose flour_kind is
    /// `reference`
    #[arg(long, value_name = "LOT")]
    lot: Vec<String>,
    /// Metric to chart; may be given several times; the main ones when left out
    #[arg(long, value_name = "ID")]
    metric: Vec<String>,
    /// Freeze the limits of the latest lots, with the reason; they stand in the ledger from then on
    #[arg(long, value_name = "REASON")]
    freeze: Option<String>,
    /// Person; the user name when left out
    #[arg(long, value_name = "NAME")]
    operator: Option<String>,
    /// How the findings are printed
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

const AFTER_HELP: &str = "\
Examples:
  doughtrace trend --archive lab-archive --out reports/trend
  doughtrace trend --archive lab-archive --out reports/trend --freeze \"25 readings in control\" --operator \"A. Analyst\"

Limits come from the ledger where they are frozen, else from a lot's first 25 readings. A new lot \
takes the old lot's limits, moved by what both read on the same days (three or more). Exit code 1 when \
a chart is out of control at its latest reading.";

pub(super) fn run(options: &Options) -> anyhow::Result<ExitStatus> {
    let (who, when) = (super::who(options.operator.as_deref()), super::made_at()?);
    let done = pipeline::trend(&TrendRequest {
        archive: &options.archive,
        lots: &options.lot,
        metrics: &options.metric,
        out: &options.out,
        charts: options.charts.into(),
        freeze: options.freeze.as_deref(),
        who: &who,
        when: &when,
    })?;
    match options.format {
        Format::Json => {
            let value = json_of(options, &done);
            print::data(&serde_json::to_string_pretty(&value).context("write JSON")?)?;
        }
        Format::Csv => {
            let mut rows = vec![
                ["instrument", "metric", "out_now", "words"]
                    .map(String::from)
                    .to_vec(),
            ];
            for trend in &done.trends {
                for words in &trend.sentences {
                    rows.push(vec![
                        trend.series.instrument.clone(),
                        trend.series.metric.id.to_owned(),
                        trend.out_now.to_string(),
                        words.clone(),
                    ]);
                }
            }
            print::data(&print::csv_text(&rows)?)?;
        }
        Format::Human => print_lines(options, &done)?,
    }
    Ok(match done.trends.iter().any(|trend| trend.out_now) {
        true => ExitStatus::Attention,
        false => ExitStatus::Done,
    })
}

fn print_lines(options: &Options, done: &Trended) -> anyhow::Result<()> {
    for trend in &done.trends {
        let standing = match trend.out_now {
            true => "out of control",
            false => "in control",
        };
        print::data(&format!(
            "{} {}: {standing}, {} readings",
            trend.series.instrument,
            trend.series.metric.id,
            trend.series.readings.len()
        ))?;
        for words in &trend.sentences {
            print::data(&format!("  {words}"))?;
        }
    }
    for (instrument, metric, readings) in &done.waiting {
        print::data(&format!(
            "{instrument} {metric}: {readings} readings, too few for limits"
        ))?;
    }
    if options.freeze.is_some() {
        print::data(&format!(
            "{} limits frozen; ledger line {}, {}",
            done.frozen, done.head.seq, done.head.digest
        ))?;
    }
    if done.replaced {
        print::data("The earlier output was replaced.")?;
    }
    print::data(&format!(
        "Report: {} · next: open it in a browser",
        options.out.join("report.html").display()
    ))?;
    Ok(())
}

fn json_of(options: &Options, done: &Trended) -> serde_json::Value {
    let trends: Vec<_> = done
        .trends
        .iter()
        .map(|trend| {
            serde_json::json!({
                "instrument": trend.series.instrument,
                "metric": trend.series.metric.id,
                "readings": trend.series.readings.len(),
                "out_now": trend.out_now,
                "words": trend.sentences,
            })
        })
        .collect();
    serde_json::json!({
        "trends": trends,
        "waiting": done.waiting,
        "frozen": done.frozen,
        "report": options.out.join("report.html").display().to_string(),
        "ledger_head": done.head,
    })
}
