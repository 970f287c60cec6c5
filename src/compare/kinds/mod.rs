//! One file per question a claim can ask: how it is answered, and how the answer is said.

mod agreement;
mod difference;
mod energy_share;
mod equivalent;
mod gain_at_equal;
mod grade;
mod not_worse;
mod rate;
mod ratio;
mod same_curve;

use super::answer::{Answer, Desk};
use super::told::Told;
use crate::study::Question;

/// Returns the answer to the claim on the desk.
///
/// # Errors
/// The reason why the design cannot answer it.
pub(super) fn answer(desk: &Desk<'_>) -> Result<Answer, String> {
    match &desk.claim.question {
        Question::Difference { .. } => difference::answer(desk),
        Question::Ratio { .. } => ratio::answer(desk),
        Question::Equivalent { .. } => equivalent::answer(desk),
        Question::NotWorse { .. } => not_worse::answer(desk),
        Question::GainAtEqual { slope_margin, .. } => gain_at_equal::answer(desk, *slope_margin),
        Question::EnergyShare { parts, .. } => energy_share::answer(desk, parts),
        Question::Rate { .. } => rate::answer(desk),
        Question::Grade { mix_time_min, .. } => grade::answer(desk, *mix_time_min),
        Question::Agreement { .. } => agreement::answer(desk),
        Question::SameCurve {
            timing_margin,
            range,
            permutations,
            ..
        } => {
            let wanted = same_curve::Wanted {
                timing_margin: *timing_margin,
                range: *range,
                permutations: *permutations,
            };
            same_curve::answer(desk, wanted)
        }
    }
}

/// Returns what was measured and what the claim needs, in words that a baker understands.
pub(super) fn tell(told: &Told<'_>) -> String {
    match &told.claim.question {
        Question::Difference { direction, margin } => difference::tell(told, *direction, *margin),
        Question::Ratio { direction, margin } => ratio::tell(told, *direction, *margin),
        Question::Equivalent { margin } => equivalent::tell(told, *margin),
        Question::NotWorse { better, margin } => not_worse::tell(told, *better, *margin),
        Question::GainAtEqual { margin, .. } => gain_at_equal::tell(told, *margin),
        Question::EnergyShare { share, .. } => energy_share::tell(told, *share),
        Question::Rate {
            direction, margin, ..
        } => rate::tell(told, *direction, *margin),
        Question::Grade { margin, .. } => grade::tell(told, *margin),
        Question::Agreement { margin } => agreement::tell(told, *margin),
        Question::SameCurve {
            margin,
            timing_margin,
            ..
        } => same_curve::tell(told, *margin, *timing_margin),
    }
}
