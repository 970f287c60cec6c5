//! Do two instruments read the same quantity alike? Limits of agreement within the margin (Bland and
//! Altman 1986; exact limits by the noncentral t, Carkeet 2015). Only for the same quantity on the
//! same doughs: never for one method against another (HANDBOOK §12.2).

use crate::compare::ResultRow;
use crate::compare::answer::{Answer, Desk, Pictures};
use crate::compare::figures::AgreementPair;
use crate::compare::gather::excluded_by;
use crate::compare::inference::Inference;
use crate::compare::told::{Told, short};
use crate::numerics::Interval;
use crate::numerics::agreement::{BlandAltman, bland_altman, deming, passing_bablok};
use crate::numerics::distribution::noncentral_t_quantile;
use crate::record::{Assumption, ContrastUnit, LeftOut};
use crate::schema::{Status, Unit, Verdict};
use crate::study::Target;
use std::collections::{BTreeMap, BTreeSet};

/// Below this probability a trend speaks against constant limits.
const DOUBTFUL_P: f64 = 0.05;

/// The two limits of agreement, each with its own bound.
struct Limits(BlandAltman);

impl Limits {
    /// Returns how far from the bias a limit surely reaches, and how far at most.
    fn reach(&self, alpha: f64) -> Option<(f64, f64)> {
        let n = self.0.pairs as f64;
        let error = self.0.sd / n.sqrt();
        let shift = (self.0.upper - self.0.bias) / self.0.sd * n.sqrt();
        let at = |p: f64| noncentral_t_quantile(p, n - 1.0, shift).map(|t| t * error);
        // Either of two limits may be found outside: they share the error rate of that verdict.
        Some((at(0.5 * alpha)?, at(1.0 - alpha)?))
    }
}

impl Inference for Limits {
    fn value(&self) -> f64 {
        self.0.bias
    }

    fn interval(&self, alpha: f64) -> Option<Interval> {
        let (_, far) = self.reach(alpha)?;
        Some(Interval {
            low: self.0.bias - far,
            high: self.0.bias + far,
        })
    }

    fn df(&self) -> Option<f64> {
        Some(self.0.pairs as f64 - 1.0)
    }

    /// Supported when both limits surely lie inside, contradicted when one surely lies outside.
    fn decides(&self, alpha: f64, target: Target) -> Verdict {
        let Some((near, far)) = self.reach(alpha) else {
            return Verdict::Undecided;
        };
        let bias = self.0.bias;
        if bias - far > target.low && bias + far < target.high {
            Verdict::Supported
        } else if bias - near <= target.low || bias + near >= target.high {
            Verdict::Contradicted
        } else {
            Verdict::Undecided
        }
    }
}

pub(super) fn answer(desk: &Desk<'_>) -> Result<Answer, String> {
    let (pairs, unit, left_out, results) = pairs_of(desk)?;
    let first: Vec<f64> = pairs.iter().map(|p| p.first).collect();
    let second: Vec<f64> = pairs.iter().map(|p| p.second).collect();
    let found = bland_altman(&first, &second).ok_or_else(|| {
        format!(
            "{} doughs were measured with both instruments; at least four that differ are needed",
            pairs.len()
        )
    })?;
    let mut answer = Answer {
        target: desk.claim.question.target(),
        unit: ContrastUnit::Metric(unit),
        metric_unit: Some(unit),
        variant: desk.claim.variant.clone().unwrap_or_default(),
        doughs: (pairs.len(), pairs.len()),
        blocks: pairs.len(),
        error_term: format!(
            "differences of {} doughs measured with both instruments ({} degrees of freedom)",
            pairs.len(),
            pairs.len() - 1
        ),
        sd: None,
        results,
        left_out,
        assumptions: Vec::new(),
        warnings: Vec::new(),
        notes: lines(&first, &second),
        withheld: None,
        pictures: Pictures {
            agreement: pairs,
            ..Pictures::default()
        },
        inference: Box::new(Limits(found)),
    };
    trends(&found, &mut answer);
    Ok(answer)
}

fn lines(first: &[f64], second: &[f64]) -> Vec<String> {
    let mut notes =
        vec!["holds for these two instruments and the range that was measured".to_owned()];
    if let Some(line) = passing_bablok(second, first) {
        notes.push(format!(
            "Passing–Bablok line: slope {:.3} ({:.3} to {:.3}), intercept {:.3} ({:.3} to {:.3})",
            line.slope,
            line.slope_interval.low,
            line.slope_interval.high,
            line.intercept,
            line.intercept_interval.low,
            line.intercept_interval.high
        ));
    }
    if let Some(line) = deming(second, first, 1.0) {
        notes.push(format!(
            "Deming line for equal errors: slope {:.3}, intercept {:.3}",
            line.slope, line.intercept
        ));
    }
    notes
}

fn trends(found: &BlandAltman, answer: &mut Answer) {
    for (name, trend) in [
        ("bias does not grow with the quantity", found.trend),
        ("scatter does not grow with the quantity", found.spread),
    ] {
        let Some(trend) = trend else { continue };
        let doubtful = trend.p < DOUBTFUL_P;
        answer.assumptions.push(Assumption {
            name,
            words: format!(
                "slope {:.3} ({:.3} to {:.3}), p = {:.3}",
                trend.slope, trend.interval.low, trend.interval.high, trend.p
            ),
            doubtful,
        });
        if doubtful {
            answer.warnings.push(format!(
                "{name}: doubtful (p = {:.3}); one pair of limits does not hold over the range",
                trend.p
            ));
        }
    }
}

type Pairs = (Vec<AgreementPair>, Unit, Vec<LeftOut>, Vec<String>);

/// Returns the means of each dough on both instruments.
fn pairs_of(desk: &Desk<'_>) -> Result<Pairs, String> {
    let claim = desk.claim;
    let mut rows: BTreeMap<&str, &ResultRow> = BTreeMap::new();
    for row in &desk.evidence.results {
        let instrument = row.origin.instrument.as_ref();
        let ours = instrument == Some(&claim.treatment) || instrument == Some(&claim.reference);
        let reading = claim.variant.as_ref().is_none_or(|v| *v == row.variant);
        if ours && reading && row.metric == claim.metric {
            rows.insert(&row.result_id, row);
        }
    }
    let units: BTreeSet<&str> = rows.values().map(|row| row.unit.symbol()).collect();
    let unit = rows.values().next().map(|row| row.unit);
    let (Some(unit), 1) = (unit, units.len()) else {
        let words: Vec<&str> = units.into_iter().collect();
        return Err(match words.is_empty() {
            true => format!("neither instrument has a result of `{}`", claim.metric),
            false => format!(
                "the instruments give different quantities ({}): agreement is only for the same",
                words.join(", ")
            ),
        });
    };
    let mut doughs: BTreeMap<&str, [Vec<f64>; 2]> = BTreeMap::new();
    let (mut left_out, mut results) = (Vec::new(), Vec::new());
    for row in rows.into_values() {
        match (
            reason_against(desk, row),
            row.origin.batch.as_deref(),
            row.value,
        ) {
            (None, Some(batch), Some(value)) => {
                let [first, second] = doughs.entry(batch).or_default();
                match row.origin.instrument.as_ref() == Some(&claim.treatment) {
                    true => first.push(value),
                    false => second.push(value),
                }
                results.push(row.result_id.clone());
            }
            (reason, _, _) => left_out.push(LeftOut {
                what: row.result_id.clone(),
                reason: reason.unwrap_or_else(|| "no dough is named".to_owned()),
            }),
        }
    }
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let pairs = doughs
        .into_iter()
        .filter(|(_, [first, second])| !first.is_empty() && !second.is_empty())
        .map(|(batch, [first, second])| AgreementPair {
            dough: batch.to_owned(),
            first: mean(&first),
            second: mean(&second),
        })
        .collect();
    Ok((pairs, unit, left_out, results))
}

fn reason_against(desk: &Desk<'_>, row: &ResultRow) -> Option<String> {
    let by_study = excluded_by(desk.study, &row.origin, &row.run_id, &row.result_id);
    let no_value = row.status != Status::Exact || !row.value.is_some_and(f64::is_finite);
    row.excluded
        .clone()
        .or(by_study)
        .or_else(|| no_value.then(|| format!("{}: it gave no value", row.status)))
}

pub(super) fn tell(told: &Told<'_>, margin: f64) -> String {
    format!(
        "{} reads {}{} {} {} on average; 95 % of differences lie {}; the claim needs them within \
         {}{}.",
        told.claim.treatment,
        told.size(),
        told.unit(),
        match told.contrast.estimate >= 0.0 {
            true => "above",
            false => "below",
        },
        told.claim.reference,
        told.between(),
        short(margin),
        told.unit()
    )
}
