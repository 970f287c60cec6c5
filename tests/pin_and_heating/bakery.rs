//! The story's pin-mixer and heating runs: written in each layout, read by the one profile that fits,
//! and held against their truth.

use crate::generate::story::{EASTBANK, LOWMARSH, METHODS, NORTHDYKE, blends};
use crate::generate::{HeatingLayout, PinLayout, Truth, TruthValue};
use crate::runs::{derived, read_all, read_file};
use doughtrace::record::{MetricResult, Outcome};
use doughtrace::schema::Test;

/// Counts readings, and those whose interval misses the truth.
fn held(results: &[MetricResult], truth: &Truth, counts: &mut (usize, usize)) {
    for result in results {
        let Some(value) = truth.get(result.metric.id, result.variant) else {
            continue;
        };
        match (&result.outcome, value) {
            (Outcome::Exact(e), TruthValue::Exact(t)) => {
                counts.0 += 1;
                // Values in a file are rounded to its digits.
                let slack = 1e-4 * t.abs();
                let hit = e.low() - slack <= t && t <= e.high() + slack;
                counts.1 += usize::from(!hit);
            }
            (Outcome::NotComputable(_), TruthValue::NotComputable) => {}
            (outcome, value) => panic!("{}: {outcome:?}, truth {value:?}", result.metric.id),
        }
    }
}

#[test]
fn pin_mixer_runs_of_every_blend_hold_their_truth_in_both_layouts() {
    let mut counts = (0, 0);
    for (number, blend) in [LOWMARSH, NORTHDYKE, EASTBANK].iter().enumerate() {
        let mut runs = Vec::new();
        for (place, method) in METHODS.iter().enumerate() {
            runs.push(blends::pin_run(
                700 + 10 * number as u32 + place as u32,
                blend,
                method,
                1,
            ));
        }
        let stacked = read_all("pin.txt", &PinLayout::Stacked.write(&runs));
        assert_eq!(stacked.len(), 3);
        for (generated, read) in runs.iter().zip(&stacked) {
            let alone = PinLayout::Preamble.write(std::slice::from_ref(generated));
            let alone = read_file("pin.csv", &alone);
            for run in [read, &alone] {
                assert_eq!(run.test, Test::PinMixing);
                assert_eq!(run.id.as_str(), generated.facts.lab.run_id);
                held(&derived(run).results, &generated.truth(), &mut counts);
            }
        }
    }
    // Peaks before 2.3 min leave no two minutes before them.
    assert!(counts.0 >= 18 * 19, "{counts:?}");
    assert!(counts.1 * 14 <= counts.0, "{counts:?}");
}

#[test]
fn heating_runs_of_every_blend_hold_their_truth_in_both_layouts() {
    let mut counts = (0, 0);
    for (number, blend) in [LOWMARSH, NORTHDYKE, EASTBANK].iter().enumerate() {
        for (place, method) in METHODS.iter().enumerate() {
            let name = 800 + 10 * number as u32 + place as u32;
            let generated = blends::heating_run(name, blend, method, 0.0);
            let layout = [HeatingLayout::UnitsRow, HeatingLayout::Clock][place % 2];
            let run = read_file("heating.csv", &layout.write(&generated));
            assert_eq!(run.test, Test::Heating);
            let results = derived(&run).results;
            let c1 = results[0].outcome.value().unwrap();
            assert!((1.05..=1.15).contains(&c1), "{name}: {c1}");
            held(&results, &generated.truth(), &mut counts);
        }
    }
    assert_eq!(counts.0, 9 * 31);
    assert!(counts.1 * 14 <= counts.0, "{counts:?}");
}
