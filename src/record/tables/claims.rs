//! Claims: the sentences of a study, and what the data say about them.

use super::column;
use crate::record::{Claim, ClaimContrast};
use crate::schema::ColumnKind::{Choice, Integer, Number, Text};
use crate::schema::{Cell, Table};

/// Words of [`crate::schema::ClaimKind`].
pub(super) const KIND_WORDS: &[&str] = &[
    "difference",
    "ratio",
    "equivalent",
    "not-worse",
    "gain-at-equal",
    "energy-share",
    "rate",
    "grade",
    "same-curve",
    "agreement",
];
/// Words of [`crate::schema::Verdict`].
pub(super) const VERDICT_WORDS: &[&str] = &["supported", "contradicted", "undecided", "refused"];
/// Words of [`crate::schema::Gate`].
pub(super) const GATE_WORDS: &[&str] = &["primary", "open", "closed"];

fn of_contrast(claim: &Claim, get: fn(&ClaimContrast) -> Option<f64>) -> Cell {
    Cell::number(claim.contrast.as_ref().and_then(get))
}

fn joined<'c>(parts: impl Iterator<Item = &'c str>, between: &str) -> Cell {
    let text = parts.collect::<Vec<&str>>().join(between);
    Cell::text(Some(text).filter(|text| !text.is_empty()))
}

fn listed<T>(items: &[T], words: impl Fn(&T) -> String) -> Cell {
    let words: Vec<String> = items.iter().map(words).collect();
    joined(words.iter().map(String::as_str), "; ")
}

/// Claims, one row each.
pub static CLAIMS: Table<Claim> = Table {
    name: "claims",
    meaning: "Claims fixed before the data, one row each, with the verdict and what it rests on.",
    key: "claim_id",
    columns: &[
        column!(
            "claim_id",
            Text,
            true,
            "Deterministic identifier of the verdict.",
            |c| Cell::text(Some(&c.claim_id))
        ),
        column!("study", Text, true, "Title of the study.", |c| Cell::text(
            Some(&c.study)
        )),
        column!("claim", Text, true, "Name of the claim.", |c| Cell::text(
            Some(&c.name)
        )),
        column!(
            "statement",
            Text,
            true,
            "The sentence fixed before the data.",
            |c| Cell::text(Some(&c.statement))
        ),
        column!(
            "kind",
            Choice(KIND_WORDS),
            true,
            "The question that is asked.",
            |c| Cell::text(Some(c.kind))
        ),
        column!("metric", Text, true, "Metric.", |c| Cell::text(Some(
            &c.metric
        ))),
        column!("variant", Text, false, "Reading of the metric.", |c| {
            Cell::text(Some(&c.variant).filter(|v| !v.is_empty()))
        }),
        column!(
            "treatment",
            Text,
            true,
            "Mixing method, or instrument, that the claim is about.",
            |c| Cell::text(Some(&c.treatment))
        ),
        column!("reference", Text, true, "What it is compared with.", |c| {
            Cell::text(Some(&c.reference))
        }),
        column!(
            "gate",
            Choice(GATE_WORDS),
            true,
            "Whether the claim counts: closed where the primary claim does not hold.",
            |c| Cell::text(Some(c.gate))
        ),
        column!(
            "verdict",
            Choice(VERDICT_WORDS),
            true,
            "Verdict after the gate and after adjusting for the number of claims.",
            |c| Cell::text(Some(c.verdict))
        ),
        column!(
            "verdict_alone",
            Choice(VERDICT_WORDS),
            true,
            "Verdict the claim would have if it were the only one.",
            |c| Cell::text(Some(c.verdict_alone))
        ),
        column!("plain", Text, true, "The verdict in plain words.", |c| {
            Cell::text(Some(&c.plain))
        }),
        column!(
            "estimate",
            Number,
            false,
            "Treatment against reference, on the scale of the margin.",
            |c| of_contrast(c, |k| Some(k.estimate))
        ),
        column!(
            "low",
            Number,
            false,
            "Lower end of the interval; empty where it is unbounded.",
            |c| of_contrast(c, |k| k.low)
        ),
        column!(
            "high",
            Number,
            false,
            "Upper end of the interval; empty where it is unbounded.",
            |c| of_contrast(c, |k| k.high)
        ),
        column!(
            "confidence",
            Number,
            false,
            "Two-sided confidence of the interval.",
            |c| of_contrast(c, |k| Some(k.confidence))
        ),
        column!(
            "margin_low",
            Number,
            false,
            "Lower end of the values for which the claim is true.",
            |c| of_contrast(c, |k| k.margin_low)
        ),
        column!(
            "margin_high",
            Number,
            false,
            "Upper end of the values for which the claim is true.",
            |c| of_contrast(c, |k| k.margin_high)
        ),
        column!(
            "unit",
            Text,
            false,
            "Unit of estimate, interval and margin.",
            |c| Cell::text(c.contrast.as_ref().map(|k| k.unit.word()))
        ),
        column!(
            "df",
            Number,
            false,
            "Degrees of freedom of the error.",
            |c| { of_contrast(c, |k| k.df) }
        ),
        column!(
            "p",
            Number,
            false,
            "Probability of so clear a result if the claim were just not true, unadjusted.",
            |c| of_contrast(c, |k| k.p)
        ),
        column!(
            "doughs_treatment",
            Integer,
            true,
            "Doughs of the treatment.",
            |c| Cell::integer(Some(c.doughs.0))
        ),
        column!(
            "doughs_reference",
            Integer,
            true,
            "Doughs of the reference.",
            |c| Cell::integer(Some(c.doughs.1))
        ),
        column!(
            "blocks",
            Integer,
            true,
            "Blocks that hold a dough of either.",
            |c| Cell::integer(Some(c.blocks))
        ),
        column!(
            "error_term",
            Text,
            false,
            "Where the error of the contrast comes from.",
            |c| Cell::text(Some(&c.error_term).filter(|t| !t.is_empty()))
        ),
        column!(
            "doughs_needed",
            Integer,
            false,
            "Doughs per treatment that a new study of the planned effect would need.",
            |c| Cell::integer(c.doughs_needed)
        ),
        column!(
            "assumptions",
            Text,
            false,
            "Assumptions checked, with numbers.",
            |c| listed(&c.assumptions, |a| format!("{}: {}", a.name, a.words))
        ),
        column!("inference", Text, false, "What the claim holds for.", |c| {
            joined(c.inference.iter().map(String::as_str), "; ")
        }),
        column!("warnings", Text, false, "Warnings.", |c| joined(
            c.warnings.iter().map(String::as_str),
            "; "
        )),
        column!(
            "refusal",
            Text,
            false,
            "Why the design cannot answer the claim.",
            |c| Cell::text(c.refusal.as_ref())
        ),
        column!(
            "exclusions",
            Text,
            false,
            "What was left out, with reasons.",
            |c| listed(&c.exclusions, |e| format!("{}: {}", e.what, e.reason))
        ),
        column!(
            "from_results",
            Text,
            false,
            "Results the verdict was computed from.",
            |c| joined(c.results.iter().map(String::as_str), " ")
        ),
    ],
};
