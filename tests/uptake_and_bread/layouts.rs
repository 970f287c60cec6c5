//! The layouts of the three methods, from bytes to numbers.

use crate::made::{day_of, outcome, record_of, value};
use crate::sample_files::{named, read, runs_of, sample};
use doughtrace::intake::Records;
use doughtrace::schema::{Axis, Field, Status, Unit};

#[test]
fn masses_over_minutes_become_moistures() {
    let run = runs_of("uptake-semicolon").remove(0);
    assert_eq!(run.id.as_str(), "U-01");
    assert_eq!(run.curves[0].unit(), Unit::Gram);
    // The eighth line of the data is missing; minutes are stored as seconds.
    assert_eq!((run.curves[0].points(), run.missing_cells), (8, 1));
    assert!((run.curves[0].x()[0] - 300.0).abs() < 1e-9);
    assert_eq!(run.metadata.number(Field::DrySolidsG), Some(8.8125));
    let record = record_of(&run);
    // By hand: (10.482 - 8.8125)/8.8125 = 18.94 % at 5 min; the law comes near it.
    let k1 = outcome(&record.results, "uptake.peleg_k1", "");
    assert_eq!(k1.status(), Status::Exact, "{k1:?}");
    let d = outcome(&record.results, "uptake.diffusion_coefficient", "sphere");
    assert_eq!(d.status(), Status::Exact, "{d:?}");
}

#[test]
fn portions_side_by_side_are_runs_of_their_own() {
    let runs = runs_of("uptake-side-by-side");
    let points: Vec<usize> = runs.iter().map(|r| r.curves[0].points()).collect();
    assert_eq!(points, [7, 6, 6]);
    for run in &runs {
        let record = record_of(run);
        let equilibrium = outcome(&record.results, "uptake.equilibrium_moisture", "peleg");
        assert!(
            (120.0..160.0).contains(&value(&equilibrium)),
            "{equilibrium:?}"
        );
        let time = outcome(&record.results, "uptake.time_to_target", "peleg");
        assert_eq!(time.status(), Status::Exact);
    }
}

#[test]
fn a_loaf_sheet_becomes_volumes() {
    let (name, bytes) = sample("loaf-sheet");
    let read = read(&named("loaf-sheet"), &name, &bytes).unwrap();
    assert!(read.notes.is_empty(), "{:?}", read.notes);
    let Records::Observations(records) = read.records else {
        panic!("no observations")
    };
    let day = day_of(Vec::new(), records);
    let results = &day.grading.results;
    // HANDBOOK V-S2.
    assert!((value(&outcome(results, "loaf.volume", "")) - 1725.0).abs() < 1e-9);
    let mould = outcome(results, "loaf.mould_free_days", "");
    assert_eq!(
        (mould.status(), mould.value_or_bound()),
        (Status::Above, Some(7.0))
    );
    assert!((value(&outcome(results, "loaf.gas_fraction", "")) - 9.6).abs() < 1e-9);
}

#[test]
fn a_compression_curve_becomes_a_firmness() {
    let run = runs_of("firmness-curve").remove(0);
    assert_eq!(run.curves[0].axis(), Axis::ProbeTravelMm);
    let record = record_of(&run);
    let force = outcome(&record.results, "firmness.force_25", "actual-thickness");
    // By hand: 0.42 u + 0.012 u² is 0.05 N at u = 0.1187 mm, and 3.162 N at u = 6.3687 mm.
    assert!((value(&force) - 3.162).abs() < 0.02, "{force:?}");
}
