//! The full day's extension and membrane records tell the truth.

mod generate;

use generate::extension::{Abscissa, ExtensionModel, ExtensionRun, Failure, PieceFacts};
use generate::membrane::{count_grades, grade_pairs};
use generate::story::full_day;
use generate::{GeneratedFile, Rules, TruthValue};

fn assert_near(found: Option<TruthValue>, wanted: f64, tolerance: f64, what: &str) {
    assert!(
        matches!(found, Some(TruthValue::Exact(value)) if (value - wanted).abs() <= tolerance),
        "{what}: found {found:?}, wanted {wanted} ± {tolerance}"
    );
}

fn piece(model: ExtensionModel, abscissa: Abscissa) -> ExtensionRun {
    ExtensionRun {
        facts: PieceFacts {
            eu_per_cm: Some(50.0),
            ..PieceFacts::default()
        },
        abscissa,
        model,
        failure: Failure::Middle,
        step_mm: 0.5,
        noise_eu: 0.0,
        seed: 1,
        trouble: "",
    }
}

/// The straight lines of V-E1: 0→400 EU over 0–100 mm, 400→300 over 100–150 mm, rupture.
fn straight_lines() -> ExtensionModel {
    ExtensionModel {
        slack_mm: 0.0,
        peak_mm: 100.0,
        rupture_mm: 150.0,
        maximum_eu: 400.0,
        rupture_eu: 300.0,
        rise_power: 1.0,
        fall_power: 1.0,
        slip_share: 0.0,
    }
}

#[test]
fn extension_truth_agrees_with_the_handbook() {
    // Source: HANDBOOK §15, V-E1 (derived): area 37500 EU mm, 75.0 cm² at 50 EU/cm, 1.0289 J.
    let truth = piece(straight_lines(), Abscissa::ChartMm).truth();
    for (metric, wanted, tolerance) in [
        ("extension.resistance_50mm", 200.0, 1e-9),
        ("extension.maximum_resistance", 400.0, 1e-9),
        ("extension.extensibility", 150.0, 1e-9),
        ("extension.ratio_r50_e", 1.333, 5e-4),
        ("extension.ratio_rm_e", 2.667, 5e-4),
        ("extension.energy_area", 75.0, 1e-9),
        ("extension.energy_work", 1.0289, 5e-5),
    ] {
        assert_near(truth.get(metric, ""), wanted, tolerance, metric);
    }
    // Source: HANDBOOK §15, V-E2: 300 EU constant over 150 mm is 1.2347 J.
    let constant = ExtensionModel {
        maximum_eu: 300.0,
        rise_power: 0.0,
        ..straight_lines()
    };
    let truth = piece(constant, Abscissa::ChartMm).truth();
    assert_near(truth.get("extension.energy_work", ""), 1.2347, 5e-5, "V-E2");
}

#[test]
fn closed_areas_agree_with_the_sampled_curve() {
    for file in full_day() {
        for run in file.pieces.iter().filter(|r| r.failure == Failure::Middle) {
            let fine = 20_000;
            let step = run.model.rupture_mm / f64::from(fine);
            let middle_sum: f64 = (0..fine)
                .map(|i| run.model.resistance((f64::from(i) + 0.5) * step))
                .sum();
            let area = run.model.area_eu_mm();
            let off = (middle_sum * step - area).abs() / area;
            assert!(off < 1e-5, "{}: {off}", run.facts.run_id);
            let top = run.samples().iter().map(|s| s.1).fold(f64::MIN, f64::max);
            let above = top - run.model.maximum_eu;
            assert!(
                (-1.0..7.0).contains(&above),
                "{}: {above} EU",
                run.facts.run_id
            );
        }
    }
}

#[test]
fn full_day_has_the_runs_and_layouts_of_the_card() {
    let files = full_day();
    let mixing: usize = files.iter().map(|f| f.runs.len()).sum();
    let pieces: usize = files.iter().map(|f| f.pieces.len()).sum();
    assert_eq!((mixing, pieces), (30, 38));
    let mut profiles: Vec<&str> = files
        .iter()
        .filter_map(|file| match file.kind {
            generate::file::FileKind::Curves(layout) => Some(layout.profile()),
            generate::file::FileKind::Extension(layout) => Some(layout.profile()),
            _ => None,
        })
        .collect();
    profiles.sort_unstable();
    profiles.dedup();
    assert_eq!(profiles.len(), 9, "{profiles:?}");
    let doughs = |f: &GeneratedFile| -> Vec<String> {
        f.pieces.iter().map(|p| p.facts.batch_id.clone()).collect()
    };
    let mut bakery: Vec<String> = files.iter().flat_map(doughs).collect();
    bakery.sort();
    bakery.dedup();
    assert_eq!(bakery.len(), 6, "three methods in two blocks");
}

#[test]
fn water_of_the_hydration_series_shifts_consistency_by_the_slope() {
    // HANDBOOK §1.3: 0.096 ml/FU in the 300 g bowl, so 6 ml are 62.5 FU.
    let files = full_day();
    let series: Vec<_> = files
        .iter()
        .flat_map(|f| &f.runs)
        .filter(|r| r.spec.facts.purpose == "study")
        .collect();
    assert_eq!(series.len(), 9);
    for treatment in ["spiral", "two-arm", "high-speed"] {
        let mut points: Vec<(f64, f64)> = series
            .iter()
            .filter(|r| r.spec.facts.treatment == treatment)
            .filter_map(|r| {
                let truth = r.truth(Rules::default());
                match truth.get("mixing.consistency", "") {
                    Some(TruthValue::Exact(c)) => Some((r.spec.facts.water_ml?, c)),
                    _ => None,
                }
            })
            .collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        assert_eq!(points.len(), 3, "{treatment}");
        let slope = (points[2].1 - points[0].1) / (points[2].0 - points[0].0);
        // Doughs scatter by about 0.12 ml/100 g, that is 4 FU.
        assert!(
            (slope + 1.0 / 0.096).abs() < 1.6,
            "{treatment}: {slope} FU/ml"
        );
    }
}

#[test]
fn troubles_of_pieces_are_really_there() {
    let files = full_day();
    let pieces: Vec<&ExtensionRun> = files.iter().flat_map(|f| &f.pieces).collect();
    assert_eq!(pieces.iter().filter(|p| !p.trouble.is_empty()).count(), 6);
    for run in &pieces {
        let truth = run.truth();
        match run.failure {
            Failure::Middle => {
                let r50 = truth.get("extension.resistance_50mm", "");
                let short = run.model.rupture_mm < 50.0;
                assert_eq!(r50 == Some(TruthValue::NotReached), short, "{r50:?}");
            }
            Failure::Slipped | Failure::Clamp => assert_eq!(
                truth.get("extension.extensibility", ""),
                Some(TruthValue::Rejected)
            ),
        }
    }
    // Limit: areas differ from their mean by more than 15 %; HANDBOOK §4, from memory.
    let mut apart = Vec::new();
    for a in pieces.iter().filter(|p| p.facts.piece == "A") {
        for b in pieces.iter().filter(|p| p.facts.piece == "B") {
            let same = a.facts.batch_id == b.facts.batch_id
                && (a.facts.rest_planned_min - b.facts.rest_planned_min).abs() < 1.0;
            let (x, y) = (a.model.area_eu_mm(), b.model.area_eu_mm());
            let whole = a.failure == Failure::Middle && b.failure == Failure::Middle;
            if same && whole && (x - y).abs() / (x + y) > 0.15 {
                apart.push(b.trouble);
            }
        }
    }
    apart.sort_unstable();
    assert_eq!(
        apart,
        [
            "area more than 15 % off the mean of both pieces",
            "tore before 50 mm"
        ]
    );
}

#[test]
fn grades_rise_with_mixing_and_graders_mostly_agree() {
    let files = full_day();
    let rows: Vec<_> = files.iter().flat_map(|f| f.grades.clone()).collect();
    let counts = count_grades(&rows);
    let share_full = |treatment: &str, tenths: u32| {
        let found = counts.get(&(treatment.to_owned(), tenths));
        found.map_or(f64::NAN, |c| {
            let all: usize = c.grades.iter().sum::<usize>() + c.overmixed;
            c.grades[4] as f64 / all as f64
        })
    };
    assert!(share_full("spiral", 20) < 0.1);
    assert!(share_full("spiral", 80) > 0.6);
    assert!(share_full("high-speed", 40) > 0.6);
    assert!(share_full("high-speed", 100) < 0.1, "overmixed by then");
    let late = counts.get(&("high-speed".to_owned(), 100));
    assert!(late.is_some_and(|c| c.overmixed >= 6), "{late:?}");
    let pairs = grade_pairs(&rows);
    let near = pairs.iter().filter(|(a, b)| a.abs_diff(*b) <= 1).count();
    assert!(pairs.len() > 50 && near as f64 > 0.95 * pairs.len() as f64);
    assert!(
        pairs.iter().any(|(a, b)| a != b),
        "two people, no difference"
    );
    // No code is shown twice, or a grader would know the piece again.
    let mut codes: Vec<&str> = rows.iter().map(|r| r.blind_code.as_str()).collect();
    let all = codes.len();
    codes.sort_unstable();
    codes.dedup();
    assert_eq!(codes.len(), all);
}
