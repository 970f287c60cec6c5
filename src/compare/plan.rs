//! How many doughs a study needs, and in which order they are made.

use super::answer::Desk;
use super::contrast::Designs;
use super::evidence::Evidence;
use super::kinds;
use super::order::{SheetRow, run_order};
use super::precision::{Precision, precision};
use crate::numerics::power::{Aim, Layout, Planned, smallest_count};
use crate::numerics::{FitError, Interval};
use crate::schema::ClaimKind;
use crate::study::{Blocking, ErrorChoice, PlannedClaim, Question, Scale, Study};

/// No laboratory makes more doughs of one method for one claim.
const MOST_DOUGHS: usize = 1000;

/// What a study needs before its first dough.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// One line per claim, in the order of the study file.
    pub claims: Vec<PlannedDoughs>,
    /// Doughs per method that settle every claim whose number is known, at least two.
    pub doughs: usize,
    /// Blocks, each with every method (at every amount of water) once.
    pub blocks: usize,
    /// The doughs in the order in which they are made.
    pub sheet: Vec<SheetRow>,
    /// Seed of the order.
    pub seed: u64,
    /// The laboratory's own precision, as far as the evidence shows it.
    pub precision: Vec<Precision>,
}

/// Doughs that one claim needs.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedDoughs {
    /// Name of the claim.
    pub claim: String,
    /// Doughs per method; `None` where the reason says why.
    pub doughs: Option<usize>,
    /// Power at that number.
    pub power: Option<f64>,
    /// Standard deviation between doughs: in the unit of the margin, of the natural logarithm on a
    /// scale of ratios.
    pub sd: Option<f64>,
    /// Where it comes from.
    pub sd_from: String,
    /// True value planned for, on the scale of the margin.
    pub expected: Option<f64>,
    /// Error rate: the claim's own, shared equally among secondary claims.
    pub alpha: f64,
    /// Why there is no number, or what it leaves out.
    pub reason: Option<String>,
}

/// Returns the doughs and the run order of `study`. Standard deviations are those that claims
/// state, else those of earlier doughs in `evidence`, which may be empty.
pub fn plan(study: &Study, evidence: &Evidence) -> Plan {
    let precision = precision(evidence);
    let designs = Designs::default();
    let claims: Vec<PlannedDoughs> = study
        .claims
        .iter()
        .map(|claim| {
            let desk = Desk {
                study,
                claim,
                evidence,
                designs: &designs,
            };
            plan_claim(&desk, &precision)
        })
        .collect();
    let doughs = claims.iter().filter_map(|c| c.doughs).max().unwrap_or(2);
    let waters = study.factors.hydrations_pct.len().max(1);
    let blocks = doughs.div_ceil(waters).max(2);
    Plan {
        sheet: run_order(study, blocks),
        doughs: blocks * waters,
        blocks,
        claims,
        seed: study.seed,
        precision,
    }
}

fn plan_claim(desk: &Desk<'_>, precision: &[Precision]) -> PlannedDoughs {
    let claim = desk.claim;
    let mut planned = PlannedDoughs {
        claim: claim.id.clone(),
        doughs: None,
        power: None,
        sd: None,
        sd_from: String::new(),
        expected: planned_effect(claim),
        alpha: planned_alpha(desk.study, claim),
        reason: None,
    };
    let Some((sd, from)) = deviation(desk, precision) else {
        planned.reason = Some(
            "the scatter of doughs is not known: state `sd` or `cv_percent`, or name archives with \
             replicate doughs"
                .to_owned(),
        );
        return planned;
    };
    planned.sd = Some(sd);
    planned.sd_from = from;
    match doughs_needed(desk.study, claim, sd, planned.alpha) {
        Ok(found) => {
            planned.doughs = Some(found.count);
            planned.power = Some(found.power);
        }
        Err(reason) => planned.reason = Some(reason),
    }
    planned
}

/// Returns the error rate a claim is planned for: secondary claims share one, as the first of
/// Holm's steps has it.
fn planned_alpha(study: &Study, claim: &PlannedClaim) -> f64 {
    let secondary = study.claims.iter().filter(|c| !c.primary).count();
    match claim.primary {
        true => claim.alpha,
        false => claim.alpha / secondary.max(1) as f64,
    }
}

/// Returns the standard deviation between doughs on the scale of the analysis, and its source.
fn deviation(desk: &Desk<'_>, precision: &[Precision]) -> Option<(f64, String)> {
    let claim = desk.claim;
    if let Some(sd) = claim.sd {
        return Some((analysis_sd(claim, sd), "stated in the study".to_owned()));
    }
    if let Ok(answer) = kinds::answer(desk)
        && let Some(sd) = answer.sd.filter(|sd| *sd > 0.0)
    {
        return Some((sd, format!("earlier doughs: {}", answer.error_term)));
    }
    if claim.kind() == ClaimKind::GainAtEqual {
        return None;
    }
    let own = precision
        .iter()
        .filter(|p| p.metric == claim.metric)
        .find(|p| claim.variant.as_ref().is_none_or(|v| *v == p.variant))?;
    let doughs = own.between_doughs?;
    let sd = match claim.question.scale() {
        Scale::Linear => doughs.sd,
        Scale::Log => doughs.sd / own.mean.abs(),
    };
    (sd > 0.0 && sd.is_finite()).then(|| {
        let from = format!(
            "replicate doughs of the laboratory ({} degrees of freedom)",
            doughs.df
        );
        (sd, from)
    })
}

/// Returns a stated deviation on the scale of the analysis: that of the logarithm of a value whose
/// coefficient of variation is `sd`, where ratios are compared.
pub(super) fn analysis_sd(claim: &PlannedClaim, sd: f64) -> f64 {
    match claim.question.scale() {
        Scale::Linear => sd,
        Scale::Log => libm::log1p(sd * sd).sqrt(),
    }
}

/// Returns the true value that a study is planned for: the one stated, else no difference for
/// claims of equality.
fn planned_effect(claim: &PlannedClaim) -> Option<f64> {
    let of_equality = matches!(
        claim.question,
        Question::Equivalent { .. } | Question::NotWorse { .. }
    );
    claim
        .expected
        .or_else(|| of_equality.then(|| claim.question.no_difference()))
}

/// Returns the smallest number of doughs per method at which the claim is supported with the
/// study's power if the planned effect is the truth.
///
/// # Errors
/// The reason why there is no such number.
pub(super) fn doughs_needed(
    study: &Study,
    claim: &PlannedClaim,
    sd: f64,
    alpha: f64,
) -> Result<Planned, String> {
    let Some(effect) = planned_effect(claim) else {
        return Err("state the true value that is expected with `expected`".to_owned());
    };
    let own = |value: f64| match claim.question.scale() {
        Scale::Linear => value,
        Scale::Log => libm::log(value),
    };
    let target = claim.question.target();
    let (low, high) = (own(target.low), own(target.high));
    let aim = match (low.is_finite(), high.is_finite()) {
        (true, true) => Aim::Within(Interval { low, high }),
        (true, false) => Aim::Above(low),
        (false, _) => Aim::Below(high),
    };
    let (layout, deviation) = layout(study, claim, sd);
    let power = (alpha, study.power);
    match smallest_count(layout, (aim, own(effect)), deviation, power, MOST_DOUGHS) {
        Ok(Some(planned)) => Ok(planned),
        Ok(None) => Err(format!(
            "more than {MOST_DOUGHS} doughs per method would be needed"
        )),
        Err(FitError::OutOfRange { what, found }) => Err(format!("{what} is {found}")),
        Err(other) => Err(other.to_string()),
    }
}

fn layout(study: &Study, claim: &PlannedClaim, sd: f64) -> (Layout, f64) {
    let treatments = match claim.kind() {
        // Lines are fitted to the two methods alone.
        ClaimKind::GainAtEqual => 2,
        _ => study.factors.treatments.len(),
    };
    match (claim.error, study.block) {
        (ErrorChoice::Paired, _) => (Layout::Pairs, sd * std::f64::consts::SQRT_2),
        (_, Blocking::Unblocked) => (Layout::Groups { treatments }, sd),
        _ => (Layout::Blocks { treatments }, sd),
    }
}
