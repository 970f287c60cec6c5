//! Rules on the record of a pin-mixing or heating run: time, gaps, spikes, full scale.

use super::{Rule, Seen, rule, seen_stepping_back};
use crate::record::RunRecord;
use crate::schema::{Level, Test};

/// Returns whether the rules of this file look at the run; other tests have rules of their own.
fn is_judged(run: &RunRecord) -> bool {
    matches!(run.test, Test::PinMixing | Test::Heating)
}

rule! {
    /// Each reading of a record over time comes later than the one before. A record whose time
    /// steps back is not read at all: nobody can tell which readings belong together.
    TIME_STEPS_BACK {
        id: "record.time-steps-back", title: "time does not increase", level: Reject, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Export the record again from the instrument; if its clock was reset during the run, repeat the run.",
        look: Run(see_time_steps_back),
    }
}

fn see_time_steps_back(run: &RunRecord) -> Vec<Seen> {
    seen_stepping_back(run, is_judged(run), |line, count| {
        format!("time steps back {count}×, first at line {line}")
    })
}

rule! {
    /// No pause in the record is longer than two sampling periods. A pause longer than the 20 s over
    /// which the curve is smoothed leaves a stretch that nothing is known of, and rejects the run.
    GAP {
        id: "record.gap", title: "gap in the record", level: Warn, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Check cable and recorder; repeat the run if a metric was read near the gap.",
        look: Run(see_gaps),
    }
}

/// A pause that empties a whole smoothing window, s.
const LONG_GAP_S: f64 = 20.0;

fn see_gaps(run: &RunRecord) -> Vec<Seen> {
    let gaps = run.facts.gaps.iter().filter(|_| is_judged(run));
    let longest = gaps.max_by(|a, b| (a.to_s - a.from_s).total_cmp(&(b.to_s - b.from_s)));
    let Some(longest) = longest else {
        return Vec::new();
    };
    let length = longest.to_s - longest.from_s;
    let level = if length > LONG_GAP_S {
        Level::Reject
    } else {
        Level::Warn
    };
    let seen = Seen::new(format!(
        "{} pauses in the record; the longest lasts {length:.1} s, from {:.1} min, at readings every {:.2} s",
        run.facts.gaps.len(),
        longest.from_s / 60.0,
        run.facts.sampling_s
    ));
    vec![seen.at_row(run.lines.line(longest.index)).at_level(level)]
}

rule! {
    /// Spikes and drop-outs are counted and bridged when the curve is read; the raw file keeps
    /// them. More than 0.5 % of the readings is a fault of the recorder, not an accident.
    SPIKES {
        id: "record.spikes", title: "spikes or drop-outs", level: Note, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Look at the readings on the chart; if they return in other runs, check cable and sensor.",
        look: Run(see_spikes),
    }
}

/// Share of readings that makes spikes more than an accident.
const MANY_SPIKES_SHARE: f64 = 0.005;

fn see_spikes(run: &RunRecord) -> Vec<Seen> {
    let spikes = &run.facts.spikes;
    let Some(first) = spikes.first().filter(|_| is_judged(run)) else {
        return Vec::new();
    };
    let many = spikes.len() as f64 > MANY_SPIKES_SHARE * run.facts.points as f64;
    let seen = Seen::new(format!(
        "{} of {} readings stand apart from their neighbours, the first at {:.1} min",
        spikes.len(),
        run.facts.points,
        first.at_s / 60.0
    ));
    let level = if many { Level::Warn } else { Level::Note };
    vec![seen.at_row(run.lines.line(first.index)).at_level(level)]
}

rule! {
    /// The recorder never shows more than its full scale: readings there hide the true maximum.
    SATURATION {
        id: "record.saturation", title: "recorder at full scale", level: Reject, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Choose a wider range or another spring, or more water, and repeat the run.",
        look: Run(see_saturation),
    }
}

fn see_saturation(run: &RunRecord) -> Vec<Seen> {
    match run.facts.saturated_points {
        count if count > 0 && is_judged(run) => vec![Seen::new(format!(
            "{count} readings at the recorder's full scale: the curve is cut off"
        ))],
        _ => Vec::new(),
    }
}

rule! {
    /// The record says when mixing began. Where it does not, the clock's own zero is taken; every
    /// time of the run is off by as much as that is wrong.
    TIME_ZERO_INFERRED {
        id: "record.time-zero-inferred", title: "start of mixing inferred", level: Note, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Start the record with the mixer, or state water_contact_s in the file or run sheet.",
        look: Run(see_inferred_zero),
    }
}

fn see_inferred_zero(run: &RunRecord) -> Vec<Seen> {
    if is_judged(run) && run.facts.time_zero_inferred {
        return vec![Seen::new(
            "the start of mixing is not stated; the clock's zero is taken".into(),
        )];
    }
    Vec::new()
}

/// The rules of this file, in report order.
pub(super) static RULES: &[&Rule] = &[
    &TIME_STEPS_BACK,
    &GAP,
    &SATURATION,
    &SPIKES,
    &TIME_ZERO_INFERRED,
];
