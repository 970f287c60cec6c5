//! Rules on the record of a mixing run: time, gaps, spikes, length, peak, sampling.

use super::{Rule, Seen, is_mixing, rule, seen_stepping_back, strict_for_final};
use crate::record::{Outcome, RunRecord};
use crate::schema::{Level, Unit};

rule! {
    /// Each reading comes later than the one before. A record whose time steps back is not read at
    /// all: nobody can tell which readings belong together.
    TIME_STEPS_BACK {
        id: "mixing.time-steps-back", title: "time does not increase", level: Reject, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Export the record again from the instrument; if its clock was reset during the run, repeat the run.",
        look: Run(see_time_steps_back),
    }
}

fn see_time_steps_back(run: &RunRecord) -> Vec<Seen> {
    seen_stepping_back(run, is_mixing(run), |line, count| {
        let times = match count {
            1 => "once".to_owned(),
            count => format!("{count} times"),
        };
        format!("time steps back {times}, first at line {line}")
    })
}

rule! {
    /// Each reading has a time of its own. Equal times come from a clock written too coarsely; the
    /// readings are kept in file order.
    REPEATED_TIMES {
        id: "mixing.repeated-times", title: "equal time stamps", level: Note, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Let the instrument write its clock with tenths of a second.",
        look: Run(see_repeated_times),
    }
}

fn see_repeated_times(run: &RunRecord) -> Vec<Seen> {
    match run.facts.repeated_times {
        _ if !is_mixing(run) => Vec::new(),
        0 => Vec::new(),
        n if n + 1 == run.facts.points => vec![
            Seen::new("every reading carries the same time".into())
                .at_level(Level::Reject)
                .then("Let the instrument write its clock, and export the record again.".into()),
        ],
        n => vec![Seen::new(format!(
            "{n} readings carry the time of the reading before them"
        ))],
    }
}

rule! {
    /// No pause in the record is longer than two sampling periods. A pause longer than the 30 s over
    /// which the curve is smoothed leaves a stretch that nothing is known of, and rejects the run.
    GAP {
        id: "mixing.gap", title: "gap in the record", level: Warn, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Check cable and recorder; repeat the run if a metric was read near the gap.",
        look: Run(see_gaps),
    }
}

/// A pause that empties a whole smoothing window, s.
const LONG_GAP_S: f64 = 30.0;

fn see_gaps(run: &RunRecord) -> Vec<Seen> {
    if !is_mixing(run) {
        return Vec::new();
    }
    let gaps = &run.facts.gaps;
    let longest = gaps
        .iter()
        .max_by(|a, b| (a.to_s - a.from_s).total_cmp(&(b.to_s - b.from_s)));
    let Some(longest) = longest.filter(|_| is_mixing(run)) else {
        return Vec::new();
    };
    let length = longest.to_s - longest.from_s;
    let level = if length > LONG_GAP_S {
        Level::Reject
    } else {
        Level::Warn
    };
    let count = gaps.len();
    let plural = if count == 1 { "gap" } else { "gaps" };
    let seen = Seen::new(format!(
        "{count} {plural}; the longest lasts {length:.1} s, from {:.1} min, at readings every {:.2} s",
        longest.from_s / 60.0,
        run.facts.sampling_s
    ))
    .at_row(run.lines.line(longest.index))
    .at_level(level);
    vec![if level == Level::Reject {
        seen.then("Check cable and recorder, and repeat the run.".into())
    } else {
        seen
    }]
}

rule! {
    /// Spikes and drop-outs are counted and shown, and bridged when the curve is read; the raw file
    /// keeps them. More than 0.5 % of the readings is a fault of the recorder, not an accident.
    SPIKES {
        id: "mixing.spikes", title: "spikes or drop-outs", level: Note, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Look at the readings marked on the chart; if they return in other runs, check cable and sensor.",
        look: Run(see_spikes),
    }
}

/// Share of readings that makes spikes more than an accident.
const MANY_SPIKES_SHARE: f64 = 0.005;

fn see_spikes(run: &RunRecord) -> Vec<Seen> {
    let spikes = &run.facts.spikes;
    let Some(first) = spikes.first().filter(|_| is_mixing(run)) else {
        return Vec::new();
    };
    let down = spikes.iter().filter(|s| s.height < 0.0).count();
    let many = spikes.len() as f64 > MANY_SPIKES_SHARE * run.facts.points as f64;
    vec![
        Seen::new(format!(
            "{} of {} readings stand apart ({} above, {down} below their neighbours), the first at {:.1} min",
            spikes.len(),
            run.facts.points,
            spikes.len() - down,
            first.at_s / 60.0
        ))
        .at_row(run.lines.line(first.index))
        .at_level(if many { Level::Warn } else { Level::Note }),
    ]
}

rule! {
    /// The recorder never shows more than its full scale. Readings at full scale hide the true
    /// maximum; a flat run of the highest reading suggests the same where full scale is not stated.
    SATURATION {
        id: "mixing.saturation", title: "recorder at full scale", level: Reject, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Choose a wider range on the recorder, or more water, and repeat the run.",
        look: Run(see_saturation),
    }
}

fn see_saturation(run: &RunRecord) -> Vec<Seen> {
    let count = run.facts.saturated_points;
    if count == 0 || !is_mixing(run) {
        return Vec::new();
    }
    vec![match run.conditions.full_scale {
        Some(scale) => Seen::new(format!("{count} readings at the full scale of {scale:.0}")),
        None => Seen::new(format!(
            "{count} readings at exactly the highest value: the record looks clipped"
        ))
        .at_level(Level::Warn),
    }]
}

rule! {
    /// The record lasts at least 12 min past the development time, so that softening can be read.
    SHORT_RECORD {
        id: "mixing.short-record", title: "record too short for softening", level: Warn,
        revision: 1,
        source: ("ISO 5530-1", "degree of softening", FromMemoryHigh),
        what_to_do: "Let the next run of this flour go on for the time stated.",
        look: Run(see_short_record),
    }
}

fn see_short_record(run: &RunRecord) -> Vec<Seen> {
    if !is_mixing(run) {
        return Vec::new();
    }
    let Some(peak) = run
        .result("mixing.development_time")
        .and_then(|r| r.outcome.value())
    else {
        return Vec::new();
    };
    let short = run
        .result("mixing.softening_12min")
        .is_some_and(|r| matches!(&r.outcome, Outcome::NotComputable(why) if why.starts_with("record too short")));
    if !short {
        return Vec::new();
    }
    vec![
        Seen::new(format!(
            "development time {peak:.1} min, record of {:.1} min: softening after 12 min cannot be read",
            run.facts.duration_s / 60.0
        ))
        .then(format!("Record the next run of this flour for at least {:.0} min.", (peak + 12.5).ceil())),
    ]
}

rule! {
    /// The consistency has begun to fall before the record ends: otherwise the peak was not
    /// reached, and neither development time nor anything that refers to it can be read.
    RISING_AT_END {
        id: "mixing.rising-at-end", title: "peak not reached", level: Reject, revision: 1,
        source: ("ISO 5530-1", "dough development time", FromMemoryHigh),
        what_to_do: "Mix longer, until the consistency has clearly fallen; a very strong flour may need a faster mixer.",
        look: Run(see_rising),
    }
}

fn see_rising(run: &RunRecord) -> Vec<Seen> {
    if !is_mixing(run) || !run.facts.rising_at_end {
        return Vec::new();
    }
    vec![
        Seen::new(format!(
            "the consistency is still rising when the record ends at {:.1} min",
            run.facts.duration_s / 60.0
        ))
        .at_level(strict_for_final(run)),
    ]
}

rule! {
    /// Every reading of the record is there. Cells that hold a declared missing mark are passed
    /// over and counted.
    MISSING_READINGS {
        id: "mixing.missing-readings", title: "missing readings", level: Note, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Look at the chart; if many are missing in one place, repeat the run.",
        look: Run(see_missing_readings),
    }
}

fn see_missing_readings(run: &RunRecord) -> Vec<Seen> {
    match run.facts.missing_cells {
        0 => Vec::new(),
        n => vec![Seen::new(format!("{n} cells hold a missing mark"))],
    }
}

rule! {
    /// The development time is read: the record begins before wetting ends, water contact lies in
    /// it, and the consistency falls far enough for the peak to be confirmed.
    PEAK_NOT_CONFIRMED {
        id: "mixing.peak-not-confirmed", title: "no confirmed peak", level: Reject, revision: 1,
        source: ("ISO 5530-1", "dough development time", FromMemoryHigh),
        what_to_do: "Look at the chart: check when water was added and how long the record lasts, then repeat the run until the consistency has clearly fallen.",
        look: Run(see_unconfirmed_peak),
    }
}

fn see_unconfirmed_peak(run: &RunRecord) -> Vec<Seen> {
    let known = run.facts.rising_at_end
        || run.facts.saturated_points > 0
        || !run.facts.time_steps_back.is_empty()
        || run.facts.repeated_times + 1 == run.facts.points;
    if !is_mixing(run) || known {
        return Vec::new();
    }
    let Some(outcome) = run.result("mixing.development_time").map(|r| &r.outcome) else {
        return Vec::new();
    };
    let words = match outcome {
        Outcome::Exact(_) => return Vec::new(),
        Outcome::Rejected(reason) => reason.clone(),
        Outcome::Above(bound) => format!(
            "the consistency does not fall clearly before the record ends at {bound:.1} min"
        ),
        Outcome::Below(bound) => format!(
            "the consistency falls from the end of wetting at {bound:.1} min on: the peak lies before it"
        ),
        Outcome::NotReached(reason) | Outcome::NotComputable(reason) => reason.clone(),
    };
    vec![Seen::new(words).at_level(strict_for_final(run))]
}

rule! {
    /// The record says when water first touched the flour. Where it does not, the clock's own zero
    /// is taken; every time of the run is off by as much as that is wrong.
    TIME_ZERO_INFERRED {
        id: "mixing.time-zero-inferred", title: "time zero inferred", level: Note, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Start the record with the water, or state water_contact_s in the file or run sheet.",
        look: Run(see_inferred_zero),
    }
}

fn see_inferred_zero(run: &RunRecord) -> Vec<Seen> {
    if is_mixing(run) && run.facts.time_zero_inferred {
        return vec![Seen::new(
            "water contact is not stated; the clock's zero is taken".into(),
        )];
    }
    Vec::new()
}

rule! {
    /// The readings of the development time (end of plateau, maximum, flat top) agree within
    /// 0.5 min. Where they do not, the peak is flat and the number depends on the reading.
    FLAT_PEAK {
        id: "mixing.flat-peak", title: "flat peak", level: Note, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Quote the development time with the name of its reading; compare only equal readings.",
        look: Run(see_flat_peak),
    }
}

fn see_flat_peak(run: &RunRecord) -> Vec<Seen> {
    match run.facts.development_spread_min {
        Some(spread) if spread > 0.5 => vec![Seen::new(format!(
            "the readings of the development time spread over {spread:.1} min"
        ))],
        _ => Vec::new(),
    }
}

rule! {
    /// The curve has one peak. Of two, the second counts; both are reported.
    DOUBLE_PEAK {
        id: "mixing.double-peak", title: "more than one peak", level: Warn, revision: 1,
        source: ("ISO 5530-1 and ICC 115/1", "maximum consistency", FromMemoryHigh),
        what_to_do: "Look at the chart: an early hump is hydration, a scraped bowl makes a notch. State operator markers if the bowl was touched.",
        look: Run(see_double_peak),
    }
}

fn see_double_peak(run: &RunRecord) -> Vec<Seen> {
    if !is_mixing(run) || run.facts.peaks.len() < 2 {
        return Vec::new();
    }
    let all: Vec<String> = run
        .facts
        .peaks
        .iter()
        .map(|peak| {
            format!(
                "{:.0} {} at {:.1} min",
                peak.height, run.unit, peak.time_min
            )
        })
        .collect();
    vec![Seen::new(format!(
        "peaks of {}; the last counts",
        all.join(" and ")
    ))]
}

rule! {
    /// The upper contour leaves the line once. Where it does so more often, the last departure is
    /// reported, and the first beside it.
    MULTIPLE_DEPARTURES {
        id: "mixing.multiple-departures", title: "line crossed more than once", level: Note,
        revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Quote the stability with its reading (last or first departure).",
        look: Run(see_multiple_departures),
    }
}

fn see_multiple_departures(run: &RunRecord) -> Vec<Seen> {
    match run.facts.line_crossings {
        n if n > 1 => vec![Seen::new(format!(
            "the upper contour leaves the line {n} times"
        ))],
        _ => Vec::new(),
    }
}

rule! {
    /// The signal is sampled fast enough for the blades: at least four readings a second show the
    /// band over two blade periods. Slower records are read over more periods, or not at all.
    SLOW_SAMPLING {
        id: "mixing.slow-sampling", title: "sampled too slowly for the band", level: Note,
        revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Set the recorder to four readings a second or faster.",
        look: Run(see_slow_sampling),
    }
}

fn see_slow_sampling(run: &RunRecord) -> Vec<Seen> {
    if !is_mixing(run) || run.facts.contours_supplied || run.facts.sampling_s <= 0.5 {
        return Vec::new();
    }
    let every = run.facts.sampling_s;
    match run.facts.contour_periods {
        Some(periods) => vec![Seen::new(format!(
            "sampled every {every:.1} s: the band is read over {periods} blade periods together and may read low"
        ))],
        None => vec![
            Seen::new(format!(
                "sampled every {every:.1} s: band, arrival, departure, stability and tolerance index cannot be known"
            ))
            .at_level(Level::Warn),
        ],
    }
}

rule! {
    /// The record says in which unit its ordinate is. Without it, heights are printed in arbitrary
    /// units, and nothing that needs the 500 FU line can be read.
    UNIT_UNKNOWN {
        id: "mixing.unit-unknown", title: "unit not documented", level: Warn, revision: 1,
        source: ("ISO 5530-1", "consistency", FromMemoryHigh),
        what_to_do: "Find the unit in the instrument's manual and write an import profile that states it.",
        look: Run(see_unknown_unit),
    }
}

fn see_unknown_unit(run: &RunRecord) -> Vec<Seen> {
    if is_mixing(run) && run.unit == Unit::ArbitraryUnit {
        return vec![Seen::new(
            "the ordinate is in an undocumented unit (a.u.)".into(),
        )];
    }
    Vec::new()
}

/// The rules of this file, in report order.
pub(super) static RULES: &[&Rule] = &[
    &TIME_STEPS_BACK,
    &GAP,
    &SATURATION,
    &RISING_AT_END,
    &PEAK_NOT_CONFIRMED,
    &SHORT_RECORD,
    &UNIT_UNKNOWN,
    &SLOW_SAMPLING,
    &SPIKES,
    &DOUBLE_PEAK,
    &FLAT_PEAK,
    &MULTIPLE_DEPARTURES,
    &REPEATED_TIMES,
    &MISSING_READINGS,
    &TIME_ZERO_INFERRED,
];
