//! Each quality rule of the mixing test, once where it must speak and once where it must not.

#![allow(clippy::unwrap_used, clippy::panic, reason = "tests may stop")]

mod generate;

use doughtrace::check::check;
use doughtrace::derive::mixing;
use doughtrace::record::{
    Curve, Day, Fault, FieldValue, Finding, Metadata, Origin, Outcome, ProfileStamp, RawFile,
    RowRange, Run, RunRecord, RunSheet, SheetLine,
};
use doughtrace::schema::{Axis, Channel, Digest, Field, Level, RunId, Test, Unit};
use std::sync::Arc;

/// A good final run of 20 min, sampled four times a second, before anything is done to it.
struct Bench {
    x: Vec<f64>,
    y: Vec<f64>,
    metadata: Metadata,
}

fn number(value: f64) -> FieldValue {
    FieldValue::Number(value)
}

fn text(value: &str) -> FieldValue {
    FieldValue::Text(value.to_owned())
}

impl Bench {
    fn good() -> Bench {
        Bench::shaped(20.0, |minute| {
            let rise = 500.0 * (1.0 - libm::exp(-minute / 0.5));
            rise - 6.0 * (minute - 4.0).max(0.0)
        })
    }

    fn shaped(end_min: f64, centre: impl Fn(f64) -> f64) -> Bench {
        let x: Vec<f64> = (0..=(end_min * 240.0) as usize)
            .map(|i| i as f64 * 0.25)
            .collect();
        let y = x
            .iter()
            .map(|s| {
                let turn = std::f64::consts::TAU * s * 63.0 / 60.0;
                centre(s / 60.0) + 20.0 * (libm::sin(turn) + libm::sin(1.5 * turn))
            })
            .collect();
        let mut metadata = Metadata::default();
        for (field, value) in [
            (Field::SampleId, text("flour-1")),
            (Field::BatchId, text("dough-1")),
            (Field::Purpose, text("final")),
            (Field::BowlG, number(300.0)),
            (Field::FlourMoisturePct, number(12.5)),
            (Field::FlourG, number(294.9)),
            (Field::WaterMl, number(182.0)),
            (Field::ThermostatC, number(30.0)),
            (Field::WaterContactS, number(0.0)),
        ] {
            metadata.state(field, value, Origin::File { line: 1 });
        }
        Bench { x, y, metadata }
    }

    fn with(mut self, field: Field, value: FieldValue) -> Bench {
        let mut metadata = Metadata::default();
        metadata.state(field, value, Origin::File { line: 1 });
        for (other, statements) in self.metadata.iter().filter(|(other, _)| *other != field) {
            metadata.state(
                other,
                statements[0].value.clone(),
                statements[0].origin.clone(),
            );
        }
        self.metadata = metadata;
        self
    }

    fn without(mut self, field: Field) -> Bench {
        let mut metadata = Metadata::default();
        for (other, statements) in self.metadata.iter().filter(|(other, _)| *other != field) {
            metadata.state(
                other,
                statements[0].value.clone(),
                statements[0].origin.clone(),
            );
        }
        self.metadata = metadata;
        self
    }

    fn run(self, name: &str, unit: Unit) -> Run {
        let points = self.x.len() as u64;
        Run {
            id: RunId::new(name).unwrap(),
            test: Test::Mixing,
            file: RawFile {
                name: format!("{name}.csv"),
                sha256: Digest::of(name.as_bytes()),
                bytes: 0,
            },
            profile: ProfileStamp {
                id: "bench".into(),
                sha256: Digest::of(b""),
            },
            selector: String::new(),
            rows: RowRange {
                first: 10,
                last: 9 + points,
            },
            metadata: self.metadata,
            curves: vec![Curve::new(Channel::Signal, Axis::Time, unit, self.x, self.y).unwrap()],
            lines: Vec::new(),
            missing_cells: 0,
        }
    }

    fn record(self, name: &str) -> RunRecord {
        derived(&self.run(name, Unit::Fu))
    }
}

fn derived(run: &Run) -> RunRecord {
    let conditions = Arc::new(run.conditions());
    let derived = mixing::derive(run, Arc::clone(&conditions));
    RunRecord::new(run, conditions, derived.facts, derived.results, true)
}

fn findings(records: Vec<RunRecord>) -> Vec<Finding> {
    check(&Day {
        runs: records,
        ..Day::default()
    })
}

#[track_caller]
fn one<'f>(found: &'f [Finding], rule: &str) -> &'f Finding {
    found
        .iter()
        .find(|f| f.rule == rule)
        .unwrap_or_else(|| panic!("no finding {rule} in {found:#?}"))
}

#[test]
fn a_good_run_has_no_finding_but_notes() {
    let found = findings(vec![Bench::good().record("K-1")]);
    assert!(found.iter().all(|f| f.level == Level::Note), "{found:#?}");
}

#[test]
fn thermostat_strict_for_a_final_run_and_a_warning_for_a_study() {
    let off = |value| Bench::good().with(Field::ThermostatC, number(value));
    assert_eq!(
        one(
            &findings(vec![off(30.3).record("K-1")]),
            "mixing.thermostat"
        )
        .level,
        Level::Reject
    );
    let study = off(30.3).with(Field::Purpose, text("study"));
    assert_eq!(
        one(&findings(vec![study.record("K-1")]), "mixing.thermostat").level,
        Level::Warn
    );
    let inside = findings(vec![off(30.2).record("K-1")]);
    assert!(inside.iter().all(|f| f.rule != "mixing.thermostat"));
    let unstated = Bench::good().without(Field::ThermostatC).record("K-1");
    assert_eq!(
        one(&findings(vec![unstated]), "mixing.thermostat-not-stated").level,
        Level::Note
    );
}

#[test]
fn a_maximum_outside_the_window_gives_the_next_water_volume() {
    // 60 FU too stiff: 0.096 ml/FU more water (ISO 5530-1, HANDBOOK 1.3).
    let mut stiff = Bench::good();
    stiff.y.iter_mut().for_each(|v| *v += 60.0);
    let record = stiff.record("K-1");
    let maximum = record.facts.maximum.unwrap();
    let next = record.facts.next_water_ml.unwrap();
    assert!(
        (next - (182.0 + 0.096 * (294.9 / 294.857) * (maximum - 500.0))).abs() < 0.01,
        "{next}"
    );
    let found = findings(vec![record]);
    let finding = one(&found, "mixing.maximum-outside");
    assert!(
        finding.what_to_do.contains(&format!("{next:.1} ml")),
        "{}",
        finding.what_to_do
    );
    // A hydration series is not judged by its level, and has no next run.
    let mut study = Bench::good().with(Field::Purpose, text("study"));
    study.y.iter_mut().for_each(|v| *v += 60.0);
    let record = study.record("K-2");
    assert_eq!(record.facts.next_water_ml, None);
    assert!(
        findings(vec![record])
            .iter()
            .all(|f| f.rule != "mixing.maximum-outside")
    );
    // A titration run inside the window still says where the line would be.
    let titration = Bench::good()
        .with(Field::Purpose, text("titration"))
        .record("K-3");
    assert!(titration.facts.next_water_ml.is_some());
}

#[test]
fn dough_moisture_is_held_against_what_was_dosed() {
    // Dosed: (182/294.9 + 0.125) / (1 + 182/294.9) = 45.89 % (HANDBOOK 8.5, derived).
    let measured = |pct| {
        Bench::good()
            .with(Field::DoughMoisturePct, number(pct))
            .record("K-1")
    };
    let found = findings(vec![measured(44.9)]);
    assert!(
        one(&found, "mixing.dough-moisture")
            .words
            .contains("45.9 %"),
        "{found:#?}"
    );
    assert!(
        findings(vec![measured(45.6)])
            .iter()
            .all(|f| f.rule != "mixing.dough-moisture")
    );
}

#[test]
fn duplicates_beyond_the_limit_of_each_bowl() {
    let water = |ml| Bench::good().with(Field::WaterMl, number(ml));
    let near = findings(vec![water(182.0).record("K-1"), water(184.4).record("K-2")]);
    assert!(
        near.iter().all(|f| f.rule != "mixing.duplicates"),
        "{near:#?}"
    );
    let far = findings(vec![water(182.0).record("K-1"), water(184.6).record("K-2")]);
    assert!(one(&far, "mixing.duplicates").words.contains("2.6 ml"));
    let small = |name: &str, ml: f64| {
        water(ml)
            .with(Field::BowlG, number(50.0))
            .with(Field::FlourG, number(49.1))
            .record(name)
    };
    let far = findings(vec![small("K-1", 30.0), small("K-2", 30.6)]);
    assert!(one(&far, "mixing.duplicates").words.contains("0.5 ml"));
}

#[test]
fn gaps_repeated_times_and_a_missing_bowl() {
    let mut gapped = Bench::good();
    gapped.x.drain(2000..2040);
    gapped.y.drain(2000..2040);
    let found = findings(vec![gapped.record("K-1")]);
    let gap = one(&found, "mixing.gap");
    assert_eq!((gap.level, gap.row), (Level::Warn, Some(2010)));
    assert!(gap.words.contains("10.2 s"), "{}", gap.words);

    let mut coarse = Bench::good();
    coarse.x.iter_mut().for_each(|x| *x = x.floor());
    let found = findings(vec![coarse.record("K-1")]);
    assert!(
        one(&found, "mixing.repeated-times")
            .words
            .contains("3600 readings"),
        "{found:#?}"
    );

    let found = findings(vec![Bench::good().without(Field::BowlG).record("K-1")]);
    assert_eq!(one(&found, "mixing.no-bowl").level, Level::Warn);
    let odd = Bench::good()
        .with(Field::BowlG, number(100.0))
        .record("K-1");
    assert!(
        one(&findings(vec![odd]), "mixing.no-bowl")
            .words
            .contains("100 g")
    );
}

#[test]
fn length_rise_and_time_zero() {
    let short = Bench::shaped(12.0, |m| {
        500.0 * (1.0 - libm::exp(-m / 0.5)) - 6.0 * (m - 4.0).max(0.0)
    });
    let found = findings(vec![short.record("K-1")]);
    assert!(
        one(&found, "mixing.short-record")
            .what_to_do
            .contains("18 min"),
        "{found:#?}"
    );

    let rising = Bench::shaped(12.0, |m| 400.0 * (1.0 - libm::exp(-m / 0.5)) + 8.0 * m);
    assert_eq!(
        one(
            &findings(vec![rising.record("K-1")]),
            "mixing.rising-at-end"
        )
        .level,
        Level::Reject
    );

    let found = findings(vec![
        Bench::good().without(Field::WaterContactS).record("K-1"),
    ]);
    assert_eq!(one(&found, "mixing.time-zero-inferred").level, Level::Note);
}

#[test]
fn unit_and_sampling_that_leave_things_unknown() {
    let mut slow = Bench::good();
    slow.x = slow.x.iter().copied().step_by(8).collect();
    slow.y = slow.y.iter().copied().step_by(8).collect();
    let found = findings(vec![derived(&slow.run("K-1", Unit::ArbitraryUnit))]);
    assert_eq!(one(&found, "mixing.slow-sampling").level, Level::Warn);
    assert_eq!(one(&found, "mixing.unit-unknown").level, Level::Warn);
}

#[test]
fn an_operator_marker_hides_the_notch_it_explains() {
    // Scraping at 9 min: the blade meets a lump that reads 120 FU high for 8 s. Smoothed over
    // 30 s it would be the highest point of the curve.
    let touched = || {
        let mut bench = Bench::good();
        for (x, y) in bench.x.iter().zip(&mut bench.y) {
            if (*x - 540.0).abs() <= 4.0 {
                *y += 400.0;
            }
        }
        bench
    };
    let peak = |bench: Bench| {
        let record = bench.record("K-1");
        record.facts.peaks.last().map_or(0.0, |p| p.time_min)
    };
    let unmarked = peak(touched());
    assert!((unmarked - 9.0).abs() < 0.3, "{unmarked}");
    let marked = touched().with(Field::MarkersS, text("540"));
    assert!(peak(marked) < 6.0);
}

#[test]
fn the_line_through_the_peak_centre_and_constant_dough_mass() {
    let result = |record: &RunRecord, id: &str| record.result(id).unwrap().outcome.clone();
    let mut soft = Bench::good();
    soft.y.iter_mut().for_each(|v| *v -= 12.0);
    let lined = Bench {
        x: soft.x.clone(),
        y: soft.y.clone(),
        metadata: soft.metadata.clone(),
    }
    .with(Field::LineRule, text("at-peak-centre"))
    .record("K-1");
    let fixed = soft.record("K-1");
    let (Outcome::Exact(a), Outcome::Exact(b)) = (
        result(&fixed, "mixing.stability"),
        result(&lined, "mixing.stability"),
    ) else {
        panic!("both stabilities are readable")
    };
    assert!(b.value() > a.value() + 1.0, "{} {}", a.value(), b.value());

    // V-M5 (HANDBOOK, mass balance): 291.217 g flour at 12.5 % and 188.783 g water give 62.0.
    let dough = Bench::good()
        .with(Field::Procedure, text("constant-dough"))
        .with(Field::FlourG, number(291.217))
        .with(Field::WaterMl, number(188.783))
        .record("K-1");
    let absorption = result(&dough, "mixing.water_absorption").value().unwrap();
    assert!((absorption - 62.0).abs() < 5e-4, "{absorption}");
}

#[test]
fn linkage_between_files_and_run_sheets() {
    let mut record = Bench::good().record("K-1");
    record.in_run_sheet = false;
    let mut conflicting = Bench::good().run("K-2", Unit::Fu);
    let origin = Origin::RunSheet {
        file: "sheet.csv".into(),
        line: 3,
    };
    conflicting
        .metadata
        .state(Field::FlourMoisturePct, number(13.0), origin.clone());
    conflicting
        .metadata
        .state(Field::Treatment, text("spiral"), origin.clone());
    conflicting
        .metadata
        .state(Field::Treatment, text("two-arm"), origin);
    let sheet_line = SheetLine {
        line: 4,
        file: "absent.csv".into(),
        curve: String::new(),
        profile: None,
        metadata: Metadata::default(),
    };
    let file = RawFile {
        name: "sheet.csv".into(),
        sha256: Digest::of(b""),
        bytes: 0,
    };
    let day = Day {
        runs: vec![record, derived(&conflicting)],
        sheets: vec![RunSheet {
            file,
            lines: vec![sheet_line],
        }],
        notes: vec![Fault {
            file: "sheet.csv".into(),
            line: Some(9),
            column: Some("water_ml".into()),
            found: "`abc`".into(),
            expected: "a number".into(),
            remedy: "correct the cell".into(),
        }],
        ..Day::default()
    };
    let found = check(&day);
    assert!(
        one(&found, "day.missing-sheet-line")
            .words
            .contains("K-1.csv")
    );
    assert!(
        one(&found, "day.sheet-line-without-file")
            .words
            .contains("absent.csv")
    );
    let levels: Vec<Level> = found
        .iter()
        .filter(|f| f.rule == "day.conflict")
        .map(|f| f.level)
        .collect();
    assert_eq!(
        levels,
        [Level::Reject, Level::Warn],
        "moisture enters results, treatment does not"
    );
    assert_eq!(one(&found, "day.passed-over").level, Level::Warn);
}

#[test]
fn a_final_run_without_its_main_numbers_is_never_called_good() {
    let peakless = [
        ("too short", Bench::shaped(0.3, |m| 300.0 * m)),
        (
            "cut in the plateau",
            Bench::shaped(6.0, |m| 500.0 * (1.0 - libm::exp(-m / 0.3))),
        ),
        (
            "falling from the start",
            Bench::shaped(20.0, |m| 600.0 - 10.0 * m),
        ),
        (
            "contact after the end",
            Bench::good().with(Field::WaterContactS, number(5000.0)),
        ),
        (
            "contact long before",
            Bench::good().with(Field::WaterContactS, number(-5000.0)),
        ),
        (
            "no moisture",
            Bench::good().without(Field::FlourMoisturePct),
        ),
        ("no water", Bench::good().without(Field::WaterMl)),
        (
            "ten times too little flour",
            Bench::good().with(Field::FlourG, number(29.49)),
        ),
    ];
    for (name, bench) in peakless {
        let record = bench.record("K-1");
        let found = findings(vec![record]);
        assert!(
            found.iter().any(|f| f.level > Level::Note),
            "{name}: {found:#?}"
        );
    }
}

#[test]
fn constant_dough_mass_asks_for_other_flour_too() {
    let mut stiff = Bench::good()
        .with(Field::Procedure, text("constant-dough"))
        .with(Field::FlourG, number(291.217))
        .with(Field::WaterMl, number(188.783));
    stiff.y.iter_mut().for_each(|v| *v += 50.0);
    let record = stiff.record("K-1");
    let (water, flour) = (
        record.facts.next_water_ml.unwrap(),
        record.facts.next_flour_g.unwrap(),
    );
    // Mass balance (HANDBOOK 1.4): the dough stays at 480 g, and 50 FU too stiff is 0.032 ml/100 g
    // per FU more absorption.
    assert!((water + flour - 480.0).abs() < 1e-6, "{water} {flour}");
    let flour_14 = flour * 87.5 / 86.0;
    let absorption = 100.0 * (480.0 - flour_14) / flour_14;
    let wanted = 62.0 + 0.032 * (record.facts.maximum.unwrap() - 500.0);
    assert!((absorption - wanted).abs() < 0.01, "{absorption} {wanted}");
    assert!(
        record
            .result("mixing.corrected_volume")
            .unwrap()
            .outcome
            .value()
            .is_none()
    );
    assert!(
        one(&findings(vec![record]), "mixing.maximum-outside")
            .what_to_do
            .contains("g of flour")
    );
}

#[test]
fn damage_only_adds_findings() {
    let rules = |bench: Bench| -> std::collections::BTreeSet<&'static str> {
        findings(vec![bench.record("K-1")])
            .iter()
            .map(|f| f.rule)
            .collect()
    };
    let before = rules(Bench::good());
    let mut spiky = Bench::good();
    for i in [1500, 1501, 2600] {
        spiky.y[i] = 5.0;
    }
    let after = rules(spiky);
    assert!(after.is_superset(&before), "{before:?} {after:?}");
    assert!(after.contains("mixing.spikes"));
}
