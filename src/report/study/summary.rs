//! How many claims came out how, as plain data, so that the command line and the page agree.

use crate::record::Claim;
use crate::schema::{Gate, Verdict};
use serde::Serialize;

/// The answer of a study.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StudySummary {
    /// Claims by verdict, in the order of [`Verdict::ALL`]; all four are listed.
    pub counts: Vec<(Verdict, usize)>,
    /// The answer in one sentence.
    pub sentence: String,
    /// One line for each claim, in the order of the study file.
    pub claims: Vec<ClaimLine>,
}

/// A claim on one line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ClaimLine {
    /// Verdict.
    pub verdict: Verdict,
    /// Name of the claim.
    pub name: String,
    /// The verdict in a sentence.
    pub plain: String,
}

impl StudySummary {
    /// Returns the answer that `claims` give.
    pub fn of(claims: &[Claim]) -> StudySummary {
        let count = |verdict: Verdict| claims.iter().filter(|c| c.verdict == verdict).count();
        let counts: Vec<(Verdict, usize)> = Verdict::ALL.iter().map(|v| (*v, count(*v))).collect();
        let lines = claims.iter().map(|claim| ClaimLine {
            verdict: claim.verdict,
            name: claim.name.clone(),
            plain: claim.plain.clone(),
        });
        StudySummary {
            sentence: sentence(claims, &counts),
            claims: lines.collect(),
            counts,
        }
    }

    /// Returns the summary for a terminal: the sentence, then a line for each claim.
    pub fn lines(&self) -> Vec<String> {
        let verdicts = self.claims.iter().map(|line| line.verdict.word().len());
        let wide = verdicts.max().unwrap_or(0);
        let claims = self.claims.iter().map(|line| {
            let verdict = line.verdict.word();
            format!("{verdict:wide$}  {}: {}", line.name, line.plain)
        });
        [self.sentence.clone()].into_iter().chain(claims).collect()
    }
}

/// Returns the answer in one sentence: the supported of all, then every other verdict that occurs,
/// then the primary claim where there are several.
fn sentence(claims: &[Claim], counts: &[(Verdict, usize)]) -> String {
    let noun = if claims.len() == 1 { "claim" } else { "claims" };
    let of = |verdict: Verdict| {
        let found = counts.iter().find(|(of, _)| *of == verdict);
        found.map_or(0, |(_, n)| *n)
    };
    let mut words = match (claims.len(), of(Verdict::Supported)) {
        (0, _) => return "The study makes no claim.".to_owned(),
        (all, 0) => format!("None of {all} {noun} supported"),
        (all, n) => format!("{n} of {all} {noun} supported"),
    };
    for verdict in [Verdict::Undecided, Verdict::Contradicted, Verdict::Refused] {
        if of(verdict) > 0 {
            words.push_str(&format!(", {} {verdict}", of(verdict)));
        }
    }
    let primary = claims.iter().find(|claim| claim.gate == Gate::Primary);
    if let (Some(primary), 2..) = (primary, claims.len()) {
        words.push_str(&format!(
            "; the primary claim, {}, is {}",
            primary.name, primary.verdict
        ));
    }
    words.push('.');
    words
}
