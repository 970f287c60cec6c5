//! Rules on strips drawn out by a hook: clamp, geometry, speed, number and spread.

use super::subsamples::{at_statement, doughs, group_of, left_out, temperatures_apart, values};
use super::{Rule, Seen, rule, seen_stepping_back};
use crate::record::{Day, RunRecord};
use crate::schema::{Axis, Field, Level, Test, Unit};

fn is_strip(run: &RunRecord) -> bool {
    run.test == Test::Strip
}

fn failed_at_clamp(run: &RunRecord) -> bool {
    let word = run.metadata.text(Field::Break);
    matches!(word.as_deref(), Some("slipped" | "clamp"))
}

/// Returns whether the strip is one that should count.
fn should_count(run: &RunRecord) -> bool {
    is_strip(run) && !failed_at_clamp(run) && left_out(run).is_none()
}

rule! {
    /// Each reading of a strip lies further along the abscissa than the one before, or at the same
    /// place. A record that steps back is not read at all.
    STEPS_BACK {
        id: "strip.steps-back", title: "abscissa steps back", level: Reject, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Export the record again from the instrument; if two strips run together in it, separate them.",
        look: Run(see_steps_back),
    }
}

fn see_steps_back(run: &RunRecord) -> Vec<Seen> {
    seen_stepping_back(run, is_strip(run), |line, _| {
        format!("abscissa steps back, first at line {line}")
    })
}

rule! {
    /// The record is a force (N or gf) over hook travel, or over time with the hook's speed stated;
    /// anything else is no stress.
    UNITS {
        id: "strip.units", title: "no force, or no travel", level: Warn, revision: 1,
        source: ("force and travel", "definition", Derived),
        what_to_do: "Declare the unit of the force and what the abscissa counts in the import profile; over time, state hook_speed_mm_s.",
        look: Run(see_units),
    }
}

fn see_units(run: &RunRecord) -> Vec<Seen> {
    if !is_strip(run) {
        return Vec::new();
    }
    let speed = run.metadata.number(Field::HookSpeedMmS).is_some();
    let words = match run.facts.axis {
        _ if run.unit != Unit::Newton => format!("the record is in {}, not a force", run.unit),
        Some(Axis::HookTravelMm) | None => return Vec::new(),
        Some(Axis::Time) if speed => return Vec::new(),
        Some(Axis::Time) => "the record runs over time and the hook's speed is not stated".into(),
        Some(other) => format!("the record runs over {}", other.word()),
    };
    vec![Seen::new(words)]
}

rule! {
    /// A strip tears between hook and edge. What was read of one that slipped or tore at its clamp
    /// does not show the dough and is rejected.
    BREAK {
        id: "strip.break", title: "strip slipped or tore at the clamp", level: Reject, revision: 1,
        source: ("a similar rule in a published stretch test", "valid strips", Published),
        what_to_do: "Test another strip of the same dough while it is as old; check grooves and clamps.",
        look: Run(see_break),
    }
}

fn see_break(run: &RunRecord) -> Vec<Seen> {
    if !is_strip(run) || !failed_at_clamp(run) {
        return Vec::new();
    }
    let words = match run.metadata.text(Field::Break).as_deref() {
        Some("slipped") => "the strip slipped in its clamp; none of its results is used",
        _ => "the strip tore at the clamp; none of its results is used",
    };
    vec![at_statement(run, Field::Break, Seen::new(words.into()))]
}

rule! {
    /// A strip that the operator left out, with the reason: it does not enter the mean of its dough.
    LEFT_OUT {
        id: "strip.left-out", title: "strip left out", level: Note, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Nothing, if the reason was seen before the result; else test another strip.",
        look: Run(see_left_out),
    }
}

fn see_left_out(run: &RunRecord) -> Vec<Seen> {
    match left_out(run) {
        Some(reason) if is_strip(run) => {
            let seen = Seen::new(format!("left out: {reason}"));
            vec![at_statement(run, Field::LeaveOut, seen)]
        }
        _ => Vec::new(),
    }
}

rule! {
    /// A strip loses no load suddenly before it tears: a loss of more than a tenth of the maximum
    /// within 2 mm, in a strip whose file names no fault, looks like a slip.
    SUDDEN_LOSS {
        id: "strip.sudden-loss", title: "sudden loss of load before rupture", level: Warn, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Look at the curve and the strip; if it slipped, state `break: slipped` and test another.",
        look: Run(see_sudden_loss),
    }
}

fn see_sudden_loss(run: &RunRecord) -> Vec<Seen> {
    match run.facts.sudden_loss {
        Some((index, share)) if should_count(run) => {
            let words = format!(
                "{:.0} % of the maximum is lost within 2 mm, before rupture",
                100.0 * share
            );
            vec![Seen::new(words).at_row(run.lines.line(index))]
        }
        _ => Vec::new(),
    }
}

rule! {
    /// The record shows the rupture: a strip that had not torn has no failure stress and no fit.
    NOT_TORN {
        id: "strip.not-torn", title: "record ends before rupture", level: Warn, revision: 1,
        source: ("failure at maximum stress", "definition", Derived),
        what_to_do: "Let the recorder run until the hook is free, and test another strip.",
        look: Run(see_not_torn),
    }
}

fn see_not_torn(run: &RunRecord) -> Vec<Seen> {
    let torn = run.facts.rupture_mm.is_some() || run.facts.contact_mm.is_none();
    if torn || !should_count(run) {
        return Vec::new();
    }
    vec![Seen::new(
        "the force does not fall by half of its maximum before the record ends".into(),
    )]
}

rule! {
    /// Half gap and cross-section are stated: without them there is no stress and no strain.
    NO_GEOMETRY {
        id: "strip.no-geometry", title: "size of the strip not stated", level: Warn, revision: 1,
        source: ("stress and strain", "definition", Derived),
        what_to_do: "State half_gap_mm and strip_area_mm2 in the file or the run sheet.",
        look: Run(see_no_geometry),
    }
}

fn see_no_geometry(run: &RunRecord) -> Vec<Seen> {
    let missing: Vec<&str> = [Field::HalfGapMm, Field::StripAreaMm2]
        .into_iter()
        .filter(|field| run.metadata.number(*field).is_none())
        .map(Field::name)
        .collect();
    if missing.is_empty() || !should_count(run) {
        return Vec::new();
    }
    vec![Seen::new(format!("{} not stated", missing.join(" and ")))]
}

rule! {
    /// The sag of the strip is stated; where it is not, it is taken as nought, and strains come out
    /// too large for a strip that hung.
    NO_SAG {
        id: "strip.no-sag", title: "sag not stated", level: Note, revision: 1,
        source: ("strain", "definition", Derived),
        what_to_do: "Measure the sag before the hook touches and state it (sag_mm), also where it is 0.",
        look: Run(see_no_sag),
    }
}

fn see_no_sag(run: &RunRecord) -> Vec<Seen> {
    if !should_count(run) || run.metadata.number(Field::SagMm).is_some() {
        return Vec::new();
    }
    vec![Seen::new("sag_mm not stated: taken as 0".into())]
}

rule! {
    /// The strain of the sag stays below 0.5: preparing the strip then dominates what is measured.
    PRE_STRAIN {
        id: "strip.pre-strain", title: "strain before the test above 0.5", level: Warn, revision: 1,
        source: ("J. Rheology 56(2):385, 2012, abstract", "pre-strain", Published),
        what_to_do: "Prepare strips that hang less: firmer handling, less rest in the holder, a smaller gap.",
        look: Run(see_pre_strain),
    }
}

/// Greatest strain of the sag (HANDBOOK §5: about 0.5; published).
const PRE_STRAIN_LIMIT: f64 = 0.5;

fn see_pre_strain(run: &RunRecord) -> Vec<Seen> {
    let result = run.result("strip.pre_strain").filter(|_| is_strip(run));
    match result.and_then(|r| r.outcome.value()) {
        Some(strain) if strain > PRE_STRAIN_LIMIT => vec![Seen::new(format!(
            "the sag is a Hencky strain of {strain:.2}; the limit is {PRE_STRAIN_LIMIT}"
        ))],
        _ => Vec::new(),
    }
}

rule! {
    /// The hook's speed is stated, and within a tenth of the usual 3.3 mm/s: stress depends on the
    /// strain rate.
    HOOK_SPEED {
        id: "strip.hook-speed", title: "hook speed unusual or not stated", level: Note, revision: 1,
        source: ("Dunnewind et al. 2003", "hook speed, typical", FromMemoryMedium),
        what_to_do: "State hook_speed_mm_s; compare only strips drawn at one speed.",
        look: Run(see_hook_speed),
    }
}

/// Usual speed of the hook, mm/s (from memory, medium confidence).
const USUAL_MM_PER_S: f64 = 3.3;

fn see_hook_speed(run: &RunRecord) -> Vec<Seen> {
    if !should_count(run) {
        return Vec::new();
    }
    match run.metadata.number(Field::HookSpeedMmS) {
        None => vec![Seen::new(
            "hook_speed_mm_s not stated: there is no strain rate".into(),
        )],
        Some(speed) if (speed / USUAL_MM_PER_S - 1.0).abs() > 0.1 => {
            let words = format!("hook at {speed} mm/s; usual are {USUAL_MM_PER_S} mm/s");
            vec![at_statement(run, Field::HookSpeedMmS, Seen::new(words))]
        }
        Some(_) => Vec::new(),
    }
}

rule! {
    /// Strips of a day are drawn at one speed in one holder: those drawn at another speed (by more
    /// than 5 %) or over another gap (by more than 2 %) than most are not compared with them.
    SET_UP_DIFFERS {
        id: "strip.set-up-differs", title: "speed or gap differs between strips", level: Warn, revision: 1,
        source: ("choice of this project: 5 % and 2 %", "", ProjectChoice),
        what_to_do: "Compare strips of one speed and one gap only; test the others again.",
        look: Day(see_set_up),
    }
}

fn see_set_up(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for (field, unit, limit) in [
        (Field::HookSpeedMmS, "mm/s", 0.05),
        (Field::HalfGapMm, "mm", 0.02),
    ] {
        let stated: Vec<(usize, f64)> = (day.runs.iter().enumerate())
            .filter(|(_, run)| should_count(run))
            .filter_map(|(index, run)| Some((index, run.metadata.number(field)?)))
            .collect();
        let all: Vec<f64> = stated.iter().map(|(_, value)| *value).collect();
        let Some(usual) = super::subsamples::median(&all) else {
            continue;
        };
        for (index, value) in stated {
            if (value / usual - 1.0).abs() > limit {
                found.push(Seen {
                    run: Some(index),
                    ..Seen::new(format!(
                        "{field} is {value} {unit}; most strips of the day have {usual} {unit}"
                    ))
                });
            }
        }
    }
    found
}

rule! {
    /// The temperature of the test is stated.
    NO_TEMPERATURE {
        id: "strip.no-temperature", title: "temperature not stated", level: Note, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "State the temperature of the chamber (thermostat_c).",
        look: Run(see_no_temperature),
    }
}

fn see_no_temperature(run: &RunRecord) -> Vec<Seen> {
    if !should_count(run) || run.conditions.thermostat_c.is_some() {
        return Vec::new();
    }
    vec![Seen::new("thermostat_c not stated".into())]
}

rule! {
    /// The strips of one dough are tested at one temperature, to within 1 K: dough softens as it
    /// warms.
    TEMPERATURE {
        id: "strip.temperature", title: "temperature differs between strips", level: Warn, revision: 1,
        source: ("choice of this project: 1 K", "", ProjectChoice),
        what_to_do: "Let holder and chamber settle, and test the strips again at one temperature.",
        look: Day(see_temperature),
    }
}

fn see_temperature(day: &Day) -> Vec<Seen> {
    temperatures_apart(day, Test::Strip, 1.0, "strips")
}

rule! {
    /// A dough has at least six strips that count (six to eight are usual); with fewer there is no
    /// mean.
    TOO_FEW {
        id: "strip.too-few", title: "too few strips of a dough", level: Warn, revision: 1,
        source: ("common practice", "6 to 8 strips", CommonPractice),
        what_to_do: "Test more strips of this dough while it is as old, or make the dough again.",
        look: Day(see_too_few),
    }
}

/// Fewest strips of a dough (common practice, no source).
const LEAST_STRIPS: usize = 6;

fn see_too_few(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for (dough, strips) in doughs(day, Test::Strip) {
        let counting = values(&strips, "strip.area").len();
        if counting < LEAST_STRIPS {
            found.push(Seen {
                run: strips.last().map(|(index, _)| *index),
                ..Seen::new(format!(
                    "{counting} of {} strips of dough {dough} count; at least {LEAST_STRIPS} are \
                     needed",
                    strips.len()
                ))
            });
        }
    }
    found
}

rule! {
    /// The areas of the strips of one dough scatter by at most 15 % (standard deviation): more says
    /// that strips were not prepared alike.
    SPREAD {
        id: "strip.spread", title: "strips scatter", level: Warn, revision: 1,
        source: ("choice of this project: 15 %, after the rule for pieces of ISO 5530-2", "", ProjectChoice),
        what_to_do: "Look at sheeting, cutting and rest of the strips; use the mean with its interval.",
        look: Day(see_spread),
    }
}

/// Greatest standard deviation between strips, % of the mean (project choice).
const SPREAD_LIMIT_PCT: f64 = 15.0;

fn see_spread(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for (dough, strips) in doughs(day, Test::Strip) {
        let group = group_of(day, Test::Strip, &strips);
        let spread = group.and_then(|group| {
            let mut results = group.results.iter();
            let area = results.find(|r| r.metric.id == "strip.dough_spread" && r.variant == "area");
            area?.outcome.value()
        });
        if let Some(spread) = spread.filter(|spread| *spread > SPREAD_LIMIT_PCT) {
            found.push(Seen {
                run: strips.last().map(|(index, _)| *index),
                level: Some(Level::Warn),
                ..Seen::new(format!(
                    "areas of the strips of dough {dough} scatter by {spread:.0} %; the limit is \
                     {SPREAD_LIMIT_PCT:.0} %"
                ))
            });
        }
    }
    found
}

/// The rules of this file, in report order.
pub(super) static RULES: &[&Rule] = &[
    &STEPS_BACK,
    &UNITS,
    &BREAK,
    &LEFT_OUT,
    &SUDDEN_LOSS,
    &NOT_TORN,
    &NO_GEOMETRY,
    &NO_SAG,
    &PRE_STRAIN,
    &HOOK_SPEED,
    &SET_UP_DIFFERS,
    &NO_TEMPERATURE,
    &TEMPERATURE,
    &TOO_FEW,
    &SPREAD,
];
