//! Each quality rule of strips and bubbles, once where it must speak and once where it must not.

#![allow(clippy::unwrap_used, clippy::panic, reason = "tests may stop")]

mod generate;

use doughtrace::check::{check, rules};
use doughtrace::derive::{derive_groups, derive_run};
use doughtrace::record::{
    Curve, Day, FieldValue, Finding, Metadata, Origin, ProfileStamp, RawFile, RowRange, Run,
    RunRecord,
};
use doughtrace::schema::{Axis, Channel, Digest, Field, Level, RunId, Test, Unit};
use generate::inflation::{BubbleAbscissa, DiscDough, DiscRun};
use generate::strip::{DoughFacts, StripDough, StripRun};
use std::collections::BTreeMap;
use std::sync::Arc;

/// A run before it is read, to be spoilt in one point.
#[derive(Clone)]
struct Bench {
    id: String,
    test: Test,
    axis: Axis,
    unit: Unit,
    points: Vec<(f64, f64)>,
    facts: BTreeMap<Field, FieldValue>,
}

fn number(value: f64) -> FieldValue {
    FieldValue::Number(value)
}

fn text(value: &str) -> FieldValue {
    FieldValue::Text(value.to_owned())
}

impl Bench {
    fn with(mut self, field: Field, value: FieldValue) -> Bench {
        self.facts.insert(field, value);
        self
    }

    fn without(mut self, field: Field) -> Bench {
        self.facts.remove(&field);
        self
    }

    fn record(self) -> RunRecord {
        let mut metadata = Metadata::default();
        for (field, value) in self.facts {
            metadata.state(field, value, Origin::File { line: 3 });
        }
        let (x, y) = self.points.iter().copied().unzip();
        let run = Run {
            id: RunId::new(&self.id).unwrap(),
            test: self.test,
            file: RawFile {
                name: format!("{}.csv", self.id),
                sha256: Digest::of(self.id.as_bytes()),
                bytes: 0,
            },
            profile: ProfileStamp {
                id: "bench".into(),
                sha256: Digest::of(b""),
            },
            selector: String::new(),
            rows: RowRange {
                first: 20,
                last: 19 + self.points.len() as u64,
            },
            metadata,
            curves: vec![Curve::new(Channel::Signal, self.axis, self.unit, x, y).unwrap()],
            lines: Vec::new(),
            missing_cells: 0,
        };
        let conditions = Arc::new(run.conditions());
        let derived = derive_run(&run, Arc::clone(&conditions)).unwrap();
        RunRecord::new(&run, conditions, derived.facts, derived.results, true)
    }
}

fn strip_bench(strip: &StripRun) -> Bench {
    Bench {
        id: strip.run_id.clone(),
        test: Test::Strip,
        axis: Axis::HookTravelMm,
        unit: Unit::Newton,
        points: strip.samples(),
        facts: BTreeMap::from([
            (Field::BatchId, text("dough-1")),
            (Field::HalfGapMm, number(strip.stated.half_gap_mm)),
            (Field::SagMm, number(strip.stated.sag_mm)),
            (Field::StripAreaMm2, number(strip.stated.section_mm2)),
            (Field::HookSpeedMmS, number(3.3)),
            (Field::ThermostatC, number(25.0)),
            (Field::Break, text("middle")),
        ]),
    }
}

/// Eight good strips of one dough.
fn strips() -> Vec<Bench> {
    let dough = StripDough::mixed_by("spiral");
    let strips = dough.strips(&DoughFacts::default(), 1, 8);
    strips.iter().map(strip_bench).collect()
}

fn disc_bench(disc: &DiscRun) -> Bench {
    Bench {
        id: disc.run_id.clone(),
        test: Test::Inflation,
        axis: Axis::Time,
        unit: Unit::Kilopascal,
        points: disc.samples(),
        facts: BTreeMap::from([
            (Field::BatchId, text("dough-1")),
            (Field::AirFlowLH, number(96.0)),
            (Field::FlourMoisturePct, number(14.0)),
            (Field::FlourG, number(250.0)),
            (Field::WaterMl, number(129.4)),
            (Field::MixTimeMin, number(8.0)),
            (Field::RestMin, number(20.0)),
            (Field::DoughTempC, number(24.0)),
            (Field::ThermostatC, number(25.0)),
        ]),
    }
}

fn generated_discs() -> Vec<DiscRun> {
    let dough = DiscDough::mixed_by("spiral");
    dough.discs(&DoughFacts::default(), BubbleAbscissa::Time, 1, 5)
}

/// Five good discs of one dough.
fn discs() -> Vec<Bench> {
    generated_discs().iter().map(disc_bench).collect()
}

fn findings(benches: Vec<Bench>) -> Vec<Finding> {
    let runs: Vec<RunRecord> = benches.into_iter().map(Bench::record).collect();
    let groups = derive_groups(&runs);
    check(&Day {
        runs,
        groups,
        ..Day::default()
    })
}

/// Returns the findings of our rules on `benches` with the first spoilt.
fn spoilt(mut benches: Vec<Bench>, spoil: impl Fn(Bench) -> Bench) -> Vec<Finding> {
    let first = benches.remove(0);
    benches.insert(0, spoil(first));
    ours(findings(benches))
}

fn ours(findings: Vec<Finding>) -> Vec<Finding> {
    let of = |rule: &str| rule.starts_with("strip.") || rule.starts_with("inflation.");
    findings.into_iter().filter(|f| of(f.rule)).collect()
}

#[track_caller]
fn assert_only(found: &[Finding], rule: &str, level: Level, words: &str) {
    let named: Vec<&Finding> = found.iter().filter(|f| f.rule == rule).collect();
    assert!(!named.is_empty(), "no {rule} in {found:#?}");
    assert!(
        named
            .iter()
            .any(|f| f.level == level && f.words.contains(words)),
        "{words}: {named:#?}"
    );
    assert!(named.iter().all(|f| f.what_to_do.len() > 10));
    let others: Vec<&Finding> = found.iter().filter(|f| f.rule != rule).collect();
    assert!(others.is_empty(), "{others:#?}");
}

#[test]
fn good_strips_and_good_discs_have_no_finding() {
    assert_eq!(ours(findings(strips())), []);
    assert_eq!(ours(findings(discs())), []);
}

#[test]
fn each_fault_of_a_strip_is_named_by_its_rule_alone() {
    type Spoil = fn(Bench) -> Bench;
    let cases: [(&str, Level, &str, Spoil); 11] = [
        ("strip.steps-back", Level::Reject, "line 71", |mut b| {
            b.points.swap(50, 51);
            b
        }),
        ("strip.units", Level::Warn, "not a force", |mut b| {
            b.unit = Unit::Eu;
            b
        }),
        ("strip.break", Level::Reject, "slipped", |b| {
            b.with(Field::Break, text("slipped"))
        }),
        ("strip.left-out", Level::Note, "dry skin", |b| {
            b.with(Field::LeaveOut, text("dry skin"))
        }),
        (
            "strip.not-torn",
            Level::Warn,
            "before the record ends",
            |mut b| {
                b.points.retain(|(x, _)| *x < 25.0);
                b
            },
        ),
        ("strip.no-geometry", Level::Warn, "half_gap_mm", |b| {
            b.without(Field::HalfGapMm)
        }),
        ("strip.no-sag", Level::Note, "taken as 0", |b| {
            b.without(Field::SagMm)
        }),
        ("strip.pre-strain", Level::Warn, "0.8", |b| {
            b.with(Field::SagMm, number(18.0))
        }),
        ("strip.hook-speed", Level::Note, "not stated", |b| {
            b.without(Field::HookSpeedMmS)
        }),
        ("strip.no-temperature", Level::Note, "thermostat_c", |b| {
            b.without(Field::ThermostatC)
        }),
        ("strip.temperature", Level::Warn, "27.0 °C", |b| {
            b.with(Field::ThermostatC, number(27.0))
        }),
    ];
    for (rule, level, words, spoil) in cases {
        assert_only(&spoilt(strips(), spoil), rule, level, words);
    }
}

#[test]
fn a_strip_that_loses_load_looks_like_a_slip_unless_the_file_says_so() {
    let mut strip = StripDough::mixed_by("spiral")
        .strips(&DoughFacts::default(), 1, 1)
        .remove(0);
    strip.model.slip_share = 0.4;
    let slipped = strip_bench(&strip);
    let mut benches = strips();
    benches[0] = slipped.clone();
    let found = ours(findings(benches.clone()));
    assert_only(&found, "strip.sudden-loss", Level::Warn, "before rupture");
    benches[0] = slipped.with(Field::Break, text("slipped"));
    let found = ours(findings(benches));
    assert_only(&found, "strip.break", Level::Reject, "slipped");
}

#[test]
fn strips_of_another_speed_are_named() {
    let found = spoilt(strips(), |b| b.with(Field::HookSpeedMmS, number(3.5)));
    assert_only(&found, "strip.set-up-differs", Level::Warn, "3.5 mm/s");
    let found = spoilt(strips(), |b| b.with(Field::HalfGapMm, number(9.3)));
    assert_only(&found, "strip.set-up-differs", Level::Warn, "9.3 mm");
    let found = spoilt(strips(), |b| b.with(Field::HookSpeedMmS, number(3.4)));
    assert_eq!(found, []);
    let all = strips()
        .into_iter()
        .map(|b| b.with(Field::HookSpeedMmS, number(5.0)))
        .collect();
    let found = ours(findings(all));
    assert_only(&found, "strip.hook-speed", Level::Note, "5 mm/s");
}

#[test]
fn five_strips_are_too_few_and_six_are_enough() {
    let found = ours(findings(strips().split_off(3)));
    assert_only(&found, "strip.too-few", Level::Warn, "5 of 5");
    assert_eq!(ours(findings(strips().split_off(2))), []);
}

#[test]
fn strips_that_scatter_are_named() {
    let scaled: Vec<Bench> = strips()
        .into_iter()
        .enumerate()
        .map(|(i, mut bench)| {
            for (_, force) in &mut bench.points {
                *force *= if i % 2 == 0 { 1.0 } else { 1.6 };
            }
            bench
        })
        .collect();
    let found = ours(findings(scaled));
    assert_only(&found, "strip.spread", Level::Warn, "the limit is 15 %");
}

#[test]
fn each_fault_of_a_disc_is_named_by_its_rule_alone() {
    type Spoil = fn(Bench) -> Bench;
    let cases: [(&str, Level, &str, Spoil); 9] = [
        ("inflation.steps-back", Level::Reject, "line 71", |mut b| {
            b.points.swap(50, 51);
            b
        }),
        ("inflation.units", Level::Warn, "neither mm", |mut b| {
            b.unit = Unit::Fu;
            b
        }),
        (
            "inflation.units",
            Level::Warn,
            "air flow is not stated",
            |b| b.without(Field::AirFlowLH),
        ),
        ("inflation.air-flow", Level::Warn, "99 l/h", |b| {
            b.with(Field::AirFlowLH, number(99.0))
        }),
        (
            "inflation.not-burst",
            Level::Warn,
            "no sustained drop",
            |mut b| {
                b.points.retain(|(t, _)| *t < 10.0);
                b
            },
        ),
        ("inflation.left-out", Level::Note, "burst at the rim", |b| {
            b.with(Field::LeaveOut, text("burst at the rim"))
        }),
        ("inflation.chamber", Level::Warn, "27.0 °C", |b| {
            b.with(Field::ThermostatC, number(27.0))
        }),
        (
            "inflation.dough-temperature",
            Level::Warn,
            "25.5 °C",
            |b| b.with(Field::DoughTempC, number(25.5)),
        ),
        ("inflation.timing", Level::Warn, "38 min", |b| {
            b.with(Field::RestMin, number(30.0))
        }),
    ];
    for (rule, level, words, spoil) in cases {
        assert_only(&spoilt(discs(), spoil), rule, level, words);
    }
}

#[test]
fn a_leaking_an_early_and_a_departing_disc_are_named() {
    let with_first = |change: fn(&mut DiscRun)| {
        let mut all = generated_discs();
        change(&mut all[0]);
        ours(findings(all.iter().map(disc_bench).collect()))
    };
    let found = with_first(|d| d.model.leak_share = 0.3);
    assert_only(&found, "inflation.leak", Level::Warn, "before rupture");
    let found = with_first(|d| d.model.k_kpa *= 1.25);
    assert_only(&found, "inflation.departs", Level::Warn, "BU-1 lies +");
    let found = with_first(|d| d.model.rupture_ml *= 0.4);
    let early = found.iter().find(|f| f.rule == "inflation.early-rupture");
    assert!(
        early.is_some_and(|f| f.words.contains("BU-1 burst")),
        "{found:?}"
    );
    // A disc that burst early also makes the energies scatter.
    let spread = found.iter().find(|f| f.rule == "inflation.spread");
    assert!(spread.is_some_and(|f| f.level == Level::Warn), "{found:?}");
}

#[test]
fn five_discs_are_a_dough_four_will_do_and_three_will_not() {
    let found = ours(findings(discs().split_off(1)));
    assert_only(&found, "inflation.discs", Level::Warn, "4 discs");
    let found = ours(findings(discs().split_off(2)));
    assert_only(&found, "inflation.discs", Level::Reject, "3 discs");
    let out = |b: Bench| b.with(Field::LeaveOut, text("hole"));
    let two_out: Vec<Bench> = discs()
        .into_iter()
        .enumerate()
        .map(|(i, b)| if i < 2 { out(b) } else { b })
        .collect();
    let found = ours(findings(two_out));
    let many = found.iter().filter(|f| f.rule == "inflation.left-out");
    assert!(many.clone().count() == 2 && many.clone().all(|f| f.level == Level::Warn));
    assert!(
        found
            .iter()
            .any(|f| f.rule == "inflation.discs" && f.level == Level::Reject)
    );
}

#[test]
fn salt_water_off_is_named_with_the_volume_to_take() {
    // HANDBOOK V-B1: 14 % of moisture asks for 129.41 ml.
    let dosed = |ml: f64| -> Vec<Finding> {
        let all = discs()
            .into_iter()
            .map(|b| b.with(Field::WaterMl, number(ml)));
        ours(findings(all.collect()))
    };
    let found = dosed(131.5);
    assert_only(
        &found,
        "inflation.salt-water",
        Level::Warn,
        "asks for 129.4 ml",
    );
    assert!(found[0].what_to_do.contains("129.4 ml"));
    assert_eq!(dosed(130.3), []);
    let all = discs().into_iter().map(|b| b.without(Field::WaterMl));
    let found = ours(findings(all.collect()));
    assert_only(
        &found,
        "inflation.salt-water",
        Level::Note,
        "cannot be checked",
    );
}

#[test]
fn every_rule_of_strips_and_bubbles_is_tried_here() {
    let tried = include_str!("stretch_rules.rs");
    for rule in rules() {
        let id = rule.card.id;
        if id.starts_with("strip.") || id.starts_with("inflation.") {
            assert!(tried.contains(&format!("\"{id}\"")), "{id} has no test");
        }
    }
}
