//! Rules on scalar records of bread and dough: known quantities, units, the box and its block.

use super::{Rule, Seen, rule};
use crate::record::{Day, Observation};
use crate::schema::{Level, ScalarQuantity as Q};
use std::collections::{BTreeMap, BTreeSet};

/// Returns the scalar records of each sheet.
fn sheets(day: &Day) -> BTreeMap<&str, Vec<&Observation>> {
    let mut sheets: BTreeMap<&str, Vec<&Observation>> = BTreeMap::new();
    for o in day.observations.iter().filter(|o| o.value.is_some()) {
        sheets.entry(o.file.name.as_str()).or_default().push(o);
    }
    sheets
}

fn quantity_of(o: &Observation) -> Option<Q> {
    Q::parse(o.quantity.as_deref()?)
}

/// Returns the value of a record in the canonical unit of its quantity.
fn value_of(o: &Observation) -> Option<f64> {
    quantity_of(o)?.to_canonical(o.value?, o.unit?)
}

/// Returns the mean of the records of one quantity.
fn mean_of(lines: &[&Observation], wanted: Q) -> Option<f64> {
    let of_it = lines.iter().filter(|o| quantity_of(o) == Some(wanted));
    let values: Vec<f64> = of_it.filter_map(|o| value_of(o)).collect();
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

fn at_line(o: &Observation, words: String) -> Seen {
    Seen {
        file: Some(o.file.name.clone()),
        row: Some(o.rows.first),
        ..Seen::new(words)
    }
}

fn of_sheet(file: &str, words: String) -> Seen {
    Seen {
        file: Some(file.to_owned()),
        ..Seen::new(words)
    }
}

rule! {
    /// A scalar record names a quantity of the list; anything else is kept and not read.
    UNKNOWN_QUANTITY {
        id: "loaf.unknown-quantity", title: "quantity not known", level: Warn, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Write one of the quantities that `explain loaf` and the profile list.",
        look: Day(see_unknown_quantity),
    }
}

fn see_unknown_quantity(day: &Day) -> Vec<Seen> {
    let scalar = day.observations.iter().filter(|o| o.value.is_some());
    let unknown = scalar.filter(|o| o.grade.is_none() && quantity_of(o).is_none());
    let seen = unknown.map(|o| {
        let word = o.quantity.as_deref().unwrap_or("");
        let known: Vec<&str> = Q::ALL.iter().map(|q| q.word()).collect();
        at_line(
            o,
            format!(
                "quantity `{word}` is not known; known: {}",
                known.join(", ")
            ),
        )
    });
    seen.collect()
}

rule! {
    /// A scalar record states a unit that measures its quantity; without it the value is not read.
    UNIT {
        id: "loaf.unit", title: "unit missing or of another quantity", level: Reject, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        what_to_do: "Write the unit of the value into the line.",
        look: Day(see_unit),
    }
}

fn see_unit(day: &Day) -> Vec<Seen> {
    let scalar = day.observations.iter().filter(|o| o.value.is_some());
    let bad = scalar.filter_map(|o| {
        let quantity = quantity_of(o)?;
        if value_of(o).is_some() {
            return None;
        }
        let wanted = quantity.quantity().canonical();
        let found = o.unit.map_or("no unit".to_owned(), |u| format!("unit {u}"));
        let words = format!(
            "{found} for {}; expected one like {wanted}",
            quantity.word()
        );
        Some(at_line(o, words))
    });
    bad.collect()
}

/// Greatest error of the box on its block, % (project choice; typical repeatability is 2 to 3 %).
const BOX_LIMIT_PCT: f64 = 2.0;

rule! {
    /// The box is checked each day with a block of known volume; a sheet with loaf volumes has the
    /// block's lines.
    NO_BOX_CHECK {
        id: "loaf.no-box-check", title: "box not checked", level: Warn, revision: 1,
        source: ("AACC 10-05.01", "calibration", FromMemoryMedium),
        what_to_do: "Measure the calibration block and add the lines block_volume and seeds_around_block.",
        look: Day(see_no_box_check),
    }
}

fn see_no_box_check(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for (file, lines) in sheets(day) {
        let has = |wanted: Q| lines.iter().any(|o| quantity_of(o) == Some(wanted));
        let checked = has(Q::BlockVolume) && has(Q::SeedsAroundBlock);
        if has(Q::SeedsAroundLoaf) && !checked {
            found.push(of_sheet(
                file,
                "loaf volumes without a check of the box by its block".into(),
            ));
        }
    }
    found
}

rule! {
    /// The box measures its block to within 2 %; an error beyond that is an error of every loaf of
    /// the sheet. Beyond twice that nothing of the sheet is used.
    BOX_OFF {
        id: "loaf.box-off", title: "box errs on its block", level: Warn, revision: 1,
        source: ("choice of this project: 2 %", "", ProjectChoice),
        what_to_do: "Fill the box again, dry and sieve the seeds, and measure block and loaves anew.",
        look: Day(see_box_off),
    }
}

fn see_box_off(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for (file, lines) in sheets(day) {
        let one = |wanted: Q| mean_of(&lines, wanted);
        let all = (
            one(Q::BoxFullVolume),
            one(Q::BlockVolume).filter(|v| *v > 0.0),
            one(Q::SeedsAroundBlock),
        );
        let (Some(full), Some(block), Some(around)) = all else {
            continue;
        };
        let off = 100.0 * (full - around - block) / block;
        if off.abs() > BOX_LIMIT_PCT {
            let level = match off.abs() > 2.0 * BOX_LIMIT_PCT {
                true => Level::Reject,
                false => Level::Warn,
            };
            let words = format!(
                "the block of {block:.0} ml measures {:.0} ml, {off:+.1} %; the limit is {BOX_LIMIT_PCT} %",
                full - around
            );
            found.push(of_sheet(file, words).at_level(level));
        }
    }
    found
}

rule! {
    /// A sheet with seeds around loaves says what the empty box holds.
    NO_BOX_VOLUME {
        id: "loaf.no-box-volume", title: "empty box not measured", level: Warn, revision: 1,
        source: ("AACC 10-05.01", "procedure", FromMemoryMedium),
        what_to_do: "Add a line box_full_volume to the sheet.",
        look: Day(see_no_box_volume),
    }
}

fn see_no_box_volume(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for (file, lines) in sheets(day) {
        let has = |wanted: Q| lines.iter().any(|o| quantity_of(o) == Some(wanted));
        if has(Q::SeedsAroundLoaf) && !has(Q::BoxFullVolume) {
            let words = "seeds around loaves, but no box_full_volume: there is no volume";
            found.push(of_sheet(file, words.into()));
        }
    }
    found
}

/// The loaves of a dough: those with a volume, and those with a mass.
type DoughLoaves<'a> = BTreeMap<(&'a str, &'a str), [BTreeSet<Option<&'a str>>; 2]>;

/// Returns the loaves of each sheet and dough.
fn loaves(day: &Day) -> DoughLoaves<'_> {
    let mut doughs: DoughLoaves<'_> = BTreeMap::new();
    for o in &day.observations {
        let place = match quantity_of(o) {
            Some(Q::SeedsAroundLoaf) => 0,
            Some(Q::LoafMass) => 1,
            _ => continue,
        };
        let key = (o.file.name.as_str(), o.batch_id.as_str());
        if let Some(set) = doughs.entry(key).or_default().get_mut(place) {
            set.insert(o.piece.as_deref());
        }
    }
    doughs
}

rule! {
    /// Volume and mass of a loaf are measured together.
    NO_MASS {
        id: "loaf.no-mass", title: "volume without mass", level: Warn, revision: 1,
        source: ("AACC 10-05.01", "specific volume", FromMemoryMedium),
        what_to_do: "Weigh the loaf when its volume is measured, and add a line loaf_mass.",
        look: Day(see_no_mass),
    }
}

fn see_no_mass(day: &Day) -> Vec<Seen> {
    let mut found = Vec::new();
    for ((file, dough), [volumes, masses]) in loaves(day) {
        let without: Vec<&str> = volumes
            .difference(&masses)
            .map(|loaf| loaf.unwrap_or("without a name"))
            .collect();
        if !without.is_empty() {
            let words = format!(
                "dough {dough}, loaf {}: volume without mass",
                without.join(", ")
            );
            found.push(of_sheet(file, words));
        }
    }
    found
}

rule! {
    /// Two loaves of a dough are measured at least: one shows nothing of the scatter between
    /// loaves. Loaves are sub-samples; the dough is what is compared.
    ONE_LOAF {
        id: "loaf.one-loaf", title: "one loaf of a dough", level: Note, revision: 1,
        source: ("sub-samples are no replicates", "HANDBOOK 0 and 10", ProjectChoice),
        what_to_do: "Measure a second loaf of each dough.",
        look: Day(see_one_loaf),
    }
}

fn see_one_loaf(day: &Day) -> Vec<Seen> {
    let single = loaves(day)
        .into_iter()
        .filter(|(_, [volumes, _])| volumes.len() == 1);
    let seen = single.map(|((file, dough), _)| {
        of_sheet(file, format!("one loaf of dough {dough} was measured"))
    });
    seen.collect()
}

/// The rules of this file, in report order.
pub(super) static RULES: &[&Rule] = &[
    &UNKNOWN_QUANTITY,
    &UNIT,
    &NO_BOX_VOLUME,
    &NO_BOX_CHECK,
    &BOX_OFF,
    &NO_MASS,
    &ONE_LOAF,
];
