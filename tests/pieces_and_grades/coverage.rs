//! Intervals of the extension metrics on 400 random pieces of known truth, and odd records.

use crate::generate::TruthValue;
use crate::generate::extension::{Abscissa, ExtensionModel, ExtensionRun, Failure, PieceFacts};
use crate::generate::noise::Noise;
use doughtrace::derive;
use doughtrace::record::{
    Curve, FieldValue, Metadata, MetricResult, Origin, Outcome, ProfileStamp, RawFile, RowRange,
    Run,
};
use doughtrace::schema::{Axis, Channel, Digest, Field, RunId, Test, Unit};
use std::collections::BTreeMap;
use std::sync::Arc;

fn results(points: &[(f64, f64)], axis: Axis) -> Vec<MetricResult> {
    let (x, y) = points.iter().copied().unzip();
    let mut metadata = Metadata::default();
    metadata.state(Field::EuPerCm, FieldValue::Number(50.0), Origin::Profile);
    let run = Run {
        id: RunId::new("random").unwrap(),
        test: Test::Extension,
        file: RawFile {
            name: "random".into(),
            sha256: Digest::of(b"random"),
            bytes: 0,
        },
        profile: ProfileStamp {
            id: "random".into(),
            sha256: Digest::of(b""),
        },
        selector: String::new(),
        rows: RowRange {
            first: 1,
            last: points.len() as u64,
        },
        metadata,
        curves: vec![Curve::new(Channel::Signal, axis, Unit::Eu, x, y).unwrap()],
        lines: Vec::new(),
        missing_cells: 0,
    };
    let conditions = Arc::new(run.conditions());
    derive::derive_run(&run, conditions).unwrap().results
}

fn random_piece(seed: u64) -> ExtensionRun {
    let mut draw = Noise::new(seed);
    let rupture_mm = draw.uniform(70.0, 220.0);
    let maximum_eu = draw.uniform(120.0, 700.0);
    ExtensionRun {
        facts: PieceFacts {
            eu_per_cm: Some(50.0),
            ..PieceFacts::default()
        },
        abscissa: Abscissa::ChartMm,
        model: ExtensionModel {
            slack_mm: draw.uniform(2.0, 9.0),
            peak_mm: rupture_mm * draw.uniform(0.65, 0.9),
            rupture_mm,
            maximum_eu,
            rupture_eu: maximum_eu * draw.uniform(0.8, 0.97),
            rise_power: draw.uniform(0.45, 0.9),
            fall_power: draw.uniform(1.2, 2.0),
            slip_share: 0.0,
        },
        failure: Failure::Middle,
        step_mm: draw.log_uniform(0.1, 1.0),
        noise_eu: draw.uniform(0.0, 3.0),
        seed: 9_000_000 + seed,
        trouble: "",
    }
}

#[test]
fn intervals_cover_the_truth_of_400_random_pieces() {
    let mut tallies: BTreeMap<&str, (usize, usize, f64)> = BTreeMap::new();
    for seed in 0..400 {
        let piece = random_piece(seed);
        let truth = piece.truth();
        for result in results(&piece.samples(), Axis::ChartMm) {
            let metric = result.metric.id;
            let Some(TruthValue::Exact(wanted)) = truth.get(metric, "") else {
                panic!("{metric} has no exact truth");
            };
            let Outcome::Exact(found) = result.outcome else {
                panic!("seed {seed}, {metric}: {:?}", result.outcome);
            };
            let tally = tallies.entry(metric).or_default();
            tally.0 += 1;
            tally.1 += usize::from(found.low() <= wanted && wanted <= found.high());
            tally.2 = tally.2.max((found.value() / wanted - 1.0).abs());
        }
    }
    for (metric, (exact, covered, worst)) in &tallies {
        let share = *covered as f64 / *exact as f64;
        println!(
            "{metric:30} {exact} exact, covered {:.1} %, worst error {:.2} %",
            100.0 * share,
            100.0 * worst
        );
        assert!(
            share >= 0.90,
            "{metric}: interval covers {share:.3} of the truth"
        );
    }
}

#[test]
fn odd_records_have_an_outcome_for_every_metric() {
    for seed in 0..3000 {
        let mut draw = Noise::new(70_000 + seed);
        let count = draw.uniform(1.0, 60.0) as usize;
        let mut x = 0.0;
        let points: Vec<(f64, f64)> = (0..count)
            .map(|_| {
                // Repeated, tiny and huge steps; negative, flat, spiky forces.
                x += [0.0, 1e-9, 0.5, 7.0, 400.0][draw.uniform(0.0, 5.0) as usize];
                let y = [0.0, -40.0, 300.0, 1e6][draw.uniform(0.0, 4.0) as usize];
                (x, y + draw.uniform(-3.0, 3.0))
            })
            .collect();
        for axis in [Axis::ChartMm, Axis::HookTravelMm, Axis::Time] {
            let found = results(&points, axis);
            assert_eq!(found.len(), 7);
            for result in found {
                let value = result.outcome.value_or_bound();
                assert!(value.is_none_or(f64::is_finite), "{points:?}");
            }
        }
    }
}
