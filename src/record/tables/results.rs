//! Results and findings: what was computed and what the rules found.

use super::{LEVEL_WORDS, STATUS_WORDS, TEST_WORDS, column};
use crate::record::{Finding, MetricResult};
use crate::schema::ColumnKind::{Choice, Integer, Number, Text};
use crate::schema::{Cell, ResultId, Table};

/// Results: long form, one row per run × metric × reading.
pub static RESULTS: Table<MetricResult> = Table {
    name: "results",
    meaning: "Derived numbers, one row per run, metric and reading.",
    key: "result_id",
    columns: &[
        column!(
            "result_id",
            Text,
            true,
            "Deterministic identifier of the result.",
            |r| Cell::text(Some(&r.id))
        ),
        column!("file", Text, true, "Raw file.", |r| Cell::text(Some(
            &r.file
        ))),
        column!("run_id", Text, true, "Run.", |r| Cell::text(Some(
            &r.run_id
        ))),
        column!("test", Choice(TEST_WORDS), true, "Kind of test.", |r| {
            Cell::text(Some(r.test))
        }),
        column!("sample_id", Text, false, "Flour lot.", |r| Cell::text(
            r.conditions.sample_id.as_ref()
        )),
        column!("batch_id", Text, false, "Dough.", |r| Cell::text(
            r.conditions.batch_id.as_ref()
        )),
        column!("treatment", Text, false, "Mixing method.", |r| Cell::text(
            r.conditions.treatment.as_ref()
        )),
        column!(
            "block",
            Text,
            false,
            "Block of the design.",
            |r| Cell::text(r.conditions.block.as_ref())
        ),
        column!("replicate", Text, false, "Replicate.", |r| Cell::text(
            r.conditions.replicate.as_ref()
        )),
        column!("metric", Text, true, "Metric.", |r| Cell::text(Some(
            r.metric.id
        ))),
        column!(
            "revision",
            Integer,
            true,
            "Revision of the metric's definition.",
            |r| Cell::integer(Some(r.metric.revision))
        ),
        column!(
            "variant",
            Text,
            false,
            "Reading, for metrics that have several.",
            |r| Cell::text(Some(r.variant).filter(|v| !v.is_empty()))
        ),
        column!(
            "status",
            Choice(STATUS_WORDS),
            true,
            "How the metric came out.",
            |r| Cell::text(Some(r.outcome.status()))
        ),
        column!(
            "value",
            Number,
            false,
            "Value, or the bound when the status is above or below.",
            |r| Cell::number(r.outcome.value_or_bound())
        ),
        column!(
            "low",
            Number,
            false,
            "Lower end of the 95 % interval.",
            |r| Cell::number(r.outcome.estimate().map(|e| e.low()))
        ),
        column!(
            "high",
            Number,
            false,
            "Upper end of the 95 % interval.",
            |r| Cell::number(r.outcome.estimate().map(|e| e.high()))
        ),
        column!(
            "std_uncertainty",
            Number,
            false,
            "Standard uncertainty of the reading.",
            |r| Cell::number(r.outcome.estimate().map(|e| e.std_uncertainty()))
        ),
        column!(
            "unit",
            Text,
            true,
            "Unit of value, low, high and std_uncertainty.",
            |r| Cell::text(Some(r.unit))
        ),
        column!("reason", Text, false, "Why there is no value.", |r| {
            Cell::text(r.outcome.reason())
        }),
        column!(
            "parameters",
            Text,
            false,
            "Parameters of the computation.",
            |r| Cell::text(Some(&r.parameters).filter(|p| !p.is_empty()))
        ),
        column!(
            "from_results",
            Text,
            false,
            "Results it was computed from, where it was not read from the raw file itself.",
            |r| {
                let ids: Vec<&str> = r.from.iter().map(ResultId::as_str).collect();
                Cell::text(Some(ids.join(" ")).filter(|ids| !ids.is_empty()))
            }
        ),
        column!(
            "row_first",
            Integer,
            false,
            "First line of the raw file it was read from.",
            |r| Cell::integer(r.rows.map(|rows| rows.first))
        ),
        column!(
            "row_last",
            Integer,
            false,
            "Last line of the raw file it was read from.",
            |r| Cell::integer(r.rows.map(|rows| rows.last))
        ),
        column!("raw_sha256", Text, true, "SHA-256 of the raw file.", |r| {
            Cell::text(Some(&r.raw_sha256))
        }),
    ],
};

/// Findings.
pub static FINDINGS: Table<Finding> = Table {
    name: "findings",
    meaning: "What the quality rules found, and what to do next.",
    key: "rule",
    columns: &[
        column!("rule", Text, true, "Rule.", |f| Cell::text(Some(f.rule))),
        column!("revision", Integer, true, "Revision of the rule.", |f| {
            Cell::integer(Some(f.revision))
        }),
        column!(
            "level",
            Choice(LEVEL_WORDS),
            true,
            "How serious it is.",
            |f| Cell::text(Some(f.level))
        ),
        column!("file", Text, false, "Raw file.", |f| Cell::text(
            Some(&f.file).filter(|t| !t.is_empty())
        )),
        column!("run_id", Text, false, "Run.", |f| Cell::text(
            f.run_id.as_ref()
        )),
        column!("row", Integer, false, "Line of the raw file.", |f| {
            Cell::integer(f.row)
        }),
        column!("words", Text, true, "What was found.", |f| Cell::text(
            Some(&f.words)
        )),
        column!(
            "what_to_do",
            Text,
            true,
            "What to do next.",
            |f| Cell::text(Some(&f.what_to_do))
        ),
    ],
};
