//! The tables of the output folder: each column declared once, with how it is read from a record.

mod claims;
mod curves;
mod observations;
mod results;
mod runs;

pub use claims::CLAIMS;
pub use curves::{CURVES, CurvePoint};
pub use observations::OBSERVATIONS;
pub use results::{FINDINGS, RESULTS};
pub use runs::{BATCHES, RUNS, SAMPLES};

const STATUS_WORDS: &[&str] = &[
    "exact",
    "above",
    "below",
    "not-reached",
    "not-computable",
    "rejected",
];
const LEVEL_WORDS: &[&str] = &["note", "warn", "reject"];
const TEST_WORDS: &[&str] = &[
    "mixing",
    "extension",
    "membrane",
    "pin-mixing",
    "heating",
    "strip",
    "inflation",
    "mixer-log",
    "uptake",
    "loaf",
    "firmness",
];

/// Shorthand for one declared column.
macro_rules! column {
    ($name:literal, $kind:expr, $required:literal, $meaning:literal, $get:expr) => {
        $crate::schema::Column {
            name: $name,
            kind: $kind,
            unit: None,
            required: $required,
            meaning: $meaning,
            get: $get,
        }
    };
    ($name:literal, $kind:expr, $unit:expr, $required:literal, $meaning:literal, $get:expr) => {
        $crate::schema::Column {
            name: $name,
            kind: $kind,
            unit: Some($unit),
            required: $required,
            meaning: $meaning,
            get: $get,
        }
    };
}
use column;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::Table;

    #[test]
    fn declared_words_are_the_words_of_the_types() {
        let words: Vec<&str> = crate::schema::Status::ALL
            .iter()
            .map(|s| s.word())
            .collect();
        assert_eq!(words, STATUS_WORDS);
        let tests: Vec<&str> = crate::schema::Test::ALL.iter().map(|t| t.word()).collect();
        assert_eq!(tests, TEST_WORDS);
        let kinds: Vec<&str> = crate::schema::ClaimKind::ALL
            .iter()
            .map(|k| k.word())
            .collect();
        assert_eq!(kinds, claims::KIND_WORDS);
        let verdicts: Vec<&str> = crate::schema::Verdict::ALL
            .iter()
            .map(|v| v.word())
            .collect();
        assert_eq!(verdicts, claims::VERDICT_WORDS);
        let gates: Vec<&str> = crate::schema::Gate::ALL.iter().map(|g| g.word()).collect();
        assert_eq!(gates, claims::GATE_WORDS);
    }

    #[test]
    fn column_names_are_unique_in_each_table() {
        fn unique<R>(table: &Table<R>) {
            let names: std::collections::BTreeSet<_> =
                table.columns.iter().map(|c| c.name).collect();
            assert_eq!(names.len(), table.columns.len(), "{}", table.name);
            assert!(names.contains(table.key), "{}", table.name);
        }
        unique(&SAMPLES);
        unique(&BATCHES);
        unique(&RUNS);
        unique(&RESULTS);
        unique(&FINDINGS);
        unique(&OBSERVATIONS);
        unique(&CURVES);
        unique(&CLAIMS);
    }
}
