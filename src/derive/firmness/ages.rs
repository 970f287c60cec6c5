//! A dough's crumb by age: slices to loaves, loaves to the dough.

use super::firming::{self, Firming};
use super::settings::Settings;
use crate::derive::interval::mean_of;
use crate::derive::{Gathered, Metric, Reading, metric, runs_by_dough};
use crate::record::{Outcome, RunGroup, RunRecord};
use crate::schema::{Field, Test, Unit};
use std::collections::BTreeMap;

/// One loaf at one age: the mean of its slices.
#[derive(Debug, Clone)]
pub(super) struct Loaf {
    /// Age, d.
    pub age_d: f64,
    /// Forces of its slices, N.
    pub slices: Vec<f64>,
    /// Mean standard uncertainty of a slice's reading, N.
    pub u: f64,
}

impl Loaf {
    /// Returns the mean force of the slices, N.
    pub fn mean(&self) -> f64 {
        self.slices.iter().sum::<f64>() / self.slices.len().max(1) as f64
    }
}

/// The loaves of one dough that were compressed at one age.
pub(super) struct AtAge {
    loaves: Vec<Loaf>,
}

metric! {
    /// Mean firmness of a dough's bread at one age: the mean over its loaves, each the mean of its
    /// slices. The interval is that of the loaves (Student's t); of one loaf, that of its slices,
    /// which shows nothing of the scatter between loaves.
    MEAN_FORCE_25 for AtAge {
        id: "firmness.mean_force_25", symbol: "F25", name: "crumb firmness of the dough at this age",
        unit: Unit::Newton, decimals: 2, revision: 1,
        source: ("AACC 74-09.01", "replicates; loaf as the unit: HANDBOOK 10", FromMemoryMedium),
        variants: [], read: read_mean,
    }
}

fn read_mean(at: &AtAge, _: &'static str) -> Reading {
    let slices = at.loaves.iter().map(|l| l.slices.len()).sum::<usize>();
    let remark = format!("loaves={}; slices={slices}", at.loaves.len());
    let u = at.loaves.iter().map(|l| l.u).fold(0.0, f64::max);
    let values: Vec<f64> = match at.loaves.as_slice() {
        [one] => one.slices.clone(),
        many => many.iter().map(Loaf::mean).collect(),
    };
    // Thickness and contact are read anew for every slice: nothing is shared.
    let outcome = mean_of(&values, u, 0.0);
    let none = || Outcome::NotComputable("no slice of this dough and age has a value".into());
    Reading::of(outcome.unwrap_or_else(none)).with_remark(remark)
}

/// The metrics of a dough at one age.
pub(super) static METRICS: &[&Metric<AtAge>] = &[&MEAN_FORCE_25];

/// One slice that counts.
struct Slice<'r> {
    run: &'r RunRecord,
    age_d: f64,
    loaf: String,
    force: f64,
    u: f64,
}

/// Returns what the compressed slices of each dough give together: the mean at each age, and the
/// law of firming over the ages. Ages kept at different stated temperatures are kept apart.
pub fn groups(runs: &[&RunRecord]) -> Vec<RunGroup> {
    let mut all = Vec::new();
    for (dough, of_dough) in runs_by_dough(runs) {
        let mut by_storage: BTreeMap<Option<u64>, Vec<&RunRecord>> = BTreeMap::new();
        for run in of_dough {
            let stored = run.metadata.number(Field::StorageTempC);
            // Bits serve as a key only; they need not sort as the numbers do.
            let key = stored.map(f64::to_bits);
            by_storage.entry(key).or_default().push(run);
        }
        for (stored, kept) in by_storage {
            let at = stored.map_or(String::new(), |bits| {
                format!(" kept at {} °C", f64::from_bits(bits))
            });
            all.extend(groups_of(&format!("dough {dough}{at}"), &kept));
        }
    }
    all
}

/// Returns the groups of the slices of one dough, stored alike.
fn groups_of(name: &str, runs: &[&RunRecord]) -> Vec<RunGroup> {
    let settings = Settings::default();
    let (mut slices, mut left_out) = (Vec::new(), Vec::new());
    for run in runs {
        match slice_of(run) {
            Ok(slice) => slices.push(slice),
            Err(reason) => left_out.push((run.key(), reason)),
        }
    }
    let mut ages: BTreeMap<u64, Vec<&Slice<'_>>> = BTreeMap::new();
    for slice in &slices {
        // An age is never negative: bits sort as the numbers do.
        ages.entry(slice.age_d.to_bits()).or_default().push(slice);
    }
    let mut all = Vec::new();
    let mut loaves = Vec::new();
    let alone = ages.len() < 2;
    for (bits, of_age) in &ages {
        let at = AtAge {
            loaves: loaves_of(of_age),
        };
        loaves.extend(at.loaves.iter().cloned());
        let title = format!("{name}, crumb at {} d", f64::from_bits(*bits));
        // Slices without an age or a value are told once: with the law, or with the only age.
        let told = if alone { left_out.clone() } else { Vec::new() };
        all.push(gather(title, of_age, told, settings).read(&at, METRICS));
    }
    if !alone {
        let every: Vec<&Slice<'_>> = slices.iter().collect();
        let firming = Firming::of(&loaves, settings);
        let gathered = gather(format!("{name}, firming"), &every, left_out, settings);
        all.push(gathered.read(&firming, firming::METRICS));
    }
    all
}

fn gather<'r>(
    name: String,
    slices: &[&Slice<'r>],
    left_out: Vec<(String, String)>,
    settings: Settings,
) -> Gathered<'r> {
    Gathered {
        test: Test::Firmness,
        name,
        members: slices.iter().map(|slice| slice.run).collect(),
        left_out,
        from: slices
            .iter()
            .filter_map(|slice| Some(slice.run.result("firmness.force_25")?.id.clone()))
            .collect(),
        settings: settings.name(),
    }
}

/// Returns the slice of a run, or why it does not count.
fn slice_of(run: &RunRecord) -> Result<Slice<'_>, String> {
    let age = run.metadata.number(Field::AgeD).filter(|age| *age >= 0.0);
    let age_d = age.ok_or("the age of the bread (age_d) is not stated")?;
    let result = run.result("firmness.force_25");
    let outcome = result.map(|r| &r.outcome).ok_or("it was not derived")?;
    let estimate = outcome.estimate().ok_or_else(|| {
        let reason = outcome.reason().map(str::to_owned);
        reason.unwrap_or_else(|| outcome.status().to_string())
    })?;
    let loaf = run.metadata.text(Field::Loaf).unwrap_or_default();
    Ok(Slice {
        run,
        age_d,
        loaf: loaf.trim().to_owned(),
        force: estimate.value(),
        u: estimate.std_uncertainty(),
    })
}

/// Returns the loaves of one age, in the order of their names. Slices that name no loaf are taken
/// to be of one.
fn loaves_of(slices: &[&Slice<'_>]) -> Vec<Loaf> {
    let mut by_loaf: BTreeMap<&str, Vec<&Slice<'_>>> = BTreeMap::new();
    for slice in slices {
        by_loaf.entry(&slice.loaf).or_default().push(slice);
    }
    by_loaf
        .values()
        .map(|of_loaf| Loaf {
            age_d: of_loaf.first().map_or(0.0, |slice| slice.age_d),
            slices: of_loaf.iter().map(|slice| slice.force).collect(),
            u: of_loaf.iter().map(|slice| slice.u).sum::<f64>() / of_loaf.len().max(1) as f64,
        })
        .collect()
}
