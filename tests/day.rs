//! The main job from outside: the program, its exit codes, its output folder, its numbers.

#![cfg(feature = "cli")]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "tests may stop"
)]

mod generate;
mod program;

use doughtrace::schema::Digest;
use generate::{GeneratedFile, Rules, Trouble, TruthValue};
use std::collections::BTreeMap;
use std::path::Path;
use std::process::Stdio;

use program::{Row, expect_code, program, project, run, stderr, stdout, table};

fn files_below(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(current) = open.pop() {
        for entry in std::fs::read_dir(current).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().display().to_string();
                found.insert(name, std::fs::read(&path).unwrap());
            }
        }
    }
    found
}

#[test]
fn the_clean_day_is_good_and_its_numbers_are_the_truth() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let output = run(&[
        "process",
        "sample-runs/clean-day",
        "--out",
        out.to_str().unwrap(),
        "--no-charts",
    ]);
    expect_code(&output, 0);
    assert!(
        stdout(&output).contains("The day is good"),
        "{}",
        stdout(&output)
    );
    let rows = table(&out, "results.csv");
    for column in [
        "result_id",
        "file",
        "run_id",
        "test",
        "sample_id",
        "batch_id",
        "treatment",
        "block",
        "replicate",
        "metric",
        "revision",
        "variant",
        "status",
        "value",
        "low",
        "high",
        "std_uncertainty",
        "unit",
        "row_first",
        "row_last",
        "raw_sha256",
    ] {
        assert!(
            rows[0].contains_key(column),
            "results.csv has no column {column}"
        );
    }
    let (compared, outside) = compare_with_truth(&rows, &generate::story::clean_day());
    assert!(compared > 24 * 12, "{compared} values compared");
    // 95 % intervals: some may lie outside, few do.
    assert!(
        outside.len() * 20 <= compared,
        "{} of {compared}: {outside:#?}",
        outside.len()
    );
}

/// Returns how many exact values were compared, and those whose interval does not hold the truth.
fn compare_with_truth(rows: &[Row], files: &[GeneratedFile]) -> (usize, Vec<String>) {
    let mut compared = 0;
    let mut outside = Vec::new();
    for generated in files.iter().flat_map(|file| &file.runs) {
        let of_run: Vec<&Row> = rows
            .iter()
            .filter(|r| r["run_id"] == generated.run_id)
            .collect();
        assert!(!of_run.is_empty(), "{} was not read", generated.run_id);
        let iso = of_run.iter().find(|r| r["variant"] == "iso").unwrap();
        let delta = iso["parameters"]
            .rsplit("delta=")
            .next()
            .and_then(|t| t.parse().ok());
        let truth = generated.truth(Rules {
            delta_fu: delta.unwrap_or(2.0),
            ..Rules::default()
        });
        for (metric, variant, value) in truth.iter() {
            let Some(row) = of_run
                .iter()
                .find(|r| r["metric"] == metric && r["variant"] == variant)
            else {
                panic!("{}: no result for {metric} {variant}", generated.run_id)
            };
            let name = format!("{} {metric} {variant}", generated.run_id);
            match value {
                TruthValue::Exact(truth) => {
                    assert_eq!(row["status"], "exact", "{name}: truth {truth}");
                    compared += 1;
                    let (low, high): (f64, f64) =
                        (row["low"].parse().unwrap(), row["high"].parse().unwrap());
                    if !(low..=high).contains(&truth) {
                        outside.push(format!("{name}: truth {truth:.3}, {low:.3} to {high:.3}"));
                    }
                }
                TruthValue::Above(_) => assert_eq!(row["status"], "above", "{name}"),
                TruthValue::NotReached => assert_eq!(row["status"], "not-reached", "{name}"),
                _ => {}
            }
        }
    }
    (compared, outside)
}

#[test]
fn the_awkward_day_names_every_trouble_and_reads_the_rest() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let output = run(&[
        "process",
        "sample-runs/awkward-day",
        "--out",
        out.to_str().unwrap(),
        "--no-charts",
    ]);
    expect_code(&output, 1);
    let findings = table(&out, "findings.csv");
    for generated in generate::story::awkward_day()
        .iter()
        .flat_map(|file| &file.runs)
    {
        let rule = match generated.spec.trouble {
            Trouble::None | Trouble::NeverAtTheLine => continue,
            Trouble::RisingToTheEnd => "mixing.rising-at-end",
            Trouble::FlatPeak => "mixing.flat-peak",
            Trouble::DoublePeak => "mixing.double-peak",
            Trouble::DropOutsAndSpikes => "mixing.spikes",
            Trouble::Saturation => "mixing.saturation",
            Trouble::WrongThermostat => "mixing.thermostat",
            Trouble::TimeGap => "mixing.gap",
            Trouble::TimeStepsBack => "mixing.time-steps-back",
            Trouble::ShortRecord => "mixing.short-record",
            Trouble::PlainColumns | Trouble::NoBowlSize => "mixing.no-bowl",
            Trouble::NoRunSheetLine => "day.missing-sheet-line",
            Trouble::SheetConflict => "day.conflict",
            Trouble::OutsideTheWindow => "mixing.maximum-outside",
            Trouble::DuplicatesApart => "mixing.duplicates",
            Trouble::UnknownUnit => "mixing.unit-unknown",
            Trouble::DecimalCommaInPointFile | Trouble::BinaryFile => continue,
        };
        let seen = findings.iter().any(|f| {
            f["rule"] == rule
                && (f["run_id"].ends_with(&generated.run_id)
                    || f["words"].contains(&generated.run_id))
        });
        assert!(seen, "{}: no finding {rule}", generated.run_id);
    }
    // Every finding says what to do.
    assert!(findings.iter().all(|f| f["what_to_do"].len() > 10));
    let words = stdout(&output);
    assert!(words.contains("not read: SM-217.csv, line 11, column `flour moisture %`: found `13,6`; expected a number with decimal point"), "{words}");
    assert!(words.contains("not read: SM-218.csv"), "{words}");
}

#[test]
fn damage_does_not_bend_what_is_still_printed_as_exact() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    run(&[
        "process",
        "sample-runs/awkward-day",
        "--out",
        out.to_str().unwrap(),
        "--no-charts",
    ]);
    let rows = table(&out, "results.csv");
    // Drop-outs and spikes are bridged: the peak stays where it was (truth 501 FU at 4.0 min).
    let value = |run: &str, metric: &str, variant: &str| -> Option<f64> {
        rows.iter()
            .find(|r| r["run_id"] == run && r["metric"] == metric && r["variant"] == variant)
            .and_then(|r| (r["status"] == "exact").then(|| r["value"].parse().unwrap()))
    };
    let consistency = value("SM-205", "mixing.consistency", "").unwrap();
    assert!((consistency - 501.0).abs() < 5.0, "{consistency}");
    let peak = value("SM-205", "mixing.development_time", "iso").unwrap();
    assert!((peak - 4.0).abs() < 0.6, "{peak}");
    // A clipped band has no maximum, and nothing that refers to it.
    for metric in [
        "mixing.consistency",
        "mixing.softening_12min",
        "mixing.band_width",
    ] {
        assert_eq!(value("SM-206", metric, ""), None, "{metric}");
    }
}

#[test]
fn same_input_same_bytes_on_one_or_two_threads_and_raw_files_are_only_read() {
    let folder = tempfile::tempdir().unwrap();
    let before = files_below(&project().join("sample-runs/clean-day"));
    let mut outputs = Vec::new();
    for threads in ["1", "2"] {
        let out = folder.path().join(format!("out-{threads}"));
        let output = run(&[
            "process",
            "sample-runs/clean-day",
            "--out",
            out.to_str().unwrap(),
            "--threads",
            threads,
        ]);
        expect_code(&output, 0);
        outputs.push(files_below(&out));
    }
    assert_eq!(
        outputs[0].keys().collect::<Vec<_>>(),
        outputs[1].keys().collect::<Vec<_>>()
    );
    for (name, bytes) in &outputs[0] {
        assert!(
            outputs[1][name] == *bytes,
            "{name} differs between 1 and 2 threads"
        );
    }
    assert!(outputs[0].contains_key("charts/run-SM-101.png"));
    assert_eq!(
        before,
        files_below(&project().join("sample-runs/clean-day"))
    );
    check_pictures_and_manifest(&outputs[0]);
}

fn check_pictures_and_manifest(files: &BTreeMap<String, Vec<u8>>) {
    let png = &files["charts/run-SM-101.png"];
    let text = String::from_utf8_lossy(png);
    let results = String::from_utf8(files["tables/results.csv"].clone()).unwrap();
    let id = results
        .lines()
        .find(|line| line.contains(",SM-101,"))
        .unwrap();
    let id = id.split(',').next().unwrap();
    assert!(text.contains(id), "the chart does not carry result {id}");
    let manifest: serde_json::Value = serde_json::from_slice(&files["manifest.json"]).unwrap();
    for output in manifest["outputs"].as_array().unwrap() {
        let name = output["path"].as_str().unwrap();
        assert_eq!(
            output["sha256"],
            Digest::of(&files[name]).as_str(),
            "{name}"
        );
    }
    let report = String::from_utf8(files["report.html"].clone()).unwrap();
    for outside in ["src=\"http", "href=\"http", "url(http"] {
        assert!(
            !report.contains(outside),
            "the report names an address outside itself"
        );
    }
}

#[test]
fn exit_code_two_when_nothing_can_be_read_or_the_call_is_wrong() {
    let folder = tempfile::tempdir().unwrap();
    let day = folder.path().join("day");
    std::fs::create_dir(&day).unwrap();
    std::fs::write(day.join("poem.csv"), "roses,are,red\n1,2,3\n").unwrap();
    let out = folder.path().join("out");
    let (day, out) = (day.to_str().unwrap(), out.to_str().unwrap());
    let output = run(&["process", day, "--out", out]);
    expect_code(&output, 2);
    assert!(
        stdout(&output).contains("profile check"),
        "{}",
        stdout(&output)
    );
    expect_code(&run(&["process", "no-such-folder", "--out", out]), 2);
    expect_code(&run(&["process", day]), 2);
    expect_code(&run(&["process", day, "--out", day]), 2);
    let words = stderr(&run(&["process", "no-such-folder", "--out", out]));
    assert!(
        words.contains("no-such-folder") && words.contains("does not exist"),
        "{words}"
    );
    expect_code(&run(&["explain", "mixing.stabilty"]), 2);
}

#[test]
fn a_folder_that_is_no_output_is_never_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("photos");
    std::fs::create_dir(&out).unwrap();
    std::fs::write(out.join("holiday.jpg"), "precious").unwrap();
    let output = run(&[
        "process",
        "sample-runs/clean-day",
        "--out",
        out.to_str().unwrap(),
        "--no-charts",
    ]);
    expect_code(&output, 2);
    assert!(
        stderr(&output).contains("not an earlier output"),
        "{}",
        stderr(&output)
    );
    assert_eq!(std::fs::read(out.join("holiday.jpg")).unwrap(), b"precious");
}

#[test]
fn an_earlier_output_is_replaced_as_a_whole_and_said_so() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let call = [
        "process",
        "sample-runs/clean-day",
        "--out",
        out.to_str().unwrap(),
        "--no-charts",
    ];
    expect_code(&run(&call), 0);
    std::fs::write(out.join("tables/stale.csv"), "old").unwrap();
    let output = run(&call);
    expect_code(&output, 0);
    assert!(stdout(&output).contains("replaced"), "{}", stdout(&output));
    assert!(!out.join("tables/stale.csv").exists());
    let beside: Vec<_> = std::fs::read_dir(folder.path()).unwrap().collect();
    assert_eq!(beside.len(), 1, "{beside:?}");
}

#[test]
fn summaries_are_machine_readable_and_a_dry_run_writes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let out = out.to_str().unwrap();
    let dry = run(&[
        "process",
        "sample-runs/clean-day",
        "--out",
        out,
        "--dry-run",
    ]);
    expect_code(&dry, 0);
    assert!(stdout(&dry).contains("SM-101.csv") && stdout(&dry).contains("mixing.stability r1"));
    assert!(!Path::new(out).exists());
    let json = run(&[
        "process",
        "sample-runs/awkward-day",
        "--out",
        out,
        "--no-charts",
        "--format",
        "json",
    ]);
    expect_code(&json, 1);
    let value: serde_json::Value = serde_json::from_str(&stdout(&json)).unwrap();
    assert_eq!(value["exit_code"], 1);
    assert!(value["redo"].as_array().unwrap().len() >= 8);
    let csv = run(&[
        "process",
        "sample-runs/clean-day",
        "--out",
        out,
        "--no-charts",
        "--format",
        "csv",
    ]);
    let mut reader = csv::Reader::from_reader(csv.stdout.as_slice());
    assert_eq!(reader.records().filter(|r| r.is_ok()).count(), 24);
}

#[test]
fn a_reader_that_goes_away_is_no_failure() {
    let mut child = program()
        .args(["explain"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    expect_code(&output, 0);
}

#[test]
fn explain_gives_definition_source_and_address() {
    let output = run(&["explain", "mixing.development_time"]);
    expect_code(&output, 0);
    let words = stdout(&output);
    for part in [
        "first sign of decrease",
        "ISO 5530-1",
        "check against the standard's text",
        "src/derive/mixing/shape.rs:",
    ] {
        assert!(words.contains(part), "no `{part}` in\n{words}");
    }
    let hint = stderr(&run(&["explain", "stability"]));
    assert!(hint.contains("mixing.stability"), "{hint}");
}

#[test]
fn a_profile_of_the_users_own_reads_a_strangers_file() {
    let folder = tempfile::tempdir().unwrap();
    let (day, profiles) = (folder.path().join("day"), folder.path().join("profiles"));
    std::fs::create_dir_all(&day).unwrap();
    std::fs::create_dir_all(&profiles).unwrap();
    let rows: String = (0..2400)
        .map(|i| {
            let t = f64::from(i) * 0.5;
            format!("{t:.1};{:.1}\n", 500.0 - (t / 60.0 - 5.0).powi(2)).replace('.', ",")
        })
        .collect();
    std::fs::write(day.join("strange.csv"), format!("tiempo;fuerza\n{rows}")).unwrap();
    let out = folder.path().join("out");
    let (day, out) = (day.to_str().unwrap(), out.to_str().unwrap());
    expect_code(&run(&["process", day, "--out", out, "--no-charts"]), 2);
    let shown = stdout(&run(&["profile", "show", "plain-two-columns"]));
    let own = shown
        .replace("plain-two-columns", "strange")
        .replace("time_s", "tiempo")
        .replace("consistency_fu", "fuerza")
        .replace("delimiter = \"comma\"", "delimiter = \"semicolon\"")
        .replace("decimal = \"point\"", "decimal = \"comma\"");
    std::fs::write(profiles.join("strange.toml"), own).unwrap();
    let output = run(&[
        "process",
        day,
        "--out",
        out,
        "--no-charts",
        "--profiles",
        profiles.to_str().unwrap(),
    ]);
    expect_code(&output, 0);
    let checked = stdout(&run(&[
        "profile",
        "check",
        &format!("{day}/strange.csv"),
        "--profiles",
        profiles.to_str().unwrap(),
    ]));
    assert!(
        checked.contains("is read with profile strange"),
        "{checked}"
    );
}
