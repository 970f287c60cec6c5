//! Rules on pin-mixer runs: set-points, dosing, record, noise, duplicates.

use super::{Rule, Seen, extremes, rule};
use crate::record::{Day, Outcome, RunRecord};
use crate::schema::{Field, Level, Test, Unit};
use std::collections::BTreeMap;

fn is_pin(run: &RunRecord) -> bool {
    run.test == Test::PinMixing
}

rule! {
    /// The mixer and its room stand at 25 ± 1 °C: the thermostat where one is stated, else the room.
    TEMPERATURE {
        id: "pin-mixing.temperature", title: "temperature off 25 °C", level: Warn, revision: 1,
        source: ("AACC 54-40", "set-points", FromMemoryMedium),
        what_to_do: "Let mixer, flour and water come to 25 ± 1 °C and repeat the run.",
        look: Run(see_temperature),
    }
}

/// Set-point and tolerance of the temperature, °C.
const TEMPERATURE_C: (f64, f64) = (25.0, 1.0);

fn see_temperature(run: &RunRecord) -> Vec<Seen> {
    let room = run.metadata.number(Field::RoomTempC);
    let stated = run.conditions.thermostat_c.or(room);
    match stated.filter(|_| is_pin(run)) {
        Some(t) if (t - TEMPERATURE_C.0).abs() > TEMPERATURE_C.1 + 1e-9 => {
            vec![Seen::new(format!(
                "temperature of {t:.1} °C; the limit is {:.0} ± {:.0} °C",
                TEMPERATURE_C.0, TEMPERATURE_C.1
            ))]
        }
        _ => Vec::new(),
    }
}

rule! {
    /// The head turns at 88 ± 2 1/min, as recorded, else as stated.
    SPEED {
        id: "pin-mixing.speed", title: "speed off 88 1/min", level: Warn, revision: 1,
        source: ("AACC 54-40", "set-points", FromMemoryMedium),
        what_to_do: "Have the drive set to 88 1/min; times of peaks at another speed are not comparable.",
        look: Run(see_speed),
    }
}

fn see_speed(run: &RunRecord) -> Vec<Seen> {
    match run.facts.tool_speed_per_min.filter(|_| is_pin(run)) {
        Some(speed) if (speed - 88.0).abs() > 2.0 + 1e-9 => vec![Seen::new(format!(
            "speed of {speed:.1} 1/min; the limit is 88 ± 2 1/min"
        ))],
        _ => Vec::new(),
    }
}

rule! {
    /// The flour weighed is that of the bowl, 10 g or 35 g (2 g in research bowls) at 14 % moisture,
    /// to within 2 %.
    FLOUR_WEIGHED {
        id: "pin-mixing.flour-weighed", title: "flour weighed does not fit the bowl", level: Warn,
        revision: 1,
        source: ("AACC 54-40", "flour mass", FromMemoryMedium),
        what_to_do: "Check the flour weighed, the flour moisture and the bowl; correct the statement, or repeat the run with the mass named.",
        look: Run(see_flour),
    }
}

fn see_flour(run: &RunRecord) -> Vec<Seen> {
    let c = &run.conditions;
    let bowl = run.metadata.number(Field::BowlG).filter(|_| is_pin(run));
    let (Some(bowl), Some(flour), Some(moisture)) = (bowl, c.flour_g, c.flour_moisture_pct) else {
        return Vec::new();
    };
    // Mass that holds the dry matter of the bowl's flour at 14 % (HANDBOOK 1.2; derived).
    let wanted = bowl * 86.0 / (100.0 - moisture);
    if ![2.0, 10.0, 35.0]
        .iter()
        .any(|known| (bowl - known).abs() < 0.05)
    {
        return vec![Seen::new(format!(
            "bowl stated as {bowl} g; known are 10 g and 35 g, and 2 g in research"
        ))];
    }
    if (flour / wanted - 1.0).abs() <= 0.02 {
        return Vec::new();
    }
    vec![Seen::new(format!(
        "{flour:.2} g flour weighed; bowl and moisture ask for {wanted:.2} g"
    ))]
}

rule! {
    /// A record in % of full scale states the spring setting, or the torque of one percent: heights
    /// of two settings are not comparable.
    SPRING_NOT_STATED {
        id: "pin-mixing.spring-not-stated", title: "spring setting not stated", level: Warn,
        revision: 1,
        source: ("AACC 54-40", "spring setting", FromMemoryMedium),
        what_to_do: "State spring_setting in the file or run sheet, or torque_per_percent_nm from a calibration.",
        look: Run(see_spring),
    }
}

fn see_spring(run: &RunRecord) -> Vec<Seen> {
    let stated = run.metadata.text(Field::SpringSetting).is_some()
        || run.metadata.number(Field::TorquePerPercentNm).is_some();
    if !is_pin(run) || run.unit != Unit::Percent || stated {
        return Vec::new();
    }
    vec![Seen::new(
        "heights are in % of full scale, and neither spring setting nor torque calibration is stated"
            .into(),
    )]
}

rule! {
    /// The record lasts 7 to 10 min, and 8 min for the width at 8 min.
    RECORD_LENGTH {
        id: "pin-mixing.record-length", title: "record too short", level: Warn, revision: 1,
        source: ("AACC 54-40", "length of the record", FromMemoryMedium),
        what_to_do: "Let the next run of this flour go on for 10 min.",
        look: Run(see_length),
    }
}

fn see_length(run: &RunRecord) -> Vec<Seen> {
    let length = run.facts.duration_s / 60.0;
    if !is_pin(run) || run.facts.points < 2 || length >= 8.0 - 1e-9 {
        return Vec::new();
    }
    let seen = Seen::new(format!(
        "record of {length:.1} min: the width at 8 min cannot be read"
    ));
    let level = if length < 7.0 {
        Level::Warn
    } else {
        Level::Note
    };
    vec![seen.at_level(level)]
}

rule! {
    /// The centre has passed its peak when the record ends: otherwise neither peak time nor anything
    /// that refers to the peak can be read.
    PEAK_NOT_PASSED {
        id: "pin-mixing.peak-not-passed", title: "peak not passed", level: Reject, revision: 1,
        source: ("AACC 54-40", "peak time", FromMemoryHigh),
        what_to_do: "Mix longer, until the curve has clearly fallen.",
        look: Run(see_peak),
    }
}

fn see_peak(run: &RunRecord) -> Vec<Seen> {
    if !is_pin(run) {
        return Vec::new();
    }
    let outcome = run
        .result("pin-mixing.centre_peak_time")
        .map(|r| &r.outcome);
    match outcome {
        Some(Outcome::Above(bound)) => vec![Seen::new(format!(
            "the centre does not fall clearly before the record ends at {bound:.1} min"
        ))],
        Some(Outcome::Below(bound)) => vec![Seen::new(format!(
            "the centre falls from {bound:.1} min on, the end of wetting: the peak lies before it"
        ))],
        _ => Vec::new(),
    }
}

rule! {
    /// The centre scatters about its smoothed line by at most 3 % of its peak.
    NOISE {
        id: "pin-mixing.noise", title: "noisy curve", level: Warn, revision: 1,
        source: ("choice of this project: 3 %", "", ProjectChoice),
        what_to_do: "Look at the curve: check that the bowl is seated, the pins are straight and the recorder is damped as usual; repeat the run.",
        look: Run(see_noise),
    }
}

fn see_noise(run: &RunRecord) -> Vec<Seen> {
    let scatter = run.facts.scatter.filter(|_| is_pin(run));
    match scatter.zip(run.facts.maximum.filter(|top| *top > 0.0)) {
        Some((scatter, top)) if scatter > 0.03 * top => vec![Seen::new(format!(
            "the centre scatters by {:.1} % of its peak; the limit is 3 %",
            100.0 * scatter / top
        ))],
        _ => Vec::new(),
    }
}

rule! {
    /// The record is sampled fast enough for the pins. Slower, it has a centre and no band.
    SLOW_SAMPLING {
        id: "pin-mixing.slow-sampling", title: "sampled too slowly for the band", level: Warn,
        revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Set the recorder to ten readings a second.",
        look: Run(see_slow),
    }
}

fn see_slow(run: &RunRecord) -> Vec<Seen> {
    let facts = &run.facts;
    let read = facts.contours_supplied || facts.contour_periods.is_some();
    if !is_pin(run) || read || facts.sampling_s <= 0.2 {
        return Vec::new();
    }
    vec![Seen::new(format!(
        "sampled every {:.2} s: widths and the upper-edge peak cannot be known",
        facts.sampling_s
    ))]
}

rule! {
    /// Centre peak times of duplicates (same flour, treatment, block, bowl and spring) lie within
    /// 10 % of their mean. No published repeatability is known to this project.
    DUPLICATES {
        id: "pin-mixing.duplicates", title: "duplicates too far apart", level: Warn, revision: 1,
        source: ("choice of this project: 10 %", "", ProjectChoice),
        what_to_do: "Make a further run of this flour and look for the one that differs; never average a pair that does not agree.",
        look: Day(see_duplicates),
    }
}

/// Greatest range of duplicates, as a share of their mean (project choice).
const DUPLICATE_SHARE: f64 = 0.1;

fn see_duplicates(day: &Day) -> Vec<Seen> {
    let mut groups: BTreeMap<_, Vec<(usize, f64)>> = BTreeMap::new();
    for (index, run) in day.runs.iter().enumerate() {
        let time = run
            .result("pin-mixing.centre_peak_time")
            .and_then(|r| r.outcome.value());
        let c = &run.conditions;
        if let (true, Some(sample), Some(time)) = (is_pin(run), &c.sample_id, time) {
            let key = (
                sample.clone(),
                c.treatment.clone(),
                c.block.clone(),
                run.metadata.text(Field::BowlG),
                run.metadata.text(Field::SpringSetting),
            );
            groups.entry(key).or_default().push((index, time));
        }
    }
    groups
        .iter()
        .filter_map(|((sample, ..), runs)| {
            let (low, high) = extremes(runs)?;
            let mean = runs.iter().map(|(_, t)| t).sum::<f64>() / runs.len() as f64;
            let share = (high.1 - low.1) / mean;
            (share > DUPLICATE_SHARE).then(|| Seen {
                run: Some(low.0.max(high.0)),
                ..Seen::new(format!(
                    "peak times of {} runs of flour {sample} range from {:.2} to {:.2} min, {:.0} % of their mean; the limit is {:.0} %",
                    runs.len(), low.1, high.1, 100.0 * share, 100.0 * DUPLICATE_SHARE
                ))
            })
        })
        .collect()
}

/// The rules of this file, in report order.
pub(super) static RULES: &[&Rule] = &[
    &TEMPERATURE,
    &SPEED,
    &FLOUR_WEIGHED,
    &PEAK_NOT_PASSED,
    &RECORD_LENGTH,
    &NOISE,
    &DUPLICATES,
    &SPRING_NOT_STATED,
    &SLOW_SAMPLING,
];
