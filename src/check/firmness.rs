//! Rules on compressed crumb: probe, thickness, speed, depth, ages, loaves.

use super::{Rule, Seen, rule, seen_stepping_back};
use crate::record::{Day, RunRecord};
use crate::schema::{Field, Status, Test};
use std::collections::{BTreeMap, BTreeSet};

fn is_firmness(run: &RunRecord) -> bool {
    run.test == Test::Firmness
}

/// Returns something seen where a stated number lies off its set-point, or is not stated.
fn off_set_point(
    run: &RunRecord,
    field: Field,
    (wanted, tolerance, unit): (f64, f64, &str),
) -> Vec<Seen> {
    if !is_firmness(run) {
        return Vec::new();
    }
    match run.metadata.number(field) {
        None => vec![Seen::new(format!("{field} is not stated"))],
        Some(found) if (found - wanted).abs() > tolerance + 1e-9 => vec![Seen::new(format!(
            "{field} is {found} {unit}; the set-point is {wanted} ± {tolerance} {unit}"
        ))],
        Some(_) => Vec::new(),
    }
}

rule! {
    /// Travel of the probe does not step back. A record that steps back is not read at all.
    STEPS_BACK {
        id: "firmness.steps-back", title: "probe travel steps back", level: Reject, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Export the way down alone; a record with the way back is two records.",
        look: Run(see_steps_back),
    }
}

fn see_steps_back(run: &RunRecord) -> Vec<Seen> {
    seen_stepping_back(run, is_firmness(run), |line, _| {
        format!("probe travel steps back at line {line}")
    })
}

rule! {
    /// The probe is a flat cylinder of 36 mm; forces of two probes are two quantities.
    PROBE {
        id: "firmness.probe", title: "probe is not 36 mm", level: Warn, revision: 1,
        source: ("AACC 74-09.01", "apparatus", FromMemoryMedium),
        what_to_do: "Use the 36 mm probe, and state probe_diameter_mm; compare only slices of one probe.",
        look: Run(see_probe),
    }
}

fn see_probe(run: &RunRecord) -> Vec<Seen> {
    off_set_point(run, Field::ProbeDiameterMm, (36.0, 0.5, "mm"))
}

rule! {
    /// The crumb is 25 mm thick (one slice of 25 mm or two of 12.5 mm). Of another thickness the
    /// force is read at a quarter of it; that is another test piece.
    THICKNESS {
        id: "firmness.thickness", title: "crumb is not 25 mm thick", level: Warn, revision: 1,
        source: ("AACC 74-09.01", "procedure", FromMemoryMedium),
        what_to_do: "Cut slices of 25 mm, and state thickness_mm as measured.",
        look: Run(see_thickness),
    }
}

fn see_thickness(run: &RunRecord) -> Vec<Seen> {
    off_set_point(run, Field::ThicknessMm, (25.0, 1.0, "mm"))
}

rule! {
    /// The probe moves at 100 mm/min, 1.67 mm/s.
    SPEED {
        id: "firmness.speed", title: "probe speed off 1.67 mm/s", level: Warn, revision: 1,
        source: ("AACC 74-09.01", "procedure", FromMemoryMedium),
        what_to_do: "Set the probe to 1.67 mm/s and state probe_speed_mm_s; compare only like with like.",
        look: Run(see_speed),
    }
}

fn see_speed(run: &RunRecord) -> Vec<Seen> {
    // The field is stored in its own unit, mm/s.
    off_set_point(run, Field::ProbeSpeedMmS, (1.67, 0.05, "mm/s"))
}

rule! {
    /// The crumb is compressed to 40 % of its thickness.
    SHALLOW {
        id: "firmness.shallow", title: "compressed less than 40 %", level: Note, revision: 1,
        source: ("AACC 74-09.01", "compression to 40 %", FromMemoryMedium),
        what_to_do: "Let the probe go on to 40 % of the thickness.",
        look: Run(see_shallow),
    }
}

fn see_shallow(run: &RunRecord) -> Vec<Seen> {
    let reached = run.result("firmness.compression");
    match reached.and_then(|result| result.outcome.value()) {
        Some(percent) if is_firmness(run) && percent < 40.0 - 1e-9 => vec![Seen::new(format!(
            "the record ends at {percent:.1} % compression"
        ))],
        _ => Vec::new(),
    }
}

rule! {
    /// A compressed slice states the age of its bread.
    NO_AGE {
        id: "firmness.no-age", title: "age not stated", level: Warn, revision: 1,
        source: ("firmness is a function of age", "HANDBOOK 10", CommonPractice),
        what_to_do: "Write the age in days since baking into age_d.",
        look: Run(see_no_age),
    }
}

fn see_no_age(run: &RunRecord) -> Vec<Seen> {
    match is_firmness(run) && run.metadata.number(Field::AgeD).is_none() {
        true => vec![Seen::new("the slice belongs to no age".into())],
        false => Vec::new(),
    }
}

rule! {
    /// A compressed slice states at which temperature its bread was kept: bread firms faster the
    /// colder it is kept, between freezing and about 32 °C.
    NO_STORAGE {
        id: "firmness.no-storage", title: "storage temperature not stated", level: Warn, revision: 1,
        source: ("Cornford, Axford and Elton 1964, Cereal Chem. 41:216", "rate and storage temperature", Published),
        what_to_do: "Write the storage temperature into storage_temp_c.",
        look: Run(see_no_storage),
    }
}

fn see_no_storage(run: &RunRecord) -> Vec<Seen> {
    let stated = run.metadata.number(Field::StorageTempC).is_some();
    match is_firmness(run) && !stated {
        true => vec![Seen::new("no storage temperature".into())],
        false => Vec::new(),
    }
}

/// A dough's slices: index in the day, age and loaf.
type DoughSlices<'a> = BTreeMap<&'a str, Vec<(usize, f64, String)>>;

/// Returns the slices of each dough that have a force and an age.
fn usable_slices(day: &Day) -> DoughSlices<'_> {
    let mut doughs: DoughSlices<'_> = BTreeMap::new();
    for (index, run) in day.runs.iter().enumerate().filter(|(_, r)| is_firmness(r)) {
        let force = run.result("firmness.force_25");
        let usable = force.is_some_and(|r| r.outcome.status() == Status::Exact);
        let age = run.metadata.number(Field::AgeD);
        let (Some(batch), Some(age), true) = (&run.conditions.batch_id, age, usable) else {
            continue;
        };
        let loaf = run.metadata.text(Field::Loaf).unwrap_or_default();
        let slices = doughs.entry(batch.as_str()).or_default();
        slices.push((index, age, loaf));
    }
    doughs
}

/// Fewest ages of a dough that settle the law of firming (HANDBOOK 10).
const FEWEST_AGES: usize = 5;

rule! {
    /// A dough's bread that is followed over time is compressed at five ages or more, one of them
    /// near the plateau; with fewer the exponent of Avrami's law is held at one.
    FEW_AGES {
        id: "firmness.few-ages", title: "few ages", level: Note, revision: 1,
        source: ("Avrami's law has four parameters", "HANDBOOK 10", ProjectChoice),
        what_to_do: "Keep loaves of the dough for at least five ages, the last when firming has nearly stopped.",
        look: Day(see_few_ages),
    }
}

fn see_few_ages(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for (dough, slices) in usable_slices(day) {
        let ages: BTreeSet<u64> = slices.iter().map(|(_, age, _)| age.to_bits()).collect();
        // One age is a comparison of doughs, not a series.
        if (2..FEWEST_AGES).contains(&ages.len()) {
            found.push(Seen {
                run: slices.last().map(|(index, ..)| *index),
                ..Seen::new(format!(
                    "dough {dough} was compressed at {} ages; {FEWEST_AGES} are wanted",
                    ages.len()
                ))
            });
        }
    }
    found
}

rule! {
    /// At each age two loaves of a dough are compressed: slices of one loaf are sub-samples, and
    /// show nothing of the scatter between loaves.
    ONE_LOAF {
        id: "firmness.one-loaf", title: "one loaf at an age", level: Note, revision: 1,
        source: ("sub-samples are no replicates", "HANDBOOK 0 and 10", ProjectChoice),
        what_to_do: "Compress slices of a second loaf of the dough at each age, and state the loaf.",
        look: Day(see_one_loaf),
    }
}

fn see_one_loaf(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for (dough, slices) in usable_slices(day) {
        let mut ages: BTreeMap<u64, BTreeSet<&str>> = BTreeMap::new();
        for (_, age, loaf) in &slices {
            ages.entry(age.to_bits()).or_default().insert(loaf);
        }
        let alone = ages.values().filter(|loaves| loaves.len() < 2).count();
        if alone > 0 {
            found.push(Seen {
                run: slices.last().map(|(index, ..)| *index),
                ..Seen::new(format!(
                    "dough {dough}: one loaf at {alone} of {} ages",
                    ages.len()
                ))
            });
        }
    }
    found
}

/// The rules of this file, in report order.
pub(super) static RULES: &[&Rule] = &[
    &STEPS_BACK,
    &PROBE,
    &THICKNESS,
    &SPEED,
    &SHALLOW,
    &NO_AGE,
    &NO_STORAGE,
    &FEW_AGES,
    &ONE_LOAF,
];
