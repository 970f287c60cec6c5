//! Definitions: metrics, parameters, rules, and the words for statuses and levels.

use super::findings::level_words;
use crate::report::DayReport;
use crate::report::prose::{Prose, paragraphs, prose};
use crate::report::wording::{heading, significant, unit_words};
use crate::schema::{Address, Level, MethodCard, MetricCard, RuleCard, Status};
use serde::Serialize;

/// Everything that explains the page.
#[derive(Serialize)]
pub(super) struct Definitions {
    methods: Vec<Method>,
    rules: Vec<Rule>,
    statuses: Vec<Word>,
    levels: Vec<Word>,
    jets: bool,
}

/// A test method.
#[derive(Serialize)]
struct Method {
    id: &'static str,
    name: String,
    metrics: Vec<Metric>,
    parameters: Vec<Parameter>,
}

/// A metric.
#[derive(Serialize)]
pub(in crate::report) struct Metric {
    id: &'static str,
    anchor: String,
    symbol: &'static str,
    name: &'static str,
    unit: &'static str,
    decimals: u8,
    revision: u32,
    definition: Vec<Prose>,
    source: String,
    variants: Vec<Reading>,
    address: String,
}

/// One of several readings.
#[derive(Serialize)]
struct Reading {
    id: &'static str,
    definition: Prose,
}

/// A declared parameter.
#[derive(Serialize)]
struct Parameter {
    name: &'static str,
    value: String,
    meaning: Prose,
}

/// A quality rule.
#[derive(Serialize)]
struct Rule {
    id: &'static str,
    anchor: String,
    title: String,
    level: &'static str,
    revision: u32,
    definition: Vec<Prose>,
    what_to_do: Prose,
    source: String,
    address: String,
    found: usize,
}

/// A word of the page and its meaning.
#[derive(Serialize)]
struct Word {
    word: &'static str,
    meaning: &'static str,
}

/// Returns the definitions of every method that has runs or grades, and of every rule.
pub(super) fn lay_out(report: &DayReport<'_>) -> Definitions {
    let has_runs = |m: &MethodCard| {
        let mut numbers = report.day.results();
        numbers.any(|r| r.test.word() == m.id)
            || report.day.runs.iter().any(|r| r.test.word() == m.id)
    };
    let statuses = Status::ALL.iter();
    let levels = [Level::Reject, Level::Warn, Level::Note];
    Definitions {
        methods: report
            .methods
            .iter()
            .filter(|m| has_runs(m))
            .map(method)
            .collect(),
        rules: report.rules.iter().map(|card| rule(report, card)).collect(),
        statuses: statuses
            .map(|s| Word {
                word: s.word(),
                meaning: s.meaning(),
            })
            .collect(),
        levels: levels
            .map(|level| Word {
                word: level.word(),
                meaning: level_words(level).1,
            })
            .into(),
        jets: touches_jets(report),
    }
}

/// Returns whether a treatment of the day mixes with a water jet, so that its caution is due.
fn touches_jets(report: &DayReport<'_>) -> bool {
    let of_runs = report.day.runs.iter().map(|r| &r.conditions.treatment);
    let of_observations = report.day.observations.iter().map(|o| &o.treatment);
    let treatments = of_runs.chain(of_observations).flatten();
    mentions_jet(treatments.map(String::as_str))
}

/// Returns whether a treatment mixes with a water jet.
pub(in crate::report) fn mentions_jet<'t>(mut treatments: impl Iterator<Item = &'t str>) -> bool {
    treatments.any(|treatment| treatment.to_lowercase().contains("jet"))
}

fn method(card: &MethodCard) -> Method {
    Method {
        id: card.id,
        name: heading(card.name),
        metrics: card.metrics.iter().map(metric).collect(),
        parameters: card
            .parameters
            .iter()
            .map(|p| Parameter {
                name: p.name,
                value: significant(p.value),
                meaning: prose(p.meaning),
            })
            .collect(),
    }
}

/// Returns the definition of a metric.
pub(in crate::report) fn metric(card: &MetricCard) -> Metric {
    let several = card.variants.len() > 1;
    let variants = card.variants.iter().filter(|_| several);
    Metric {
        id: card.id,
        anchor: metric_anchor(card.id),
        symbol: card.symbol,
        name: card.name,
        unit: unit_words(card.unit),
        decimals: card.decimals,
        revision: card.revision,
        definition: paragraphs(card.definition),
        source: card.source.words(),
        variants: variants
            .map(|v| Reading {
                id: v.id,
                definition: prose(v.definition),
            })
            .collect(),
        address: address(&card.address),
    }
}

fn rule(report: &DayReport<'_>, card: &RuleCard) -> Rule {
    Rule {
        id: card.id,
        anchor: rule_anchor(card.id),
        title: heading(card.title),
        level: card.level.word(),
        revision: card.revision,
        definition: paragraphs(card.definition),
        what_to_do: prose(card.what_to_do),
        source: card.source.words(),
        address: address(&card.address),
        found: report.findings.iter().filter(|f| f.rule == card.id).count(),
    }
}

fn address(address: &Address) -> String {
    format!("{}:{}", address.file, address.line)
}

/// Returns the anchor of a metric's definition.
pub(in crate::report) fn metric_anchor(id: &str) -> String {
    format!("metric-{}", anchor_part(id))
}

/// Returns the anchor of a rule's definition.
pub(super) fn rule_anchor(id: &str) -> String {
    format!("rule-{}", anchor_part(id))
}

fn anchor_part(id: &str) -> String {
    let chars = id.chars();
    chars
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .collect()
}
