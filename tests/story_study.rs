//! The mixing study among the sample runs: its files are what the generator makes, its numbers are
//! the generator's truth, and the claims of its study file come out as they truly are.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "tests may stop, and these print the figures they found"
)]

mod generate;

use doughtrace::compare::{self, CurveRow, Evidence, GradeRow, Origin, ResultRow};
use doughtrace::derive;
use doughtrace::intake::{self, Records};
use doughtrace::profile;
use doughtrace::record::{
    Conditions, Day, MetricResult, Outcome, RawFile, Run, RunRecord, RunSheet,
};
use doughtrace::schema::{Digest, Field, Level, Verdict};
use doughtrace::{check, study};
use generate::story::study::{
    JUMP_FU, JUMPED, REFERENCE_RUNS, StudyFile, mixing_study, reference_flour,
};
use generate::{Truth, TruthValue};
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::sync::Arc;

fn sample_runs() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("sample-runs")
}

fn all_files() -> Vec<StudyFile> {
    let mut files = mixing_study();
    files.extend(reference_flour());
    files
}

fn raw(file: &StudyFile) -> RawFile {
    RawFile {
        name: file.name().to_owned(),
        sha256: Digest::of(&file.bytes),
        bytes: file.bytes.len() as u64,
    }
}

/// Joins what the run sheets say of `run`, as the main job does: the file's own words first.
fn join(run: &mut Run, sheets: &[RunSheet]) {
    for sheet in sheets {
        for line in &sheet.lines {
            let curve = line.curve.is_empty()
                || line.curve == run.selector
                || line.curve == run.id.as_str();
            if curve && sheet.speaks_of(line, &run.file.name) {
                run.metadata.append(&line.metadata);
            }
        }
    }
}

/// Returns the day of `files`, and the mixing curves for claims about whole curves.
fn the_day(files: &[StudyFile]) -> (Day, Vec<CurveRow>) {
    let profiles = profile::builtin().unwrap();
    let mut day = Day::default();
    let mut curves = Vec::new();
    // Run sheets first.
    let (sheets, rest): (Vec<_>, Vec<_>) = files.iter().partition(|f| f.profile == "run-sheet");
    for file in sheets.into_iter().chain(rest) {
        let profile = intake::select(&profiles, file.name(), &file.bytes).unwrap();
        match intake::read(raw(file), &file.bytes, profile)
            .unwrap()
            .records
        {
            Records::Sheet(sheet) => day.sheets.push(sheet),
            Records::Observations(observations) => day.observations.extend(observations),
            Records::Curves(runs) => {
                for mut run in runs {
                    join(&mut run, &day.sheets);
                    let conditions = Arc::new(run.conditions());
                    let derived = derive::derive_run(&run, Arc::clone(&conditions)).unwrap();
                    let (x, y) = (derived.curve.x.clone(), derived.curve.centre.clone());
                    let (facts, results) = (derived.facts, derived.results);
                    let record = RunRecord::new(&run, conditions, facts, results, true);
                    curves.extend(curve_row(&run, &record, &x, y));
                    day.runs.push(record);
                }
            }
        }
    }
    day.groups = derive::derive_groups(&day.runs);
    day.grading = derive::derive_observations(&day.observations);
    (day, curves)
}

fn origin(conditions: &Conditions) -> Origin {
    Origin {
        sample: conditions.sample_id.as_ref().map(ToString::to_string),
        batch: conditions.batch_id.as_ref().map(ToString::to_string),
        treatment: conditions.treatment.clone(),
        block: conditions.block.clone(),
        replicate: conditions.replicate.clone(),
        instrument: conditions.instrument_id.as_ref().map(ToString::to_string),
        ..Origin::default()
    }
}

/// Returns the centre line of a mixing run over minutes, with its development time as landmark.
fn curve_row(run: &Run, record: &RunRecord, x: &[f64], y: Vec<f64>) -> Option<CurveRow> {
    let peak = record.result("mixing.development_time")?.outcome.value();
    Some(CurveRow {
        curve_id: run.curve_digest().to_string(),
        run_id: record.id.to_string(),
        metric: "curve.mixing".to_owned(),
        origin: origin(&record.conditions),
        x: x.to_vec(),
        y,
        unit: record.unit,
        landmarks: peak.map(|minutes| (0.0, minutes)),
        excluded: None,
    })
}

/// Returns the row of one result, with what its run states about the dough.
fn result_row(
    result: &MetricResult,
    run: Option<&RunRecord>,
    of_dough: &BTreeMap<String, f64>,
) -> ResultRow {
    let number = |field| run.and_then(|run| run.metadata.number(field));
    let estimate = result.outcome.estimate();
    let mut origin = origin(&result.conditions);
    let own = number(Field::HydrationPct);
    let dough = origin
        .batch
        .as_ref()
        .and_then(|batch| of_dough.get(batch).copied());
    origin.hydration_pct = own.or(dough);
    origin.machine = run.and_then(|run| run.metadata.text(Field::MixerId));
    ResultRow {
        result_id: result.id.to_string(),
        metric: result.metric.id.to_owned(),
        variant: result.variant.to_owned(),
        status: result.outcome.status(),
        value: result.outcome.value_or_bound(),
        low: estimate.map(|e| e.low()),
        high: estimate.map(|e| e.high()),
        std_uncertainty: estimate.map(|e| e.std_uncertainty()),
        unit: result.unit,
        test: result.test,
        run_id: result.run_id.to_string(),
        origin,
        age_d: number(Field::AgeD),
        rest_min: number(Field::RestMin),
        parameters: result.parameters.clone(),
        excluded: None,
    }
}

/// Returns what claims are judged from, as an archive of the day would give it.
fn evidence_of(day: &Day, curves: Vec<CurveRow>) -> Evidence {
    let mut waters: BTreeMap<String, f64> = BTreeMap::new();
    for run in &day.runs {
        if let (Some(batch), Some(water)) = (
            run.conditions.batch_id.as_ref(),
            run.metadata.number(Field::HydrationPct),
        ) {
            waters.entry(batch.to_string()).or_insert(water);
        }
    }
    let mut evidence = Evidence {
        curves,
        ..Evidence::default()
    };
    for run in &day.runs {
        let rows = run
            .results
            .iter()
            .map(|r| result_row(r, Some(run), &waters));
        evidence.results.extend(rows);
    }
    let of_many = day
        .groups
        .iter()
        .flat_map(|g| &g.results)
        .chain(&day.grading.results);
    evidence
        .results
        .extend(of_many.map(|r| result_row(r, None, &waters)));
    for seen in &day.observations {
        if seen.grade.is_none() && !seen.overmixed {
            continue;
        }
        evidence.grades.push(GradeRow {
            observation: format!("{}:{}", seen.file.sha256, seen.rows.first),
            origin: Origin {
                batch: Some(seen.batch_id.to_string()),
                treatment: seen.treatment.clone(),
                block: seen.block.clone(),
                ..Origin::default()
            },
            mix_time_min: seen.mix_time_min,
            piece: seen.piece.clone().unwrap_or_default(),
            grader: seen.grader.clone().unwrap_or_default(),
            grade: seen.grade,
            overmixed: seen.overmixed,
            excluded: None,
        });
    }
    evidence
}

#[test]
fn committed_files_of_the_study_are_what_the_generator_makes() {
    let update = std::env::var_os("UPDATE").is_some_and(|v| v == "1");
    for file in all_files() {
        let path = sample_runs().join(&file.path);
        if update {
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(&path, &file.bytes).unwrap();
        }
        let committed = std::fs::read(&path).unwrap_or_default();
        assert!(
            committed == file.bytes,
            "{} differs from what the generator makes; run with UPDATE=1 and look at the change",
            file.path
        );
    }
}

#[test]
fn every_file_is_read_without_a_note_by_the_one_profile_that_fits() {
    let profiles = profile::builtin().unwrap();
    for file in all_files() {
        let fits: Vec<&str> = profiles
            .iter()
            .filter(|p| intake::explain_fit(p, &file.bytes).fits())
            .map(|p| p.id.as_str())
            .collect();
        assert_eq!(fits, [file.profile], "{}", file.path);
        let profile = intake::select(&profiles, file.name(), &file.bytes).unwrap();
        let read = intake::read(raw(&file), &file.bytes, profile).unwrap();
        assert!(read.notes.is_empty(), "{}: {:?}", file.path, read.notes);
    }
}

#[test]
fn no_file_lies_there_that_the_generator_does_not_make() {
    let known: BTreeSet<String> = all_files().into_iter().map(|file| file.path).collect();
    let mut bytes = 0;
    for folder in ["mixing-study", "reference-flour"] {
        for entry in std::fs::read_dir(sample_runs().join(folder)).unwrap() {
            let entry = entry.unwrap();
            bytes += entry.metadata().unwrap().len();
            let name = format!("{folder}/{}", entry.file_name().to_string_lossy());
            let words = name.ends_with("/README.md") || name.ends_with("/study.toml");
            assert!(words || known.contains(&name), "{name} is not generated");
        }
    }
    assert!(
        known.len() <= 150 && bytes <= 3_000_000,
        "{} files, {bytes} bytes",
        known.len()
    );
}

#[test]
fn nothing_of_the_study_is_to_be_redone() {
    for files in [mixing_study(), reference_flour()] {
        let (day, _) = the_day(&files);
        let findings = check::check(&day);
        let mut rules: BTreeMap<(Level, &str), (usize, String)> = BTreeMap::new();
        for finding in &findings {
            let seen = rules.entry((finding.level, finding.rule)).or_default();
            seen.0 += 1;
            seen.1.clone_from(&finding.words);
        }
        for ((level, rule), (count, words)) in &rules {
            println!("{level:?} {rule}: {count}, such as: {words}");
        }
        let rejecting: Vec<_> = findings
            .iter()
            .filter(|f| f.level == Level::Reject)
            .collect();
        assert!(rejecting.is_empty(), "{rejecting:#?}");
    }
}

/// How far a number may lie from its truth, beside the interval that it states.
fn holds(found: &Outcome, truth: TruthValue) -> bool {
    match (found, truth) {
        (Outcome::Exact(e), TruthValue::Exact(t)) => e.low() <= t && t <= e.high(),
        (Outcome::Exact(e), TruthValue::Between(a, b)) => e.low() <= b && a <= e.high(),
        // A bound is true as long as it claims no more than the truth does.
        (Outcome::Above(b), TruthValue::Above(t)) => *b <= t + 0.02 * t.abs(),
        (Outcome::Below(b), TruthValue::Below(t)) => *b >= t - 0.02 * t.abs(),
        (Outcome::NotReached(_), TruthValue::NotReached)
        | (Outcome::NotComputable(_), TruthValue::NotComputable)
        | (Outcome::Rejected(_), TruthValue::Rejected) => true,
        _ => false,
    }
}

#[test]
fn numbers_of_the_study_hold_the_truth() {
    let files = all_files();
    let (mut day, _) = the_day(&mixing_study());
    let (reference, _) = the_day(&reference_flour());
    day.runs.extend(reference.runs);
    let truths: BTreeMap<&str, Vec<&Truth>> =
        files
            .iter()
            .flat_map(|f| &f.truths)
            .fold(BTreeMap::new(), |mut all, (name, truth)| {
                all.entry(name.as_str())
                    .or_insert_with(Vec::new)
                    .push(truth);
                all
            });
    let mut tally: BTreeMap<(&str, &str), (usize, usize, String)> = BTreeMap::new();
    let of_runs = day.runs.iter().flat_map(|run| &run.results);
    for result in of_runs
        .chain(day.groups.iter().flat_map(|g| &g.results))
        .chain(&day.grading.results)
    {
        let batch = result.conditions.batch_id.as_ref().map(ToString::to_string);
        let names = [Some(result.run_id.to_string()), batch];
        let truth = names.iter().flatten().find_map(|name| {
            let of_name = truths.get(name.as_str())?;
            of_name
                .iter()
                .find_map(|t| t.get(result.metric.id, result.variant))
        });
        let Some(truth) = truth else { continue };
        let entry = tally.entry((result.metric.id, result.variant)).or_default();
        entry.0 += 1;
        if holds(&result.outcome, truth) {
            entry.1 += 1;
        } else {
            entry.2 = format!("{}: {:?}, truth {truth:?}", result.run_id, result.outcome);
        }
    }
    let (mut all, mut held) = (0, 0);
    for ((metric, variant), (count, good, last)) in &tally {
        println!("{metric} {variant}: {good} of {count} {last}");
        (all, held) = (all + count, held + good);
    }
    println!("{held} of {all} intervals hold the truth");
    assert!(
        all > 1000 && held as f64 >= 0.93 * all as f64,
        "{held} of {all}"
    );
}

#[test]
fn the_reference_flour_jumps_on_its_last_days() {
    let (day, _) = the_day(&reference_flour());
    let found: Vec<f64> = day
        .runs
        .iter()
        .map(|run| {
            run.result("mixing.consistency")
                .unwrap()
                .outcome
                .value()
                .unwrap()
        })
        .collect();
    assert_eq!(found.len(), REFERENCE_RUNS as usize);
    let (before, after) = found.split_at((REFERENCE_RUNS - JUMPED) as usize);
    let mean = |list: &[f64]| list.iter().sum::<f64>() / list.len() as f64;
    let jump = mean(after) - mean(before);
    assert!((jump - JUMP_FU).abs() < 2.5, "{jump} FU");
}

#[test]
fn the_claims_come_out_as_the_story_wants_them() {
    let (day, curves) = the_day(&mixing_study());
    let text = std::fs::read_to_string(sample_runs().join("mixing-study/study.toml")).unwrap();
    let study = study::parse(&text).unwrap();
    let evidence = evidence_of(&day, curves);
    let assessment = compare::evaluate(&study, &evidence);
    let mut verdicts = Vec::new();
    for claim in &assessment.claims {
        println!(
            "{}: {} (alone {})\n  {}",
            claim.name, claim.verdict, claim.verdict_alone, claim.plain
        );
        for warning in &claim.warnings {
            println!("  warning: {warning}");
        }
        verdicts.push((claim.name.as_str(), claim.verdict));
    }
    use Verdict::{Contradicted, Supported, Undecided};
    assert_eq!(
        verdicts,
        [
            ("strong-enough", Supported),
            ("equal-shape", Supported),
            ("two-points-more-water", Contradicted),
            ("fine-takes-more-water", Supported),
            ("tolerance-not-worse", Supported),
            ("less-energy", Supported),
            ("longer-stretch", Undecided),
            ("volume-kept", Supported),
            ("membrane-as-good", Supported),
            ("stales-no-faster", Supported),
            ("mould-free-longer", Undecided),
            ("same-mixing-curve", Undecided),
            ("mixers-agree", Supported),
        ]
    );
}
