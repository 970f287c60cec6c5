//! The rule on what control charts of the reference flour say on a day that measured it.

use super::{Rule, Seen, rule};
use crate::record::Day;

rule! {
    /// An instrument is in control on a reference flour: no value beyond three standard deviations,
    /// no pattern that chance rarely makes, and no cumulative sum or moving average beyond its
    /// limit at the latest reading.
    REFERENCE_FLOUR {
        id: "day.reference-flour", title: "instrument out of control on the reference flour",
        level: Warn, revision: 1,
        source: ("ISO 7870-2, -4 and -6", "control charts", FromMemoryHigh),
        what_to_do: "Repeat the reference flour; if it reads the same, check calibration, thermostat and the flour's age before the day's numbers are compared with earlier ones.",
        look: Day(see_reference_flour),
    }
}

fn see_reference_flour(day: &Day) -> Vec<Seen> {
    let out = day.trends.iter().filter(|note| note.out_now);
    out.map(|note| {
        let told = note.words.first().cloned();
        let plain = || format!("{} {}: out of control", note.instrument, note.metric);
        Seen::new(told.unwrap_or_else(plain))
    })
    .collect()
}

pub(super) static RULES: &[&Rule] = &[&REFERENCE_FLOUR];
