//! Margins a baker notices, and margins that a laboratory can resolve (HANDBOOK §12.3).

use super::answer::Answer;
use crate::study::{Margin, PlannedClaim, Question, Scale};

/// The widest margin that still means something: in the metric's unit, and as a share of the
/// reference. `None` where the handbook gives no such number.
struct Noticed {
    metric: &'static str,
    absolute: Option<f64>,
    relative: Option<f64>,
}

const fn noticed(metric: &'static str, absolute: Option<f64>, relative: Option<f64>) -> Noticed {
    Noticed {
        metric,
        absolute,
        relative,
    }
}

/// Differences that a baker notices, by metric or start of its name: judgement of the handbook,
/// from practice; a study's author confirms a margin by writing it down.
const NOTICED: &[Noticed] = &[
    noticed("mixing.water_absorption", Some(1.5), None),
    noticed("mixing.development_time", None, Some(0.25)),
    noticed("mixing.stability", Some(2.0), Some(0.20)),
    noticed("extension.maximum_resistance", None, Some(0.15)),
    noticed("extension.resistance_50mm", None, Some(0.15)),
    noticed("extension.extensibility", None, Some(0.10)),
    noticed("inflation.deformation_energy", None, Some(0.10)),
    noticed("loaf.specific_volume", Some(0.3), Some(0.07)),
    noticed("firmness.force_25", None, Some(0.15)),
    noticed("firmness.mean_force_25", None, Some(0.15)),
    noticed("mixer-log.specific_energy", None, Some(0.10)),
    noticed("mixer-log.electric_energy", None, Some(0.10)),
    noticed("mixer-log.hydraulic_energy", None, Some(0.10)),
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
    if let Some(limit) = too_wide(claim, half) {
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

fn too_wide(claim: &PlannedClaim, half: Margin) -> Option<String> {
    let limit = NOTICED.iter().find(|n| n.metric == claim.metric)?;
    let words = "proves little: it is wider than the";
    match (half, limit.absolute, limit.relative) {
        (Margin::Absolute(margin), Some(most), _) if margin > most => Some(format!(
            "a margin of {margin} {words} {most} that a baker notices"
        )),
        (Margin::Relative(margin), _, Some(most)) if margin > most + 1e-12 => Some(format!(
            "a margin of {:.0} % {words} {:.0} % that a baker notices",
            100.0 * margin,
            100.0 * most
        )),
        _ => None,
    }
}
