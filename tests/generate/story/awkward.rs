//! The awkward day: one trouble each.

use super::super::curve::{Dip, Rise};
use super::super::facts::Facts;
use super::super::file::{FileKind, GeneratedFile, GeneratedRun, RunSpec, Trouble};
use super::super::kneading;
use super::super::layout::Layout;
use super::super::layout::sheet::{SheetEntry, entries_of, write_s2};
use super::super::noise::Noise;
use super::super::samples::Damage;
use super::{HIGH_SPEED, LOWMARSH, Method, NORTHDYKE, Plan, SPIRAL, TWO_ARM};

/// Bytes of the file that is no text.
const BINARY_BYTES: usize = 2048;
/// Curves in the wide file of unknown unit.
const WIDE_CURVES: usize = 6;
/// Seed of those curves.
const WIDE_SEED: u64 = 219;

/// Returns the files of the awkward day, run sheet last.
pub fn awkward_day() -> Vec<GeneratedFile> {
    let mut files = vec![
        one(rising_to_the_end(201), Layout::Block),
        one(never_at_the_line(202), Layout::Semicolon),
        one(flat_peak(203), Layout::Thousands),
        one(double_peak(204), Layout::Clock),
        one(drop_outs_and_spikes(205), Layout::Block),
        one(saturation(206), Layout::Block),
        one(wrong_thermostat(207), Layout::Semicolon),
        one(time_gap(208), Layout::Stacked),
        one(time_steps_back(209), Layout::Block),
        side_by_side(),
        one(plain_columns(213), Layout::Plain),
        one(
            ordinary(214, SPIRAL, Trouble::NoRunSheetLine),
            Layout::ThreeTraces,
        ),
        one(sheet_conflict(215), Layout::Semicolon),
        one(outside_the_window(216), Layout::Block),
        wide_file(),
        one(no_bowl_size(220), Layout::Clock),
    ];
    let mut entries = entries_of(&files);
    entries.retain(|entry| entry.file != "SM-214.csv");
    let (comma, comma_entry) = decimal_comma_file(217);
    let (binary, binary_entry) = binary_file(218);
    entries.extend([comma_entry, binary_entry]);
    files.extend([comma, binary]);
    files.push(GeneratedFile::new(
        "awkward-day/run-sheet.csv".to_owned(),
        FileKind::RunSheet,
        write_s2(&entries).into_bytes(),
    ));
    files
}

/// Returns an otherwise ordinary run with a label.
fn ordinary(number: u32, method: Method, trouble: Trouble) -> RunSpec {
    let blend = if number.is_multiple_of(2) {
        LOWMARSH
    } else {
        NORTHDYKE
    };
    let mut spec = Plan {
        number,
        blend,
        method,
        block: "next-day",
        replicate: number % 100,
        bowl_g: 300.0,
        step_s: 0.5,
    }
    .final_run();
    // A spike at the start is a second trouble; here each run has one.
    spec.recorder.wetting = None;
    spec.trouble = trouble;
    spec
}

pub(super) fn rising_to_the_end(number: u32) -> RunSpec {
    let mut spec = ordinary(number, SPIRAL, Trouble::RisingToTheEnd);
    spec.model.peak_min = 32.0;
    spec.model.peak_fu = 562.0;
    spec.model.rise = Rise::Power(2.0);
    spec
}

pub(super) fn never_at_the_line(number: u32) -> RunSpec {
    let mut spec = ordinary(number, TWO_ARM, Trouble::NeverAtTheLine);
    spec.model.peak_fu = 436.0;
    // Too much water by what the correction says for 64 FU; a titration run may be off the line.
    for facts in [&mut spec.facts, &mut spec.sheet] {
        facts.water_ml = facts.water_ml.map(|ml| ml + 6.0);
        facts.purpose = "titration".to_owned();
    }
    spec
}

pub(super) fn flat_peak(number: u32) -> RunSpec {
    let mut spec = ordinary(number, HIGH_SPEED, Trouble::FlatPeak);
    spec.model.peak_min = 2.4;
    spec.model.plateau_min = 4.5;
    spec
}

pub(super) fn double_peak(number: u32) -> RunSpec {
    let mut spec = ordinary(number, SPIRAL, Trouble::DoublePeak);
    spec.model.peak_min = 8.0;
    spec.model.rise = Rise::TwoStage {
        share: 0.93,
        until: 0.18,
        power: 2.0,
    };
    spec.model.dip = Some(Dip {
        at_min: 4.0,
        depth_fu: 55.0,
        width_min: 1.1,
    });
    spec
}

pub(super) fn drop_outs_and_spikes(number: u32) -> RunSpec {
    let mut spec = ordinary(number, TWO_ARM, Trouble::DropOutsAndSpikes);
    spec.recorder.damage = vec![
        Damage::Spike {
            at_s: 95.0,
            height_fu: 380.0,
        },
        Damage::Spike {
            at_s: 421.0,
            height_fu: 410.0,
        },
        Damage::Spike {
            at_s: 760.5,
            height_fu: -300.0,
        },
        Damage::DropOut {
            from_s: 540.0,
            to_s: 541.5,
        },
        Damage::DropOut {
            from_s: 903.0,
            to_s: 904.0,
        },
    ];
    spec
}

fn saturation(number: u32) -> RunSpec {
    let full_scale_fu = 520.0;
    let mut spec = ordinary(number, SPIRAL, Trouble::Saturation);
    spec.facts.full_scale_fu = Some(full_scale_fu);
    spec.recorder.damage = vec![Damage::Saturation { full_scale_fu }];
    spec
}

pub(super) fn wrong_thermostat(number: u32) -> RunSpec {
    let mut spec = ordinary(number, HIGH_SPEED, Trouble::WrongThermostat);
    spec.facts.thermostat_c = Some(31.0);
    spec.sheet.thermostat_c = Some(31.0);
    spec
}

fn time_gap(number: u32) -> RunSpec {
    let mut spec = ordinary(number, TWO_ARM, Trouble::TimeGap);
    spec.recorder.damage = vec![Damage::Gap {
        from_s: 505.0,
        to_s: 545.0,
    }];
    spec
}

fn time_steps_back(number: u32) -> RunSpec {
    let mut spec = ordinary(number, SPIRAL, Trouble::TimeStepsBack);
    spec.recorder.damage = vec![Damage::StepBack {
        at_s: 700.0,
        by_s: 8.0,
    }];
    spec
}

fn plain_columns(number: u32) -> RunSpec {
    let mut spec = ordinary(number, TWO_ARM, Trouble::PlainColumns);
    spec.recorder.sampling.step_s = 1.0;
    let sheet = Facts {
        bowl_g: None,
        moisture_pct: None,
        flour_g: None,
        water_ml: None,
        thermostat_c: None,
        ..spec.sheet.clone()
    };
    spec.facts = sheet.clone();
    spec.sheet = sheet;
    spec
}

fn sheet_conflict(number: u32) -> RunSpec {
    let mut spec = ordinary(number, HIGH_SPEED, Trouble::SheetConflict);
    spec.sheet.moisture_pct = spec.sheet.moisture_pct.map(|m| m + 1.0);
    spec
}

fn outside_the_window(number: u32) -> RunSpec {
    let mut spec = ordinary(number, SPIRAL, Trouble::OutsideTheWindow);
    spec.model.peak_fu = 541.0;
    spec
}

fn no_bowl_size(number: u32) -> RunSpec {
    let mut spec = ordinary(number, HIGH_SPEED, Trouble::NoBowlSize);
    spec.facts.bowl_g = None;
    spec.sheet.bowl_g = None;
    spec
}

/// A short record beside two duplicates whose corrected volumes lie too far apart.
fn side_by_side() -> GeneratedFile {
    let mut short = ordinary(210, HIGH_SPEED, Trouble::ShortRecord);
    short.recorder.sampling.last_s = 8.0 * 60.0;
    let duplicate = |number, peak_fu| {
        let mut spec = ordinary(number, TWO_ARM, Trouble::DuplicatesApart);
        let plan = Plan {
            number,
            blend: LOWMARSH,
            method: TWO_ARM,
            // A block of their own, so that no other dough of the day counts as their duplicate.
            block: "retest",
            replicate: number % 10,
            bowl_g: 300.0,
            step_s: 0.5,
        };
        spec.facts = plan.final_run().facts;
        spec.sheet = spec.facts.clone();
        spec.model.peak_fu = peak_fu;
        spec
    };
    // 34 FU at 0.096 ml/FU are 3.3 ml; the limit for the 300 g bowl is 2.5 ml (HANDBOOK §1.1).
    let runs: Vec<GeneratedRun> = [short, duplicate(211, 484.0), duplicate(212, 518.0)]
        .into_iter()
        .map(GeneratedRun::selected)
        .collect();
    let path = "awkward-day/SM-beside.csv".to_owned();
    GeneratedFile::of_runs(path, Layout::SideBySide, runs)
}

fn wide_file() -> GeneratedFile {
    let mut runs: Vec<GeneratedRun> =
        kneading::draw_columns(WIDE_CURVES, WIDE_SEED, ["SM-219-wide", "neighbour"])
            .into_iter()
            .map(|column| column.run)
            .collect();
    for (index, run) in runs.iter_mut().enumerate() {
        run.spec.sheet = Facts {
            sample_id: format!("neighbour-lot-{}", index + 1),
            batch_id: format!("neighbour-dough-{}", index + 1),
            purpose: "study".to_owned(),
            note: "curves lent by a neighbour, unit unknown (invented)".to_owned(),
            ..Facts::default()
        };
    }
    let path = "awkward-day/SM-219-wide.csv".to_owned();
    GeneratedFile::of_runs(path, Layout::Wide, runs)
}

/// A file of the decimal-point layout L1 in which something has turned points into commas.
fn decimal_comma_file(number: u32) -> (GeneratedFile, SheetEntry) {
    let spec = ordinary(number, TWO_ARM, Trouble::DecimalCommaInPointFile);
    let sheet = spec.sheet.clone();
    unreadable(number, points_to_commas(spec), sheet)
}

/// Returns the bytes of `spec` in layout L1 with every point turned into a comma.
pub(super) fn points_to_commas(spec: RunSpec) -> Vec<u8> {
    Layout::Block
        .write(&[GeneratedRun::alone(spec)])
        .into_iter()
        .map(|byte| if byte == b'.' { b',' } else { byte })
        .collect()
}

fn binary_file(number: u32) -> (GeneratedFile, SheetEntry) {
    let sheet = ordinary(number, HIGH_SPEED, Trouble::BinaryFile).sheet;
    let mut draw = Noise::new(u64::from(number));
    let bytes = (0..BINARY_BYTES)
        .map(|_| (256.0 * draw.unit()) as u8)
        .collect();
    unreadable(number, bytes, sheet)
}

fn unreadable(number: u32, bytes: Vec<u8>, facts: Facts) -> (GeneratedFile, SheetEntry) {
    let path = format!("awkward-day/SM-{number}.csv");
    let file = GeneratedFile::new(path, FileKind::Unreadable, bytes);
    let entry = SheetEntry {
        file: file.name().to_owned(),
        curve: String::new(),
        facts,
    };
    (file, entry)
}

fn one(spec: RunSpec, layout: Layout) -> GeneratedFile {
    let run = match layout {
        Layout::Stacked => GeneratedRun::selected(spec),
        _ => GeneratedRun::alone(spec),
    };
    let path = format!("awkward-day/{}.{}", run.run_id, layout.extension());
    GeneratedFile::of_runs(path, layout, vec![run])
}
