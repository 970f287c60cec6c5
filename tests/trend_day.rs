//! The reference flour through the program: what the control charts say, and limits on record.

#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, reason = "tests may stop")]

mod program;

use program::{expect_code, run, stderr, stdout};

#[test]
fn a_jump_of_the_mixer_is_told_with_its_day_and_limits_can_be_frozen() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (day, out) = (path("day"), path("trend"));
    let samples = "sample-runs/reference-flour";
    let processed = run(&["process", samples, "--out", &day, "--no-charts"]);
    expect_code(&processed, 0);
    // The generator raises the last six of thirty runs by 8 FU.
    let metric = ["--metric", "mixing.consistency"];
    let charts = run(&[
        "trend",
        "--archive",
        &day,
        "--out",
        &out,
        metric[0],
        metric[1],
    ]);
    expect_code(&charts, 1);
    let told = stdout(&charts);
    assert!(
        told.contains("mixer-2 mixing.consistency: out of control"),
        "{told}"
    );
    assert!(told.contains(" FU high since 2026-05-"), "{told}");
    assert!(told.contains("not frozen"), "{told}");
    let png = std::fs::read(format!("{out}/charts/control-1.png")).unwrap();
    assert!(png.starts_with(b"\x89PNG"));
    let freeze = [
        "--freeze",
        "25 readings in control",
        "--operator",
        "A. Analyst",
    ];
    let mut call = vec![
        "trend",
        "--archive",
        &day,
        "--out",
        &out,
        metric[0],
        metric[1],
    ];
    call.extend(freeze);
    let frozen = run(&call);
    assert!(
        stdout(&frozen).contains("1 limits frozen"),
        "{}",
        stdout(&frozen)
    );
    let after = run(&[
        "trend",
        "--archive",
        &day,
        "--out",
        &out,
        metric[0],
        metric[1],
    ]);
    assert!(
        stdout(&after).contains("frozen by A. Analyst"),
        "{}",
        stdout(&after)
    );
    expect_code(&run(&["verify", "--archive", &day]), 0);
    // A day that measures the reference flour carries the finding itself.
    let findings = std::fs::read_to_string(format!("{day}/tables/findings.csv")).unwrap();
    assert!(findings.contains("day.reference-flour"), "no finding");
}

#[test]
fn an_archive_without_a_reference_flour_says_what_to_state() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (day, out) = (path("day"), path("trend"));
    let samples = "sample-runs/clean-day/SM-101.csv";
    run(&["process", samples, "--out", &day, "--no-charts"]);
    let output = run(&["trend", "--archive", &day, "--out", &out]);
    expect_code(&output, 2);
    assert!(
        stderr(&output).contains("flour_kind"),
        "{}",
        stderr(&output)
    );
}
