//! `doughtrace compare` and `doughtrace plan`: claims of a study.

use super::{Format, print};
use crate::compare::Plan;
use crate::pipeline::{self, CompareRequest, Compared, PlanRequest};
use crate::record::Claim;
use crate::schema::ExitStatus;
use anyhow::Context as _;
use clap::Args;
use std::path::PathBuf;

#[derive(Debug, Args)]
#[command(after_help = COMPARE_HELP)]
pub(super) struct Options {
    /// Study file (TOML): archives, factors, reference, claims with their margins
    #[arg(value_name = "STUDY.toml")]
    study: PathBuf,
    /// Output folder: report.html, charts/, tables/claims.csv; replaced as a whole
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    #[command(flatten)]
    charts: super::charts::Charts,
    /// Archive (or output folder that holds one) to read in place of those that the study names; may
    /// be given several times, the first gets the ledger lines
    #[arg(long, value_name = "DIR")]
    archive: Vec<PathBuf>,
    /// Person who compares; the user name when left out
    #[arg(long, value_name = "NAME")]
    operator: Option<String>,
    /// How the claims are printed
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

const COMPARE_HELP: &str = "\
Examples:
  doughtrace compare study.toml --out reports/study
  doughtrace compare study.toml --archive reports/day-1 --archive reports/day-2 --out reports/study

A claim is supported when its interval lies wholly on the right side of the margin, contradicted when \
it lies wholly on the wrong side, and undecided otherwise. Exit code 1 when a claim is contradicted.";

#[derive(Debug, Args)]
#[command(after_help = PLAN_HELP)]
pub(super) struct PlanOptions {
    /// Study file (TOML)
    #[arg(value_name = "STUDY.toml")]
    study: PathBuf,
    /// Run sheet to write: doughs in random order within blocks; a new file
    #[arg(long, value_name = "FILE")]
    sheet: Option<PathBuf>,
    /// Archive in place of those that the study names; its ledger gets the claims on record
    #[arg(long, value_name = "DIR")]
    archive: Vec<PathBuf>,
    /// Person who plans; the user name when left out
    #[arg(long, value_name = "NAME")]
    operator: Option<String>,
    /// How the plan is printed
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

const PLAN_HELP: &str = "\
Examples:
  doughtrace plan study.toml --sheet run-sheet.csv
  doughtrace plan study.toml --archive lab-archive --format json

Run it before the study's files are processed: the ledger then shows that margins, metrics and rules \
were fixed before import. It cannot show more than that.";

pub(super) fn run(options: &Options) -> anyhow::Result<ExitStatus> {
    let (who, when) = (super::who(options.operator.as_deref()), super::made_at()?);
    let done = pipeline::compare(&CompareRequest {
        study: &options.study,
        archives: &options.archive,
        out: &options.out,
        charts: options.charts.into(),
        who: &who,
        when: &when,
    })?;
    print_claims(options, &done)?;
    Ok(match done.any_contradicted() {
        true => ExitStatus::Attention,
        false => ExitStatus::Done,
    })
}

fn print_claims(options: &Options, done: &Compared) -> anyhow::Result<()> {
    let report = options.out.join("report.html").display().to_string();
    match options.format {
        Format::Json => {
            let claims: Vec<_> = done
                .claims
                .iter()
                .zip(&done.planned)
                .map(|(claim, planned)| claim_json(claim, &planned.words()))
                .collect();
            let value = serde_json::json!({
                "claims": claims,
                "results": done.results,
                "report": report,
                "ledger_head": done.head,
            });
            print::data(&serde_json::to_string_pretty(&value).context("write JSON")?)?;
        }
        Format::Csv => {
            let head = [
                "claim", "verdict", "estimate", "low", "high", "unit", "plain",
            ];
            let mut rows = vec![head.map(String::from).to_vec()];
            let number = |v: Option<f64>| v.map(|v| v.to_string()).unwrap_or_default();
            for claim in &done.claims {
                let contrast = claim.contrast.as_ref();
                rows.push(vec![
                    claim.name.clone(),
                    claim.verdict.word().to_owned(),
                    number(contrast.map(|c| c.estimate)),
                    number(contrast.and_then(|c| c.low)),
                    number(contrast.and_then(|c| c.high)),
                    contrast
                        .map(|c| c.unit.word().to_owned())
                        .unwrap_or_default(),
                    claim.plain.clone(),
                ]);
            }
            print::data(&print::csv_text(&rows)?)?;
        }
        Format::Human => {
            for line in pipeline::claim_lines(&done.claims) {
                print::data(&line)?;
            }
            if done.replaced {
                print::data("The earlier output was replaced.")?;
            }
            let head = &done.head;
            print::data(&format!(
                "Report: {report} · next: open it in a browser · ledger line {}, {}",
                head.seq, head.digest
            ))?;
        }
    }
    Ok(())
}

fn claim_json(claim: &Claim, planned: &str) -> serde_json::Value {
    let contrast = claim.contrast.as_ref();
    serde_json::json!({
        "id": claim.claim_id,
        "name": claim.name,
        "statement": claim.statement,
        "kind": claim.kind.word(),
        "verdict": claim.verdict.word(),
        "plain": claim.plain,
        "estimate": contrast.map(|c| c.estimate),
        "low": contrast.and_then(|c| c.low),
        "high": contrast.and_then(|c| c.high),
        "confidence": contrast.map(|c| c.confidence),
        "unit": contrast.map(|c| c.unit.word()),
        "doughs": [claim.doughs.0, claim.doughs.1],
        "blocks": claim.blocks,
        "warnings": claim.warnings,
        "refusal": claim.refusal,
        "planned": planned,
    })
}

pub(super) fn run_plan(options: &PlanOptions) -> anyhow::Result<ExitStatus> {
    let (who, when) = (super::who(options.operator.as_deref()), super::made_at()?);
    let done = pipeline::plan_study(&PlanRequest {
        study: &options.study,
        archives: &options.archive,
        sheet: options.sheet.as_deref(),
        who: &who,
        when: &when,
    })?;
    match options.format {
        Format::Json => {
            let value = plan_json(&done.plan);
            print::data(&serde_json::to_string_pretty(&value).context("write JSON")?)?;
        }
        Format::Csv => print::data(&print::csv_text(&plan_rows(&done.plan))?)?,
        Format::Human => {
            for line in plan_lines(&done.plan) {
                print::data(&line)?;
            }
            if let Some(sheet) = &options.sheet {
                print::data(&format!("Run sheet: {}", sheet.display()))?;
            }
            print::data(&format!(
                "On record in {}, ledger line {}, {} · next: make the doughs in this order, then `doughtrace process` with this archive",
                done.archive.display(),
                done.head.seq,
                done.head.digest
            ))?;
        }
    }
    Ok(ExitStatus::Done)
}

fn plan_lines(plan: &Plan) -> Vec<String> {
    let mut lines = Vec::new();
    for claim in &plan.claims {
        let sd = claim
            .sd
            .map(|sd| format!(", scatter between doughs {sd:.3} ({})", claim.sd_from));
        let sd = sd.unwrap_or_default();
        let reason = claim.reason.as_deref().unwrap_or("");
        lines.push(match (claim.doughs, claim.power) {
            (Some(doughs), Some(power)) => {
                let more = if reason.is_empty() {
                    String::new()
                } else {
                    format!("; {reason}")
                };
                format!(
                    "{}: {doughs} doughs of each method, power {:.0} %{sd}{more}",
                    claim.claim,
                    100.0 * power
                )
            }
            _ => format!("{}: number not known{sd}; {reason}", claim.claim),
        });
    }
    lines.push(format!(
        "The study: {} doughs of each method in {} blocks, {} doughs in all; order by seed {}",
        plan.doughs,
        plan.blocks,
        plan.sheet.len(),
        plan.seed
    ));
    lines
}

fn plan_json(plan: &Plan) -> serde_json::Value {
    let claims: Vec<_> = plan
        .claims
        .iter()
        .map(|claim| {
            serde_json::json!({
                "claim": claim.claim,
                "doughs": claim.doughs,
                "power": claim.power,
                "sd": claim.sd,
                "sd_from": claim.sd_from,
                "expected": claim.expected,
                "alpha": claim.alpha,
                "reason": claim.reason,
            })
        })
        .collect();
    serde_json::json!({
        "claims": claims,
        "doughs_per_treatment": plan.doughs,
        "blocks": plan.blocks,
        "doughs": plan.sheet.len(),
        "seed": plan.seed,
    })
}

fn plan_rows(plan: &Plan) -> Vec<Vec<String>> {
    let head = [
        "order",
        "block",
        "batch_id",
        "treatment",
        "sample_id",
        "hydration_pct",
    ];
    let mut rows = vec![head.map(String::from).to_vec()];
    for row in &plan.sheet {
        rows.push(vec![
            row.order.to_string(),
            row.block.clone(),
            row.batch_id.clone(),
            row.treatment.clone(),
            row.sample_id.clone().unwrap_or_default(),
            row.hydration_pct.map(|w| w.to_string()).unwrap_or_default(),
        ]);
    }
    rows
}
