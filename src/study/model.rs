//! A checked study: every choice made, every name resolved.

use super::question::Question;
use crate::schema::{ClaimKind, Digest};

/// A study: its design and the claims fixed before the data.
#[derive(Debug, Clone, PartialEq)]
pub struct Study {
    /// Title for the report.
    pub title: String,
    /// Archives, or output folders that hold one, as written.
    pub archives: Vec<String>,
    /// What was varied on purpose.
    pub factors: Factors,
    /// Treatment that the others are compared with.
    pub reference: String,
    /// What forms the blocks.
    pub block: Blocking,
    /// Error rate of each verdict, unless a claim has its own.
    pub alpha: f64,
    /// Power that `plan` provides for.
    pub power: f64,
    /// Seed of the run order and of resampling.
    pub seed: u64,
    /// What is left out, and why.
    pub exclusions: Vec<StudyExclusion>,
    /// The claims in the order of the file.
    pub claims: Vec<PlannedClaim>,
    /// Digest of the file's text.
    pub digest: Digest,
}

/// What was varied on purpose.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Factors {
    /// Mixing methods.
    pub treatments: Vec<String>,
    /// Flour lots by their sample identifier; empty where the study does not name them.
    pub flours: Vec<String>,
    /// Hydrations of a study of water, points of flour mass; empty where water is not varied.
    pub hydrations_pct: Vec<f64>,
}

/// What forms the blocks of the design.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Blocking {
    /// The block column of the run sheet: usually flour lot × day (HANDBOOK §12.1).
    Block,
    /// The flour lot.
    Flour,
    /// There are none: doughs were made in fully random order.
    Unblocked,
}

/// A dough, run or result left out of the study, with the reason.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StudyExclusion {
    /// What is left out.
    pub what: Excluded,
    /// Why.
    pub reason: String,
}

/// What a study leaves out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Excluded {
    /// A dough with everything measured on it.
    Dough(String),
    /// One run.
    Run(String),
    /// One result.
    Result(String),
}

/// One claim as it was fixed before the data.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedClaim {
    /// Short name, unique in the study.
    pub id: String,
    /// The sentence that a customer would hear.
    pub sentence: String,
    /// What is asked, with its margin.
    pub question: Question,
    /// Metric the claim is about.
    pub metric: String,
    /// Reading of the metric; `None` for the only or default one.
    pub variant: Option<String>,
    /// Unit of the margin as the author wrote it; must be that of the results.
    pub unit: Option<String>,
    /// Age of the bread that counts, d; `None` for all ages, which every dough must then have.
    pub age_d: Option<f64>,
    /// Rest before the test that counts, min; `None` for all rests.
    pub rest_min: Option<f64>,
    /// The treatment (or instrument) that the claim is about.
    pub treatment: String,
    /// What it is compared with.
    pub reference: String,
    /// Error rate of the verdict.
    pub alpha: f64,
    /// Whether this is the study's primary claim.
    pub primary: bool,
    /// What was held equal when the doughs were made.
    pub basis: Basis,
    /// What the claim is meant to hold for.
    pub scope: Scope,
    /// Which error term is used.
    pub error: ErrorChoice,
    /// The true value that the study was planned for, on the scale of the margin.
    pub expected: Option<f64>,
    /// Stated standard deviation between doughs: in the metric's unit, in points of water for
    /// `gain-at-equal`, and as a share of the mean (0.05 for 5 %) where the scale is a ratio.
    pub sd: Option<f64>,
}

impl PlannedClaim {
    /// The kind of the claim.
    pub fn kind(&self) -> ClaimKind {
        self.question.kind()
    }
}

/// What was held equal when the doughs of two treatments were made (HANDBOOK §12.1).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// The same water.
    SameWater,
    /// The same consistency, so that the water may differ.
    SameConsistency,
    /// The same work input.
    SameWork,
}

impl Basis {
    /// Returns the word written in a study file.
    pub fn word(self) -> &'static str {
        match self {
            Basis::SameWater => "same-water",
            Basis::SameConsistency => "same-consistency",
            Basis::SameWork => "same-work",
        }
    }
}

/// What a claim is meant to hold for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scope {
    /// Doughs of the flours and days of the study.
    Doughs,
    /// Flours like those of the study: the error is that of method × flour.
    Flours,
}

/// Which error term a contrast of two treatments uses (HANDBOOK V-A2).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ErrorChoice {
    /// Pooled over all treatments while their scatter is alike, paired otherwise.
    Automatic,
    /// Pooled over all treatments of the study.
    Pooled,
    /// That of the two treatments' own differences within blocks.
    Paired,
}
