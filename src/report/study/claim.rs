//! One claim on the page: its line in the table of claims, and its own section.

use super::definitions::question_of;
use super::{StudyReport, contrast_words};
use crate::record::{Claim, ClaimContrast, LeftOut};
use crate::report::figure::Figure;
use crate::report::page::definitions::metric_anchor;
use crate::report::prose::{Prose, prose};
use crate::report::wording::significant;
use crate::schema::{Gate, MetricCard};
use serde::Serialize;
use std::collections::BTreeMap;

/// One claim.
#[derive(Serialize)]
pub(super) struct ClaimPart<'a> {
    anchor: String,
    name: &'a str,
    statement: &'a str,
    question: &'static str,
    kind: &'static str,
    verdict: &'static str,
    /// The verdict the claim would have by itself, where that is another one.
    alone: Option<&'static str>,
    gate: &'static str,
    primary: bool,
    plain: Prose,
    metric: Metric<'a>,
    treatment: &'a str,
    reference: &'a str,
    contrast: Option<Contrast>,
    doughs: (usize, usize),
    blocks: usize,
    doughs_needed: Option<usize>,
    error_term: &'a str,
    planned: Prose,
    refusal: Option<Prose>,
    assumptions: Vec<Checked>,
    warnings: Vec<Prose>,
    inference: Vec<Prose>,
    left_out: Vec<LeftOutFor<'a>>,
    left_out_count: usize,
    figures: Vec<Figure>,
    results: &'a [String],
    claim_id: &'a str,
}

/// The metric of a claim.
#[derive(Serialize)]
struct Metric<'a> {
    id: &'a str,
    /// Name; made of the identifier where the metric is not known here.
    name: String,
    variant: &'a str,
    /// Anchor of its definition, where there is one.
    anchor: Option<String>,
}

/// Estimate and interval.
#[derive(Serialize)]
struct Contrast {
    estimate: String,
    interval: String,
    unit: &'static str,
    confidence: String,
    margin: String,
    df: Option<String>,
    p: Option<String>,
}

/// An assumption that was checked.
#[derive(Serialize)]
struct Checked {
    name: &'static str,
    words: Prose,
    doubtful: bool,
}

/// What was left out for one reason.
#[derive(Serialize)]
struct LeftOutFor<'a> {
    reason: Prose,
    what: Vec<&'a str>,
}

/// Returns the claims of `report`.
pub(super) fn lay_out<'a>(report: &StudyReport<'a>) -> Vec<ClaimPart<'a>> {
    let claims = report.claims.iter().enumerate();
    claims.map(|(i, claim)| part(report, i, claim)).collect()
}

fn part<'a>(report: &StudyReport<'a>, index: usize, claim: &'a Claim) -> ClaimPart<'a> {
    let anchor = format!("claim-{}", index + 1);
    let own = report.charts.iter();
    let own = own.filter(|chart| chart.claim.as_deref() == Some(&claim.name));
    let figures = own
        .enumerate()
        .map(|(i, chart)| Figure::new(format!("{anchor}-chart-{}", i + 1), &chart.picture, None));
    ClaimPart {
        name: &claim.name,
        statement: &claim.statement,
        question: question_of(claim.kind).0,
        kind: claim.kind.word(),
        verdict: claim.verdict.word(),
        alone: (claim.verdict_alone != claim.verdict).then(|| claim.verdict_alone.word()),
        gate: gate_words(claim.gate),
        primary: claim.gate == Gate::Primary,
        plain: prose(&claim.plain),
        metric: metric(report, claim),
        treatment: &claim.treatment,
        reference: &claim.reference,
        contrast: claim.contrast.as_ref().map(contrast),
        doughs: claim.doughs,
        blocks: claim.blocks,
        doughs_needed: claim.doughs_needed,
        error_term: &claim.error_term,
        planned: prose(
            report
                .planned
                .get(index)
                .map_or("Not stated.", String::as_str),
        ),
        refusal: claim.refusal.as_deref().map(prose),
        assumptions: claim
            .assumptions
            .iter()
            .map(|a| Checked {
                name: a.name,
                words: prose(&a.words),
                doubtful: a.doubtful,
            })
            .collect(),
        warnings: claim.warnings.iter().map(|w| prose(w)).collect(),
        inference: claim.inference.iter().map(|w| prose(w)).collect(),
        left_out: by_reason(&claim.exclusions),
        left_out_count: claim.exclusions.len(),
        figures: figures.collect(),
        results: &claim.results,
        claim_id: &claim.claim_id,
        anchor,
    }
}

/// Returns how a claim counts.
fn gate_words(gate: Gate) -> &'static str {
    match gate {
        Gate::Primary => "primary",
        Gate::Open => "secondary",
        Gate::Closed => "secondary; does not count, since the primary claim is not supported",
    }
}

/// Returns the card of the metric called `id`.
pub(super) fn card_of<'a>(report: &StudyReport<'a>, id: &str) -> Option<&'a MetricCard> {
    let methods = report.methods.iter();
    methods.flat_map(|m| &m.metrics).find(|card| card.id == id)
}

fn metric<'a>(report: &StudyReport<'a>, claim: &'a Claim) -> Metric<'a> {
    let card = card_of(report, &claim.metric);
    Metric {
        id: &claim.metric,
        name: card.map_or_else(
            || claim.metric.replace(['.', '_'], " "),
            |card| card.name.to_owned(),
        ),
        variant: &claim.variant,
        anchor: card.map(|card| metric_anchor(card.id)),
    }
}

fn contrast(contrast: &ClaimContrast) -> Contrast {
    let words = contrast_words(contrast);
    Contrast {
        estimate: words.estimate,
        interval: words.interval,
        unit: words.unit,
        confidence: words.confidence,
        margin: words.margin,
        df: contrast
            .df
            .map(|df| significant((df * 10.0).round() / 10.0)),
        p: contrast.p.map(probability),
    }
}

/// Returns a probability with three decimals; a very small one as a bound.
fn probability(p: f64) -> String {
    match p < 0.001 {
        true => "< 0.001".to_owned(),
        false => format!("{p:.3}"),
    }
}

/// Returns what was left out, one line for each reason in the order of the first of each.
fn by_reason(left_out: &[LeftOut]) -> Vec<LeftOutFor<'_>> {
    let mut places: BTreeMap<&str, usize> = BTreeMap::new();
    let mut lines: Vec<LeftOutFor<'_>> = Vec::new();
    for left in left_out {
        let place = *places.entry(&left.reason).or_insert_with(|| {
            lines.push(LeftOutFor {
                reason: prose(&left.reason),
                what: Vec::new(),
            });
            lines.len() - 1
        });
        if let Some(line) = lines.get_mut(place) {
            line.what.push(&left.what);
        }
    }
    lines
}
