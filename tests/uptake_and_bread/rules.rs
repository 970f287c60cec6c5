//! Every rule of the three methods: seen where it must be, silent where nothing is wrong.

use crate::firmness::{SLICE, slice, slices};
use crate::loaf::one_loaf;
use crate::made::{day_of, record_of, scalar};
use crate::uptake::soaked;
use doughtrace::check::check;
use doughtrace::record::{Day, Finding, Observation};
use doughtrace::schema::{Field, Level, Unit};

fn found<'f>(findings: &'f [Finding], rule: &str) -> Option<&'f Finding> {
    findings.iter().find(|f| f.rule == rule)
}

fn rules_of(day: &Day, method: &str) -> Vec<&'static str> {
    let all = check(day);
    let mut of_method: Vec<&str> = all.iter().map(|f| f.rule).collect();
    of_method.retain(|rule| rule.starts_with(method));
    of_method
}

const WELL_STATED: &[(Field, &str)] = &[
    (Field::InitialMoistureDbPct, "12"),
    (Field::EquivalentRadiusMm, "1.6"),
    (Field::ThermostatC, "22"),
    (Field::FlourKind, "kernel"),
    (Field::SampleId, "invented-kernel-A"),
    (Field::Note, "blotted 30 s, invented"),
];

fn curve(until: usize) -> Vec<(f64, f64)> {
    let times = [2.0, 5.0, 10.0, 20.0, 40.0, 80.0, 160.0, 320.0];
    let moisture = |t: f64| 12.0 + t / (0.714 + 0.043 * t);
    times
        .iter()
        .take(until)
        .map(|t| (*t, moisture(*t)))
        .collect()
}

#[test]
fn a_well_stated_uptake_curve_is_silent_and_a_bare_one_is_not() {
    let good = |id: &str| {
        let mut run = soaked(&curve(8), Unit::Percent, WELL_STATED);
        run.id = doughtrace::schema::RunId::new(id).unwrap();
        record_of(&run)
    };
    let day = day_of(vec![good("U-01"), good("U-02")], Vec::new());
    assert_eq!(rules_of(&day, "uptake."), Vec::<&str>::new());
    let alone = day_of(vec![good("U-01")], Vec::new());
    assert_eq!(rules_of(&alone, "uptake."), ["uptake.no-duplicate"]);
    let bare = day_of(
        vec![record_of(&soaked(&curve(4), Unit::Percent, &[]))],
        Vec::new(),
    );
    for rule in [
        "uptake.few-points",
        "uptake.stops-early",
        "uptake.no-temperature",
        "uptake.no-initial-moisture",
        "uptake.kind",
        "uptake.no-radius",
        "uptake.no-protocol",
    ] {
        assert!(rules_of(&bare, "uptake.").contains(&rule), "{rule}");
    }
    let mut back = curve(8);
    back.swap(3, 4);
    let day = day_of(
        vec![record_of(&soaked(&back, Unit::Percent, WELL_STATED))],
        Vec::new(),
    );
    let findings = check(&day);
    let seen = found(&findings, "uptake.steps-back").unwrap();
    assert_eq!((seen.level, seen.row), (Level::Reject, Some(15)));
}

#[test]
fn well_made_slices_are_silent_and_others_are_not() {
    let ages = [0.5, 1.0, 2.0, 4.0, 7.0];
    let all: Vec<(f64, &str, f64)> = ages
        .iter()
        .flat_map(|age| [(*age, "a", 2.0 + age), (*age, "b", 2.1 + age)])
        .collect();
    let day = day_of(slices(&all), Vec::new());
    assert_eq!(rules_of(&day, "firmness."), Vec::<&str>::new());
    let few = day_of(slices(&all[..4]), Vec::new());
    assert_eq!(rules_of(&few, "firmness."), ["firmness.few-ages"]);
    let single: Vec<_> = all.iter().copied().filter(|s| s.1 == "a").collect();
    let single = day_of(slices(&single), Vec::new());
    assert_eq!(rules_of(&single, "firmness."), ["firmness.one-loaf"]);
    let bare = day_of(vec![record_of(&slice("F-01", 3.0, 0.1, &[]))], Vec::new());
    assert_eq!(
        rules_of(&bare, "firmness."),
        [
            "firmness.probe",
            "firmness.thickness",
            "firmness.speed",
            "firmness.no-age",
            "firmness.no-storage"
        ]
    );
    let mut other = SLICE.to_vec();
    other[0] = (Field::ThicknessMm, "30");
    other[1] = (Field::ProbeDiameterMm, "25");
    other[2] = (Field::ProbeSpeedMmS, "1");
    other.push((Field::AgeD, "1"));
    let day = day_of(
        vec![record_of(&slice("F-01", 3.0, 0.1, &other))],
        Vec::new(),
    );
    assert_eq!(
        rules_of(&day, "firmness."),
        [
            "firmness.probe",
            "firmness.thickness",
            "firmness.speed",
            "firmness.shallow",
            "firmness.one-loaf"
        ]
    );
    let mut back = slice("F-01", 3.0, 0.1, &other);
    let (x, y): (Vec<f64>, Vec<f64>) = ([0.0, 2.0, 1.0].to_vec(), [0.0, 1.0, 0.5].to_vec());
    back.curves = vec![
        doughtrace::record::Curve::new(
            doughtrace::schema::Channel::Signal,
            doughtrace::schema::Axis::ProbeTravelMm,
            Unit::Newton,
            x,
            y,
        )
        .unwrap(),
    ];
    let findings = check(&day_of(vec![record_of(&back)], Vec::new()));
    assert_eq!(
        found(&findings, "firmness.steps-back").unwrap().row,
        Some(13)
    );
}

fn day_with(records: Vec<Observation>) -> Day {
    day_of(Vec::new(), records)
}

#[test]
fn a_well_kept_sheet_is_silent_and_others_are_not() {
    let two_loaves = || {
        let mut records = one_loaf();
        records.push(scalar(
            8,
            ("D-01", "b"),
            None,
            "seeds_around_loaf",
            (1080.0, Unit::Millilitre),
        ));
        records.push(scalar(
            9,
            ("D-01", "b"),
            None,
            "loaf_mass",
            (424.0, Unit::Gram),
        ));
        records
    };
    assert_eq!(
        rules_of(&day_with(two_loaves()), "loaf."),
        Vec::<&str>::new()
    );
    assert_eq!(rules_of(&day_with(one_loaf()), "loaf."), ["loaf.one-loaf"]);
    let mut without_block = two_loaves();
    without_block.drain(1..3);
    assert_eq!(
        rules_of(&day_with(without_block), "loaf."),
        ["loaf.no-box-check"]
    );
    let mut without_box = two_loaves();
    without_box.remove(0);
    assert_eq!(
        rules_of(&day_with(without_box), "loaf."),
        ["loaf.no-box-volume"]
    );
    let mut without_mass = two_loaves();
    without_mass.pop();
    assert_eq!(rules_of(&day_with(without_mass), "loaf."), ["loaf.no-mass"]);
    // The block of 1000 ml measures 1030 ml, then 1050 ml.
    for (seeds, level) in [(1770.0, Level::Warn), (1750.0, Level::Reject)] {
        let mut off = two_loaves();
        off[2].value = Some(seeds);
        let findings = check(&day_with(off));
        assert_eq!(found(&findings, "loaf.box-off").unwrap().level, level);
    }
    let mut odd = two_loaves();
    odd.push(scalar(
        20,
        ("D-01", "a"),
        None,
        "crust_colour",
        (3.0, Unit::One),
    ));
    odd.push(scalar(
        21,
        ("D-01", "a"),
        None,
        "crumb_moisture",
        (44.0, Unit::Gram),
    ));
    let findings = check(&day_with(odd));
    assert_eq!(
        found(&findings, "loaf.unknown-quantity").unwrap().row,
        Some(20)
    );
    let unit = found(&findings, "loaf.unit").unwrap();
    assert_eq!((unit.row, unit.level), (Some(21), Level::Reject));
}
