//! The archive from outside: kept, traced both ways, verified, amended, handed over.
//!
//! Nothing here looks inside the program: everything goes through the binary, the files it writes,
//! and, where a claim is that another program suffices, that program (`sha256sum`, `openssl`).

#![cfg(feature = "cli")]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "tests may stop"
)]

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

struct Lab {
    _folder: tempfile::TempDir,
    day: PathBuf,
    archive: PathBuf,
    root: PathBuf,
}

/// Files of the sample day that a small laboratory day needs: two layouts, a run sheet.
const FILES: &[&str] = &[
    "SM-101.csv",
    "SM-102.csv",
    "SM-105.txt",
    "SM-109.tsv",
    "run-sheet.csv",
];

impl Lab {
    fn new() -> Lab {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path().to_owned();
        let day = root.join("monday");
        std::fs::create_dir(&day).unwrap();
        let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-runs/clean-day");
        for name in FILES {
            std::fs::copy(from.join(name), day.join(name)).unwrap();
        }
        Lab {
            _folder: folder,
            day,
            archive: root.join("lab"),
            root,
        }
    }

    /// A laboratory whose day has been processed.
    fn processed() -> Lab {
        let lab = Lab::new();
        expect(&lab.process("out"), &[0, 1]);
        lab
    }

    fn process(&self, out: &str) -> Output {
        let out = self.root.join(out);
        let day = self.day.to_str().unwrap();
        self.run(&[
            "process",
            day,
            "--out",
            out.to_str().unwrap(),
            "--no-charts",
        ])
    }

    /// Runs a command with this laboratory's archive.
    fn run(&self, arguments: &[&str]) -> Output {
        program()
            .args(arguments)
            .arg("--archive")
            .arg(&self.archive)
            .output()
            .unwrap()
    }

    fn json(&self, arguments: &[&str]) -> Value {
        let mut all = arguments.to_vec();
        all.extend(["--format", "json"]);
        serde_json::from_slice(&self.run(&all).stdout).unwrap()
    }

    fn amend(&self, arguments: &[&str]) -> Output {
        let mut all = vec!["amend", "--reason", "oven repeat", "--operator", "B. Chief"];
        all.extend(arguments);
        self.run(&all)
    }

    /// The first result of a metric and run in the output's table.
    fn result(&self, out: &str, run: &str, metric: &str) -> String {
        let mut reader =
            csv::Reader::from_path(self.root.join(out).join("tables/results.csv")).unwrap();
        let head = reader.headers().unwrap().clone();
        let at = |name: &str| head.iter().position(|h| h == name).unwrap();
        let row = reader
            .records()
            .map(Result::unwrap)
            .find(|r| &r[at("run_id")] == run && &r[at("metric")] == metric)
            .unwrap();
        row[at("result_id")].to_owned()
    }

    fn ledger_lines(&self) -> usize {
        let text = std::fs::read_to_string(self.archive.join("ledger.jsonl")).unwrap();
        text.lines().count()
    }
}

fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_doughtrace"));
    command
        .env("SOURCE_DATE_EPOCH", "1770000000")
        .env("USER", "A. Analyst");
    command
}

fn text(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr)
}

#[track_caller]
fn expect(output: &Output, codes: &[i32]) {
    let code = output.status.code().unwrap();
    assert!(codes.contains(&code), "exit code {code}\n{}", text(output));
}

/// Every file below a folder.
fn files_below(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut open = vec![folder.to_owned()];
    while let Some(current) = open.pop() {
        for entry in std::fs::read_dir(current).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

fn flip(path: &Path, at: usize) -> Vec<u8> {
    let before = std::fs::read(path).unwrap();
    let mut bytes = before.clone();
    let at = at % bytes.len();
    bytes[at] ^= 1;
    std::fs::write(path, bytes).unwrap();
    before
}

#[test]
fn a_number_traces_to_its_raw_bytes_and_the_bytes_to_everything_made_from_them() {
    let lab = Lab::processed();
    let id = lab.result("out", "SM-101", "mixing.stability");
    let trace = lab.json(&["trace", &id, "--show-rows"]);
    let run = &trace["runs"][0];
    assert_eq!(trace["kind"], "result");
    assert_eq!(run["results"].as_array().unwrap().len(), 1);
    let result = &run["results"][0];
    assert_eq!(result["id"], id.as_str());
    assert_eq!(result["metric"], "mixing.stability");
    assert!(result["definition"].as_str().unwrap().contains("Departure"));
    // The digest, by a program that is not ours.
    let raw = lab.day.join("SM-101.csv");
    let sum = Command::new("sha256sum").arg(&raw).output().unwrap();
    let sum = text(&sum);
    assert_eq!(run["raw"]["sha256"], sum.split_whitespace().next().unwrap());
    assert_eq!(run["raw"]["who"], "A. Analyst");
    // The lines are those of the raw file.
    let line = &result["raw_lines"][0];
    let number = usize::try_from(line[0].as_u64().unwrap()).unwrap();
    let bytes = std::fs::read_to_string(&raw).unwrap();
    assert_eq!(line[1], bytes.lines().nth(number - 1).unwrap());
    // Sample, batch, instrument, operator: each with its place.
    for field in ["sample_id", "batch_id", "instrument_id", "operator"] {
        let stated = run["stated"].as_array().unwrap();
        let stated = stated.iter().find(|s| s["field"] == field).unwrap();
        assert!(!stated["origin"].as_str().unwrap().is_empty(), "{field}");
    }
    assert_eq!(run["reports"].as_array().unwrap().len(), 1);
    // Back: by prefix, by name, by digest, by report.
    let whole = |asked: &str| lab.json(&["trace", asked]);
    assert_eq!(whole(&id[..10])["runs"][0]["results"][0]["id"], id.as_str());
    let digest = run["raw"]["sha256"].as_str().unwrap().to_owned();
    let report = run["reports"][0]["id"].as_str().unwrap().to_owned();
    for asked in ["SM-101", "SM-101.csv", digest.as_str()] {
        let trace = whole(asked);
        let runs = trace["runs"].as_array().unwrap();
        assert_eq!(runs.len(), 1, "{asked}");
        let results = runs[0]["results"].as_array().unwrap();
        assert!(results.iter().any(|r| r["id"] == id.as_str()), "{asked}");
        assert_eq!(trace["reports"].as_array().unwrap().len(), 1, "{asked}");
    }
    assert_eq!(whole(&report)["runs"].as_array().unwrap().len(), 4);
    // A run sheet leads to every run that it speaks of.
    assert_eq!(whole("run-sheet.csv")["runs"].as_array().unwrap().len(), 4);
    expect(&lab.run(&["trace", "no-such-thing"]), &[2]);
}

#[test]
fn a_chart_traces_by_the_identifiers_inside_it() {
    let lab = Lab::new();
    let out = lab.root.join("out");
    let day = lab.day.to_str().unwrap();
    expect(
        &lab.run(&["process", day, "--out", out.to_str().unwrap()]),
        &[0, 1],
    );
    let chart = lab.root.join("pasted.png");
    std::fs::copy(out.join("charts/run-SM-102.png"), &chart).unwrap();
    let trace = lab.json(&["trace", chart.to_str().unwrap()]);
    assert_eq!(trace["kind"], "chart");
    assert_eq!(trace["runs"][0]["run"], "SM-102");
    assert!(trace["runs"][0]["results"].as_array().unwrap().len() > 10);
}

#[test]
fn every_result_is_computed_again_bit_for_bit_and_a_flipped_byte_is_named() {
    let lab = Lab::processed();
    let found = lab.json(&["verify"]);
    assert_eq!(found["verified"], true);
    let numbers = &found["recomputed"];
    assert!(numbers["results"].as_u64().unwrap() > 40);
    assert_eq!(numbers["results"], numbers["bit_for_bit"]);
    expect(&lab.run(&["verify"]), &[0]);
    let kept: Vec<PathBuf> = files_below(&lab.archive)
        .into_iter()
        .filter(|p| {
            p.components()
                .any(|c| ["raw", "tables"].contains(&c.as_os_str().to_str().unwrap()))
        })
        .chain([lab.archive.join("ledger.jsonl")])
        .collect();
    assert!(kept.len() > 10);
    for path in kept {
        let before = flip(&path, 997);
        let output = lab.run(&["verify"]);
        expect(&output, &[3]);
        let name = path.file_name().unwrap().to_str().unwrap();
        let words = text(&output);
        assert!(
            words.contains("First failure") && words.contains(name),
            "{name}:\n{words}"
        );
        std::fs::write(&path, before).unwrap();
    }
    expect(&lab.run(&["verify"]), &[0]);
}

/// A forger who changes a result in its table, gives the segment its new name and writes the whole
/// ledger anew has an archive whose every digest is right. Computing again finds the number.
#[test]
fn a_forged_number_is_found_though_every_digest_is_right() {
    use doughtrace::record::tables::RESULTS;
    use doughtrace::schema::{Cell, Digest};
    let lab = Lab::processed();
    let is_results = |p: &PathBuf| p.to_str().unwrap().contains("tables/results/");
    let segment = files_below(&lab.archive)
        .into_iter()
        .find(is_results)
        .unwrap();
    let bytes = std::fs::read(&segment).unwrap();
    let (old, old_size) = (Digest::of(&bytes), bytes.len());
    let mut table = doughtrace::table::from_parquet("results", bytes).unwrap();
    let (id, value) = (
        table.position("result_id").unwrap(),
        table.position("value").unwrap(),
    );
    let row = table
        .rows
        .iter_mut()
        .find(|r| matches!(r[value], Cell::Number(_)))
        .unwrap();
    let Cell::Number(honest) = row[value] else {
        panic!("chosen so")
    };
    // The smallest change that a number can have.
    row[value] = Cell::Number(f64::from_bits(honest.to_bits() + 1));
    let Cell::Text(forged) = row[id].clone() else {
        panic!("an identifier is text")
    };
    let bytes = doughtrace::table::stored_parquet(&RESULTS, &table).unwrap();
    let new = Digest::of(&bytes);
    std::fs::remove_file(&segment).unwrap();
    std::fs::write(segment.with_file_name(format!("{new}.parquet")), &bytes).unwrap();

    let ledger = lab.archive.join("ledger.jsonl");
    let text = std::fs::read_to_string(&ledger).unwrap();
    let text = text.replace(old.as_str(), new.as_str()).replace(
        &format!("\"bytes\":{old_size},\"path\":\"tables/results"),
        &format!("\"bytes\":{},\"path\":\"tables/results", bytes.len()),
    );
    let mut previous = "0".repeat(64);
    let mut anew = String::new();
    let mut count = 0;
    for line in text.lines() {
        let (body, _) = line.rsplit_once(",\"digest\":").unwrap();
        let at = body.find("\"previous\":\"").unwrap() + "\"previous\":\"".len();
        let body = format!("{}{previous}{}", &body[..at], &body[at + 64..]);
        previous = Digest::of(format!("{body}}}").as_bytes()).to_string();
        anew.push_str(&format!("{body},\"digest\":\"{previous}\"}}\n"));
        count += 1;
    }
    std::fs::write(&ledger, anew).unwrap();
    std::fs::write(
        lab.archive.join("HEAD"),
        format!("1.0 {count} {previous}\n"),
    )
    .unwrap();

    let found = lab.json(&["verify"]);
    assert_eq!(
        found["chain"]["failures"].as_array().unwrap().len(),
        0,
        "{}",
        found["chain"]
    );
    assert_eq!(found["verified"], false);
    let failures = found["recomputed"]["failures"].as_array().unwrap();
    assert_eq!(failures.len(), 1);
    assert_eq!(failures[0]["result"], forged.as_str());
    let output = lab.run(&["verify"]);
    expect(&output, &[3]);
    assert!(self::text(&output).contains(&forged));
}

#[test]
fn a_head_printed_in_a_report_finds_a_ledger_that_was_cut() {
    let lab = Lab::processed();
    let manifest: Value =
        serde_json::from_slice(&std::fs::read(lab.root.join("out/manifest.json")).unwrap())
            .unwrap();
    let head = manifest["archive"]["ledger_head"]
        .as_str()
        .unwrap()
        .to_owned();
    expect(&lab.run(&["verify", "--head", &head]), &[0]);
    // Cut the last line and take HEAD along: as a chain this holds.
    let path = lab.archive.join("ledger.jsonl");
    let ledger = std::fs::read_to_string(&path).unwrap();
    let lines: Vec<&str> = ledger.lines().collect();
    let kept = &lines[..lines.len() - 1];
    std::fs::write(&path, kept.join("\n") + "\n").unwrap();
    let last = kept.last().unwrap();
    let digest = last.rsplit("\"digest\":\"").next().unwrap();
    let digest = digest.split('"').next().unwrap();
    std::fs::write(
        lab.archive.join("HEAD"),
        format!("1.0 {} {digest}\n", kept.len()),
    )
    .unwrap();
    expect(&lab.run(&["verify"]), &[0]);
    expect(&lab.run(&["verify", "--head", &head]), &[3]);
}

#[test]
fn a_correction_supersedes_and_hides_nothing() {
    let lab = Lab::processed();
    let old = lab.result("out", "SM-101", "mixing.water_absorption");
    let unreasoned = lab.run(&[
        "amend",
        "--run",
        "SM-101",
        "--set",
        "flour_moisture_pct=13.4",
        "--reason",
        " ",
        "--operator",
        "B. Chief",
    ]);
    expect(&unreasoned, &[2]);
    for wrong in [
        "flour_moisture_pct=13,4",
        "moisture=13.4",
        "run_id=X",
        "purpose=maybe",
    ] {
        expect(&lab.amend(&["--run", "SM-101", "--set", wrong]), &[2]);
    }
    let output = lab.amend(&["--run", "SM-101", "--set", "flour_moisture_pct=13.4"]);
    expect(&output, &[0]);
    assert!(text(&output).contains("12.8 → 13.4"), "{}", text(&output));
    // The same again changes nothing.
    expect(
        &lab.amend(&["--run", "SM-101", "--set", "flour_moisture_pct=13.4"]),
        &[2],
    );

    let before = lab.json(&["trace", &old]);
    let new = before["runs"][0]["results"][0]["superseded_by"]
        .as_str()
        .unwrap();
    assert_ne!(new, old);
    let after = lab.json(&["trace", new]);
    let run = &after["runs"][0];
    let value = |trace: &Value| trace["runs"][0]["results"][0]["value"].as_f64().unwrap();
    // More water in the flour, more flour weighed in, less absorbed: HANDBOOK §15 V-GUM gives
    // +1.82 ml/100 g for one per cent of moisture at the weighed mass.
    let moved = value(&after) - value(&before);
    assert!((moved - 0.6 * 1.82).abs() < 0.05, "{moved}");
    let stated: Vec<&Value> = run["stated"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|s| s["field"] == "flour_moisture_pct")
        .collect();
    assert_eq!(stated[0]["value"], "13.4");
    assert!(stated[0]["origin"].as_str().unwrap().contains("B. Chief"));
    assert_eq!(stated[1]["value"], "12.8");
    assert!(
        run["amendments"][0]
            .as_str()
            .unwrap()
            .contains("oven repeat")
    );
    // Both records verify, each with what was in force for it.
    expect(&lab.run(&["verify"]), &[0]);
    // Processing the day again uses the correction, in a report that says what it replaces.
    expect(&lab.process("again"), &[0, 1]);
    assert_eq!(
        lab.result("again", "SM-101", "mixing.water_absorption"),
        new
    );
    let page = std::fs::read_to_string(lab.root.join("again/report.html")).unwrap();
    assert!(page.contains("version 2") && page.contains("oven repeat"));
}

#[test]
fn an_excluded_run_stays_visible_with_its_reason_and_count() {
    let lab = Lab::processed();
    expect(&lab.amend(&["--run", "SM-102", "--exclude"]), &[0]);
    let out = lab.root.join("all");
    let output = lab.run(&[
        "process",
        "--rederive",
        "--out",
        out.to_str().unwrap(),
        "--no-charts",
    ]);
    expect(&output, &[0, 1]);
    assert!(
        text(&output).contains("3 of 4 runs used"),
        "{}",
        text(&output)
    );
    let findings = std::fs::read_to_string(out.join("tables/findings.csv")).unwrap();
    assert!(findings.contains("3 of 4 runs used"), "{findings}");
    assert!(findings.contains("oven repeat"), "{findings}");
    let results = std::fs::read_to_string(out.join("tables/results.csv")).unwrap();
    let of_run: Vec<&str> = results.lines().filter(|l| l.contains(",SM-102,")).collect();
    assert!(of_run.len() > 10);
    assert!(
        of_run.iter().all(|l| l.contains(",rejected,")),
        "{of_run:#?}"
    );
    expect(&lab.run(&["verify"]), &[0]);
    expect(&lab.amend(&["--run", "SM-102", "--exclude"]), &[2]);
    expect(&lab.amend(&["--run", "SM-102", "--include"]), &[0]);
    expect(&lab.process("again"), &[0, 1]);
    let results = std::fs::read_to_string(lab.root.join("again/tables/results.csv")).unwrap();
    assert!(!results.contains(",rejected,"));
    expect(&lab.run(&["verify"]), &[0]);
}

#[test]
fn the_same_day_twice_makes_no_new_record_and_a_changed_file_a_new_version() {
    let lab = Lab::processed();
    let lines = lab.ledger_lines();
    let kept = files_below(&lab.archive);
    let output = lab.process("out");
    expect(&output, &[0, 1]);
    assert!(
        text(&output).contains("5 files were already in the archive"),
        "{}",
        text(&output)
    );
    assert_eq!(lab.ledger_lines(), lines);
    assert_eq!(files_below(&lab.archive), kept);

    let file = lab.day.join("SM-101.csv");
    let bytes = std::fs::read_to_string(&file).unwrap();
    std::fs::write(
        &file,
        bytes.replacen("water ml: 193.5", "water ml: 193.6", 1),
    )
    .unwrap();
    let output = lab.process("out");
    expect(&output, &[0, 1]);
    let findings = std::fs::read_to_string(lab.root.join("out/tables/findings.csv")).unwrap();
    assert!(findings.contains("day.changed-file"), "{findings}");
    let trace = lab.json(&["trace", "SM-101.csv"]);
    assert_eq!(
        trace["files"].as_array().unwrap().len(),
        2,
        "both versions are kept"
    );
    expect(&lab.run(&["verify"]), &[0]);
}

#[test]
fn an_unreadable_file_is_kept_as_received() {
    let lab = Lab::new();
    std::fs::write(lab.day.join("broken.csv"), "no,known\nlayout,1\n").unwrap();
    expect(&lab.process("out"), &[1]);
    let trace = lab.json(&["trace", "broken.csv"]);
    assert_eq!(trace["files"][0]["bytes"], 18);
    assert_eq!(trace["runs"].as_array().unwrap().len(), 0);
}

#[test]
fn two_at_once_leave_one_sound_archive() {
    let lab = Lab::new();
    let start = |out: &str| {
        program()
            .arg("process")
            .arg(&lab.day)
            .args(["--no-charts", "--archive"])
            .arg(&lab.archive)
            .arg("--out")
            .arg(lab.root.join(out))
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap()
    };
    let both = [start("a"), start("b")].map(|child| child.wait_with_output().unwrap());
    let done = both.iter().filter(|o| o.status.code() != Some(2)).count();
    assert!(done >= 1, "{}\n{}", text(&both[0]), text(&both[1]));
    for refused in both.iter().filter(|o| o.status.code() == Some(2)) {
        assert!(
            text(refused).contains("is being written by"),
            "{}",
            text(refused)
        );
    }
    expect(&lab.run(&["verify"]), &[0]);
}

#[test]
fn an_archive_inside_the_output_outlives_it_and_a_stop_in_between() {
    let lab = Lab::new();
    let out = lab.root.join("out");
    let run = || {
        program()
            .arg("process")
            .arg(&lab.day)
            .args(["--no-charts", "--out"])
            .arg(&out)
            .output()
            .unwrap()
    };
    expect(&run(), &[0, 1]);
    let ledger = || std::fs::read(out.join("archive/ledger.jsonl")).unwrap();
    let first = ledger();
    expect(&run(), &[0, 1]);
    assert_eq!(ledger(), first);
    // As if a process had been stopped after the archive had moved into the folder being prepared.
    let stranded = lab.root.join(".out.part-4000000000");
    std::fs::create_dir(&stranded).unwrap();
    std::fs::rename(out.join("archive"), stranded.join("archive")).unwrap();
    let verify = program()
        .args(["verify", "--archive"])
        .arg(&out)
        .output()
        .unwrap();
    expect(&verify, &[2]);
    assert!(
        text(&verify).contains(".out.part-4000000000"),
        "{}",
        text(&verify)
    );
    expect(&run(), &[0, 1]);
    assert_eq!(ledger(), first);
    assert!(!stranded.exists());
    let verify = program()
        .args(["verify", "--archive"])
        .arg(&out)
        .output()
        .unwrap();
    expect(&verify, &[0]);
}

/// Whatever an archive holds already, the output is the same but for the ledger's head.
#[test]
fn two_archives_with_other_histories_give_the_same_output_but_for_the_head() {
    let lab = Lab::processed();
    let other = Lab::new();
    let early = lab.root.join("elsewhere");
    let tuesday = lab.root.join("tuesday");
    std::fs::create_dir(&tuesday).unwrap();
    std::fs::copy(lab.day.join("SM-105.txt"), tuesday.join("SM-105.txt")).unwrap();
    let first = program()
        .arg("process")
        .arg(&tuesday)
        .args(["--no-charts", "--archive"])
        .arg(&other.archive)
        .arg("--out")
        .arg(&early)
        .output()
        .unwrap();
    expect(&first, &[0, 1]);
    let out = other.root.join("out");
    let second = program()
        .arg("process")
        .arg(&lab.day)
        .args(["--no-charts", "--archive"])
        .arg(&other.archive)
        .arg("--out")
        .arg(&out)
        .output()
        .unwrap();
    expect(&second, &[0, 1]);
    let heads = [&lab.root.join("out"), &out].map(|out| {
        let manifest = std::fs::read(out.join("manifest.json")).unwrap();
        let manifest: Value = serde_json::from_slice(&manifest).unwrap();
        let head = manifest["archive"]["ledger_head"].as_str().unwrap();
        head.to_owned()
    });
    assert_ne!(heads[0], heads[1]);
    let mut compared = 0;
    for path in files_below(&out) {
        let name = path.strip_prefix(&out).unwrap();
        let twin = lab.root.join("out").join(name);
        let masked = |path: &Path| {
            let bytes = std::fs::read(path).unwrap();
            let text = String::from_utf8_lossy(&bytes).into_owned();
            let lines = text.lines();
            let kept =
                lines.filter(|l| !l.contains("ledger_head") && !l.contains("Archive at line"));
            // The head stands on the line after its caption in the page.
            kept.filter(|l| !is_head_line(l))
                .collect::<Vec<_>>()
                .join("\n")
        };
        assert!(masked(&path) == masked(&twin), "{}", name.display());
        compared += 1;
    }
    assert!(compared > 10);
}

/// A line that says nothing but a ledger head.
fn is_head_line(line: &str) -> bool {
    let bare = line.trim().trim_start_matches("<span class=\"file\">");
    bare.split_once(':').is_some_and(|(seq, digest)| {
        seq.parse::<u64>().is_ok() && digest.len() >= 64 && digest.as_bytes()[..64].is_ascii()
    })
}

#[test]
fn an_output_never_takes_an_archive_with_it() {
    let lab = Lab::processed();
    let day = lab.day.to_str().unwrap();
    let process = |out: &Path, archive: &Path| {
        program()
            .args(["process", day, "--no-charts", "--out"])
            .arg(out)
            .arg("--archive")
            .arg(archive)
            .output()
            .unwrap()
    };
    let ledger = std::fs::read(lab.archive.join("ledger.jsonl")).unwrap();
    // The archive as output, the output in the archive, the archive somewhere in the output.
    expect(&process(&lab.archive, &lab.root.join("new")), &[2]);
    expect(&process(&lab.archive.join("reports"), &lab.archive), &[2]);
    let out = lab.root.join("out");
    expect(&process(&out, &out.join("deep/lab")), &[2]);
    expect(&process(&out, &lab.root.join("x/../out/lab")), &[2]);
    // One that a person has put there.
    let put = out.join("tables/lab");
    std::fs::rename(&lab.archive, &put).unwrap();
    expect(&process(&out, &lab.root.join("new")), &[2]);
    assert_eq!(std::fs::read(put.join("ledger.jsonl")).unwrap(), ledger);
}

#[test]
fn reviews_stand_in_the_next_report() {
    let lab = Lab::processed();
    let output = lab.run(&[
        "review",
        "monday",
        "--as",
        "checked",
        "--operator",
        "C. Second",
        "--note",
        "curves seen",
    ]);
    expect(&output, &[0]);
    expect(
        &lab.run(&[
            "review",
            "SM-101",
            "--as",
            "approved",
            "--operator",
            "C. Second",
        ]),
        &[0],
    );
    expect(
        &lab.run(&[
            "review",
            "nobody",
            "--as",
            "checked",
            "--operator",
            "C. Second",
        ]),
        &[2],
    );
    expect(&lab.process("out"), &[0, 1]);
    let page = std::fs::read_to_string(lab.root.join("out/report.html")).unwrap();
    assert!(page.contains("checked by C. Second") && page.contains("curves seen"));
    let trace = lab.json(&["trace", "SM-101"]);
    assert_eq!(trace["runs"][0]["reviews"][0]["step"], "approved");
}

#[test]
fn an_expired_calibration_is_found_and_traces_from_its_certificate() {
    let lab = Lab::processed();
    let certificate = lab.root.join("mixer-2.pdf");
    std::fs::write(&certificate, "%PDF invented certificate").unwrap();
    let calibrate = |instrument: &str, on: &str, due: &str| {
        lab.run(&[
            "calibrate",
            instrument,
            "--what",
            "torque",
            "--on",
            on,
            "--due",
            due,
            "--certificate",
            certificate.to_str().unwrap(),
            "--operator",
            "B. Chief",
        ])
    };
    expect(&calibrate("mixer-2", "12.03.2026", "2026-03-01"), &[2]);
    expect(&calibrate("mixer-2", "2025-03-01", "2026-03-01"), &[0]);
    // The sample runs are of 2026-03-12.
    expect(&lab.process("out"), &[0, 1]);
    let findings = std::fs::read_to_string(lab.root.join("out/tables/findings.csv")).unwrap();
    let count = |text: &str| {
        text.lines()
            .filter(|l| l.contains("day.calibration"))
            .count()
    };
    let expired = count(&findings);
    assert!(
        expired >= 1 && findings.contains("due on 2026-03-01"),
        "{findings}"
    );
    let trace = lab.json(&["trace", "mixer-2.pdf"]);
    assert_eq!(trace["kind"], "certificate");
    assert_eq!(trace["runs"].as_array().unwrap().len(), expired);
    std::fs::write(&certificate, "%PDF invented certificate, new").unwrap();
    expect(&calibrate("mixer-2", "2026-03-02", "2027-03-01"), &[0]);
    expect(&lab.process("out"), &[0, 1]);
    let findings = std::fs::read_to_string(lab.root.join("out/tables/findings.csv")).unwrap();
    assert_eq!(count(&findings), 0);
    expect(&lab.run(&["verify"]), &[0]);
}

#[test]
fn a_seal_is_checked_against_the_key_that_the_reader_trusts() {
    let lab = Lab::processed();
    let key = lab.root.join("key.pem");
    let public = lab.root.join("public.pem");
    let openssl = |arguments: &[&str]| Command::new("openssl").args(arguments).output();
    let (key, public) = (key.to_str().unwrap(), public.to_str().unwrap());
    let Ok(made) = openssl(&["genpkey", "-algorithm", "ed25519", "-out", key]) else {
        panic!("this test needs openssl, a program that is not ours, to make a key");
    };
    assert!(made.status.success());
    openssl(&["pkey", "-in", key, "-pubout", "-out", public]).unwrap();
    expect(
        &lab.run(&["seal", "--key", public, "--operator", "C. Second"]),
        &[2],
    );
    expect(
        &lab.run(&["seal", "--key", key, "--operator", "C. Second"]),
        &[0],
    );
    let output = lab.run(&["verify", "--trust", public]);
    expect(&output, &[0]);
    assert!(
        text(&output).contains("by a key that you trust"),
        "{}",
        text(&output)
    );
    let other = lab.root.join("other.pem");
    let other = other.to_str().unwrap();
    openssl(&["genpkey", "-algorithm", "ed25519", "-out", key]).unwrap();
    openssl(&["pkey", "-in", key, "-pubout", "-out", other]).unwrap();
    let output = lab.run(&["verify", "--trust", other]);
    assert!(text(&output).contains("ANOTHER key"), "{}", text(&output));
}

#[test]
fn an_export_is_checked_by_sha256sum_alone() {
    let lab = Lab::processed();
    expect(
        &lab.amend(&["--run", "SM-101", "--set", "flour_moisture_pct=13.4"]),
        &[0],
    );
    for form in ["ro-crate", "csv", "parquet"] {
        let out = lab.root.join(form);
        let call = ["export", "--as", form, "--out", out.to_str().unwrap()];
        expect(&lab.run(&call), &[0]);
        let check = || {
            Command::new("sha256sum")
                .args(["-c", "--strict", "SHA256SUMS"])
                .current_dir(&out)
                .output()
                .unwrap()
        };
        expect(&check(), &[0]);
        let listed = std::fs::read_to_string(out.join("SHA256SUMS")).unwrap();
        let files = files_below(&out).len();
        assert_eq!(
            listed.lines().count(),
            files - 1,
            "every file but the list itself"
        );
        let first = listed.lines().next().unwrap().split("  ").nth(1).unwrap();
        flip(&out.join(first), 5);
        expect(&check(), &[1]);
        // What stands there is never written over.
        expect(&lab.run(&call), &[2]);
    }
    let results = std::fs::read_to_string(lab.root.join("csv/tables/results.csv")).unwrap();
    let old = std::fs::read_to_string(lab.root.join("csv/tables/superseded-results.csv")).unwrap();
    let of_run = |text: &str| text.lines().filter(|l| l.contains(",SM-101,")).count();
    assert_eq!(of_run(&results), of_run(&old));
    assert!(!old.contains(",SM-102,"));
    let originals = lab.root.join("ro-crate/originals/monday/SM-105.txt");
    assert_eq!(
        std::fs::read(originals).unwrap(),
        std::fs::read(lab.day.join("SM-105.txt")).unwrap()
    );
    check_crate(&lab.root.join("ro-crate"));
}

/// What RO-Crate 1.1 asks of every crate: a descriptor about the root, a root with name,
/// description, date and licence, and one entity for each file, none for a file that is not there.
fn check_crate(folder: &Path) {
    let bytes = std::fs::read(folder.join("ro-crate-metadata.json")).unwrap();
    let whole: Value = serde_json::from_slice(&bytes).unwrap();
    let graph = whole["@graph"].as_array().unwrap();
    let entity = |id: &str| graph.iter().find(|e| e["@id"] == id).unwrap();
    let descriptor = entity("ro-crate-metadata.json");
    assert_eq!(descriptor["about"]["@id"], "./");
    assert_eq!(
        descriptor["conformsTo"]["@id"],
        "https://w3id.org/ro/crate/1.1"
    );
    let root = entity("./");
    for field in ["name", "description", "datePublished", "license", "hasPart"] {
        assert!(!root[field].is_null(), "{field}");
    }
    for part in root["hasPart"].as_array().unwrap() {
        let id = part["@id"].as_str().unwrap();
        assert_eq!(entity(id)["@type"], "File");
        assert!(folder.join(id.replace("%20", " ")).is_file(), "{id}");
    }
    let actions = graph.iter().filter(|e| e["@type"] == "CreateAction");
    for action in actions {
        for field in ["agent", "instrument"] {
            let id = action[field]["@id"].as_str().unwrap();
            assert!(entity(id)["name"].is_string());
        }
        for result in action["result"].as_array().unwrap() {
            entity(result["@id"].as_str().unwrap());
        }
    }
}
