//! The whole of a study: every claim answered, judged in its family, and written down.

use super::answer::{Answer, Desk};
use super::contrast::Designs;
use super::evidence::Evidence;
use super::family::{Judged, Member, judge};
use super::figures::{ClaimPicture, Figures, ForestRow};
use super::kinds;
use super::plan::{analysis_sd, doughs_needed};
use super::told::{Told, meaning, opening};
use crate::numerics::Interval;
use crate::record::{Claim, ClaimContrast, ContrastUnit, LeftOut};
use crate::schema::{Gate, Verdict};
use crate::study::{PlannedClaim, Scale, Study};

/// Raised when the same evidence may lead to another verdict than before.
const ANALYSIS_REVISION: u32 = 1;

/// What the evidence says about a study.
#[derive(Debug, Clone, PartialEq)]
pub struct Assessment {
    /// One record per claim, in the order of the study file.
    pub claims: Vec<Claim>,
    /// What charts draw.
    pub figures: Figures,
}

/// Returns the verdict on every claim of `study`. The same study and evidence give the same
/// records, whatever the order of the rows.
pub fn evaluate(study: &Study, evidence: &Evidence) -> Assessment {
    let designs = Designs::default();
    let answers: Vec<Result<Answer, String>> = study
        .claims
        .iter()
        .map(|claim| {
            kinds::answer(&Desk {
                study,
                claim,
                evidence,
                designs: &designs,
            })
        })
        .collect();
    let members: Vec<Member<'_>> = study.claims.iter().zip(&answers).map(member).collect();
    let judged = judge(&members);
    drop(members);
    let mut assessment = Assessment {
        claims: Vec::with_capacity(answers.len()),
        figures: Figures::default(),
    };
    for ((planned, answer), own) in study.claims.iter().zip(answers).zip(judged) {
        let claim = record(study, planned, &answer, &own);
        if let Ok(answer) = answer {
            assessment
                .figures
                .forest
                .extend(forest_row(planned, &claim));
            assessment
                .figures
                .claims
                .push(picture(planned, &claim, answer));
        }
        assessment.claims.push(claim);
    }
    assessment
}

fn member<'a>((claim, answer): (&PlannedClaim, &'a Result<Answer, String>)) -> Member<'a> {
    let known = answer.as_ref().ok();
    Member {
        primary: claim.primary,
        alpha: claim.alpha,
        known: known.map(|answer| (answer.inference.as_ref(), answer.target)),
        withheld: known.is_some_and(|answer| answer.withheld.is_some()),
    }
}

fn record(
    study: &Study,
    planned: &PlannedClaim,
    answer: &Result<Answer, String>,
    judged: &Judged,
) -> Claim {
    let mut claim = Claim {
        claim_id: String::new(),
        study: study.title.clone(),
        name: planned.id.clone(),
        statement: planned.sentence.clone(),
        kind: planned.kind(),
        metric: planned.metric.clone(),
        variant: planned.variant.clone().unwrap_or_default(),
        treatment: planned.treatment.clone(),
        reference: planned.reference.clone(),
        gate: match planned.primary {
            true => Gate::Primary,
            false => judged.gate,
        },
        verdict: judged.verdict,
        verdict_alone: judged.alone,
        contrast: None,
        plain: String::new(),
        doughs: (0, 0),
        blocks: 0,
        error_term: String::new(),
        results: Vec::new(),
        exclusions: Vec::new(),
        assumptions: Vec::new(),
        warnings: Vec::new(),
        inference: Vec::new(),
        refusal: None,
        doughs_needed: None,
    };
    match answer {
        Ok(answer) => fill(study, &mut claim, planned, answer, judged),
        Err(reason) => claim.refusal = Some(reason.clone()),
    }
    claim.plain = plain(planned, &claim, answer.as_ref().ok());
    claim.claim_id = Claim::identify(&identity(study, planned, &claim));
    claim
}

fn fill(
    study: &Study,
    claim: &mut Claim,
    planned: &PlannedClaim,
    answer: &Answer,
    judged: &Judged,
) {
    claim.variant.clone_from(&answer.variant);
    claim.doughs = answer.doughs;
    claim.blocks = answer.blocks;
    claim.error_term.clone_from(&answer.error_term);
    claim.results.clone_from(&answer.results);
    claim.exclusions = sorted(&answer.left_out);
    claim.assumptions.clone_from(&answer.assumptions);
    claim.warnings.clone_from(&answer.warnings);
    claim.inference.clone_from(&answer.notes);
    claim.contrast = Some(contrast_of(answer, judged));
    if judged.verdict == Verdict::Undecided
        && let Some(sd) = planned_sd(planned, answer)
    {
        let needed = doughs_needed(study, planned, sd, judged.alpha);
        claim.doughs_needed = needed.ok().map(|found| found.count);
    }
    if let Some(reason) = &answer.withheld {
        claim.warnings.insert(0, reason.clone());
    }
    if let (ContrastUnit::Metric(unit), Some(written)) = (answer.unit, &planned.unit)
        && unit.symbol() != written
    {
        claim.refusal = Some(format!(
            "the margin is written in {written}, while the results are in {unit}"
        ));
        claim.verdict = Verdict::Refused;
        claim.verdict_alone = Verdict::Refused;
        claim.contrast = None;
    }
}

/// Returns the scatter of doughs that a new study would meet: that of this one.
fn planned_sd(planned: &PlannedClaim, answer: &Answer) -> Option<f64> {
    let own = answer.sd.filter(|sd| *sd > 0.0 && sd.is_finite());
    own.or_else(|| planned.sd.map(|sd| analysis_sd(planned, sd)))
}

fn sorted(left_out: &[LeftOut]) -> Vec<LeftOut> {
    let mut list = left_out.to_vec();
    list.sort();
    list
}

fn contrast_of(answer: &Answer, judged: &Judged) -> ClaimContrast {
    let finite = |value: f64| Some(value).filter(|v| v.is_finite());
    let end = |pick: fn(&Interval) -> f64| judged.interval.as_ref().map(pick).and_then(finite);
    ClaimContrast {
        estimate: answer.inference.value(),
        low: end(|i| i.low),
        high: end(|i| i.high),
        confidence: 1.0 - 2.0 * judged.alpha,
        margin_low: finite(answer.target.low),
        margin_high: finite(answer.target.high),
        unit: answer.unit,
        df: answer.inference.df().and_then(finite),
        p: judged.p,
    }
}

/// Returns the verdict in plain words.
fn plain(planned: &PlannedClaim, claim: &Claim, answer: Option<&Answer>) -> String {
    if let Some(reason) = &claim.refusal {
        return format!("{}: {reason}.", opening(Verdict::Refused));
    }
    let Some(contrast) = &claim.contrast else {
        return String::new();
    };
    let told = Told {
        claim: planned,
        contrast,
    };
    let mut words = format!("{}: {}", opening(claim.verdict), kinds::tell(&told));
    words.push(' ');
    let withheld = answer.and_then(|answer| answer.withheld.as_ref());
    if let Some(reason) = withheld {
        words.push_str(&format!("No verdict is given, since {reason}."));
    } else if claim.gate == Gate::Closed {
        words.push_str(&format!(
            "It would be {} by itself, but does not count, since the primary claim does not hold.",
            claim.verdict_alone
        ));
    } else {
        words.push_str(meaning(claim.verdict));
    }
    if let Some(needed) = claim.doughs_needed {
        words.push_str(&format!(
            " A new study of the planned effect would need {needed} doughs per method."
        ));
    }
    words
}

/// Returns the text that the identifier of a verdict is the digest of: everything it depends on.
fn identity(study: &Study, planned: &PlannedClaim, claim: &Claim) -> String {
    let mut text = format!(
        "analysis r{ANALYSIS_REVISION}\nstudy {}\nclaim {}\n",
        study.digest, planned.id
    );
    for result in &claim.results {
        text.push_str(&format!("from {result}\n"));
    }
    for left in &claim.exclusions {
        text.push_str(&format!("without {} {}\n", left.what, left.reason));
    }
    text.push_str(&format!("gate {}\nverdict {}\n", claim.gate, claim.verdict));
    text.push_str(&format!(
        "contrast {:?}\nplain {}\n",
        claim.contrast, claim.plain
    ));
    text
}

fn forest_row(planned: &PlannedClaim, claim: &Claim) -> Option<ForestRow> {
    let contrast = claim.contrast?;
    Some(ForestRow {
        claim: claim.name.clone(),
        claim_id: claim.claim_id.clone(),
        estimate: contrast.estimate,
        low: contrast.low,
        high: contrast.high,
        margin_low: contrast.margin_low,
        margin_high: contrast.margin_high,
        no_difference: planned.question.no_difference(),
        unit: contrast.unit,
        log_scale: planned.question.scale() == Scale::Log,
        confidence: contrast.confidence,
        verdict: claim.verdict,
        doughs: claim.doughs,
        blocks: claim.blocks,
    })
}

fn picture(planned: &PlannedClaim, claim: &Claim, answer: Answer) -> ClaimPicture {
    ClaimPicture {
        claim: claim.name.clone(),
        claim_id: claim.claim_id.clone(),
        metric: claim.metric.clone(),
        unit: answer.metric_unit,
        treatment: planned.treatment.clone(),
        reference: planned.reference.clone(),
        dots: answer.pictures.dots,
        residuals: answer.pictures.residuals,
        lines: answer.pictures.lines,
        energies: answer.pictures.energies,
        grades: answer.pictures.grades,
        agreement: answer.pictures.agreement,
        band: answer.pictures.band,
    }
}
