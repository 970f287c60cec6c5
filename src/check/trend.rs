//! The rule on what control charts of the reference flour say on a day that measured it.

use super::{Rule, Seen, rule};
use crate::record::Day;
use crate::schema::Level;

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
    let mut seen = Vec::new();
    for note in &day.trends {
        let level = match note.out_now {
            true => Level::Warn,
            false => Level::Note,
        };
        let words = match (note.out_now, note.words.first()) {
            (true, Some(words)) => words.clone(),
            (true, None) => format!("{} {}: out of control", note.instrument, note.metric),
            // In control: only where something is to be told of the flour or the limits.
            (false, _) => continue,
        };
        seen.push(Seen::new(words).at_level(level));
    }
    seen
}

pub(super) static RULES: &[&Rule] = &[&REFERENCE_FLOUR];
