//! Delivery limits: which lots they accept, reject or leave open, and how a wrong file is told.

#![allow(clippy::unwrap_used, reason = "tests may stop")]

use doughtrace::derive::METHODS;
use doughtrace::limits::read_limits;
use doughtrace::schema::MetricCard;

fn metrics() -> Vec<MetricCard> {
    METHODS.iter().flat_map(|m| (m.card)().metrics).collect()
}

const SOUND: &str = "\
[[limit]]
grade = \"tin loaf blend\"
metric = \"mixing.water_absorption\"
lower = 58.0
upper = 66.0
set_by = \"M. Miller\"
on = \"2026-02-01\"
";

/// What is replaced in the sound file, by what, and what the message must say.
const BROKEN: &[(&str, &str, &[&str])] = &[
    (
        "water_absorption",
        "water_absorbtion",
        &["line 1", "nearest is `mixing.water_absorption`"],
    ),
    (
        "lower = 58.0",
        "lower = 68.0",
        &["lower Some(68.0)", "with the lower one below"],
    ),
    (
        "lower = 58.0\nupper = 66.0\n",
        "",
        &["a lower limit, an upper limit, or both"],
    ),
    ("upper = 66.0", "upper = nan", &["lower, upper"]),
    (
        "set_by = \"M. Miller\"",
        "set_by = \" \"",
        &["set_by", "person or contract"],
    ),
    ("set_by", "signed", &["unknown field `signed`"]),
    (
        "grade = \"tin loaf blend\"\n",
        "",
        &["missing field `grade`"],
    ),
    ("upper = 66.0", "variant = \"dry\"", &["variant", "`dry`"]),
    ("on =", "on", &["line 7"]),
];

#[test]
fn a_wrong_file_is_told_by_line_and_key() {
    let metrics = metrics();
    assert_eq!(
        read_limits("l.toml", SOUND, &metrics).unwrap().list.len(),
        1
    );
    for (from, to, words) in BROKEN {
        assert!(SOUND.contains(from), "{from}");
        let text = SOUND.replace(from, to);
        let fault = read_limits("l.toml", &text, &metrics)
            .unwrap_err()
            .to_string();
        for word in *words {
            assert!(fault.contains(word), "{to}: {fault}");
        }
    }
    let twice = format!("{SOUND}\n{SOUND}");
    let fault = read_limits("l.toml", &twice, &metrics).unwrap_err();
    assert_eq!(fault.line, Some(9));
    assert!(fault.found.contains("a second time"));
}

#[cfg(feature = "cli")]
mod at_the_shell {
    use super::SOUND;
    use crate::program::{expect_code, run, stderr, table};
    use std::path::Path;

    /// The clean day with a grade stated for its flour.
    fn graded_day(folder: &Path) -> String {
        let day = folder.join("day");
        std::fs::create_dir(&day).unwrap();
        for entry in std::fs::read_dir("sample-runs/clean-day").unwrap() {
            let path = entry.unwrap().path();
            let text = std::fs::read(&path).unwrap();
            let name = path.file_name().unwrap();
            if name != "run-sheet.csv" {
                std::fs::write(day.join(name), text).unwrap();
                continue;
            }
            let text = String::from_utf8(text).unwrap();
            let mut lines = text.lines();
            let mut graded = format!("{},flour_grade\n", lines.next().unwrap());
            for line in lines {
                graded.push_str(&format!("{line},tin loaf blend\n"));
            }
            std::fs::write(day.join(name), graded).unwrap();
        }
        day.to_str().unwrap().to_owned()
    }

    #[test]
    fn page_one_says_accepted_rejected_or_between_and_the_ledger_keeps_the_limits() {
        let folder = tempfile::tempdir().unwrap();
        let day = graded_day(folder.path());
        let out = folder.path().join("out");
        let out = out.to_str().unwrap();
        let limits = folder.path().join("limits.toml");
        let verdict = |lower: f64, upper: f64| {
            let text = SOUND
                .replace("58.0", &format!("{lower:?}"))
                .replace("66.0", &format!("{upper:?}"));
            std::fs::write(&limits, text).unwrap();
            let limits = limits.to_str().unwrap();
            let call = [
                "process",
                &day,
                "--out",
                out,
                "--no-charts",
                "--limits",
                limits,
            ];
            expect_code(&run(&call), 0);
            let page = std::fs::read_to_string(format!("{out}/report.html")).unwrap();
            let section = page.split("id=\"deliveries\"").nth(1).unwrap();
            assert!(section.contains("Decision rule") && section.contains("M. Miller"));
            let words = section.split("class=\"tag ").nth(1).unwrap();
            words.split('"').next().unwrap().to_owned()
        };
        // The mean absorption and its expanded uncertainty, by hand from the results table.
        assert_eq!(verdict(1.0, 99.0), "accept");
        let rows = table(Path::new(out), "results.csv");
        let titrations: Vec<String> = table(Path::new(out), "runs.csv")
            .iter()
            .filter(|run| run["purpose"] == "titration")
            .map(|run| run["run_id"].clone())
            .collect();
        let of = |row: &&std::collections::BTreeMap<String, String>| {
            row["metric"] == "mixing.water_absorption"
                && row["status"] == "exact"
                && row["sample_id"] == "lowmarsh-40"
                && !titrations.contains(&row["run_id"])
        };
        let number = |row: &std::collections::BTreeMap<String, String>, column: &str| {
            row[column].parse::<f64>().unwrap()
        };
        let all: Vec<_> = rows.iter().filter(of).collect();
        let default: Vec<_> = all
            .iter()
            .filter(|r| r["variant"] == all[0]["variant"])
            .collect();
        let n = default.len() as f64;
        let mean = default.iter().map(|r| number(r, "value")).sum::<f64>() / n;
        let reading = default
            .iter()
            .map(|r| number(r, "std_uncertainty").powi(2))
            .sum::<f64>()
            / n;
        let scatter = default
            .iter()
            .map(|r| (number(r, "value") - mean).powi(2))
            .sum::<f64>();
        let u = 2.0 * reading.max(scatter / (n - 1.0) / n).sqrt();
        assert_eq!(verdict(mean - 1.01 * u, 99.0), "accept");
        assert_eq!(verdict(mean - 0.99 * u, 99.0), "between");
        assert_eq!(verdict(mean + 0.99 * u, 99.0), "between");
        assert_eq!(verdict(mean + 1.01 * u, 99.0), "reject");
        assert_eq!(verdict(1.0, mean - 1.01 * u), "reject");
        let ledger = std::fs::read_to_string(format!("{out}/archive/ledger.jsonl")).unwrap();
        assert!(ledger.contains("limits/limits.toml"));
        expect_code(&run(&["verify", "--archive", out]), 0);
    }

    #[test]
    fn a_wrong_limits_file_stops_the_command_before_anything_is_written() {
        let folder = tempfile::tempdir().unwrap();
        let limits = folder.path().join("limits.toml");
        std::fs::write(&limits, SOUND.replace("mixing.", "mixer.")).unwrap();
        let out = folder.path().join("out");
        let call = [
            "process",
            "sample-runs/clean-day",
            "--out",
            out.to_str().unwrap(),
            "--limits",
            limits.to_str().unwrap(),
        ];
        let output = run(&call);
        expect_code(&output, 2);
        assert!(
            stderr(&output).contains("limits.toml"),
            "{}",
            stderr(&output)
        );
        assert!(!out.exists());
    }
}

#[cfg(feature = "cli")]
mod program;
