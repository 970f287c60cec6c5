//! The clean day: 24 final runs, nothing to redo.

use super::super::file::{FileKind, GeneratedFile, GeneratedRun};
use super::super::layout::Layout;
use super::super::layout::sheet::{entries_of, write_s1};
use super::{Blend, LOWMARSH, METHODS, NORTHDYKE, Plan};

/// Clock time of water contact in runs whose record starts before it, s.
const LATE_CONTACT_S: f64 = 6.0;

/// Returns the files of the clean day.
///
/// Two blends, three methods, two blocks, two doughs each: 24 final runs in six layouts. The
/// second block of the second blend was made in the 50 g bowl, as little of the blend was left.
pub fn clean_day() -> Vec<GeneratedFile> {
    let morning_low = plans(101, LOWMARSH, "morning", 300.0);
    let morning_north = plans(107, NORTHDYKE, "morning", 300.0);
    let afternoon_low = plans(113, LOWMARSH, "afternoon", 300.0);
    let afternoon_north = plans(119, NORTHDYKE, "afternoon", 50.0);

    let mut files = Vec::new();
    for (index, plan) in morning_low.iter().enumerate() {
        files.push(match index {
            0 | 1 => single(plan, 0.25, Layout::Block),
            2 | 3 => single(plan, 0.5, Layout::Block),
            _ => single(plan, 0.5, Layout::Semicolon),
        });
    }
    for (index, plan) in morning_north.iter().enumerate() {
        files.push(match index {
            0 | 1 => single(plan, 0.5, Layout::Semicolon),
            _ => single(plan, 0.5, Layout::Clock),
        });
    }
    let (first_doughs, second_doughs): (Vec<Plan>, Vec<Plan>) =
        afternoon_low.into_iter().partition(|p| p.replicate == 1);
    for plan in &first_doughs {
        files.push(single(plan, 1.0, Layout::ThreeTraces));
    }
    files.push(several("SM-stacked.csv", &second_doughs, Layout::Stacked));
    files.push(several(
        "SM-small-bowl.csv",
        &afternoon_north,
        Layout::SideBySide,
    ));

    let sheet = write_s1(&entries_of(&files)).into_bytes();
    let path = "clean-day/run-sheet.csv".to_owned();
    files.push(GeneratedFile::new(path, FileKind::RunSheet, sheet));
    files
}

/// Returns the six plans of one blend in one block: each method with its two doughs.
fn plans(first: u32, blend: Blend, block: &'static str, bowl_g: f64) -> Vec<Plan> {
    (0..6)
        .map(|index| Plan {
            number: first + index,
            blend,
            method: METHODS[index as usize / 2],
            block,
            replicate: 1 + index % 2,
            bowl_g,
            step_s: 0.5,
        })
        .collect()
}

fn single(plan: &Plan, step_s: f64, layout: Layout) -> GeneratedFile {
    let mut spec = Plan { step_s, ..*plan }.final_run();
    if layout == Layout::Block && plan.replicate == 2 {
        // These two records start before the water: time zero is not the first sample.
        spec.recorder.sampling.contact_s = LATE_CONTACT_S;
        spec.facts.water_contact_s = Some(LATE_CONTACT_S);
        spec.sheet.water_contact_s = Some(LATE_CONTACT_S);
    }
    let run = GeneratedRun::alone(spec);
    let path = format!("clean-day/{}.{}", run.run_id, layout.extension());
    GeneratedFile::of_runs(path, layout, vec![run])
}

fn several(name: &str, plans: &[Plan], layout: Layout) -> GeneratedFile {
    let runs: Vec<GeneratedRun> = plans
        .iter()
        .map(|plan| GeneratedRun::selected(plan.final_run()))
        .collect();
    GeneratedFile::of_runs(format!("clean-day/{name}"), layout, runs)
}
