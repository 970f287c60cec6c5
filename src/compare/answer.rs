//! What a kind hands over to be judged.

use super::contrast::{Contrast, Designs, Residual, contrast};
use super::figures::{AgreementPair, CurveBand, Dot, EnergyPart, GradeBar, HydrationLines};
use super::gather::{Gathered, Wanted, gather};
use super::inference::{Inference, Student};
use super::layout::{Standing, doughs_of, stand};
use super::margins;
use super::times;
use crate::record::{Assumption, ContrastUnit, LeftOut};
use crate::schema::Unit;
use crate::study::{PlannedClaim, Scale, Study, Target};
use std::collections::BTreeMap;

/// Everything that is known about one claim before the family of claims is looked at.
pub(super) struct Answer {
    pub inference: Box<dyn Inference>,
    pub target: Target,
    pub unit: ContrastUnit,
    pub variant: String,
    /// Unit of the metric, in which doughs are drawn.
    pub metric_unit: Option<Unit>,
    pub doughs: (usize, usize),
    pub blocks: usize,
    pub error_term: String,
    /// Standard deviation between doughs on the scale of the analysis, for planning.
    pub sd: Option<f64>,
    pub results: Vec<String>,
    pub left_out: Vec<LeftOut>,
    pub assumptions: Vec<Assumption>,
    pub warnings: Vec<String>,
    pub notes: Vec<String>,
    /// Why no verdict may be given although there is an interval; such as lines not shown parallel.
    pub withheld: Option<String>,
    pub pictures: Pictures,
}

/// What can be drawn of one claim.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Pictures {
    pub dots: Vec<Dot>,
    pub residuals: Vec<Residual>,
    pub lines: Option<HydrationLines>,
    pub energies: Vec<EnergyPart>,
    pub grades: Vec<GradeBar>,
    pub agreement: Vec<AgreementPair>,
    pub band: Option<CurveBand>,
}

/// What a kind works with.
#[derive(Clone, Copy)]
pub(super) struct Desk<'a> {
    pub study: &'a Study,
    pub claim: &'a PlannedClaim,
    pub evidence: &'a super::Evidence,
    pub designs: &'a Designs,
}

impl<'a> Desk<'a> {
    /// Returns the doughs of the claim's metric on `scale`.
    ///
    /// # Errors
    /// The reason why the rows cannot be compared.
    pub fn gather(&self, scale: Scale) -> Result<Gathered<'a>, String> {
        gather(self.study, self.evidence, &Wanted::of(self.claim), scale)
    }
}

/// Returns the answer to a question about the means of two methods.
///
/// # Errors
/// The reason why the design cannot answer.
pub(super) fn answer_of_means(desk: &Desk<'_>) -> Result<Answer, String> {
    let scale = desk.claim.question.scale();
    let gathered = desk.gather(scale)?;
    if bounds_among(desk.claim, &gathered) > 0 {
        return answer_of_times(desk, &gathered, scale);
    }
    let standing = stand(desk.claim, &gathered)?;
    let found = contrast(desk.claim, &gathered, &standing, desk.designs)?;
    let mut answer = answer_of(desk, &gathered, standing, found, scale);
    answer
        .warnings
        .extend(margins::warnings(desk.claim, &answer));
    Ok(answer)
}

/// Returns the answer to another question about the doughs of the same study.
///
/// # Errors
/// As [`answer_of_means`].
pub(super) fn answer_to(desk: &Desk<'_>, claim: &PlannedClaim) -> Result<Answer, String> {
    answer_of_means(&Desk { claim, ..*desk })
}

/// How many results of the two methods are known to one side only.
fn bounds_among(claim: &PlannedClaim, gathered: &Gathered<'_>) -> usize {
    let ours = |treatment: Option<&str>| {
        treatment == Some(&claim.treatment) || treatment == Some(&claim.reference)
    };
    let bounded = gathered.censored.iter();
    bounded
        .filter(|row| ours(row.origin.treatment.as_deref()))
        .count()
}

/// Returns the answer where some doughs show only that a time is longer or shorter: by the ratio of
/// times from interval regression.
fn answer_of_times(
    desk: &Desk<'_>,
    gathered: &Gathered<'_>,
    scale: Scale,
) -> Result<Answer, String> {
    if scale == Scale::Linear {
        return Err(format!(
            "{} results are known to one side only, so a difference has no value; say the claim \
             as a ratio (ratio, or margin_percent)",
            bounds_among(desk.claim, gathered)
        ));
    }
    let standing = times::standing(desk.study, desk.claim, gathered)?;
    let (ratio, doughs) = times::time_ratio(desk.study, desk.claim, gathered)?;
    let mut results: Vec<String> = gathered
        .rows
        .iter()
        .chain(&gathered.censored)
        .map(|row| row.result_id.clone())
        .collect();
    results.sort();
    let sd = ratio.sd();
    Ok(Answer {
        inference: Box::new(ratio),
        target: desk.claim.question.target(),
        unit: ContrastUnit::Ratio,
        variant: gathered.variant.to_owned(),
        metric_unit: Some(gathered.unit),
        doughs: doughs.doughs,
        blocks: doughs.blocks,
        error_term: format!(
            "doughs{}, interval regression of log-normal times that may be bounds",
            match doughs.blocked {
                true => " within blocks",
                false => " of all blocks together, since too few have a time to keep blocks apart",
            }
        ),
        sd: Some(sd),
        results,
        left_out: gathered.left_out.clone(),
        assumptions: vec![Assumption {
            name: "log-normal times",
            words: format!(
                "{} of {} and {} of {} doughs are bounds: the law cannot be seen beyond them",
                doughs.bounds.0, doughs.doughs.0, doughs.bounds.1, doughs.doughs.1
            ),
            doubtful: 2 * doughs.bounds.0 > doughs.doughs.0
                || 2 * doughs.bounds.1 > doughs.doughs.1,
        }],
        warnings: with_missing(gathered, standing.warnings),
        notes: standing.inference,
        withheld: None,
        pictures: Pictures {
            dots: dots(desk.claim, gathered, scale),
            ..Pictures::default()
        },
    })
}

fn answer_of(
    desk: &Desk<'_>,
    gathered: &Gathered<'_>,
    standing: Standing,
    found: Contrast,
    scale: Scale,
) -> Answer {
    let student = Student {
        estimate: found.estimate,
        scale,
    };
    Answer {
        inference: Box::new(student),
        target: desk.claim.question.target(),
        unit: match scale {
            Scale::Linear => ContrastUnit::Metric(gathered.unit),
            Scale::Log => ContrastUnit::Ratio,
        },
        variant: gathered.variant.to_owned(),
        metric_unit: Some(gathered.unit),
        doughs: standing.doughs,
        blocks: standing.blocks,
        error_term: found.error_term,
        sd: Some(found.sd),
        // Doughs of other methods help to estimate the pooled error and the blocks.
        results: gathered.rows.iter().map(|r| r.result_id.clone()).collect(),
        left_out: gathered.left_out.clone(),
        assumptions: found.assumptions,
        warnings: with_missing(gathered, standing.warnings),
        notes: standing.inference,
        withheld: None,
        pictures: Pictures {
            dots: dots(desk.claim, gathered, scale),
            residuals: found.residuals,
            ..Pictures::default()
        },
    }
}

/// Adds the warning that results without a value may not be missing by chance.
pub(super) fn with_missing(gathered: &Gathered<'_>, mut warnings: Vec<String>) -> Vec<String> {
    let missing = gathered.left_out.iter();
    let count = missing
        .filter(|left| left.reason.ends_with("it gave no value"))
        .count();
    if count > 0 {
        warnings.push(format!(
            "{count} results gave no value and are left out; that may favour one method"
        ));
    }
    warnings
}

/// Returns the dots of both methods, block by block, on the scale of the metric.
pub(super) fn dots(claim: &PlannedClaim, gathered: &Gathered<'_>, scale: Scale) -> Vec<Dot> {
    let mut ids: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for row in &gathered.rows {
        if let Some(batch) = row.origin.batch.as_deref() {
            ids.entry(batch).or_default().push(row.result_id.clone());
        }
    }
    let both = [&claim.treatment, &claim.reference];
    both.iter()
        .flat_map(|treatment| doughs_of(gathered, treatment))
        .map(|dough| Dot {
            dough: dough.batch.to_owned(),
            treatment: dough.treatment.to_owned(),
            block: dough.block.to_owned(),
            value: match scale {
                Scale::Linear => dough.value,
                Scale::Log => libm::exp(dough.value),
            },
            pieces: dough.pieces,
            results: ids.get(dough.batch).cloned().unwrap_or_default(),
        })
        .collect()
}
