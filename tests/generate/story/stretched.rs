//! The full day's strips and bubbles of bakery doughs: the same doughs that the hook stretches and
//! the graders see. Every number is invented.

use super::super::file::GeneratedFile;
use super::super::inflation::{BubbleAbscissa, DiscDough, DiscRun};
use super::super::layout::{BubbleLayout, StripLayout};
use super::super::strip::{DoughFacts, StripDough, StripRun};
use super::{LOWMARSH, METHODS, Method};

/// Strips of each dough.
const STRIPS: u32 = 8;
/// Discs of each dough; HANDBOOK §6, from memory.
const DISCS: u32 = 5;

fn dough(method: Method, block: &str) -> DoughFacts {
    DoughFacts {
        batch_id: format!("{}-{}-{block}-bakery", LOWMARSH.sample_id, method.word),
        sample_id: LOWMARSH.sample_id.to_owned(),
        treatment: method.word.to_owned(),
        block: block.to_owned(),
        replicate: "1".to_owned(),
        moisture_pct: Some(LOWMARSH.moisture_pct),
        operator: "operator 1".to_owned(),
        ..DoughFacts::default()
    }
}

/// Returns the strips of three methods in two blocks: the morning's stacked by dough, the
/// afternoon's one a file.
pub fn strip_files() -> Vec<GeneratedFile> {
    let mut files = Vec::new();
    let mut number = 601;
    for block in ["morning", "afternoon"] {
        for method in METHODS {
            let facts = DoughFacts {
                rest_min: Some(40.0),
                thermostat_c: Some(25.0),
                ..dough(method, block)
            };
            let mut strips = StripDough::mixed_by(method.word).strips(&facts, number, STRIPS);
            number += STRIPS;
            make_awkward(&mut strips, method, block);
            if block == "morning" {
                let path = format!("full-day/strips-{}.csv", method.word);
                files.push(GeneratedFile::of_strips(path, StripLayout::Stacked, strips));
                continue;
            }
            for strip in strips {
                let path = format!("full-day/{}.txt", strip.run_id);
                files.push(GeneratedFile::of_strips(
                    path,
                    StripLayout::Hook,
                    vec![strip],
                ));
            }
        }
    }
    files
}

/// Gives one morning strip and some of the afternoon a trouble each.
fn make_awkward(strips: &mut [StripRun], method: Method, block: &str) {
    let trouble = match (block, method.word) {
        ("morning", "spiral") => "slipped in its clamp",
        ("afternoon", "spiral") => "tore at the clamp",
        ("afternoon", "two-arm") => "left out: dry skin",
        _ => return,
    };
    let Some(strip) = strips.get_mut(2) else {
        return;
    };
    strip.trouble = trouble;
    match trouble {
        "slipped in its clamp" => {
            strip.failure = "slipped";
            strip.model.slip_share = 0.35;
        }
        "tore at the clamp" => {
            strip.failure = "clamp";
            strip.model.rupture_mm *= 0.6;
        }
        _ => strip.leave_out = "dry skin".to_owned(),
    }
}

/// Returns the bubbles of three methods in two blocks: the morning's discs side by side over the
/// chart, the afternoon's one a file over time.
pub fn inflation_files() -> Vec<GeneratedFile> {
    let mut files = Vec::new();
    let mut number = 701;
    for block in ["morning", "afternoon"] {
        for method in METHODS {
            let facts = DoughFacts {
                flour_g: Some(250.0),
                // 191.175 - 4.41175 · 12.8 ml; HANDBOOK §6.1, from memory.
                water_ml: Some(134.7),
                mix_time_min: Some(8.0),
                rest_min: Some(20.0),
                dough_temp_c: Some(24.0),
                thermostat_c: Some(25.0),
                ..dough(method, block)
            };
            let abscissa = match block {
                "morning" => BubbleAbscissa::Chart,
                _ => BubbleAbscissa::Time,
            };
            let character = DiscDough::mixed_by(method.word);
            let mut discs = character.discs(&facts, abscissa, number, DISCS);
            number += DISCS;
            make_discs_awkward(&mut discs, method, block);
            if block == "morning" {
                let path = format!("full-day/bubbles-{}.csv", method.word);
                files.push(GeneratedFile::of_discs(path, BubbleLayout::Discs, discs));
                continue;
            }
            for disc in discs {
                let path = format!("full-day/{}.tsv", disc.run_id);
                files.push(GeneratedFile::of_discs(
                    path,
                    BubbleLayout::Pressure,
                    vec![disc],
                ));
            }
        }
    }
    files
}

/// Gives three afternoon discs a trouble each; five discs less one are still enough.
fn make_discs_awkward(discs: &mut [DiscRun], method: Method, block: &str) {
    let Some(disc) = discs.get_mut(3).filter(|_| block == "afternoon") else {
        return;
    };
    match method.word {
        "spiral" => {
            disc.model.rupture_ml *= 0.35;
            disc.leave_out = "burst at once at the rim".to_owned();
            disc.trouble = "left out: burst early";
        }
        "two-arm" => {
            disc.model.rupture_ml *= 0.45;
            disc.trouble = "burst early";
        }
        _ => {
            disc.model.leak_share = 0.3;
            disc.trouble = "leaked before it burst";
        }
    }
}
