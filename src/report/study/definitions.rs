//! What the words of the page mean: verdicts, gates, questions, metrics.

use super::StudyReport;
use super::claim::card_of;
use crate::report::page::definitions::{Metric, metric};
use crate::schema::{ClaimKind, Verdict};
use serde::Serialize;

/// Everything that explains the page.
#[derive(Serialize)]
pub(super) struct Definitions {
    verdicts: Vec<Word>,
    gates: Vec<Word>,
    kinds: Vec<Word>,
    metrics: Vec<Metric>,
}

/// A word of the page and its meaning.
#[derive(Serialize)]
struct Word {
    word: &'static str,
    meaning: &'static str,
}

const GATES: [(&str, &str); 2] = [
    (
        "primary",
        "The one claim named beforehand as the outcome of the study. It is judged at its own error rate.",
    ),
    (
        "secondary",
        "Counts only if the primary claim is supported. Secondary claims share one error rate by Holm's method (1979), and their intervals are widened with the verdicts, so that an interval and its verdict always agree.",
    ),
];

/// Returns the definitions that the claims of `report` need.
pub(super) fn lay_out(report: &StudyReport<'_>) -> Definitions {
    let word = |(word, meaning): (&'static str, &'static str)| Word { word, meaning };
    let asked = |kind: &&ClaimKind| report.claims.iter().any(|claim| claim.kind == **kind);
    let kinds = ClaimKind::ALL.iter().filter(asked);
    let mut ids: Vec<&str> = report.claims.iter().map(|c| c.metric.as_str()).collect();
    ids.sort_unstable();
    ids.dedup();
    Definitions {
        verdicts: Verdict::ALL
            .iter()
            .map(|v| word((v.word(), v.meaning())))
            .collect(),
        gates: GATES.into_iter().map(word).collect(),
        kinds: kinds
            .map(|kind| word((kind.word(), question_of(*kind).1)))
            .collect(),
        metrics: ids
            .into_iter()
            .filter_map(|id| card_of(report, id))
            .map(metric)
            .collect(),
    }
}

/// Returns what a kind of claim asks, and by which method it is answered (HANDBOOK §7, 8, 12).
pub(super) fn question_of(kind: ClaimKind) -> (&'static str, &'static str) {
    match kind {
        ClaimKind::Difference => (
            "difference",
            "Is one method above or below the other by more than the margin? Difference of dough means within blocks, with the interval of Student's t.",
        ),
        ClaimKind::Ratio => (
            "ratio",
            "Is the ratio of both methods above or below the margin? Dough means compared on the logarithmic scale within blocks.",
        ),
        ClaimKind::Equivalent => (
            "equality within a margin",
            "Do both methods differ by less than the margin? Two one-sided tests: supported only if the whole interval lies inside the margin.",
        ),
        ClaimKind::NotWorse => (
            "no worse than a margin",
            "Is one method worse than the other by no more than the margin? One bound of the interval is held against it.",
        ),
        ClaimKind::GainAtEqual => (
            "gain of water at an equal response",
            "How many points of water more does one method take at the same response? Parallel lines of response against water, and the horizontal distance between them with Fieller's interval; no verdict where the lines are not shown parallel, and nothing is read beyond the water that was measured.",
        ),
        ClaimKind::EnergyShare => (
            "share of the energy",
            "What share of the other method's specific energy does one method use, inside the same system boundary? Ratio of dough means, with the uncertainty that the meters share.",
        ),
        ClaimKind::Rate => (
            "rate",
            "Does one method change more slowly or faster? The law is fitted to each dough, and the fitted rates are compared as ratios.",
        ),
        ClaimKind::Grade => (
            "grade",
            "How likely is a piece of one method to be graded above a piece of the other, ties counted half? Grades are ordered words and are never averaged; doughs are the unit, and an overmixed piece counts as a failure.",
        ),
        ClaimKind::SameCurve => (
            "whole curves",
            "Do the mean curves stay within the margin of one another everywhere? A band that holds for all times at once, from exchanging methods within blocks.",
        ),
        ClaimKind::Agreement => (
            "agreement of two instruments",
            "Do two instruments read the same doughs alike? Differences of pairs with their limits of agreement; a correlation is no agreement.",
        ),
    }
}
