//! Cards: the declared, printable part of a metric, a rule or a method.

use super::id::Digest;
use super::status::Level;
use super::unit::Unit;
use serde::Serialize;

/// How well a statement is supported, in the words of the project's handbook.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Evidence {
    /// Public text says so.
    Published,
    /// Follows by algebra from a stated line.
    Derived,
    /// From memory of the standard, high confidence; not checked against its text.
    FromMemoryHigh,
    /// From memory of the standard, medium confidence; not checked against its text.
    FromMemoryMedium,
    /// Common practice of the trade, no source.
    CommonPractice,
    /// A decision of this project: a visible, versioned parameter.
    ProjectChoice,
}

impl Evidence {
    /// Returns the words printed beside a definition.
    pub fn words(self) -> &'static str {
        match self {
            Evidence::Published => "published text",
            Evidence::Derived => "derived by algebra",
            Evidence::FromMemoryHigh => "from memory, high confidence",
            Evidence::FromMemoryMedium => "from memory, medium confidence",
            Evidence::CommonPractice => "common practice, no source",
            Evidence::ProjectChoice => "choice of this project",
        }
    }
}

/// Where a definition comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Source {
    /// Standard or publication the rule is modelled on.
    pub standard: &'static str,
    /// Clause or heading.
    pub clause: &'static str,
    /// How well it is supported.
    pub evidence: Evidence,
}

impl Source {
    /// Returns the line printed in `explain` and in the report.
    pub fn words(&self) -> String {
        match self.evidence {
            Evidence::ProjectChoice | Evidence::CommonPractice => self.evidence.words().to_owned(),
            _ => format!(
                "modelled on {}, {} ({}); check against the standard's text",
                self.standard,
                self.clause,
                self.evidence.words()
            ),
        }
    }
}

/// Where in this project's source an item is declared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Address {
    /// Source file.
    pub file: &'static str,
    /// Line of the declaration.
    pub line: u32,
}

/// One of several published readings of the same metric.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Variant {
    /// Word stored in the `variant` column; empty for the only reading.
    pub id: &'static str,
    /// What differs.
    pub definition: &'static str,
}

/// The declaration of a metric, without its function.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct MetricCard {
    /// Identifier, `method.metric`; never reused.
    pub id: &'static str,
    /// Trade symbol.
    pub symbol: &'static str,
    /// Trade name.
    pub name: &'static str,
    /// Unit of the value.
    pub unit: Unit,
    /// Decimals printed.
    pub decimals: u8,
    /// Revision of the definition; a changed definition raises it.
    pub revision: u32,
    /// Where the definition comes from.
    pub source: Source,
    /// The definition, as its doc comment says it.
    pub definition: &'static str,
    /// Readings, the default first; one unnamed reading for most metrics.
    pub variants: &'static [Variant],
    /// Where it is declared.
    pub address: Address,
}

impl MetricCard {
    /// Returns `value` with the declared decimals.
    pub fn format(&self, value: f64) -> String {
        format!("{:.*}", usize::from(self.decimals), value)
    }
}

/// The declaration of a quality rule, without its function.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct RuleCard {
    /// Identifier, `method.rule`; never reused.
    pub id: &'static str,
    /// Short name.
    pub title: &'static str,
    /// Level of its findings (a rule may lower it when it says why).
    pub level: Level,
    /// Revision of the rule.
    pub revision: u32,
    /// Where the limit comes from.
    pub source: Source,
    /// What is checked and against which limit.
    pub definition: &'static str,
    /// What the analyst should do next.
    pub what_to_do: &'static str,
    /// Where it is declared.
    pub address: Address,
}

/// A declared parameter of a method: smoothing, window, hysteresis, limit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ParameterCard {
    /// Name, with its unit as ending.
    pub name: &'static str,
    /// Value used.
    pub value: f64,
    /// What it does and where it comes from.
    pub meaning: &'static str,
}

impl ParameterCard {
    /// Returns the parameters as one canonical text: name and value of each, in their order.
    pub fn text_of(cards: &[ParameterCard]) -> String {
        let parts: Vec<String> = cards
            .iter()
            .map(|card| format!("{}={}", card.name, card.value))
            .collect();
        parts.join("; ")
    }

    /// Returns the short name of a set of parameters, `settings ` and twelve hexadecimal digits of
    /// the digest of [`ParameterCard::text_of`]. Results carry it; the plan of the day and
    /// `explain` spell it out.
    pub fn settings_name(cards: &[ParameterCard]) -> String {
        let digest = Digest::of(ParameterCard::text_of(cards).as_bytes());
        format!("settings {}", &digest.as_str()[..12])
    }
}

/// A test method: its metrics and parameters as `explain` and the report list them.
#[derive(Debug, Clone, Serialize)]
pub struct MethodCard {
    /// Identifier of the method: the word of its test.
    pub id: &'static str,
    /// Name for people.
    pub name: &'static str,
    /// Metrics in report order.
    pub metrics: Vec<MetricCard>,
    /// Parameters.
    pub parameters: Vec<ParameterCard>,
}
