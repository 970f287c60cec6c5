//! The clock of a curve over time: sampling, steps back, pauses, and when the test began.

use crate::numerics::median_of_some;
use crate::record::{Conditions, Curve, Estimate, Gap, Outcome, Run, SignalFacts};

/// Most time that a record may begin after water contact, s: the wetting is in it, or nothing is.
const LATEST_START_S: f64 = 60.0;

/// Returns points, length, sampling, steps back and pauses of the record.
pub(super) fn time_facts(curve: &Curve) -> SignalFacts {
    let x = curve.x();
    let steps: Vec<f64> = x.windows(2).map(|w| w[1] - w[0]).collect();
    let positive: Vec<f64> = steps.iter().copied().filter(|s| *s > 0.0).collect();
    let sampling_s = median_of_some(&positive).unwrap_or(0.0);
    let mut facts = SignalFacts {
        points: x.len(),
        duration_s: x[x.len() - 1] - x[0],
        sampling_s,
        ..SignalFacts::default()
    };
    for (i, step) in steps.iter().enumerate() {
        if *step < 0.0 {
            facts.time_steps_back.push(i + 1);
        } else if *step == 0.0 {
            facts.repeated_times += 1;
        } else if *step > 2.0 * sampling_s + 1e-9 {
            // A gap is more than two sampling periods (HANDBOOK 8.1).
            facts.gaps.push(Gap {
                from_s: x[i],
                to_s: x[i + 1],
                index: i + 1,
            });
        }
    }
    facts
}

/// Returns water contact on the record's clock: as stated, else the clock's zero, else its start.
pub(super) fn time_zero(curve: &Curve, conditions: &Conditions, facts: &mut SignalFacts) -> f64 {
    if let Some(stated) = conditions.water_contact_s {
        return stated;
    }
    facts.time_zero_inferred = true;
    let first = curve.x()[0];
    // A clock that starts within a minute of zero counts from water contact (or from just before
    // it, with negative times); any other clock counts from somewhere else.
    if first <= 60.0 && curve.x()[curve.points() - 1] > 0.0 {
        0.0
    } else {
        first
    }
}

/// Returns why the record's times cannot be used, if they cannot.
pub(super) fn unusable_time(run: &Run, curve: &Curve, facts: &SignalFacts) -> Option<String> {
    let (first, last) = (curve.x()[0], curve.x()[curve.points() - 1]);
    let zero = facts.time_zero_s;
    if !facts.time_zero_inferred && !(first - LATEST_START_S..=last).contains(&zero) {
        return Some(format!(
            "water contact is stated at {zero:.0} s, but the record runs from {first:.0} to {last:.0} s"
        ));
    }
    if let Some(&index) = facts.time_steps_back.first() {
        return Some(format!(
            "time steps back at line {} of the file",
            run.line_of(index)
        ));
    }
    (facts.sampling_s <= 0.0)
        .then(|| "the record has no two readings at different times".to_owned())
}

/// Returns the standard uncertainty of reading a time off a record sampled every `sampling_s`:
/// half a step either way, rectangular (JCGM 100, 4.3.7).
pub(super) fn u_time_s(sampling_s: f64) -> f64 {
    sampling_s / 12.0_f64.sqrt()
}

/// Returns an exact time in minutes from seconds, with an interval in seconds and the resolution of
/// the record, as a standard uncertainty, added in quadrature.
pub(super) fn time_outcome(u_time_s: f64, at_s: f64, interval_s: (f64, f64)) -> Outcome {
    let resolution = 2.0 * u_time_s;
    let low = at_s - (at_s - interval_s.0).hypot(resolution);
    let high = at_s + (interval_s.1 - at_s).hypot(resolution);
    let std = (high - low) / 4.0;
    match Estimate::with_interval(at_s / 60.0, low / 60.0, high / 60.0, std / 60.0) {
        Ok(estimate) => Outcome::Exact(estimate),
        Err(error) => Outcome::NotComputable(error.to_string()),
    }
}
