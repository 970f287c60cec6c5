//! The demo study through the program: claims on record, files in, verdicts out, and back to bytes.

#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, reason = "tests may stop")]

mod program;

use program::{Row, expect_code, run, stderr, stdout, table};
use std::path::Path;

const STUDY: &str = "sample-runs/mixing-study/study.toml";

fn events(archive: &str, action: &str) -> usize {
    let ledger = std::fs::read_to_string(format!("{archive}/ledger.jsonl")).unwrap();
    let word = format!("\"action\":\"{action}\"");
    ledger.lines().filter(|line| line.contains(&word)).count()
}

#[test]
fn claims_planned_before_import_are_judged_traced_and_verified() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (archive, day, out, sheet) = (path("lab"), path("day"), path("claims"), path("sheet.csv"));
    let planned = run(&["plan", STUDY, "--archive", &archive, "--sheet", &sheet]);
    expect_code(&planned, 0);
    let head = std::fs::read_to_string(&sheet).unwrap();
    assert!(
        head.starts_with("file,run_id,test,sample_id,batch_id,treatment,block"),
        "{head}"
    );
    let again = run(&["plan", STUDY, "--archive", &archive, "--sheet", &sheet]);
    expect_code(&again, 2);
    assert!(
        stderr(&again).contains("is there already"),
        "{}",
        stderr(&again)
    );
    let folder_of_runs = "sample-runs/mixing-study";
    let call = [
        "process",
        folder_of_runs,
        "--out",
        &day,
        "--archive",
        &archive,
        "--no-charts",
    ];
    expect_code(&run(&call), 0);
    let compared = run(&["compare", STUDY, "--archive", &archive, "--out", &out]);
    // One claim of the story does not hold.
    expect_code(&compared, 1);
    assert!(
        stdout(&compared).contains("contradicted"),
        "{}",
        stdout(&compared)
    );
    let claims = table(Path::new(&out), "claims.csv");
    let verdict = |name: &str| -> &Row { claims.iter().find(|c| c["claim"] == name).unwrap() };
    assert_eq!(verdict("strong-enough")["verdict"], "supported");
    assert_eq!(verdict("two-points-more-water")["verdict"], "contradicted");
    assert_eq!(verdict("longer-stretch")["verdict"], "undecided");
    let page = std::fs::read_to_string(format!("{out}/report.html")).unwrap();
    assert!(page.contains("On record before the files behind it were taken in"));
    assert!(Path::new(&out).join("charts/claims.png").is_file());
    // The same comparison again adds nothing to the ledger.
    assert_eq!(events(&archive, "compare"), 1);
    expect_code(
        &run(&["compare", STUDY, "--archive", &archive, "--out", &out]),
        1,
    );
    assert_eq!(events(&archive, "compare"), 1);
    let id = &verdict("strong-enough")["claim_id"];
    let traced = run(&["trace", id, "--archive", &archive]);
    expect_code(&traced, 0);
    let told = stdout(&traced);
    assert!(
        told.contains("(claim)") && told.contains("two-arm comes to"),
        "{told}"
    );
    assert!(told.contains("extension.maximum_resistance"), "{told}");
    expect_code(&run(&["verify", "--archive", &archive]), 0);
}

#[test]
fn every_problem_of_a_study_file_is_told_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let study = folder.path().join("study.toml");
    let text = std::fs::read_to_string(STUDY).unwrap();
    let text = text
        .replacen("kind = \"equivalent\"", "kind = \"equivalant\"", 1)
        .replacen("reference = \"spiral\"", "reference = \"spirall\"", 1);
    std::fs::write(&study, text).unwrap();
    let out = folder.path().join("out");
    let call = [
        "compare",
        study.to_str().unwrap(),
        "--out",
        out.to_str().unwrap(),
    ];
    let output = run(&call);
    expect_code(&output, 2);
    let words = stderr(&output);
    assert!(
        words.contains("equivalant") && words.contains("spirall"),
        "{words}"
    );
    assert!(words.contains("line "), "{words}");
    assert!(!out.exists());
}

/// How many claims of a comparison stand on record in words that begin with `words`.
fn standing(archives: &[&str], study: &str, out: &str, words: &str) -> (usize, usize) {
    let mut call = vec!["compare", study, "--out", out, "--format", "json"];
    for archive in archives {
        call.extend(["--archive", archive]);
    }
    let told: serde_json::Value = serde_json::from_str(&stdout(&run(&call))).unwrap();
    let claims = told["claims"].as_array().unwrap();
    let matching = claims
        .iter()
        .filter(|claim| claim["planned"].as_str().unwrap().starts_with(words));
    (matching.count(), claims.len())
}

#[test]
fn no_claim_is_called_planned_before_import_that_was_not() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (lab, day, out, study) = (path("lab"), path("day"), path("out"), path("study.toml"));
    std::fs::copy(STUDY, &study).unwrap();
    let samples = "sample-runs/mixing-study";
    let call = ["process", samples, "--out", &day, "--archive", &lab];
    expect_code(&run(&[&call[..], &["--no-charts"]].concat()), 0);
    let (none, all) = standing(&[&lab], &study, &out, "Not on record");
    assert_eq!(none, all);
    // Results, whole curves and gradings alike.
    expect_code(&run(&["plan", &study, "--archive", &lab]), 0);
    let (after, all) = standing(&[&lab], &study, &out, "Put on record only after");
    assert_eq!(after, all);
    // Whole curves and gradings lead to their files as results do.
    for (claim, file) in [
        ("same-mixing-curve", "raw file"),
        ("membrane-as-good", "membranes.csv"),
    ] {
        let claims = table(Path::new(&out), "claims.csv");
        let claim = claims.iter().find(|c| c["claim"] == claim).unwrap();
        let traced = run(&["trace", &claim["claim_id"], "--archive", &lab]);
        expect_code(&traced, 0);
        let told = stdout(&traced);
        assert!(told.contains(file) && !told.contains("no run"), "{told}");
    }
    // An archive that holds the plan says nothing of files in another one.
    let own = path("own");
    expect_code(&run(&["plan", &study, "--archive", &own]), 0);
    let (elsewhere, all) = standing(&[&own, &lab], &study, &out, "On record (ledger line 1, ");
    assert_eq!(elsewhere, all);
    let text = std::fs::read_to_string(&study).unwrap();
    std::fs::write(&study, text.replacen("margin = 0.9 ", "margin = 0.8 ", 1)).unwrap();
    let (changed, _) = standing(&[&lab], &study, &out, "Changed since");
    assert_eq!(changed, 1);
    expect_code(&run(&["verify", "--archive", &lab]), 0);
}

#[test]
fn a_planned_run_sheet_is_understood_once_file_names_are_filled_in() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (bench, out) = (path("bench"), path("out"));
    std::fs::create_dir(&bench).unwrap();
    let sheet = format!("{bench}/run-sheet.csv");
    let lab = path("lab");
    expect_code(
        &run(&["plan", STUDY, "--archive", &lab, "--sheet", &sheet]),
        0,
    );
    // Two bare columns state nothing themselves: what is known of the run comes from the sheet.
    let plain = "tests/layouts/plain-two-columns.csv";
    std::fs::copy(plain, format!("{bench}/first.csv")).unwrap();
    let text = std::fs::read_to_string(&sheet).unwrap();
    let mut lines: Vec<String> = text.lines().map(String::from).collect();
    let planned: Vec<String> = lines[1].split(',').map(String::from).collect();
    lines[1] = format!("first.csv{}", lines[1]);
    std::fs::write(&sheet, lines.join("\n") + "\n").unwrap();
    run(&["process", &bench, "--out", &out, "--no-charts"]);
    let runs = table(Path::new(&out), "runs.csv");
    assert_eq!(runs.len(), 1);
    assert_eq!(runs[0]["in_run_sheet"], "true");
    for (column, place) in [("sample_id", 3), ("batch_id", 4), ("treatment", 5)] {
        assert!(!planned[place].is_empty());
        assert_eq!(runs[0][column], planned[place], "{column}");
    }
    let findings = table(Path::new(&out), "findings.csv");
    assert!(!findings.iter().any(|f| f["rule"] == "day.conflict"));
}
