//! Rules on how a mixing run was made: temperature, dosing, duplicates, bowl.

use super::{Rule, Seen, is_mixing, rule, strict_for_final};
use crate::record::{Day, RunRecord};
use crate::schema::{Bowl, Field, Level, Procedure, Purpose, Unit};
use std::collections::BTreeMap;

rule! {
    /// The thermostat of the bowl stands at 30 ± 0.2 °C. The limit is for the thermostat, not for
    /// the dough. Outside it a final run is rejected, any other run is warned about.
    THERMOSTAT {
        id: "mixing.thermostat", title: "thermostat off 30 °C", level: Reject, revision: 1,
        source: ("ISO 5530-1", "apparatus", FromMemoryHigh),
        what_to_do: "Let the thermostat settle at 30 ± 0.2 °C, check it with a calibrated thermometer, and repeat the run.",
        look: Run(see_thermostat),
    }
}

/// Set-point and tolerance of the thermostat, °C (ISO 5530-1; from memory, high confidence).
const THERMOSTAT_C: (f64, f64) = (30.0, 0.2);

fn see_thermostat(run: &RunRecord) -> Vec<Seen> {
    if !is_mixing(run) {
        return Vec::new();
    }
    match run.conditions.thermostat_c {
        // A hair of slack, so that 30.2 written in decimal is inside.
        Some(t) if (t - THERMOSTAT_C.0).abs() > THERMOSTAT_C.1 + 1e-9 => vec![
            Seen::new(format!(
                "thermostat at {t:.1} °C; the limit is {:.0} ± {:.1} °C",
                THERMOSTAT_C.0, THERMOSTAT_C.1
            ))
            .at_level(strict_for_final(run)),
        ],
        _ => Vec::new(),
    }
}

rule! {
    /// A final run states the thermostat temperature.
    THERMOSTAT_NOT_STATED {
        id: "mixing.thermostat-not-stated", title: "thermostat temperature not stated", level: Note,
        revision: 1,
        source: ("ISO/IEC 17025", "7.5.1", Published),
        what_to_do: "Write the thermostat temperature into the run sheet (thermostat_c).",
        look: Run(see_no_thermostat),
    }
}

fn see_no_thermostat(run: &RunRecord) -> Vec<Seen> {
    let wanted = is_mixing(run) && run.conditions.purpose == Some(Purpose::Final);
    if wanted && run.conditions.thermostat_c.is_none() {
        return vec![Seen::new(
            "neither the file nor the run sheet states the thermostat".into(),
        )];
    }
    Vec::new()
}

rule! {
    /// The maximum of a final run lies in 480–520 FU; a titration run or a planned series is not
    /// judged by its level.
    MAXIMUM_OUTSIDE {
        id: "mixing.maximum-outside", title: "maximum outside 480–520 FU", level: Reject,
        revision: 1,
        source: ("ISO 5530-1", "maximum consistency", FromMemoryHigh),
        what_to_do: "Repeat the run with the water volume stated.",
        look: Run(see_maximum),
    }
}

fn see_maximum(run: &RunRecord) -> Vec<Seen> {
    let judged = is_mixing(run) && run.unit == Unit::Fu && !run.facts.rising_at_end;
    let Some(maximum) = run.facts.maximum.filter(|_| judged) else {
        return Vec::new();
    };
    if run.conditions.purpose != Some(Purpose::Final) || (480.0..=520.0).contains(&maximum) {
        return Vec::new();
    }
    let seen = Seen::new(format!(
        "maximum at {maximum:.0} FU; a final run lies in 480–520 FU"
    ));
    vec![match run.facts.next_water_ml {
        Some(water) => seen.then(match run.facts.next_flour_g {
            Some(flour) => {
                format!("Repeat the run with {flour:.1} g of flour and {water:.1} ml of water.")
            }
            None => format!("Repeat the run with {water:.1} ml of water."),
        }),
        None => seen.then(
            "State bowl, flour moisture and water dosed, so that the next volume can be computed; then repeat the run.".into(),
        ),
    }]
}

rule! {
    /// A record in FU states the bowl: FU of a 50 g and a 300 g bowl are different torques.
    NO_BOWL {
        id: "mixing.no-bowl", title: "unit FU without bowl size", level: Warn, revision: 1,
        source: ("ISO 5530-1", "apparatus", FromMemoryHigh),
        what_to_do: "State the bowl in the run sheet (bowl_g: 300 or 50) and process the day again; until then there is no absorption.",
        look: Run(see_no_bowl),
    }
}

fn see_no_bowl(run: &RunRecord) -> Vec<Seen> {
    if !is_mixing(run) || run.unit != Unit::Fu || run.conditions.bowl.is_some() {
        return Vec::new();
    }
    let words = match run.metadata.number(Field::BowlG) {
        Some(other) => format!("bowl stated as {other} g; known bowls are 300 and 50 g"),
        None => "the curve is in FU, but no bowl size is stated".to_owned(),
    };
    vec![Seen::new(words)]
}

rule! {
    /// A final run states everything the water absorption needs: flour moisture and water dosed.
    ABSORPTION_INPUTS {
        id: "mixing.absorption-inputs", title: "inputs of the absorption not stated", level: Warn,
        revision: 1,
        source: ("ISO 5530-1", "water absorption", FromMemoryHigh),
        what_to_do: "State flour_moisture_pct and water_ml in the run sheet and process the day again; until then there is no absorption.",
        look: Run(see_absorption_inputs),
    }
}

fn see_absorption_inputs(run: &RunRecord) -> Vec<Seen> {
    let c = &run.conditions;
    if !is_mixing(run) || c.purpose != Some(Purpose::Final) {
        return Vec::new();
    }
    let lacking: Vec<&str> = [
        ("flour moisture", c.flour_moisture_pct.is_none()),
        ("water dosed", c.water_ml.is_none()),
    ]
    .into_iter()
    .filter_map(|(name, missing)| missing.then_some(name))
    .collect();
    if lacking.is_empty() {
        return Vec::new();
    }
    vec![Seen::new(format!("not stated: {}", lacking.join(" and ")))]
}

rule! {
    /// At constant flour mass, the flour weighed is the flour mass for bowl and moisture to within
    /// 2 %. A difference of more than 10 % is a slip in flour, moisture or bowl, and rejects a final
    /// run: every number that depends on the masses is off by as much.
    FLOUR_WEIGHED {
        id: "mixing.flour-weighed", title: "flour weighed does not fit the bowl", level: Warn,
        revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Check the flour weighed, the flour moisture and the bowl; correct the statement, or repeat the run with the mass named.",
        look: Run(see_flour_weighed),
    }
}

fn see_flour_weighed(run: &RunRecord) -> Vec<Seen> {
    let c = &run.conditions;
    let table = run
        .result("mixing.flour_mass")
        .and_then(|r| r.outcome.value());
    let (Some(weighed), Some(table)) = (c.flour_g, table) else {
        return Vec::new();
    };
    let apart = (weighed / table - 1.0).abs();
    if c.procedure == Some(Procedure::ConstantDough) || apart <= 0.02 {
        return Vec::new();
    }
    let level = if apart > 0.1 {
        strict_for_final(run)
    } else {
        Level::Warn
    };
    vec![
        Seen::new(format!(
            "{weighed:.1} g flour weighed; bowl and moisture ask for {table:.1} g"
        ))
        .at_level(level),
    ]
}

rule! {
    /// The corrected water volumes of duplicate final runs (same flour, treatment, block and bowl)
    /// differ by at most 2.5 ml in the 300 g bowl and 0.5 ml in the 50 g bowl; the range of more
    /// than two is held against the same limit widened as ISO 5725-6 widens it.
    DUPLICATES {
        id: "mixing.duplicates", title: "duplicates too far apart", level: Reject, revision: 1,
        source: ("ISO 5530-1", "repeatability of the corrected volume", FromMemoryHigh),
        what_to_do: "Make two more runs of this flour and judge all four; never average a failed pair.",
        look: Day(see_duplicates),
    }
}

/// Greatest difference of two corrected volumes, ml (ISO 5530-1; from memory, high confidence).
fn duplicate_limit_ml(bowl: Bowl) -> f64 {
    match bowl {
        Bowl::G300 => 2.5,
        Bowl::G50 => 0.5,
    }
}

/// Range of n results over the range of two (ISO 5725-6: 2.8, 3.3, 3.6, 3.9, 4.0, 4.2, 4.3, 4.4, 4.5; from memory).
fn range_factor(count: usize) -> f64 {
    match count {
        0..=2 => 1.0,
        3 => 3.3 / 2.8,
        4 => 3.6 / 2.8,
        5 => 3.9 / 2.8,
        6 => 4.0 / 2.8,
        7 => 4.2 / 2.8,
        8 => 4.3 / 2.8,
        9 => 4.4 / 2.8,
        _ => 4.5 / 2.8,
    }
}

fn see_duplicates(day: &Day) -> Vec<Seen> {
    let mut groups: BTreeMap<_, Vec<(usize, f64)>> = BTreeMap::new();
    for (index, run) in day.runs.iter().enumerate() {
        let c = &run.conditions;
        let volume = run
            .result("mixing.corrected_volume")
            .and_then(|r| r.outcome.value());
        let (Some(sample), Some(bowl), Some(volume)) = (&c.sample_id, c.bowl, volume) else {
            continue;
        };
        if c.purpose == Some(Purpose::Final) {
            let key = (
                sample.clone(),
                c.treatment.clone(),
                c.block.clone(),
                bowl,
                c.procedure,
            );
            groups.entry(key).or_default().push((index, volume));
        }
    }
    let mut found = Vec::new();
    for ((sample, _, _, bowl, _), runs) in groups {
        let low = runs.iter().min_by(|a, b| a.1.total_cmp(&b.1));
        let high = runs.iter().max_by(|a, b| a.1.total_cmp(&b.1));
        let (Some(low), Some(high)) = (low, high) else {
            continue;
        };
        let limit = duplicate_limit_ml(bowl) * range_factor(runs.len());
        if high.1 - low.1 > limit {
            let last = low.0.max(high.0);
            found.push(Seen {
                run: Some(last),
                ..Seen::new(format!(
                    "corrected volumes of {} and {} (flour {sample}) differ by {:.1} ml; the limit for {} runs is {limit:.1} ml",
                    day.runs[low.0].id,
                    day.runs[high.0].id,
                    high.1 - low.1,
                    runs.len()
                ))
            });
        }
    }
    found
}

rule! {
    /// The measured moisture of a dough agrees with that of the flour and water dosed to within
    /// 0.5 points; a larger loss means that water or flour did not get into the dough, or that a
    /// mass or moisture is wrong.
    DOUGH_MOISTURE {
        id: "mixing.dough-moisture", title: "dough moisture against dosed water", level: Warn,
        revision: 1,
        source: ("choice of this project", "mass balance", ProjectChoice),
        what_to_do: "Check the flour moisture, the flour weighed and the water dosed; the measured dough moisture is the one to trust.",
        look: Run(see_dough_moisture),
    }
}

fn see_dough_moisture(run: &RunRecord) -> Vec<Seen> {
    let c = &run.conditions;
    let (Some(measured), Some(moisture), Some(flour), Some(water)) = (
        c.dough_moisture_pct,
        c.flour_moisture_pct,
        c.flour_g,
        c.water_ml,
    ) else {
        return Vec::new();
    };
    // A log of the bakery's mixer counts salt too, and has a rule of its own.
    if flour <= 0.0 || !is_mixing(run) {
        return Vec::new();
    }
    let on_flour = water / flour;
    // Wet-basis moisture of the dough from what was dosed (HANDBOOK 8.5; derived).
    let dosed = 100.0 * (on_flour + moisture / 100.0) / (1.0 + on_flour);
    if (measured - dosed).abs() <= 0.5 {
        return Vec::new();
    }
    vec![Seen::new(format!(
        "dough moisture measured as {measured:.1} %, but {dosed:.1} % follows from flour and water; the limit is 0.5 points"
    ))]
}

/// The rules of this file, in report order.
pub(super) static RULES: &[&Rule] = &[
    &THERMOSTAT,
    &THERMOSTAT_NOT_STATED,
    &MAXIMUM_OUTSIDE,
    &NO_BOWL,
    &ABSORPTION_INPUTS,
    &FLOUR_WEIGHED,
    &DUPLICATES,
    &DOUGH_MOISTURE,
];
