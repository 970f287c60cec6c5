//! Quality rules: what must be looked at or redone, and what to do next.
//!
//! One declared item per rule. A rule judges facts and results that derivation left in the record;
//! it computes no metric and reads no file.

mod archive;
mod extension;
mod firmness;
mod heating;
mod inflation;
mod linkage;
mod loaf;
mod membrane;
mod mixer_log;
mod mixer_log_signal;
mod mixing_conditions;
mod mixing_signal;
mod pin_mixing;
mod record;
mod strip;
mod subsamples;
mod trend;
mod uptake;

use crate::record::{Day, Finding, RunRecord};
use crate::schema::{Level, Purpose, RuleCard, Test};

/// A quality rule: its card, and the function that looks.
pub struct Rule {
    /// The printable declaration.
    pub card: RuleCard,
    /// How it looks.
    pub look: Look,
}

/// What a rule looks at.
pub enum Look {
    /// One run at a time.
    Run(fn(&RunRecord) -> Vec<Seen>),
    /// The day as a whole.
    Day(fn(&Day) -> Vec<Seen>),
}

/// Something a rule saw.
#[derive(Debug, Clone, Default)]
pub struct Seen {
    /// Index of the run in the day, for rules that look at the whole day.
    pub run: Option<usize>,
    /// File, when it is not the run's.
    pub file: Option<String>,
    /// Line of the file.
    pub row: Option<u64>,
    /// Level, when it differs from the card's.
    pub level: Option<Level>,
    /// What was seen, with the numbers.
    pub words: String,
    /// What to do, when more can be said than the card says.
    pub what_to_do: Option<String>,
}

impl Seen {
    /// Returns something seen, in words.
    pub fn new(words: String) -> Seen {
        Seen {
            words,
            ..Seen::default()
        }
    }

    /// Returns it at the given line of the file.
    pub fn at_row(mut self, row: u64) -> Seen {
        self.row = Some(row);
        self
    }

    /// Returns it at a level of its own.
    pub fn at_level(mut self, level: Level) -> Seen {
        self.level = Some(level);
        self
    }

    /// Returns it with its own next step.
    pub fn then(mut self, what_to_do: String) -> Seen {
        self.what_to_do = Some(what_to_do);
        self
    }
}

/// Returns what a rule sees of a record whose abscissa steps back, if it judges the run at all:
/// `words` of the line of the first step and the number of steps.
fn seen_stepping_back(
    run: &RunRecord,
    judged: bool,
    words: impl Fn(u64, usize) -> String,
) -> Vec<Seen> {
    let steps = &run.facts.time_steps_back;
    match steps.first().filter(|_| judged) {
        Some(first) => {
            let line = run.lines.line(*first);
            vec![Seen::new(words(line, steps.len())).at_row(line)]
        }
        None => Vec::new(),
    }
}

fn is_mixing(run: &RunRecord) -> bool {
    run.test == Test::Mixing
}

/// Some rules are strict for runs whose numbers are reported, and a warning for all others.
fn strict_for_final(run: &RunRecord) -> Level {
    if run.conditions.purpose == Some(Purpose::Final) {
        Level::Reject
    } else {
        Level::Warn
    }
}

/// Returns the least and the greatest of several runs' values, each with the run's index.
fn extremes(runs: &[(usize, f64)]) -> Option<((usize, f64), (usize, f64))> {
    let low = runs.iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
    let high = runs.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    Some((*low, *high))
}

/// Declares a rule: its doc comment is the definition that `explain` prints.
macro_rules! rule {
    (
        $(#[doc = $doc:literal])+
        $name:ident {
            id: $id:literal, title: $title:literal, level: $level:ident, revision: $revision:literal,
            source: ($standard:literal, $clause:literal, $evidence:ident),
            what_to_do: $todo:literal,
            look: $kind:ident($look:path) $(,)?
        }
    ) => {
        $(#[doc = $doc])+
        pub static $name: $crate::check::Rule = $crate::check::Rule {
            card: $crate::schema::RuleCard {
                id: $id, title: $title, level: $crate::schema::Level::$level, revision: $revision,
                source: $crate::schema::Source {
                    standard: $standard, clause: $clause,
                    evidence: $crate::schema::Evidence::$evidence,
                },
                definition: concat!($($doc),+).trim_ascii(),
                what_to_do: $todo,
                address: $crate::schema::Address { file: file!(), line: line!() },
            },
            look: $crate::check::Look::$kind($look),
        };
    };
}
pub(crate) use rule;

/// Every rule, in report order.
pub fn rules() -> Vec<&'static Rule> {
    [
        archive::RULES,
        trend::RULES,
        linkage::RULES,
        mixing_conditions::RULES,
        mixing_signal::RULES,
        record::RULES,
        pin_mixing::RULES,
        heating::RULES,
        extension::RULES,
        strip::RULES,
        inflation::RULES,
        membrane::RULES,
        uptake::RULES,
        loaf::RULES,
        firmness::RULES,
        mixer_log_signal::RULES,
        mixer_log::RULES,
    ]
    .concat()
}

/// Returns what every rule found in `day`, ordered by rule and then by run.
pub fn check(day: &Day) -> Vec<Finding> {
    let mut findings = Vec::new();
    for rule in rules() {
        match rule.look {
            Look::Run(look) => {
                for run in &day.runs {
                    for seen in look(run) {
                        findings.push(finding(rule, Some(run), seen));
                    }
                }
            }
            Look::Day(look) => {
                for seen in look(day) {
                    let run = seen.run.and_then(|index| day.runs.get(index));
                    findings.push(finding(rule, run, seen));
                }
            }
        }
    }
    findings
}

fn finding(rule: &Rule, run: Option<&RunRecord>, seen: Seen) -> Finding {
    let level = seen.level.unwrap_or(rule.card.level);
    // Nothing of an excluded run is used, so nothing about it asks for anything to be done.
    let excluded = run.is_some_and(|run| run.excluded.is_some());
    Finding {
        rule: rule.card.id,
        revision: rule.card.revision,
        level: if excluded { Level::Note } else { level },
        file: seen
            .file
            .or_else(|| run.map(|r| r.file.name.clone()))
            .unwrap_or_default(),
        run_id: run.map(|r| r.id.clone()),
        row: seen.row,
        words: seen.words,
        what_to_do: seen
            .what_to_do
            .unwrap_or_else(|| rule.card.what_to_do.to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rule_has_its_own_identifier_a_definition_and_a_next_step() {
        let mut seen = std::collections::BTreeSet::new();
        for rule in rules() {
            assert!(seen.insert(rule.card.id), "{} twice", rule.card.id);
            assert!(rule.card.definition.len() > 20, "{}", rule.card.id);
            assert!(rule.card.what_to_do.len() > 10, "{}", rule.card.id);
            assert!(
                rule.card.address.file.starts_with("src/check/"),
                "{}",
                rule.card.address.file
            );
        }
    }
}
