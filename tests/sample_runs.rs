//! The committed sample runs are what the generator makes, and the generator tells the truth.

mod generate;

use generate::curve::{Band, CurveModel, Ripple, Rise, Softening};
use generate::truth::{Covered, truth_of};
use generate::water::{Dosing, flour_to_weigh_g};
use generate::{GeneratedFile, GeneratedRun, Layout, Rules, Trouble, Truth, TruthValue};
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Compares `file` with the committed one below `folder`, or rewrites it under `UPDATE=1`.
fn compare_or_update(folder: &Path, file: &GeneratedFile) -> Result<(), String> {
    let path = folder.join(&file.path);
    if std::env::var_os("UPDATE").is_some_and(|v| v == "1") {
        if let Some(parent) = path.parent() {
            std::fs::create_dir_all(parent).map_err(|e| e.to_string())?;
        }
        return std::fs::write(&path, &file.bytes).map_err(|e| e.to_string());
    }
    let committed =
        std::fs::read(&path).map_err(|e| format!("{}: {e}; run with UPDATE=1", file.path))?;
    if committed == file.bytes {
        return Ok(());
    }
    let at = committed
        .iter()
        .zip(&file.bytes)
        .position(|(a, b)| a != b)
        .unwrap_or(committed.len().min(file.bytes.len()));
    Err(format!(
        "{} differs from what the generator makes at byte {at}; run with UPDATE=1 and look at the change",
        file.path
    ))
}

#[test]
fn committed_sample_runs_are_what_the_generator_makes() {
    let folder = root().join("sample-runs");
    let wrong: Vec<String> = generate::story::whole_story()
        .iter()
        .filter_map(|file| compare_or_update(&folder, file).err())
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn no_file_lies_in_the_sample_runs_that_the_generator_does_not_make() -> std::io::Result<()> {
    let known: Vec<String> = generate::story::whole_story()
        .into_iter()
        .map(|file| file.path)
        .collect();
    for folder in ["clean-day", "awkward-day", "full-day"] {
        for entry in std::fs::read_dir(root().join("sample-runs").join(folder))? {
            let name = format!("{folder}/{}", entry?.file_name().to_string_lossy());
            assert!(known.contains(&name), "{name} is not generated");
        }
    }
    Ok(())
}

#[test]
fn committed_kneading_stand_in_is_what_the_generator_makes() {
    let folder = root().join("tests/fixtures");
    let outcome = compare_or_update(&folder, &generate::kneading::wide_kneading_like());
    assert_eq!(outcome, Ok(()));
}

fn value(truth: &Truth, metric: &str, variant: &str) -> f64 {
    match truth.get(metric, variant) {
        Some(TruthValue::Exact(value)) => value,
        _ => f64::NAN,
    }
}

fn assert_near(found: f64, wanted: f64, tolerance: f64, what: &str) {
    assert!(
        (found - wanted).abs() <= tolerance,
        "{what}: found {found}, wanted {wanted} ± {tolerance}"
    );
}

/// The fixture of V-M6: mid 0→500 linear in 0–2 min, flat to 6, then −10 FU/min; band ±40.
fn fixture_v_m6(end_min: f64, scale: f64, delta_fu: f64) -> Truth {
    let model = CurveModel {
        peak_fu: 500.0 * scale,
        peak_min: 2.0,
        plateau_min: 4.0,
        rise: Rise::Power(1.0),
        softening: Softening {
            slope_fu_per_min: 10.0 * scale,
            onset_min: 0.0,
            limit_fu: f64::INFINITY,
        },
        dip: None,
        band: Band {
            half_fu: 40.0,
            follow: 0.0,
            narrowing: 0.0,
        },
        ripple: Ripple::new(0.5, 0.0),
    };
    let covered = Covered {
        first_min: 0.0,
        end_min,
    };
    let rules = Rules {
        delta_fu,
        line_fu: 500.0,
    };
    truth_of(&model, covered, None, rules)
}

#[test]
fn truth_agrees_with_the_handbook_fixture_without_delta() {
    // Source: HANDBOOK §15, V-M6, smoothing off, delta 0 (computed there with a script).
    let truth = fixture_v_m6(21.0, 1.0, 0.0);
    for (metric, variant, wanted, tolerance) in [
        ("mixing.arrival_time", "", 1.84, 1e-6),
        ("mixing.departure_time", "last", 10.0, 1e-6),
        ("mixing.stability", "last", 8.16, 1e-6),
        ("mixing.stability", "first", 8.16, 1e-6),
        ("mixing.development_time", "iso", 6.0, 1e-6),
        ("mixing.tolerance_index", "", 50.0, 1e-4),
        ("mixing.softening_12min", "", 120.0, 1e-4),
        ("mixing.softening_10min", "", 40.0, 1e-6),
        ("mixing.drop_20min", "", 140.0, 1e-6),
        ("mixing.breakdown_time", "", 9.0, 1e-6),
        ("mixing.quality_number", "", 90.0, 1e-5),
        ("mixing.band_width", "", 80.0, 1e-6),
        ("mixing.consistency", "", 500.0, 1e-6),
    ] {
        assert_near(value(&truth, metric, variant), wanted, tolerance, metric);
    }
    assert_eq!(
        truth.get("mixing.development_time", "centre-max"),
        Some(TruthValue::Between(2.0, 6.0))
    );
}

#[test]
fn truth_agrees_with_the_handbook_fixture_with_delta_two() {
    // Source: HANDBOOK §15, V-M6: DDT_iso 6.2 and MTI 50 with delta 2 FU. Softening, drop and
    // breakdown follow §19 (height at the maximum, time of the variant), which is the later
    // decision: 500 − mid(18.2) = 122, 500 − mid(10) = 40, 500 − mid(20) = 140, and 9.0 min; V-M6
    // itself prints them with the height at the time (120, 38, 138, 9.2).
    let truth = fixture_v_m6(21.0, 1.0, 2.0);
    for (metric, variant, wanted) in [
        ("mixing.development_time", "iso", 6.2),
        ("mixing.tolerance_index", "", 50.0),
        ("mixing.softening_12min", "", 122.0),
        ("mixing.softening_10min", "", 40.0),
        ("mixing.drop_20min", "", 140.0),
        ("mixing.breakdown_time", "", 9.0),
    ] {
        assert_near(value(&truth, metric, variant), wanted, 1e-6, metric);
    }
}

#[test]
fn truth_is_censored_as_the_handbook_says() {
    // Source: HANDBOOK §15, V-M6, cut at 9.5 min: S > 7.66; MTI, DS12, DS10 not computable; TB 9.0.
    let cut = fixture_v_m6(9.5, 1.0, 0.0);
    let stability = cut.get("mixing.stability", "last");
    assert!(
        matches!(stability, Some(TruthValue::Above(bound)) if (bound - 7.66).abs() < 1e-6),
        "{stability:?}"
    );
    for metric in [
        "mixing.tolerance_index",
        "mixing.softening_12min",
        "mixing.softening_10min",
    ] {
        assert_eq!(
            cut.get(metric, ""),
            Some(TruthValue::NotComputable),
            "{metric}"
        );
    }
    assert_near(value(&cut, "mixing.breakdown_time", ""), 9.0, 1e-6, "TB");
    // Mid scaled by 0.84, same band: the upper contour's maximum is 460, the line never reached.
    let low = fixture_v_m6(21.0, 0.84, 0.0);
    for (metric, variant) in [
        ("mixing.arrival_time", ""),
        ("mixing.departure_time", "last"),
        ("mixing.stability", "first"),
    ] {
        assert_eq!(
            low.get(metric, variant),
            Some(TruthValue::NotReached),
            "{metric}"
        );
    }
}

#[test]
fn water_balance_agrees_with_the_handbook() {
    // Source: HANDBOOK §15, V-M1 (formula and published table), V-M2 and V-M3 (exact m).
    assert_near(flour_to_weigh_g(300.0, 12.5), 294.857, 5e-4, "V-M1 300 g");
    assert_near(flour_to_weigh_g(50.0, 12.5), 49.143, 5e-4, "V-M1 50 g");
    assert_near(flour_to_weigh_g(300.0, 16.3), 308.244, 5e-4, "V-M1 16.3 %");
    let dosing = |bowl_g, water_ml| Dosing {
        bowl_g,
        moisture_pct: 12.5,
        flour_g: flour_to_weigh_g(bowl_g, 12.5),
        water_ml,
    };
    let large = dosing(300.0, 182.0);
    assert_near(large.corrected_volume_ml(510.0), 182.96, 1e-9, "V-M2 Vc");
    assert_near(large.absorption(510.0), 59.272, 5e-4, "V-M2 WA");
    assert_near(
        dosing(50.0, 30.3).absorption(490.0),
        58.566,
        5e-4,
        "V-M3 WA",
    );
    assert_near(
        large.consistency(large.absorption(507.0)),
        507.0,
        1e-9,
        "inverse",
    );
}

fn runs_of(files: &[GeneratedFile]) -> Vec<&GeneratedRun> {
    files.iter().flat_map(|file| &file.runs).collect()
}

#[test]
fn clean_day_leaves_nothing_to_redo() {
    let files = generate::story::clean_day();
    let runs = runs_of(&files);
    assert_eq!(runs.len(), 24);
    let layouts = [
        Layout::Block,
        Layout::SideBySide,
        Layout::Semicolon,
        Layout::Clock,
        Layout::ThreeTraces,
        Layout::Stacked,
    ];
    for layout in layouts {
        let kind = generate::file::FileKind::Curves(layout);
        assert!(
            files.iter().any(|f| f.kind == kind),
            "{layout:?} is missing"
        );
    }
    // delta as the handbook's max(2 FU, 2 noise) for the noisiest run of the day
    let rules = Rules {
        delta_fu: 5.0,
        ..Rules::default()
    };
    for run in &runs {
        let truth = run.truth(rules);
        let consistency = value(&truth, "mixing.consistency", "");
        assert!(
            (485.0..515.0).contains(&consistency),
            "{}: {consistency} FU is near or past 480–520",
            run.run_id
        );
        for (metric, variant, found) in truth.iter() {
            assert!(
                matches!(found, TruthValue::Exact(_)),
                "{}: {metric} {variant} is {found:?}",
                run.run_id
            );
        }
    }
}

#[test]
fn duplicates_of_the_clean_day_agree_in_corrected_volume() {
    // Limits: 2.5 ml (300 g bowl), 0.5 ml (50 g bowl); HANDBOOK §1.1, from memory.
    let files = generate::story::clean_day();
    let runs = runs_of(&files);
    let mut pairs = 0;
    for a in &runs {
        for b in &runs {
            let same = |f: fn(&GeneratedRun) -> &String| f(a) == f(b);
            if a.run_id >= b.run_id
                || !same(|r| &r.spec.facts.sample_id)
                || !same(|r| &r.spec.facts.treatment)
                || !same(|r| &r.spec.facts.block)
            {
                continue;
            }
            pairs += 1;
            let volume = |run: &GeneratedRun| {
                let truth = run.truth(Rules::default());
                run.dosing()
                    .map(|d| d.corrected_volume_ml(value(&truth, "mixing.consistency", "")))
                    .unwrap_or(f64::NAN)
            };
            let limit = match a.spec.facts.bowl_g {
                Some(bowl) if bowl < 100.0 => 0.5,
                _ => 2.5,
            };
            let apart = (volume(a) - volume(b)).abs();
            assert!(
                apart < 0.8 * limit,
                "{} and {}: {apart} ml",
                a.run_id,
                b.run_id
            );
        }
    }
    assert_eq!(pairs, 12);
}

#[test]
fn every_trouble_of_the_awkward_day_is_really_there() {
    let files = generate::story::awkward_day();
    let runs = runs_of(&files);
    let of = |trouble: Trouble| runs.iter().find(|r| r.spec.trouble == trouble);
    let truth = |trouble: Trouble| of(trouble).map(|r| r.truth(Rules::default()));
    let got = |trouble, metric, variant| truth(trouble).and_then(|t| t.get(metric, variant));

    let rising = got(Trouble::RisingToTheEnd, "mixing.development_time", "iso");
    assert!(matches!(rising, Some(TruthValue::Above(_))), "{rising:?}");
    assert_eq!(
        got(Trouble::NeverAtTheLine, "mixing.stability", "last"),
        Some(TruthValue::NotReached)
    );
    let flat = got(Trouble::FlatPeak, "mixing.development_time", "centre-max");
    assert!(
        matches!(flat, Some(TruthValue::Between(low, high)) if high - low > 3.0),
        "{flat:?}"
    );
    assert_eq!(
        truth(Trouble::DoublePeak).map(|t| t.double_peak),
        Some(true)
    );
    assert_ne!(
        got(Trouble::DoublePeak, "mixing.departure_time", "first"),
        got(Trouble::DoublePeak, "mixing.departure_time", "last")
    );
    assert_eq!(
        got(Trouble::ShortRecord, "mixing.softening_12min", ""),
        Some(TruthValue::NotComputable)
    );
    assert_eq!(
        got(Trouble::OutsideTheWindow, "mixing.water_absorption", ""),
        Some(TruthValue::NotComputable)
    );
    let samples = |trouble| of(trouble).map(|r| r.samples()).unwrap_or_default();
    let steps = |trouble| -> Vec<f64> {
        let record = samples(trouble);
        record.time_s.windows(2).map(|w| w[1] - w[0]).collect()
    };
    assert!(steps(Trouble::TimeGap).iter().any(|s| *s > 39.0));
    assert!(steps(Trouble::TimeStepsBack).iter().any(|s| *s < 0.0));
    let cut = samples(Trouble::Saturation);
    assert!(cut.signal.iter().filter(|v| **v >= 520.0).count() > 20);
}

/// A plain reading of the signal, independent of model and derivation: rolling extremes over two
/// joint blade periods, halved, then a running mean over 20 s; its greatest value.
fn plain_consistency(run: &GeneratedRun) -> f64 {
    let samples = run.samples();
    let step = samples.time_s[1] - samples.time_s[0];
    let half = (1.905 / step).round() as usize;
    let centre: Vec<f64> = (half..samples.signal.len() - half)
        .map(|i| {
            let window = &samples.signal[i - half..=i + half];
            let high = window.iter().copied().fold(f64::MIN, f64::max);
            let low = window.iter().copied().fold(f64::MAX, f64::min);
            0.5 * (high + low)
        })
        .collect();
    let width = (20.0 / step).round() as usize;
    centre
        .windows(width)
        // The wetting spike of the first seconds is not the peak.
        .skip((15.0 / step) as usize)
        .map(|w| w.iter().sum::<f64>() / width as f64)
        .fold(f64::MIN, f64::max)
}

#[test]
fn signal_carries_the_truth() {
    let files = generate::story::clean_day();
    for run in runs_of(&files) {
        let truth = value(&run.truth(Rules::default()), "mixing.consistency", "");
        assert_near(plain_consistency(run), truth, 3.0, &run.run_id);
    }
    for seed in 0..40 {
        let run = generate::random_curve(seed);
        let truth = value(&run.truth(Rules::default()), "mixing.consistency", "");
        assert_near(plain_consistency(&run), truth, 4.5, &run.run_id);
    }
}

#[test]
fn random_curves_cover_the_promised_range() {
    let truths: Vec<Truth> = (0..500)
        .map(|seed| generate::random_curve(seed).truth(Rules::default()))
        .collect();
    let range = |metric, variant| {
        truths
            .iter()
            .map(|t| value(t, metric, variant))
            .filter(|v| v.is_finite())
            .fold((f64::MAX, f64::MIN), |(low, high), v| {
                (low.min(v), high.max(v))
            })
    };
    let (low, high) = range("mixing.development_time", "centre-max");
    assert!(low < 1.7 && high > 8.5, "development {low}–{high} min");
    let (low, high) = range("mixing.stability", "last");
    assert!(low < 3.0 && high > 14.0, "stability {low}–{high} min");
}

#[test]
fn kneading_stand_in_has_the_shape_of_the_open_set() {
    let columns = generate::kneading::columns();
    assert_eq!(columns.len(), 40);
    let rising = columns.iter().filter(|c| c.still_rising).count();
    assert_eq!(rising, 32);
    for column in &columns {
        let samples = column.run.samples();
        assert_eq!(samples.time_s.len(), 241);
        let top = samples.signal[2..=4]
            .iter()
            .copied()
            .fold(f64::MIN, f64::max);
        assert!(top > samples.signal[8], "{}: no spike", column.run.run_id);
        let iso = column
            .run
            .truth(Rules::default())
            .get("mixing.development_time", "iso");
        assert_eq!(
            matches!(iso, Some(TruthValue::Above(_))),
            column.still_rising,
            "{}: {iso:?}",
            column.run.run_id
        );
    }
}

#[test]
fn bench_files_are_about_seventeen_bytes_a_row() {
    let rows = 2_400;
    let files: Vec<(String, Vec<u8>)> = generate::bench_day(12, rows).collect();
    assert_eq!(files.len(), 12);
    for (name, bytes) in files {
        let per_row = bytes.len() as f64 / rows as f64;
        assert!(
            (15.5..18.5).contains(&per_row),
            "{name}: {per_row} bytes a row"
        );
        let newlines = bytes.iter().filter(|b| **b == b'\n').count();
        assert!(newlines > rows, "{name}: {newlines} lines");
    }
}
