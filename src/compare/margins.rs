//! Margins a baker notices, and margins that a laboratory can resolve (HANDBOOK §12.3).

use super::answer::Answer;
use crate::study::{Margin, PlannedClaim, Question, Scale};

/// The widest margin that still means something, for metrics of which the handbook says it.
enum Noticed {
    /// In the metric's unit.
    Absolute(f64),
    /// As a share of the reference.
    Relative(f64),
}

/// Metric, or its start, and the difference that a baker notices: judgement of the handbook, from
/// practice; a study's author confirms margins by writing them down.
const NOTICED: &[(&str, Noticed)] = &[
    ("mixing.water_absorption", Noticed::Absolute(1.5)),
    ("mixing.development_time", Noticed::Relative(0.25)),
    ("mixing.stability", Noticed::Relative(0.20)),
    ("extension.maximum", Noticed::Relative(0.15)),
    ("extension.resistance_50", Noticed::Relative(0.15)),
    ("extension.extensibility", Noticed::Relative(0.10)),
    ("inflation.energy", Noticed::Relative(0.10)),
    ("loaf.specific_volume", Noticed::Relative(0.07)),
    ("firmness.force", Noticed::Relative(0.15)),
    ("mixer-log.", Noticed::Relative(0.10)),
];

/// The repeatability limit is this many repeatability standard deviations (ISO 5725-6; HANDBOOK
/// D17).
const REPEATABILITY_FACTOR: f64 = 2.8;

/// Returns what is to be said of the claim's margin: that it is wider than a baker notices, or
/// narrower than these doughs resolve. Neither refuses anything.
pub(super) fn warnings(claim: &PlannedClaim, answer: &Answer) -> Vec<String> {
    let mut found = Vec::new();
    let Some(half) = half_width(&claim.question) else {
        return found;
    };
    if let Some(limit) = noticed(claim, half) {
        found.push(limit);
    }
    // For a margin of zero there is nothing to resolve.
    let per_method = answer.doughs.0.min(answer.doughs.1) as f64;
    if let Some(sd) = answer.sd {
        let limit = REPEATABILITY_FACTOR * sd / per_method.sqrt();
        let margin = match (half, claim.question.scale()) {
            (Margin::Absolute(m), Scale::Linear) => m,
            (Margin::Relative(m), _) => libm::log1p(m),
            (Margin::Absolute(m), Scale::Log) => libm::log1p(m),
        };
        if margin < limit {
            let (margin, limit) = match claim.question.scale() {
                Scale::Linear => (format!("{margin:.3}"), format!("{limit:.3}")),
                Scale::Log => (
                    format!("{:.1} %", 100.0 * libm::expm1(margin)),
                    format!("{:.1} %", 100.0 * libm::expm1(limit)),
                ),
            };
            found.push(format!(
                "the margin of {margin} is below 2.8 s/√n = {limit}: these doughs hardly resolve it"
            ));
        }
    }
    found
}

/// Returns how far the claim lets the methods be apart and still calls them alike; `None` for
/// claims of a gain, whose margin is no tolerance.
fn half_width(question: &Question) -> Option<Margin> {
    match question {
        Question::Equivalent { margin } | Question::NotWorse { margin, .. } => Some(*margin),
        Question::Ratio { margin, direction } => {
            let loss = match direction {
                crate::study::Direction::Above => 1.0 - margin,
                crate::study::Direction::Below => margin - 1.0,
            };
            (loss > 0.0).then_some(Margin::Relative(loss))
        }
        _ => None,
    }
}

fn noticed(claim: &PlannedClaim, half: Margin) -> Option<String> {
    let (_, limit) = NOTICED
        .iter()
        .find(|(start, _)| claim.metric.starts_with(start))?;
    let words = "proves little: it is wider than the";
    match (half, limit) {
        (Margin::Absolute(margin), Noticed::Absolute(limit)) if margin > *limit => Some(format!(
            "a margin of {margin} {words} {limit} that a baker notices"
        )),
        (Margin::Relative(margin), Noticed::Relative(limit)) if margin > limit + 1e-12 => {
            Some(format!(
                "a margin of {:.0} % {words} {:.0} % that a baker notices",
                100.0 * margin,
                100.0 * limit
            ))
        }
        _ => None,
    }
}
