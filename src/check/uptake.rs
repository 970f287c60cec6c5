//! Rules on soaked bran and kernels: time, temperature, length of the record, replicates.

use super::{Rule, Seen, rule, seen_stepping_back};
use crate::record::{Day, RunRecord};
use crate::schema::{Field, Test};
use std::collections::BTreeMap;

fn is_uptake(run: &RunRecord) -> bool {
    run.test == Test::Uptake
}

/// Returns the temperature of the water, °C, where it is stated.
fn water_c(run: &RunRecord) -> Option<f64> {
    let held = run.metadata.number(Field::ThermostatC);
    held.or_else(|| run.metadata.number(Field::WaterTempC))
}

/// Returns what the run has not stated, in words, where `stated` says so.
fn unless(run: &RunRecord, stated: bool, words: &str) -> Vec<Seen> {
    match is_uptake(run) && !stated {
        true => vec![Seen::new(words.to_owned())],
        false => Vec::new(),
    }
}

rule! {
    /// Time in water does not step back. A record that steps back is not read at all.
    STEPS_BACK {
        id: "uptake.steps-back", title: "time steps back", level: Reject, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Sort the readings by time, or separate the samples that run together in the record.",
        look: Run(see_steps_back),
    }
}

fn see_steps_back(run: &RunRecord) -> Vec<Seen> {
    seen_stepping_back(run, is_uptake(run), |line, _| {
        format!("time steps back at line {line}")
    })
}

rule! {
    /// An uptake curve states the temperature of the water: rates of uptake of wheat follow it with
    /// 30 to 40 kJ/mol, some 5 % for each kelvin.
    NO_TEMPERATURE {
        id: "uptake.no-temperature", title: "water temperature not stated", level: Warn, revision: 1,
        source: ("Yildirim, activation energies of four wheats", "HANDBOOK 9", Published),
        what_to_do: "Write the temperature of the water into the file or the run sheet (thermostat_c).",
        look: Run(see_no_temperature),
    }
}

fn see_no_temperature(run: &RunRecord) -> Vec<Seen> {
    let words = "no water temperature: rates and diffusion coefficient cannot be compared";
    unless(run, water_c(run).is_some(), words)
}

rule! {
    /// An uptake curve states what was soaked: bran or kernel. Of bran no radius of a sphere means
    /// much.
    KIND {
        id: "uptake.kind", title: "bran or kernel not stated", level: Note, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Write `bran` or `kernel` into flour_kind in the file or the run sheet.",
        look: Run(see_kind),
    }
}

fn see_kind(run: &RunRecord) -> Vec<Seen> {
    let kind = run.metadata.text(Field::FlourKind).unwrap_or_default();
    let kind = kind.trim().to_ascii_lowercase();
    let known = kind.contains("bran") || kind.contains("kernel");
    unless(run, known, "neither bran nor kernel is stated")
}

rule! {
    /// The initial moisture is stated: where it is not, it is fitted, and the instant uptake of the
    /// surface goes into it.
    NO_INITIAL_MOISTURE {
        id: "uptake.no-initial-moisture", title: "initial moisture not stated", level: Warn, revision: 1,
        source: ("Peleg 1988, J. Food Sci. 53:1216", "M0 of the law; HANDBOOK 9", Published),
        what_to_do: "Dry a sample and write its moisture on dry mass into initial_moisture_db_pct.",
        look: Run(see_no_initial_moisture),
    }
}

fn see_no_initial_moisture(run: &RunRecord) -> Vec<Seen> {
    let stated = run.metadata.number(Field::InitialMoistureDbPct).is_some();
    unless(run, stated, "the initial moisture is fitted, not measured")
}

rule! {
    /// The radius of the sphere that a particle is taken for is stated; without it there is no
    /// diffusion coefficient.
    NO_RADIUS {
        id: "uptake.no-radius", title: "equivalent radius not stated", level: Note, revision: 1,
        source: ("Fick's law for a sphere", "HANDBOOK 9", Derived),
        what_to_do: "Write the equivalent radius in mm into equivalent_radius_mm, for example from a sieve or from the mass of a thousand kernels.",
        look: Run(see_no_radius),
    }
}

fn see_no_radius(run: &RunRecord) -> Vec<Seen> {
    let stated = run.metadata.number(Field::EquivalentRadiusMm).is_some();
    unless(
        run,
        stated,
        "no equivalent radius: no diffusion coefficient is given",
    )
}

rule! {
    /// How surface water was taken off before weighing is recorded: the method decides the first
    /// readings.
    NO_PROTOCOL {
        id: "uptake.no-protocol", title: "surface water not described", level: Note, revision: 1,
        source: ("weighing of soaked samples", "HANDBOOK 9", CommonPractice),
        what_to_do: "Write into the note how and how long the sample was blotted or spun.",
        look: Run(see_no_protocol),
    }
}

fn see_no_protocol(run: &RunRecord) -> Vec<Seen> {
    let note = run.metadata.text(Field::Note).unwrap_or_default();
    let words = "no note says how surface water was removed";
    unless(run, !note.trim().is_empty(), words)
}

/// Share of the fitted gain to equilibrium that a record must show (project choice).
const SHOWN_SHARE: f64 = 0.8;

rule! {
    /// The record shows at least 0.8 of the gain to the fitted equilibrium. Below that the
    /// equilibrium rests on the law, and the laws differ.
    STOPS_EARLY {
        id: "uptake.stops-early", title: "record stops far from equilibrium", level: Warn, revision: 1,
        source: ("choice of this project: 0.8", "", ProjectChoice),
        what_to_do: "Soak longer; until then compare rates and times, not equilibria.",
        look: Run(see_stops_early),
    }
}

fn see_stops_early(run: &RunRecord) -> Vec<Seen> {
    match run.facts.gain_shown.filter(|_| is_uptake(run)) {
        Some(share) if share < SHOWN_SHARE => vec![Seen::new(format!(
            "the record shows {:.0} % of the fitted gain to equilibrium; {:.0} % are wanted",
            100.0 * share,
            100.0 * SHOWN_SHARE
        ))],
        _ => Vec::new(),
    }
}

/// Fewest readings of an uptake curve (project choice).
const FEWEST_POINTS: usize = 6;

rule! {
    /// An uptake curve has at least six readings: three parameters and their scatter.
    FEW_POINTS {
        id: "uptake.few-points", title: "few readings", level: Warn, revision: 1,
        source: ("choice of this project: 6", "", ProjectChoice),
        what_to_do: "Weigh more often, most often at the start.",
        look: Run(see_few_points),
    }
}

fn see_few_points(run: &RunRecord) -> Vec<Seen> {
    match is_uptake(run) && run.facts.points < FEWEST_POINTS {
        true => vec![Seen::new(format!(
            "{} readings; {FEWEST_POINTS} are wanted",
            run.facts.points
        ))],
        false => Vec::new(),
    }
}

rule! {
    /// Each sample is soaked twice at each temperature: one curve shows nothing of the scatter
    /// between portions.
    NO_DUPLICATE {
        id: "uptake.no-duplicate", title: "one curve of a sample and temperature", level: Note, revision: 1,
        source: ("duplicate determinations", "", CommonPractice),
        what_to_do: "Soak a second portion of this sample at this temperature.",
        look: Day(see_no_duplicate),
    }
}

fn see_no_duplicate(day: &Day) -> Vec<Seen> {
    let mut portions: BTreeMap<_, Vec<usize>> = BTreeMap::new();
    for (index, run) in day.runs.iter().enumerate().filter(|(_, r)| is_uptake(r)) {
        let Some(sample) = &run.conditions.sample_id else {
            continue;
        };
        let size = run.metadata.number(Field::EquivalentRadiusMm);
        let key = (sample, [water_c(run), size].map(|n| n.map(f64::to_bits)));
        portions.entry(key).or_default().push(index);
    }
    let alone = portions.into_iter().filter_map(|((sample, _), runs)| {
        let [only] = runs.as_slice() else { return None };
        Some(Seen {
            run: Some(*only),
            ..Seen::new(format!(
                "the only curve of {sample} at its temperature and size"
            ))
        })
    });
    alone.collect()
}

/// The rules of this file, in report order.
pub(super) static RULES: &[&Rule] = &[
    &STEPS_BACK,
    &FEW_POINTS,
    &STOPS_EARLY,
    &NO_TEMPERATURE,
    &NO_INITIAL_MOISTURE,
    &NO_DUPLICATE,
    &KIND,
    &NO_RADIUS,
    &NO_PROTOCOL,
];
