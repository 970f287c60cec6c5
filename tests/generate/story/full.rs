//! The full day: mixing, extension and membrane records in nine layouts of curves.

use super::super::file::{FileKind, GeneratedFile, GeneratedRun, RunSpec, Trouble};
use super::super::layout::sheet::{SheetEntry, entries_of, entries_of_pieces, write_s1, write_s2};
use super::super::layout::{GradeLayout, Layout};
use super::super::water::Dosing;
use super::awkward;
use super::pieces::{afternoon_grades, extension_files, morning_grades};
use super::{Blend, EASTBANK, LOWMARSH, METHODS, NORTHDYKE, Plan, SPIRAL};

/// Water added to or taken from the volume at the line in the hydration series, ml.
const SERIES_ML: [f64; 3] = [-6.0, 0.0, 6.0];
/// Longer development per ml of added water, as a share; invented.
const DEVELOPMENT_PER_ML: f64 = 0.01;
/// Number of the file that cannot be read.
const UNREADABLE: u32 = 331;

/// Returns the files of the full day, its run sheets and observation sheets last.
pub fn full_day() -> Vec<GeneratedFile> {
    let mut files = final_files();
    files.push(series_file());
    files.extend(awkward_files());
    let mut mixing = entries_of(&files);
    let (lost, entry) = unreadable_file();
    mixing.push(entry);
    files.push(lost);

    let stretched = extension_files();
    let pieces = entries_of_pieces(&stretched);
    files.extend(stretched);
    for (name, text) in [
        ("run-sheet-mixing.csv", write_s1(&mixing)),
        ("run-sheet-extension.csv", write_s2(&pieces)),
    ] {
        files.push(GeneratedFile::new(
            format!("full-day/{name}"),
            FileKind::RunSheet,
            text.into_bytes(),
        ));
    }
    files.push(GeneratedFile::of_grades(
        "full-day/window-morning.csv".to_owned(),
        GradeLayout::Sheet,
        morning_grades(),
    ));
    files.push(GeneratedFile::of_grades(
        "full-day/window-afternoon.tsv".to_owned(),
        GradeLayout::Tab,
        afternoon_grades(),
    ));
    files
}

fn plan(number: u32, blend: Blend, block: &'static str, replicate: u32) -> Plan {
    Plan {
        number,
        blend,
        method: METHODS[(number as usize - 1) % 3],
        block,
        replicate,
        bowl_g: 300.0,
        step_s: 0.5,
    }
}

/// Fifteen final runs of three blends; the first blend twice in the morning.
fn final_files() -> Vec<GeneratedFile> {
    let mut files = Vec::new();
    for number in 301..=309 {
        let block = if number <= 306 {
            "morning"
        } else {
            "afternoon"
        };
        let replicate = if (304..=306).contains(&number) { 2 } else { 1 };
        let layout = match number {
            301..=304 => Layout::Block,
            305 | 306 => Layout::Semicolon,
            _ => Layout::Clock,
        };
        files.push(one(
            plan(number, LOWMARSH, block, replicate).final_run(),
            layout,
        ));
    }
    for number in 310..=312 {
        let spec = Plan {
            step_s: 1.0,
            ..plan(number, NORTHDYKE, "morning", 1)
        }
        .final_run();
        files.push(one(spec, Layout::ThreeTraces));
    }
    let stacked = (313..=315)
        .map(|number| plan(number, EASTBANK, "afternoon", 1).final_run())
        .map(GeneratedRun::selected)
        .collect();
    files.push(GeneratedFile::of_runs(
        "full-day/SM-stacked.csv".to_owned(),
        Layout::Stacked,
        stacked,
    ));
    files
}

/// The hydration series: each method's blend at three water levels, side by side.
///
/// The consistency of all three falls along one slope (HANDBOOK §1.3), so the lines are parallel
/// and shifted by the methods' difference in water absorption; that shift is the truth of a
/// comparison at equal consistency.
fn series_file() -> GeneratedFile {
    let runs = (0..9)
        .map(|index: u32| {
            let base = plan(316 + index, LOWMARSH, "morning", 3 + index / 3);
            with_water(base.final_run(), SERIES_ML[index as usize / 3])
        })
        .map(GeneratedRun::selected)
        .collect();
    let path = "full-day/SM-hydration-series.csv".to_owned();
    GeneratedFile::of_runs(path, Layout::SideBySide, runs)
}

/// Returns `spec` as a study run with `added_ml` more water.
pub(super) fn with_water(mut spec: RunSpec, added_ml: f64) -> RunSpec {
    let facts = &mut spec.facts;
    let (Some(bowl_g), Some(moisture_pct), Some(flour_g), Some(water_ml)) = (
        facts.bowl_g,
        facts.moisture_pct,
        facts.flour_g,
        facts.water_ml,
    ) else {
        return spec;
    };
    let before = Dosing {
        bowl_g,
        moisture_pct,
        flour_g,
        water_ml,
    };
    let after = Dosing {
        water_ml: water_ml + added_ml,
        ..before
    };
    spec.model.peak_fu = after.consistency(before.absorption(spec.model.peak_fu));
    spec.model.peak_min *= 1.0 + DEVELOPMENT_PER_ML * added_ml;
    facts.water_ml = Some(after.water_ml);
    facts.hydration_pct = Some(100.0 * after.water_ml / flour_g);
    facts.purpose = "study".to_owned();
    spec.sheet = facts.clone();
    spec
}

/// Titration runs with one trouble each.
fn awkward_files() -> Vec<GeneratedFile> {
    [
        (awkward::rising_to_the_end(325), Layout::Block),
        (awkward::never_at_the_line(326), Layout::Semicolon),
        (awkward::flat_peak(327), Layout::Thousands),
        (awkward::double_peak(328), Layout::Clock),
        (awkward::drop_outs_and_spikes(329), Layout::Block),
        (awkward::wrong_thermostat(330), Layout::Stacked),
    ]
    .map(|(spec, layout)| one(as_titration(spec), layout))
    .into()
}

fn as_titration(mut spec: RunSpec) -> RunSpec {
    for facts in [&mut spec.facts, &mut spec.sheet] {
        facts.purpose = "titration".to_owned();
        facts.block = "afternoon".to_owned();
        facts.batch_id = format!("{}-trial", facts.run_id);
    }
    spec
}

fn unreadable_file() -> (GeneratedFile, SheetEntry) {
    let mut spec = plan(UNREADABLE, LOWMARSH, "afternoon", 9).final_run();
    spec.trouble = Trouble::DecimalCommaInPointFile;
    let spec = as_titration(spec);
    let facts = spec.sheet.clone();
    let file = GeneratedFile::new(
        format!("full-day/SM-{UNREADABLE}.csv"),
        FileKind::Unreadable,
        awkward::points_to_commas(spec),
    );
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
    let path = format!("full-day/{}.{}", run.run_id, layout.extension());
    GeneratedFile::of_runs(path, layout, vec![run])
}
