//! The uptake method against the handbook and on awkward records.

use crate::made::{outcome, record_of, run_of, value};
use doughtrace::derive::uptake::becker_diffusivity;
use doughtrace::numerics::fit::sphere_unaccomplished;
use doughtrace::record::{Outcome, Run, RunRecord};
use doughtrace::schema::{Axis, Field, Status, Test, Unit};

const STATED: &[(Field, &str)] = &[
    (Field::InitialMoistureDbPct, "12"),
    (Field::EquivalentRadiusMm, "1.6"),
    (Field::TargetMoistureDbPct, "27"),
    (Field::ThermostatC, "22"),
];

pub fn soaked(points: &[(f64, f64)], unit: Unit, facts: &[(Field, &str)]) -> Run {
    let seconds: Vec<(f64, f64)> = points.iter().map(|(t, m)| (60.0 * t, *m)).collect();
    run_of("U-01", Test::Uptake, (Axis::Time, unit), &seconds, facts)
}

fn of(record: &RunRecord, metric: &str, variant: &str) -> Outcome {
    outcome(&record.results, metric, variant)
}

#[test]
fn peleg_constants_of_the_handbook_come_back() {
    // HANDBOOK V-U1: k1 0.714, k2 0.043; gain at 10/20/40/80/160 min; equilibrium gain 23.256 %.
    let gains = [
        (10.0, 8.741),
        (20.0, 12.706),
        (40.0, 16.434),
        (80.0, 19.259),
        (160.0, 21.069),
    ];
    let points: Vec<(f64, f64)> = gains.iter().map(|(t, g)| (*t, 12.0 + g)).collect();
    let record = record_of(&soaked(&points, Unit::Percent, STATED));
    assert!((value(&of(&record, "uptake.peleg_k1", "")) - 0.714).abs() < 2e-4);
    assert!((value(&of(&record, "uptake.peleg_k2", "")) - 0.043).abs() < 1e-5);
    assert!((value(&of(&record, "uptake.equilibrium_moisture", "peleg")) - 35.256).abs() < 3e-3);
    // Analytic: 1/k1, and t = k1 g / (1 - k2 g) with g = 15.
    assert!((value(&of(&record, "uptake.initial_rate", "")) - 1.0 / 0.714).abs() < 5e-4);
    let time = value(&of(&record, "uptake.time_to_target", "peleg"));
    assert!((time - 0.714 * 15.0 / (1.0 - 0.043 * 15.0)).abs() < 0.02);
}

#[test]
fn becker_s_coefficient_is_that_of_the_handbook() {
    // HANDBOOK V-U2: 2.337e-8 cm²/s at 22 °C, which is 2.337 µm²/s.
    assert!((becker_diffusivity(22.0) - 2.337).abs() < 5e-4);
}

/// A sphere of radius 1.6 mm, D = 2.5 µm²/s, from 12 to 45 %.
fn sphere_at(minutes: f64) -> f64 {
    let fourier = 2.5e-6 * 60.0 * minutes / (1.6 * 1.6);
    45.0 - 33.0 * sphere_unaccomplished(fourier)
}

#[test]
fn a_sphere_s_coefficient_comes_back_and_that_of_the_line_lies_below() {
    let times = [
        2.0, 5.0, 10.0, 20.0, 40.0, 60.0, 90.0, 120.0, 240.0, 480.0, 960.0,
    ];
    let points: Vec<(f64, f64)> = times.iter().map(|t| (*t, sphere_at(*t))).collect();
    let record = record_of(&soaked(&points, Unit::Percent, STATED));
    let d = value(&of(&record, "uptake.diffusion_coefficient", "sphere"));
    assert!((d - 2.5).abs() < 1e-6, "{d}");
    let by_line = value(&of(&record, "uptake.diffusion_coefficient", "root-time"));
    // Analytic: the sphere's next term, -3 Fo, bends the line down.
    assert!(by_line < 2.5 && by_line > 1.5, "{by_line}");
    let instant = value(&of(&record, "uptake.instant_uptake", ""));
    assert!(instant.abs() < 0.5, "{instant}");
    // Found again by the sphere's own curve.
    let time = value(&of(&record, "uptake.time_to_target", "sphere"));
    assert!((sphere_at(time) - 27.0).abs() < 1e-6);
    let shown = record.results.iter().find(|r| {
        r.metric.id == "uptake.diffusion_coefficient" && r.parameters.contains("becker_1960=2.337")
    });
    assert!(shown.is_some());
}

#[test]
fn masses_with_dry_solids_are_moistures() {
    let times = [5.0, 10.0, 20.0, 40.0, 80.0, 160.0];
    let moisture = |t: f64| 12.0 + t / (0.714 + 0.043 * t);
    let percent: Vec<(f64, f64)> = times.iter().map(|t| (*t, moisture(*t))).collect();
    let solids = 8.5;
    let grams: Vec<(f64, f64)> = percent
        .iter()
        .map(|(t, m)| (*t, solids * (1.0 + m / 100.0)))
        .collect();
    let mut facts = STATED.to_vec();
    facts.push((Field::DrySolidsG, "8.5"));
    let by_mass = record_of(&soaked(&grams, Unit::Gram, &facts));
    let by_percent = record_of(&soaked(&percent, Unit::Percent, STATED));
    let k2 = |r: &RunRecord| of(r, "uptake.peleg_k2", "").estimate().unwrap();
    assert!((k2(&by_mass).value() - k2(&by_percent).value()).abs() < 1e-9);
    assert!(k2(&by_mass).std_uncertainty() > k2(&by_percent).std_uncertainty());
    // Without the solids nothing is guessed, unless the mass before soaking stands in the record.
    let bare = record_of(&soaked(&grams, Unit::Gram, STATED));
    let refused = of(&bare, "uptake.peleg_k1", "");
    assert!(
        refused.reason().unwrap().contains("dry_solids_g"),
        "{refused:?}"
    );
    let mut with_start = vec![(0.0, solids * 1.12)];
    with_start.extend(&grams);
    let weighed = record_of(&soaked(&with_start, Unit::Gram, STATED));
    assert!((k2(&weighed).value() - 0.043).abs() < 1e-6);
}

#[test]
fn a_target_beyond_the_record_or_the_equilibrium_is_not_extrapolated() {
    let moisture = |t: f64| 12.0 + t / (0.714 + 0.043 * t);
    let times = [2.0, 4.0, 6.0, 8.0, 10.0, 14.0, 18.0];
    let points: Vec<(f64, f64)> = times.iter().map(|t| (*t, moisture(*t))).collect();
    let to = |target: &str| {
        let mut facts = STATED.to_vec();
        facts.retain(|(field, _)| *field != Field::TargetMoistureDbPct);
        facts.push((Field::TargetMoistureDbPct, target));
        let record = record_of(&soaked(&points, Unit::Percent, &facts));
        of(&record, "uptake.time_to_target", "peleg")
    };
    assert_eq!(to("23").status(), Status::Exact);
    // 18 min show 24.09 %; the equilibrium is 35.26 %.
    assert_eq!(to("30").status(), Status::Above);
    assert_eq!(to("30").value_or_bound(), Some(18.0));
    assert_eq!(to("36").status(), Status::NotReached);
    assert_eq!(to("11").status(), Status::NotComputable);
}

#[test]
fn a_record_that_stops_early_knows_only_a_bound_of_the_equilibrium() {
    // Nearly a straight line with scatter: k2 is not told from nought.
    let points = [
        (1.0, 13.38),
        (2.0, 14.72),
        (3.0, 16.31),
        (4.0, 17.49),
        (5.0, 19.02),
    ];
    let record = record_of(&soaked(&points, Unit::Percent, STATED));
    let equilibrium = of(&record, "uptake.equilibrium_moisture", "peleg");
    assert_eq!(equilibrium.status(), Status::Above, "{equilibrium:?}");
    assert!(record.facts.gain_shown.is_none_or(|share| share < 0.6));
}

#[test]
fn records_that_cannot_be_read_say_why() {
    let back = [(1.0, 13.0), (3.0, 15.0), (2.0, 14.0), (4.0, 16.0)];
    let record = record_of(&soaked(&back, Unit::Percent, STATED));
    assert_eq!(
        of(&record, "uptake.peleg_k1", "").status(),
        Status::Rejected
    );
    let flat = [(1.0, 12.0), (2.0, 12.0), (3.0, 12.0), (4.0, 12.0)];
    let record = record_of(&soaked(&flat, Unit::Percent, STATED));
    let outcome = of(&record, "uptake.peleg_k1", "");
    assert!(
        outcome.reason().unwrap().contains("does not rise"),
        "{outcome:?}"
    );
    let few = [(1.0, 13.0), (2.0, 14.0)];
    let record = record_of(&soaked(&few, Unit::Percent, STATED));
    assert_eq!(
        of(&record, "uptake.peleg_k1", "").status(),
        Status::NotComputable
    );
    let metres = record_of(&soaked(&few, Unit::Millimetre, STATED));
    assert_eq!(
        of(&metres, "uptake.peleg_k1", "").status(),
        Status::NotComputable
    );
}
