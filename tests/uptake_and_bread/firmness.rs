//! The firmness method against the handbook and on awkward records.

use crate::made::{day_of, outcome, record_of, run_of, value};
use doughtrace::derive::derive_groups;
use doughtrace::record::{Outcome, Run, RunGroup, RunRecord};
use doughtrace::schema::{Axis, Field, Status, Test, Unit};

/// A slice whose force rises in a straight line from 0.05 N at contact (2 mm) to `force` at a
/// quarter of 25 mm, and on to 11 mm; readings every `step` mm.
pub fn slice(id: &str, force: f64, step: f64, facts: &[(Field, &str)]) -> Run {
    let slope = (force - 0.05) / 6.25;
    let count = (13.0 / step).round() as usize;
    let points: Vec<(f64, f64)> = (0..=count)
        .map(|i| {
            let at = i as f64 * step;
            (at, (0.05 + slope * (at - 2.0)).max(0.0))
        })
        .collect();
    let axis = (Axis::ProbeTravelMm, Unit::Newton);
    run_of(id, Test::Firmness, axis, &points, facts)
}

pub const SLICE: &[(Field, &str)] = &[
    (Field::ThicknessMm, "25"),
    (Field::ProbeDiameterMm, "36"),
    (Field::ProbeSpeedMmS, "1.67"),
    (Field::BatchId, "D-01"),
    (Field::StorageTempC, "20"),
];

/// Returns the slices of one dough over ages: age, loaf, force.
pub fn slices(all: &[(f64, &str, f64)]) -> Vec<RunRecord> {
    let numbered = all.iter().enumerate();
    numbered
        .map(|(i, (age, loaf, force))| {
            let age = age.to_string();
            let mut facts = SLICE.to_vec();
            facts.push((Field::AgeD, &age));
            facts.push((Field::Loaf, loaf));
            record_of(&slice(&format!("F-{i:02}"), *force, 0.1, &facts))
        })
        .collect()
}

fn of(record: &RunRecord, metric: &str, variant: &str) -> Outcome {
    outcome(&record.results, metric, variant)
}

fn firming(groups: &[RunGroup]) -> &RunGroup {
    groups.iter().find(|g| g.name.ends_with("firming")).unwrap()
}

#[test]
fn force_and_modulus_of_the_handbook_come_back() {
    // HANDBOOK V-S3: 25 % of 25 mm is 6.25 mm; 3 N on a 36 mm disc is 11.79 kPa.
    let record = record_of(&slice("F-01", 3.0, 0.1, SLICE));
    let force = of(&record, "firmness.force_25", "actual-thickness");
    assert!((value(&force) - 3.0).abs() < 1e-9, "{force:?}");
    assert!(force.estimate().unwrap().std_uncertainty() > 0.0);
    assert!((value(&of(&record, "firmness.apparent_modulus", "")) - 11.79).abs() < 5e-3);
    // Analytic: 6.2 mm on the same straight line.
    let fixed = value(&of(&record, "firmness.force_25", "fixed-depth"));
    assert!((fixed - (0.05 + 2.95 / 6.25 * 6.2)).abs() < 1e-9);
    assert!((value(&of(&record, "firmness.compression", "")) - 44.0).abs() < 1e-6);
}

#[test]
fn a_thinner_slice_is_read_at_a_quarter_of_its_own_thickness() {
    let mut facts = SLICE.to_vec();
    facts[0] = (Field::ThicknessMm, "20");
    let record = record_of(&slice("F-01", 3.0, 0.1, &facts));
    let force = value(&of(&record, "firmness.force_25", "actual-thickness"));
    assert!((force - (0.05 + 2.95 / 6.25 * 5.0)).abs() < 1e-9);
}

#[test]
fn what_is_missing_or_cut_short_says_so() {
    let bare = record_of(&slice("F-01", 3.0, 0.1, &[]));
    let refused = of(&bare, "firmness.force_25", "actual-thickness");
    assert!(refused.reason().unwrap().contains("thickness_mm"));
    assert_eq!(
        of(&bare, "firmness.force_25", "fixed-depth").status(),
        Status::Exact
    );
    let mut facts = SLICE.to_vec();
    facts[0] = (Field::ThicknessMm, "60");
    let short = record_of(&slice("F-01", 3.0, 0.1, &facts));
    let refused = of(&short, "firmness.force_25", "actual-thickness");
    assert_eq!(refused.status(), Status::NotReached);
    let points: Vec<(f64, f64)> = (0..50).map(|i| (f64::from(i) * 0.1, 0.02)).collect();
    let axis = (Axis::ProbeTravelMm, Unit::Newton);
    let none = record_of(&run_of("F-01", Test::Firmness, axis, &points, SLICE));
    assert_eq!(
        of(&none, "firmness.compression", "").status(),
        Status::NotReached
    );
    facts[0] = (Field::ThicknessMm, "25");
    facts.push((Field::LeaveOut, "crust in the slice"));
    let left_out = record_of(&slice("F-01", 3.0, 0.1, &facts));
    let refused = of(&left_out, "firmness.force_25", "actual-thickness");
    assert!(refused.reason().unwrap().contains("crust in the slice"));
}

/// Avrami's law with F0 2 N, Finf 10 N, k 0.30 (HANDBOOK V-S1), and a little scatter.
fn law(age: f64, index: f64, off: f64) -> f64 {
    10.0 - 8.0 * libm::exp(-0.30 * libm::pow(age, index)) + off
}

#[test]
fn firming_of_the_handbook_comes_back() {
    let ages = [0.5, 1.0, 3.0, 5.0, 7.0, 10.0];
    let mut all = Vec::new();
    for (i, age) in ages.iter().enumerate() {
        for (loaf, off) in [("a", 0.02), ("b", -0.02)] {
            all.push((
                *age,
                loaf,
                law(*age, 1.0, if i % 2 == 0 { off } else { -off }),
            ));
        }
    }
    let groups = derive_groups(&slices(&all));
    let firming = firming(&groups);
    assert_eq!(firming.members.len(), 12);
    let read = |metric: &str, variant: &str| {
        outcome(&firming.results, metric, variant)
            .estimate()
            .unwrap()
    };
    for (metric, wanted) in [
        ("firmness.initial", 2.0),
        ("firmness.final", 10.0),
        ("firmness.rate_constant", 0.30),
        ("firmness.half_time", 2.3105),
    ] {
        for variant in ["n-1", "n-free"] {
            let found = read(metric, variant);
            let near = (found.value() - wanted).abs() < 0.03 * wanted;
            assert!(near, "{metric} {variant}: {found:?}");
            assert!(
                found.low() < wanted && wanted < found.high(),
                "{metric}: {found:?}"
            );
        }
    }
    let index = read("firmness.avrami_index", "");
    assert!(index.low() < 1.0 && 1.0 < index.high(), "{index:?}");
    // Every number names the slices it comes from.
    assert!(firming.results.iter().all(|r| r.from.len() == 12));
    let at_age = groups.iter().filter(|g| g.name.contains("crumb at"));
    assert_eq!(at_age.count(), 6);
}

#[test]
fn four_ages_hold_the_exponent_at_one_and_give_a_line() {
    let all: Vec<(f64, &str, f64)> = [(1.0, 0.05), (3.0, -0.05), (5.0, 0.04), (7.0, -0.03)]
        .iter()
        .map(|(age, off)| (*age, "a", law(*age, 0.9, *off)))
        .collect();
    let groups = derive_groups(&slices(&all));
    let results = &firming(&groups).results;
    let free = outcome(results, "firmness.avrami_index", "");
    assert!(
        free.reason().unwrap().contains("n is held at 1"),
        "{free:?}"
    );
    let held = outcome(results, "firmness.half_time", "n-1");
    assert!(held.status() == Status::Exact, "{held:?}");
    // scipy 1.17.1, stats.linregress of the same four points: see the reference file's method;
    // here analytic: slope of least squares.
    let mean_age = 4.0;
    let slope: f64 = all.iter().map(|(t, _, f)| (t - mean_age) * f).sum::<f64>() / 20.0;
    let rate = outcome(results, "firmness.linear_rate", "")
        .estimate()
        .unwrap();
    assert!((rate.value() - slope).abs() < 1e-6, "{rate:?} {slope}");
}

#[test]
fn five_ages_far_from_the_plateau_do_not_settle_the_exponent() {
    let all: Vec<(f64, &str, f64)> = [0.5, 1.0, 1.5, 2.0, 2.5]
        .iter()
        .map(|age| (*age, "a", law(*age, 1.0, 0.01 * libm::sin(9.0 * age))))
        .collect();
    let groups = derive_groups(&slices(&all));
    let index = outcome(&firming(&groups).results, "firmness.avrami_index", "");
    assert_eq!(index.status(), Status::NotComputable, "{index:?}");
}

#[test]
fn slices_are_sub_samples_of_loaves() {
    // Two loaves: 2.0 and 3.0; the first is cut into three slices. The mean is that of loaves.
    let all = [
        (1.0, "a", 1.9),
        (1.0, "a", 2.0),
        (1.0, "a", 2.1),
        (1.0, "b", 3.0),
    ];
    let groups = derive_groups(&slices(&all));
    assert_eq!(groups.len(), 1);
    let mean = outcome(&groups[0].results, "firmness.mean_force_25", "");
    let mean = mean.estimate().unwrap();
    assert!((mean.value() - 2.5).abs() < 1e-9);
    // Analytic: the standard error of two values is half their difference.
    assert!((mean.std_uncertainty() - 0.5).abs() < 1e-6, "{mean:?}");
    assert!(
        groups[0].results[0]
            .parameters
            .contains("loaves=2; slices=4")
    );
}

#[test]
fn ages_kept_at_two_temperatures_are_kept_apart() {
    let mut runs = slices(&[(1.0, "a", 2.0), (3.0, "b", 3.0)]);
    let mut cold = SLICE.to_vec();
    cold[4] = (Field::StorageTempC, "4");
    cold.push((Field::AgeD, "1"));
    runs.push(record_of(&slice("F-90", 2.5, 0.1, &cold)));
    let day = day_of(runs, Vec::new());
    let names: Vec<&str> = day.groups.iter().map(|g| g.name.as_str()).collect();
    assert!(
        names.contains(&"dough D-01 kept at 4 °C, crumb at 1 d"),
        "{names:?}"
    );
    assert!(
        names.contains(&"dough D-01 kept at 20 °C, firming"),
        "{names:?}"
    );
}
