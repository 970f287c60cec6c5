//! Files that arrive while the program watches: taken in one after the other, safe to stop.

#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests may stop")]

mod program;

use program::{expect_code, program, run, table};
use std::path::Path;
use std::process::{Child, Stdio};

/// Waits until the runs of the output are `wanted`; a minute is far more than it takes.
fn wait_for_runs(out: &Path, wanted: usize, watching: &mut Child) {
    for _ in 0..240 {
        if out.join("tables/runs.csv").is_file() && table(out, "runs.csv").len() == wanted {
            return;
        }
        assert!(
            watching.try_wait().unwrap().is_none(),
            "it stopped by itself"
        );
        std::thread::sleep(std::time::Duration::from_millis(250));
    }
    let _ = watching.kill();
    panic!("{wanted} runs never came");
}

#[test]
fn new_files_are_taken_in_and_a_stop_leaves_a_sound_archive() {
    let folder = tempfile::tempdir().unwrap();
    let (bench, out) = (folder.path().join("bench"), folder.path().join("out"));
    std::fs::create_dir(&bench).unwrap();
    let copy = |name: &str| {
        std::fs::copy(format!("sample-runs/clean-day/{name}"), bench.join(name)).unwrap();
    };
    copy("SM-101.csv");
    let arguments = [
        "process",
        bench.to_str().unwrap(),
        "--out",
        out.to_str().unwrap(),
    ];
    let mut watching = program()
        .args(arguments)
        .args(["--no-charts", "--watch", "1"])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    wait_for_runs(&out, 1, &mut watching);
    copy("SM-102.csv");
    wait_for_runs(&out, 2, &mut watching);
    // A file that grows between looks waits until it is whole: the archive never sees a part.
    let whole = std::fs::read("sample-runs/clean-day/SM-103.csv").unwrap();
    for part in 1..=10 {
        let end = whole.len() * part / 10;
        std::fs::write(bench.join("SM-103.csv"), &whole[..end]).unwrap();
        std::thread::sleep(std::time::Duration::from_millis(300));
    }
    wait_for_runs(&out, 3, &mut watching);
    watching.kill().unwrap();
    watching.wait().unwrap();
    let ledger = std::fs::read_to_string(out.join("archive/ledger.jsonl")).unwrap();
    let imports = ledger
        .lines()
        .filter(|line| line.contains("\"action\":\"import\"") && line.contains("SM-103.csv"));
    assert_eq!(imports.count(), 1, "{ledger}");
    expect_code(&run(&["verify", "--archive", out.to_str().unwrap()]), 0);
}
