//! Generated runs as intake would hand them over.

use crate::generate::heating::{HeatingRun, HeatingSample};
use crate::generate::pin::PinRun;
use doughtrace::check::check;
use doughtrace::derive::{self, Derived};
use doughtrace::intake::{self, Records};
use doughtrace::profile;
use doughtrace::record::{
    Curve, Day, FieldValue, Finding, Metadata, Origin, ProfileStamp, RawFile, RowRange, Run,
    RunRecord,
};
use doughtrace::schema::{Axis, Channel, Digest, Field, Level, RunId, Test, Unit};
use std::sync::Arc;

/// Returns metadata with the numbers that are stated.
pub fn stated(numbers: &[(Field, Option<f64>)], texts: &[(Field, &str)]) -> Metadata {
    let mut metadata = Metadata::default();
    for (field, value) in numbers {
        if let Some(value) = value {
            metadata.state(*field, FieldValue::Number(*value), Origin::Profile);
        }
    }
    for (field, text) in texts.iter().filter(|(_, text)| !text.is_empty()) {
        metadata.state(
            *field,
            FieldValue::Text((*text).to_owned()),
            Origin::Profile,
        );
    }
    metadata
}

/// Returns a curve over time.
pub fn over_time(channel: Channel, unit: Unit, points: &[(f64, f64)]) -> Curve {
    let (x, y) = points.iter().copied().unzip();
    Curve::new(channel, Axis::Time, unit, x, y).unwrap()
}

/// Returns the run of `test` with these curves and facts.
pub fn run_of(test: Test, name: &str, metadata: Metadata, curves: Vec<Curve>) -> Run {
    Run {
        id: RunId::new(name).unwrap(),
        test,
        file: RawFile {
            name: format!("{name}.csv"),
            sha256: Digest::of(name.as_bytes()),
            bytes: 0,
        },
        profile: ProfileStamp {
            id: "generated".into(),
            sha256: Digest::of(b""),
        },
        selector: String::new(),
        rows: RowRange {
            first: 10,
            last: 9 + curves[0].points() as u64,
        },
        metadata,
        curves,
        lines: Vec::new(),
        missing_cells: 0,
    }
}

/// Returns everything that `run` gives.
pub fn derived(run: &Run) -> Derived {
    derive::derive_run(run, Arc::new(run.conditions())).unwrap()
}

/// Returns a generated pin-mixer run.
pub fn pin_run(generated: &PinRun) -> Run {
    let (facts, lab) = (&generated.facts, &generated.facts.lab);
    let numbers = [
        (Field::FlourMoisturePct, lab.moisture_pct),
        (Field::FlourG, lab.flour_g),
        (Field::WaterMl, lab.water_ml),
        (Field::BowlG, lab.bowl_g),
        (Field::ThermostatC, lab.thermostat_c),
        (Field::DoughG, facts.dough_g),
        (Field::TorquePerPercentNm, facts.torque_per_percent_nm),
        (Field::SpeedPerMin, facts.speed_per_min),
        (Field::ProteinPct, facts.protein_pct),
        (Field::WaterContactS, Some(0.0)),
    ];
    let texts = [
        (Field::SampleId, lab.sample_id.as_str()),
        (Field::BatchId, &lab.batch_id),
        (Field::Treatment, &lab.treatment),
        (Field::Block, &lab.block),
        (Field::Purpose, &lab.purpose),
        (Field::SpringSetting, &facts.spring),
        (Field::ProteinBasis, &facts.protein_basis),
    ];
    let curve = over_time(Channel::Signal, Unit::Percent, &generated.samples());
    let name = match lab.run_id.as_str() {
        "" => "pin",
        name => name,
    };
    run_of(Test::PinMixing, name, stated(&numbers, &texts), vec![curve])
}

/// Returns a generated heating run, with both temperatures.
pub fn heating_run(generated: &HeatingRun) -> Run {
    let (facts, lab) = (&generated.facts, &generated.facts.lab);
    let numbers = [
        (Field::FlourMoisturePct, lab.moisture_pct),
        (Field::FlourG, lab.flour_g),
        (Field::WaterMl, lab.water_ml),
        (Field::HydrationPct, lab.hydration_pct),
        (Field::ThermostatC, lab.thermostat_c),
        (Field::DoughG, facts.dough_g),
        (Field::SpeedPerMin, facts.speed_per_min),
        (Field::WaterContactS, Some(0.0)),
    ];
    let texts = [
        (Field::SampleId, lab.sample_id.as_str()),
        (Field::BatchId, &lab.batch_id),
        (Field::Treatment, &lab.treatment),
        (Field::Block, &lab.block),
        (Field::Purpose, &lab.purpose),
        (Field::HydrationBasis, &facts.hydration_basis),
    ];
    let samples = generated.samples();
    let column = |value: fn(&HeatingSample) -> f64| -> Vec<(f64, f64)> {
        samples.iter().map(|s| (s.time_s, value(s))).collect()
    };
    let curves = vec![
        over_time(Channel::Signal, Unit::NewtonMetre, &column(|s| s.torque_nm)),
        over_time(Channel::Temperature, Unit::Celsius, &column(|s| s.dough_c)),
        over_time(
            Channel::BlockTemperature,
            Unit::Celsius,
            &column(|s| s.block_c),
        ),
    ];
    let name = match lab.run_id.as_str() {
        "" => "heating",
        name => name,
    };
    run_of(Test::Heating, name, stated(&numbers, &texts), curves)
}

/// Returns the only run of a file, read by the one profile that fits.
pub fn read_file(name: &str, bytes: &[u8]) -> Run {
    let mut runs = read_all(name, bytes);
    assert_eq!(runs.len(), 1, "{name}");
    runs.remove(0)
}

/// Returns the runs of a file, read by the one profile that fits, without a note.
pub fn read_all(name: &str, bytes: &[u8]) -> Vec<Run> {
    let profiles = profile::builtin().unwrap();
    let fitting = intake::select(&profiles, name, bytes).unwrap();
    let file = RawFile {
        name: name.to_owned(),
        sha256: Digest::of(bytes),
        bytes: bytes.len() as u64,
    };
    let read = intake::read(file, bytes, fitting).unwrap();
    assert!(read.notes.is_empty(), "{:?}", read.notes);
    match read.records {
        Records::Curves(runs) => runs,
        other => panic!("no curves but {other:?}"),
    }
}

/// Returns the record of a run, as rules and groups see it.
pub fn record(run: &Run) -> RunRecord {
    let found = derived(run);
    let conditions = Arc::new(run.conditions());
    RunRecord::new(run, conditions, found.facts, found.results, true)
}

/// Returns what the rules find in a day of these runs.
pub fn findings(records: Vec<RunRecord>) -> Vec<Finding> {
    check(&Day {
        runs: records,
        ..Day::default()
    })
}

/// Asserts that the rule speaks for `loud` with the given words, at the level, and keeps silent for
/// `still`.
#[track_caller]
pub fn speaks_and_keeps_silent(
    (rule, level, words): (&str, Level, &str),
    loud: Vec<RunRecord>,
    still: Vec<RunRecord>,
) {
    let found = findings(loud);
    let finding = found.iter().find(|f| f.rule == rule);
    let finding = finding.unwrap_or_else(|| panic!("{rule} keeps silent: {found:#?}"));
    assert_eq!(finding.level, level, "{rule}");
    assert!(finding.words.contains(words), "{rule}: {}", finding.words);
    assert!(finding.what_to_do.len() > 10, "{rule}");
    let found = findings(still);
    assert!(found.iter().all(|f| f.rule != rule), "{rule}: {found:#?}");
}
