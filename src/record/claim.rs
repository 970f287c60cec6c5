//! One judged claim with everything a reader needs to believe it, or to doubt it.

use crate::schema::{ClaimKind, Digest, Gate, Verdict};

/// A claim with its verdict.
#[derive(Debug, Clone, PartialEq)]
pub struct Claim {
    /// Deterministic identifier: 32 hexadecimal digits computed from the study file, the claim and
    /// everything that went into the verdict.
    pub claim_id: String,
    /// Title of the study.
    pub study: String,
    /// Short name of the claim in the study.
    pub name: String,
    /// The sentence fixed before the data.
    pub statement: String,
    /// Kind.
    pub kind: ClaimKind,
    /// Metric, with its reading.
    pub metric: String,
    /// Reading of the metric; empty for the only one.
    pub variant: String,
    /// Treatment (or instrument) the claim is about.
    pub treatment: String,
    /// What it is compared with.
    pub reference: String,
    /// Whether it counts by itself or waits for the primary claim.
    pub gate: Gate,
    /// The verdict, after the gate and after adjusting for the number of claims.
    pub verdict: Verdict,
    /// What the claim would be called if it stood alone, at its own error rate.
    pub verdict_alone: Verdict,
    /// Estimate and interval; absent for a refused claim.
    pub contrast: Option<ClaimContrast>,
    /// The verdict in a sentence that a baker understands.
    pub plain: String,
    /// Doughs of the treatment and of the reference.
    pub doughs: (usize, usize),
    /// Blocks that hold a dough of either.
    pub blocks: usize,
    /// Which error term the interval comes from.
    pub error_term: String,
    /// Results used, by their identifier.
    pub results: Vec<String>,
    /// What was left out, each with its reason.
    pub exclusions: Vec<LeftOut>,
    /// Assumptions checked, with numbers.
    pub assumptions: Vec<Assumption>,
    /// What a reader must know before trusting the verdict.
    pub warnings: Vec<String>,
    /// What the claim holds for: these machines, these flours.
    pub inference: Vec<String>,
    /// Why the design cannot answer.
    pub refusal: Option<String>,
    /// Doughs per treatment that a new study of the planned effect would need; for an undecided
    /// claim whose planned effect is stated.
    pub doughs_needed: Option<usize>,
}

/// The contrast of two treatments, on the scale of the margin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClaimContrast {
    /// Estimate: a difference, a ratio, points of water, a probability.
    pub estimate: f64,
    /// Lower end of the interval; `None` where it is unbounded.
    pub low: Option<f64>,
    /// Upper end of the interval; `None` where it is unbounded.
    pub high: Option<f64>,
    /// Two-sided confidence of the interval, 1 − 2 α after adjusting for the number of claims.
    pub confidence: f64,
    /// Lower end of the values for which the claim is true; `None` where there is none.
    pub margin_low: Option<f64>,
    /// Upper end of the values for which the claim is true; `None` where there is none.
    pub margin_high: Option<f64>,
    /// Unit of all of them.
    pub unit: ContrastUnit,
    /// Degrees of freedom of the error; `None` where there are none to speak of.
    pub df: Option<f64>,
    /// Probability of so clear a result if the claim were just not true, before any adjustment.
    pub p: Option<f64>,
}

/// The unit of a contrast.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ContrastUnit {
    /// The metric's own unit.
    Metric(crate::schema::Unit),
    /// A ratio of two treatments.
    Ratio,
    /// Points of water: percent of flour mass.
    WaterPoints,
    /// A probability of superiority.
    Probability,
}

impl ContrastUnit {
    /// Returns the word stored in tables.
    pub fn word(self) -> &'static str {
        match self {
            ContrastUnit::Metric(unit) => unit.symbol(),
            ContrastUnit::Ratio => "ratio",
            ContrastUnit::WaterPoints => "points of water",
            ContrastUnit::Probability => "probability",
        }
    }
}

/// What was left out of a claim.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct LeftOut {
    /// Result, or dough where all its results are left out.
    pub what: String,
    /// Why.
    pub reason: String,
}

/// One assumption behind a verdict, and what the data say about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Assumption {
    /// What is assumed.
    pub name: &'static str,
    /// What was checked and what came out, with the numbers.
    pub words: String,
    /// Whether the data speak against it. A check that is passed proves nothing.
    pub doubtful: bool,
}

impl Claim {
    /// Returns the identifier made of `identity`, the text of everything the verdict depends on.
    pub fn identify(identity: &str) -> String {
        Digest::of(identity.as_bytes()).short().to_owned()
    }
}
