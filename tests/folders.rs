//! Folders and names from outside: several days at once, copies, links, empty folders.

#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests may stop")]

mod program;

use program::{program, table};
use std::path::Path;
use std::process::Output;

fn curve(water_ml: f64) -> String {
    let rows: String = (0..4800)
        .map(|i| {
            let s = f64::from(i) * 0.25;
            let turn = std::f64::consts::TAU * s * 63.0 / 60.0;
            let rise = 500.0 * (1.0 - libm::exp(-s / 30.0)) - 0.1 * (s - 240.0).max(0.0);
            format!(
                "{s:.2},{:.1}\n",
                rise + 20.0 * (libm::sin(turn) + libm::sin(1.5 * turn))
            )
        })
        .collect();
    format!(
        "mixing curve, one run\nbowl g: 300\npurpose: final\nflour moisture %: 12.5\nflour g: 294.9\nwater ml: {water_ml}\nthermostat C: 30.0\nwater contact s: 0\n\ntime_s,consistency_fu\n{rows}"
    )
}

fn put(folder: &Path, name: &str, text: &str) {
    let path = folder.join(name);
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    std::fs::write(path, text).unwrap();
}

fn process(at: &Path, arguments: &[&str]) -> Output {
    program()
        .current_dir(at)
        .arg("process")
        .args(arguments)
        .arg("--no-charts")
        .output()
        .unwrap()
}

#[test]
fn two_days_of_one_name_keep_their_own_run_sheets() {
    let root = tempfile::tempdir().unwrap();
    for (month, treatment, water) in [("m1", "spiral", 182.0), ("m2", "two-arm", 184.0)] {
        let day = root.path().join(month).join("day");
        put(&day, "K-01.csv", &curve(water));
        put(
            &day,
            "sheet.csv",
            &format!("file,sample_id,treatment\nK-01.csv,flour,{treatment}\n"),
        );
    }
    let output = process(root.path(), &["m1/day", "m2/day", "--out", "out"]);
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let runs = table(&root.path().join("out"), "batches.csv");
    assert!(runs.is_empty(), "no dough was stated: {runs:?}");
    let results = table(&root.path().join("out"), "results.csv");
    let treatment = |file: &str| {
        results
            .iter()
            .find(|r| r["file"] == file)
            .map(|r| r["treatment"].clone())
    };
    assert_eq!(treatment("day/K-01.csv").as_deref(), Some("spiral"));
    assert_eq!(treatment("day (2)/K-01.csv").as_deref(), Some("two-arm"));
}

#[test]
fn a_copy_is_no_duplicate_run() {
    let root = tempfile::tempdir().unwrap();
    put(root.path(), "day/a.csv", &curve(182.0));
    put(root.path(), "day/b.csv", &curve(182.0));
    let output = process(root.path(), &["day", "--out", "out"]);
    assert_eq!(output.status.code(), Some(1), "{output:?}");
    let findings = table(&root.path().join("out"), "findings.csv");
    assert!(
        findings
            .iter()
            .any(|f| f["rule"] == "day.same-bytes" && f["file"] == "b.csv")
    );
}

#[test]
fn two_lines_for_one_file_are_a_conflict_where_they_differ() {
    let root = tempfile::tempdir().unwrap();
    put(root.path(), "day/a.csv", &curve(182.0));
    put(
        root.path(),
        "day/sheet.csv",
        "file,dough_temp_c,treatment\na.csv,26,spiral\na.csv,26,two-arm\n",
    );
    process(root.path(), &["day", "--out", "out"]);
    let findings = table(&root.path().join("out"), "findings.csv");
    let conflict = findings
        .iter()
        .filter(|f| f["rule"] == "day.conflict")
        .collect::<Vec<_>>();
    assert_eq!(conflict.len(), 1, "{findings:?}");
    assert!(
        conflict[0]["words"].contains("treatment is spiral"),
        "{conflict:?}"
    );
}

#[test]
fn an_empty_folder_costs_no_earlier_report() {
    let root = tempfile::tempdir().unwrap();
    put(root.path(), "day/a.csv", &curve(182.0));
    std::fs::create_dir(root.path().join("empty")).unwrap();
    assert_eq!(
        process(root.path(), &["day", "--out", "out"]).status.code(),
        Some(0)
    );
    let before = std::fs::read(root.path().join("out/tables/results.csv")).unwrap();
    let output = process(root.path(), &["empty", "--out", "out"]);
    assert_eq!(output.status.code(), Some(2), "{output:?}");
    assert!(
        String::from_utf8_lossy(&output.stdout).contains("left as it was"),
        "{output:?}"
    );
    assert_eq!(
        std::fs::read(root.path().join("out/tables/results.csv")).unwrap(),
        before
    );
}

#[test]
fn the_day_may_be_named_in_any_way_and_an_earlier_output_in_it_is_no_data() {
    let root = tempfile::tempdir().unwrap();
    put(root.path(), "day/a.csv", &curve(182.0));
    put(
        root.path(),
        "day/sheet.csv",
        "file,treatment\na.csv,spiral\n",
    );
    let day = root.path().join("day");
    let mut tables = Vec::new();
    for input in [".", "./", "../day", "./."] {
        let output = process(&day, &[input, "--out", "out"]);
        assert_eq!(output.status.code(), Some(0), "{input}: {output:?}");
        tables.push(std::fs::read(day.join("out/tables/results.csv")).unwrap());
    }
    assert!(
        tables.windows(2).all(|pair| pair[0] == pair[1]),
        "the way of naming changes results"
    );
}

#[test]
fn numbers_that_cannot_be_meant_stop_the_file_with_their_range() {
    let root = tempfile::tempdir().unwrap();
    let moist = curve(182.0).replace("flour moisture %: 12.5", "flour moisture %: 125");
    put(root.path(), "day/moist.csv", &moist);
    let light = curve(182.0).replace("flour g: 294.9", "flour g: 29.49");
    put(root.path(), "day/light.csv", &light);
    let output = process(root.path(), &["day", "--out", "out"]);
    assert_eq!(output.status.code(), Some(1), "{output:?}");
    let words = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(
        words.contains("found `125`; expected a value of 2 to 30 %"),
        "{words}"
    );
    assert!(
        words.contains("29.5 g flour weighed; bowl and moisture ask for 294.9 g"),
        "{words}"
    );
}
