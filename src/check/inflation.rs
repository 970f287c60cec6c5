//! Rules on bubbles: leak, rupture, discs of a dough, air, salt water, temperatures, time.

use super::subsamples::{at_statement, doughs, group_of, left_out, median, values};
use super::{Rule, Seen, rule, seen_stepping_back};
use crate::record::{Day, RunRecord};
use crate::schema::{Axis, Field, Level, Test, Unit};

fn is_bubble(run: &RunRecord) -> bool {
    run.test == Test::Inflation
}

/// Returns whether the disc is one that should count.
fn should_count(run: &RunRecord) -> bool {
    is_bubble(run) && left_out(run).is_none()
}

rule! {
    /// Each reading of a bubble lies further along the abscissa than the one before, or at the same
    /// place. A record that steps back is not read at all.
    STEPS_BACK {
        id: "inflation.steps-back", title: "abscissa steps back", level: Reject, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Export the record again from the instrument; if two discs run together in it, separate them.",
        look: Run(see_steps_back),
    }
}

fn see_steps_back(run: &RunRecord) -> Vec<Seen> {
    seen_stepping_back(run, is_bubble(run), |line, _| {
        format!("abscissa steps back, first at line {line}")
    })
}

rule! {
    /// The record is a manometer height in mm or a pressure, over chart millimetres, volume, or time
    /// with the air flow stated; anything else is no bubble curve.
    UNITS {
        id: "inflation.units", title: "no pressure, or no length", level: Warn, revision: 1,
        source: ("pressure and abscissa", "definition", Derived),
        what_to_do: "Declare the unit of the pressure and what the abscissa counts in the import profile; over time, state air_flow_l_h.",
        look: Run(see_units),
    }
}

fn see_units(run: &RunRecord) -> Vec<Seen> {
    if !is_bubble(run) {
        return Vec::new();
    }
    let flow = run.metadata.number(Field::AirFlowLH).is_some();
    let words = match run.facts.axis {
        _ if !matches!(run.unit, Unit::Millimetre | Unit::Kilopascal) => {
            format!("the record is in {}, neither mm nor a pressure", run.unit)
        }
        Some(Axis::ChartMm | Axis::VolumeMl) | None => return Vec::new(),
        Some(Axis::Time) if flow => return Vec::new(),
        Some(Axis::Time) => "the record runs over time and the air flow is not stated".into(),
        Some(other) => format!("the record runs over {}", other.word()),
    };
    vec![Seen::new(words)]
}

rule! {
    /// The air flow is 96 l/h within 2 %: a bubble blown faster or slower is another test.
    AIR_FLOW {
        id: "inflation.air-flow", title: "air flow off 96 l/h", level: Warn, revision: 1,
        source: ("ISO 27971: 96 l/h; 2 % a choice of this project", "apparatus", FromMemoryHigh),
        what_to_do: "Adjust the air flow with the flow meter of the instrument and test the discs again.",
        look: Run(see_air_flow),
    }
}

/// Air flow, l/h (ISO 27971; from memory, high confidence), and greatest departure (project choice).
const AIR_FLOW_L_H: (f64, f64) = (96.0, 0.02);

fn see_air_flow(run: &RunRecord) -> Vec<Seen> {
    let (usual, limit) = AIR_FLOW_L_H;
    match run.metadata.number(Field::AirFlowLH) {
        Some(flow) if is_bubble(run) && (flow / usual - 1.0).abs() > limit + 1e-9 => {
            let words = format!("air flow of {flow} l/h; the limit is {usual} l/h ± 2 %");
            vec![at_statement(run, Field::AirFlowLH, Seen::new(words))]
        }
        _ => Vec::new(),
    }
}

rule! {
    /// The record shows the rupture: without it L and W are only known to be larger.
    NOT_BURST {
        id: "inflation.not-burst", title: "record ends before rupture", level: Warn, revision: 1,
        source: ("ISO 27971", "abscissa at rupture L", Published),
        what_to_do: "Let the recorder run until the bubble has burst, and test another disc.",
        look: Run(see_not_burst),
    }
}

fn see_not_burst(run: &RunRecord) -> Vec<Seen> {
    let burst = run.facts.rupture_mm.is_some() || run.facts.contact_mm.is_none();
    if burst || !should_count(run) {
        return Vec::new();
    }
    vec![Seen::new(
        "no sustained drop of pressure before the record ends".into(),
    )]
}

rule! {
    /// The pressure of a bubble falls slowly after its maximum. A loss of more than a tenth of the
    /// maximum within 2 mm, before rupture, looks like a leak at the rim or a hole.
    LEAK {
        id: "inflation.leak", title: "pressure drops before rupture", level: Warn, revision: 1,
        source: ("choice of this project: 10 % within 2 mm", "", ProjectChoice),
        what_to_do: "Look at the curve; clean and oil the clamp, and if the disc leaked leave it out with that reason (leave_out).",
        look: Run(see_leak),
    }
}

fn see_leak(run: &RunRecord) -> Vec<Seen> {
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
    /// A disc may be left out with its reason, one of a dough; leaving out more chooses the result.
    LEFT_OUT {
        id: "inflation.left-out", title: "disc left out", level: Note, revision: 1,
        source: ("ISO 27971", "replicates", FromMemoryMedium),
        what_to_do: "Nothing for one disc that burst early or departs; for more, make the dough again.",
        look: Day(see_left_out),
    }
}

fn see_left_out(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for (dough, discs) in doughs(day, Test::Inflation) {
        let out: Vec<_> = discs
            .iter()
            .filter_map(|(index, run)| Some((*index, *run, left_out(run)?)))
            .collect();
        for (index, run, reason) in &out {
            let seen = match out.len() {
                1 => Seen::new(format!("left out: {reason}")),
                n => Seen::new(format!(
                    "left out: {reason}; {n} discs of dough {dough} are, one may be"
                ))
                .at_level(Level::Warn),
            };
            found.push(Seen {
                run: Some(*index),
                ..at_statement(run, Field::LeaveOut, seen)
            });
        }
    }
    found
}

rule! {
    /// Five discs are one dough, and at least four must count: with fewer there is no P, L or W.
    DISCS {
        id: "inflation.discs", title: "too few discs of a dough", level: Reject, revision: 1,
        source: ("ISO 27971", "replicates", FromMemoryMedium),
        what_to_do: "Make the dough again and test five discs.",
        look: Day(see_discs),
    }
}

/// Discs of a dough, and fewest that must count (ISO 27971; from memory, medium confidence).
const DISCS_OF_A_DOUGH: (usize, usize) = (5, 4);

fn see_discs(day: &Day) -> Vec<Seen> {
    let (usual, least) = DISCS_OF_A_DOUGH;
    let mut found = Vec::new();
    for (dough, discs) in doughs(day, Test::Inflation) {
        let counting = values(&discs, "inflation.disc_extensibility").len();
        let words = format!(
            "{} discs of dough {dough} were tested and {counting} count; five are a dough, at \
             least {least} must count",
            discs.len()
        );
        let seen = match (discs.len(), counting) {
            (_, counting) if counting < least => Seen::new(words),
            (tested, _) if tested < usual => Seen::new(words)
                .at_level(Level::Warn)
                .then("Test five discs of each dough.".into()),
            _ => continue,
        };
        found.push(Seen {
            run: discs.last().map(|(index, _)| *index),
            ..seen
        });
    }
    found
}

rule! {
    /// A disc bursts within reach of the others: at less than 60 % of the median length of its dough
    /// it broke early.
    EARLY_RUPTURE {
        id: "inflation.early-rupture", title: "disc burst early", level: Warn, revision: 1,
        source: ("ISO 27971: one disc that breaks early may be left out; 60 % a choice of this project", "replicates", FromMemoryMedium),
        what_to_do: "Look at the disc for a bubble or dry skin; with five discs, leave this one out with the reason (leave_out).",
        look: Day(see_early_rupture),
    }
}

/// Share of the median length below which a disc burst early (project choice).
const EARLY_SHARE: f64 = 0.6;

fn see_early_rupture(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for (dough, discs) in doughs(day, Test::Inflation) {
        let lengths = values(&discs, "inflation.disc_extensibility");
        let all: Vec<f64> = lengths.iter().map(|(_, _, length)| *length).collect();
        let Some(usual) = median(&all).filter(|_| lengths.len() > 2) else {
            continue;
        };
        for (index, run, length) in lengths {
            if length < EARLY_SHARE * usual {
                found.push(Seen {
                    run: Some(index),
                    ..Seen::new(format!(
                        "{} burst at {length:.0} mm, the median of dough {dough} is {usual:.0} mm",
                        run.id
                    ))
                });
            }
        }
    }
    found
}

rule! {
    /// The curves of a dough's discs lie together: a disc whose maximum lies more than 15 % from the
    /// median of the others, or whose pressure half-way to the shortest length does, departs.
    DEPARTS {
        id: "inflation.departs", title: "disc departs from the others", level: Warn, revision: 1,
        source: ("ISO 27971: one disc that clearly departs may be left out; 15 % a choice of this project", "replicates", FromMemoryMedium),
        what_to_do: "Look at thickness and clamp of the disc; with five discs, leave this one out with the reason (leave_out).",
        look: Day(see_departs),
    }
}

/// Greatest departure of a disc from the median of the others, as a share (project choice).
const DEPARTS_SHARE: f64 = 0.15;

fn see_departs(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for (dough, discs) in doughs(day, Test::Inflation) {
        let counting: Vec<(usize, &RunRecord)> = values(&discs, "inflation.disc_extensibility")
            .into_iter()
            .map(|(index, run, _)| (index, run))
            .collect();
        let ends = counting.iter().filter_map(|(_, run)| run.facts.rupture_mm);
        let half_way = 0.5 * ends.fold(f64::MAX, f64::min);
        let of_maximum = values(&counting, "inflation.disc_overpressure");
        let at_half_way: Vec<_> = counting
            .iter()
            .filter_map(|(index, run)| Some((*index, *run, pressure_at(run, half_way)?)))
            .collect();
        for (what, readings) in [("maximum", of_maximum), ("pressure half-way", at_half_way)] {
            for (index, run, value, usual) in departing(&readings) {
                let far = 100.0 * (value / usual - 1.0);
                if found.iter().any(|seen: &Seen| seen.run == Some(index)) {
                    continue;
                }
                found.push(Seen {
                    run: Some(index),
                    ..Seen::new(format!(
                        "{what} of {} lies {far:+.0} % from the median of the other discs of dough \
                         {dough}; the limit is 15 %",
                        run.id
                    ))
                });
            }
        }
    }
    found
}

/// Returns the pressure of a disc at chart length `x`: that of the last even step before it.
fn pressure_at(run: &RunRecord, x: f64) -> Option<f64> {
    let shape = &run.facts.shape;
    let before = shape.partition_point(|(at, _)| *at <= x).checked_sub(1)?;
    shape.get(before).map(|(_, pressure)| *pressure)
}

/// Returns the readings that lie too far from the median of the others, with that median; none for
/// fewer than four.
fn departing<'r>(
    readings: &[(usize, &'r RunRecord, f64)],
) -> Vec<(usize, &'r RunRecord, f64, f64)> {
    let mut found = Vec::new();
    for (index, run, value) in readings.iter().filter(|_| readings.len() >= 4) {
        let others: Vec<f64> = readings
            .iter()
            .filter(|(other, ..)| other != index)
            .map(|(_, _, value)| *value)
            .collect();
        match median(&others) {
            Some(usual) if (value / usual - 1.0).abs() > DEPARTS_SHARE => {
                found.push((*index, *run, *value, usual));
            }
            _ => {}
        }
    }
    found
}

rule! {
    /// The energies of the discs of one dough scatter by at most 15 % (standard deviation): more
    /// says that discs were not prepared alike.
    SPREAD {
        id: "inflation.spread", title: "discs scatter", level: Warn, revision: 1,
        source: ("choice of this project: 15 %, after the rule for pieces of ISO 5530-2", "", ProjectChoice),
        what_to_do: "Look at sheeting, cutting and clamping of the discs; use the mean with its interval.",
        look: Day(see_spread),
    }
}

/// Greatest standard deviation between discs, % of the mean (project choice).
const SPREAD_LIMIT_PCT: f64 = 15.0;

fn see_spread(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for (dough, discs) in doughs(day, Test::Inflation) {
        let group = group_of(day, Test::Inflation, &discs);
        let spread = group.and_then(|group| {
            let mut results = group.results.iter();
            let energy =
                results.find(|r| r.metric.id == "inflation.disc_spread" && r.variant == "energy");
            energy?.outcome.value()
        });
        if let Some(spread) = spread.filter(|spread| *spread > SPREAD_LIMIT_PCT) {
            found.push(Seen {
                run: discs.last().map(|(index, _)| *index),
                ..Seen::new(format!(
                    "energies of the discs of dough {dough} scatter by {spread:.0} %; the limit is \
                     {SPREAD_LIMIT_PCT:.0} %"
                ))
            });
        }
    }
    found
}

rule! {
    /// The salt water dosed is what the flour's moisture asks for, within 1 ml for 250 g of flour:
    /// the test is made at one hydration.
    SALT_WATER {
        id: "inflation.salt-water", title: "salt water off", level: Warn, revision: 1,
        source: ("ISO 27971; 1 ml a choice of this project", "preparation of the dough", FromMemoryHigh),
        what_to_do: "Make the dough again with the volume that the flour's moisture asks for.",
        look: Day(see_salt_water),
    }
}

/// Greatest departure of the salt water, ml for 250 g (project choice).
const SALT_WATER_LIMIT_ML: f64 = 1.0;

fn see_salt_water(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for (dough, discs) in doughs(day, Test::Inflation) {
        let Some((index, run)) = discs.first() else {
            continue;
        };
        let asked = group_of(day, Test::Inflation, &discs).and_then(|group| {
            let mut results = group.results.iter();
            let water = results.find(|r| r.metric.id == "inflation.salt_water");
            water?.outcome.value()
        });
        let flour = run.conditions.flour_g.unwrap_or(250.0);
        let limit = SALT_WATER_LIMIT_ML * flour / 250.0;
        let seen = match (asked, run.conditions.water_ml) {
            (Some(asked), Some(dosed)) if (dosed - asked).abs() > limit + 0.05 => {
                Seen::new(format!(
                    "dough {dough} got {dosed:.1} ml of salt water; its flour asks for \
                     {asked:.1} ml"
                ))
                .then(format!(
                    "Make the dough again with {asked:.1} ml of salt water."
                ))
            }
            (Some(_), Some(_)) => continue,
            _ => Seen::new(format!(
                "salt water of dough {dough} cannot be checked: moisture of the flour or volume \
                 dosed not stated"
            ))
            .at_level(Level::Note)
            .then("State flour_moisture_pct, flour_g and water_ml.".into()),
        };
        found.push(Seen {
            run: Some(*index),
            ..seen
        });
    }
    found
}

rule! {
    /// The chamber in which discs rest and are blown up stands at 25 °C, within 0.5 K.
    CHAMBER {
        id: "inflation.chamber", title: "chamber off 25 °C", level: Warn, revision: 1,
        source: ("ISO 27971: 25 °C; 0.5 K a choice of this project", "procedure", FromMemoryHigh),
        what_to_do: "Let the chamber settle at 25 °C and check it with a calibrated thermometer.",
        look: Run(see_chamber),
    }
}

fn see_chamber(run: &RunRecord) -> Vec<Seen> {
    let stated = run.conditions.thermostat_c.filter(|_| is_bubble(run));
    off_temperature(stated, 25.0, "chamber")
}

rule! {
    /// The dough leaves the mixer at 24 °C, within 0.5 K.
    DOUGH_TEMPERATURE {
        id: "inflation.dough-temperature", title: "dough off 24 °C", level: Warn, revision: 1,
        source: ("ISO 27971: 24 °C; 0.5 K a choice of this project", "procedure", FromMemoryHigh),
        what_to_do: "Bring mixer, flour and salt water to temperature and make the dough again.",
        look: Run(see_dough_temperature),
    }
}

fn see_dough_temperature(run: &RunRecord) -> Vec<Seen> {
    let stated = run.metadata.number(Field::DoughTempC);
    off_temperature(stated.filter(|_| is_bubble(run)), 24.0, "dough")
}

/// Greatest departure of a temperature, K (project choice).
const TEMPERATURE_LIMIT_K: f64 = 0.5;

fn off_temperature(stated: Option<f64>, wanted: f64, what: &str) -> Vec<Seen> {
    match stated {
        Some(t) if (t - wanted).abs() > TEMPERATURE_LIMIT_K + 1e-9 => vec![Seen::new(format!(
            "{what} at {t:.1} °C; the limit is {wanted:.0} ± {TEMPERATURE_LIMIT_K} °C"
        ))],
        _ => Vec::new(),
    }
}

rule! {
    /// Discs are blown up 28 min after the start of mixing, within 2 min: mixing and rest together.
    TIMING {
        id: "inflation.timing", title: "not 28 min after the start of mixing", level: Warn, revision: 1,
        source: ("ISO 27971: 28 min; 2 min a choice of this project", "procedure", FromMemoryHigh),
        what_to_do: "Start the discs 28 min after the start of mixing; make the dough again.",
        look: Run(see_timing),
    }
}

/// Time from the start of mixing to the test, min (ISO 27971; from memory), and greatest departure
/// (project choice).
const TIMING_MIN: (f64, f64) = (28.0, 2.0);

fn see_timing(run: &RunRecord) -> Vec<Seen> {
    let mixed = run.metadata.number(Field::MixTimeMin);
    let rested = run.metadata.number(Field::RestMin);
    let (wanted, limit) = TIMING_MIN;
    match mixed.zip(rested).map(|(mixed, rested)| mixed + rested) {
        Some(total) if is_bubble(run) && (total - wanted).abs() > limit + 1e-9 => {
            vec![Seen::new(format!(
                "tested {total:.0} min after the start of mixing; the limit is {wanted:.0} ± \
                 {limit:.0} min"
            ))]
        }
        _ => Vec::new(),
    }
}

/// The rules of this file, in report order.
pub(super) static RULES: &[&Rule] = &[
    &STEPS_BACK,
    &UNITS,
    &AIR_FLOW,
    &NOT_BURST,
    &LEAK,
    &LEFT_OUT,
    &DISCS,
    &EARLY_RUPTURE,
    &DEPARTS,
    &SPREAD,
    &SALT_WATER,
    &CHAMBER,
    &DOUGH_TEMPERATURE,
    &TIMING,
];
