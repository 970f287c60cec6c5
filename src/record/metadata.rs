//! Facts stated about a run, each with the place that states it.

use crate::schema::Field;
use serde::Serialize;
use std::collections::BTreeMap;

/// Where a fact was stated.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum Origin {
    /// In the run's own file.
    File {
        /// Line, from 1.
        line: u64,
    },
    /// In a run sheet.
    RunSheet {
        /// Run-sheet file.
        file: String,
        /// Line, from 1.
        line: u64,
    },
    /// A constant of the import profile.
    Profile,
    /// A correction entered later, with a reason.
    Correction {
        /// Ledger line that keeps it.
        seq: u64,
        /// By whom.
        who: String,
        /// Why.
        reason: String,
    },
}

impl std::fmt::Display for Origin {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Origin::File { line } => write!(f, "line {line} of the file"),
            Origin::RunSheet { file, line } => write!(f, "{file}, line {line}"),
            Origin::Profile => f.write_str("the import profile"),
            Origin::Correction { seq, who, reason } => {
                write!(f, "correction by {who}, ledger line {seq}: {reason}")
            }
        }
    }
}

/// The value of a fact; numbers are in the unit of the field.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum FieldValue {
    /// A number.
    Number(f64),
    /// A text.
    Text(String),
}

impl std::fmt::Display for FieldValue {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            FieldValue::Number(v) => write!(f, "{v}"),
            FieldValue::Text(t) => f.write_str(t),
        }
    }
}

/// One statement of a fact.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Statement {
    /// Value.
    pub value: FieldValue,
    /// Where it was stated.
    pub origin: Origin,
}

/// Two places that state different values of the same fact.
#[derive(Debug, Clone, PartialEq)]
pub struct Conflict<'a> {
    /// The fact.
    pub field: Field,
    /// The statement in force.
    pub used: &'a Statement,
    /// The statement that disagrees.
    pub other: &'a Statement,
}

/// All facts stated about a run. The first statement of a field is in force; later ones are kept.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Metadata {
    statements: BTreeMap<Field, Vec<Statement>>,
}

impl Metadata {
    /// Adds a statement; it is in force only if none of the same field came before.
    pub fn state(&mut self, field: Field, value: FieldValue, origin: Origin) {
        let list = self.statements.entry(field).or_default();
        list.push(Statement { value, origin });
    }

    /// Puts a correction in force; the statements there were are kept behind it.
    pub fn correct(&mut self, field: Field, value: FieldValue, origin: Origin) {
        let list = self.statements.entry(field).or_default();
        list.insert(0, Statement { value, origin });
    }

    /// Adds all statements of `other` behind those already there.
    pub fn append(&mut self, other: &Metadata) {
        for (field, list) in &other.statements {
            self.statements
                .entry(*field)
                .or_default()
                .extend(list.iter().cloned());
        }
    }

    /// Returns the statement in force.
    pub fn statement(&self, field: Field) -> Option<&Statement> {
        self.statements.get(&field).and_then(|list| list.first())
    }

    /// Returns the number in force, if the field is stated as a number.
    pub fn number(&self, field: Field) -> Option<f64> {
        match self.statement(field)?.value {
            FieldValue::Number(v) => Some(v),
            FieldValue::Text(_) => None,
        }
    }

    /// Returns the text in force; a number is written out.
    pub fn text(&self, field: Field) -> Option<String> {
        self.statement(field).map(|s| s.value.to_string())
    }

    /// Returns the fields stated, with their statements, in field order.
    pub fn iter(&self) -> impl Iterator<Item = (Field, &[Statement])> {
        self.statements
            .iter()
            .map(|(field, list)| (*field, list.as_slice()))
    }

    /// Returns every pair of statements that disagree; a correction has settled its field.
    pub fn conflicts(&self) -> Vec<Conflict<'_>> {
        let mut found = Vec::new();
        for (field, list) in &self.statements {
            let Some((used, rest)) = list.split_first() else {
                continue;
            };
            if matches!(used.origin, Origin::Correction { .. }) {
                continue;
            }
            for other in rest
                .iter()
                .filter(|other| !agree(&used.value, &other.value))
            {
                found.push(Conflict {
                    field: *field,
                    used,
                    other,
                });
            }
        }
        found
    }
}

/// Returns whether two values say the same, so that 12.50 and 12.5 are no conflict.
fn agree(a: &FieldValue, b: &FieldValue) -> bool {
    match (a, b) {
        (FieldValue::Number(a), FieldValue::Number(b)) => {
            (a - b).abs() <= 1e-9 * a.abs().max(b.abs()).max(1.0)
        }
        (FieldValue::Text(a), FieldValue::Text(b)) => a.trim() == b.trim(),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn first_statement_is_in_force_and_a_different_second_is_a_conflict() {
        let mut m = Metadata::default();
        m.state(
            Field::FlourMoisturePct,
            FieldValue::Number(12.5),
            Origin::File { line: 3 },
        );
        let sheet = Origin::RunSheet {
            file: "sheet.csv".into(),
            line: 7,
        };
        m.state(
            Field::FlourMoisturePct,
            FieldValue::Number(12.50),
            sheet.clone(),
        );
        assert!(m.conflicts().is_empty());
        m.state(Field::FlourMoisturePct, FieldValue::Number(13.1), sheet);
        assert_eq!(m.number(Field::FlourMoisturePct), Some(12.5));
        assert_eq!(m.conflicts().len(), 1);
    }
}
