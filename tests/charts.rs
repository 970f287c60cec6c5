//! Chart files as the program writes them: size, resolution, SVG, and the way back from them.

#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "tests may stop")]

mod generate;
mod program;

use generate::heating::random_heating_run;
use generate::pin::random_pin_run;
use generate::story::{inflation_files, mixer_logs, strip_files};
use generate::{HeatingLayout, LogLayout, PinLayout, layout::write_jet};
use program::{expect_code, project, run, stderr, stdout};
use std::path::{Path, PathBuf};

/// Returns a folder with one short run of each test that has curves, from the layouts' fixtures.
fn day_of_fixtures(folder: &Path, names: &[&str]) -> PathBuf {
    let day = folder.join("bench-day");
    std::fs::create_dir_all(&day).unwrap();
    for name in names {
        let from = project().join("tests/layouts").join(name);
        std::fs::copy(from, day.join(name)).unwrap();
    }
    day
}

/// Returns width, height and dots a metre that a PNG file states (PNG specification, third edition,
/// 11.2.1 IHDR and 11.3.4.3 pHYs).
fn stated_size(png: &[u8]) -> (u32, u32, u32) {
    let number = |at: usize| u32::from_be_bytes(png[at..at + 4].try_into().unwrap());
    assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n");
    assert_eq!(&png[12..16], b"IHDR");
    let physical = png.windows(4).position(|word| word == b"pHYs").unwrap();
    assert_eq!(png[physical + 12], 1, "the unit is the metre");
    (number(16), number(20), number(physical + 4))
}

fn charts(out: &Path, kind: &str) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(out.join("charts")).unwrap();
    let mut paths: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
    paths.retain(|path| path.extension().is_some_and(|e| e == kind));
    paths.sort();
    paths
}

/// Stops unless the tags of `svg` are balanced, with one root.
fn expect_balanced(svg: &str) {
    let mut open: Vec<&str> = Vec::new();
    let mut roots = 0;
    for tag in svg
        .split('<')
        .skip(1)
        .map(|part| part.split('>').next().unwrap())
    {
        if tag.starts_with('?') {
            continue;
        }
        let name = tag
            .trim_start_matches('/')
            .split_whitespace()
            .next()
            .unwrap();
        if tag.starts_with('/') {
            assert_eq!(open.pop(), Some(name), "</{name}>");
            continue;
        }
        roots += usize::from(open.is_empty());
        if !tag.ends_with('/') {
            open.push(name);
        }
    }
    assert_eq!((roots, open.len()), (1, 0));
}

#[test]
fn charts_have_the_size_asked_for_and_an_svg_that_traces_back() {
    let folder = tempfile::tempdir().unwrap();
    let day = day_of_fixtures(folder.path(), &["mixing-block.csv"]);
    let out = folder.path().join("out");
    let (day, out) = (day.to_str().unwrap(), out.to_str().unwrap());
    let size = ["--width", "900", "--height", "600", "--dpi", "96", "--svg"];
    let output = run(&[&["process", day, "--out", out][..], &size].concat());
    assert!(output.status.code() < Some(2), "{}", stderr(&output));
    let (pngs, svgs) = (charts(Path::new(out), "png"), charts(Path::new(out), "svg"));
    assert!(!pngs.is_empty());
    assert_eq!(pngs.len(), svgs.len());
    for png in &pngs {
        let (width, height, per_metre) = stated_size(&std::fs::read(png).unwrap());
        assert_eq!(width, 900, "{}", png.display());
        // The overview is as tall as its rows of words; every other chart fills the page.
        let overview = png.ends_with("day-overview.png");
        assert!(height >= 600 || overview, "{}: {height}", png.display());
        // 96 / 0.0254 m = 3779.5.
        assert_eq!(per_metre, 3780);
        assert!(svgs.contains(&png.with_extension("svg")));
    }
    for svg in &svgs {
        expect_balanced(&std::fs::read_to_string(svg).unwrap());
    }
    let manifest = std::fs::read_to_string(Path::new(out).join("manifest.json")).unwrap();
    let manifest: serde_json::Value = serde_json::from_str(&manifest).unwrap();
    let expected = serde_json::json!({ "width": 900, "height": 600, "dpi": 96, "svg": true });
    assert_eq!(manifest["plan"]["chart_options"], expected);
    let of_run = svgs
        .iter()
        .find(|svg| svg.display().to_string().contains("run-"));
    let traced = run(&["trace", of_run.unwrap().to_str().unwrap(), "--archive", out]);
    expect_code(&traced, 0);
    assert!(
        stdout(&traced).contains("mixing-block.csv"),
        "{}",
        stdout(&traced)
    );
}

#[test]
fn usual_charts_leave_the_plan_as_it_was_and_impossible_ones_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let day = day_of_fixtures(folder.path(), &["mixing-block.csv"]);
    let out = folder.path().join("out");
    let (day, out) = (day.to_str().unwrap(), out.to_str().unwrap());
    let dry = ["process", day, "--out", out, "--dry-run"];
    let usual = run(&dry);
    expect_code(&usual, 0);
    assert!(!stdout(&usual).contains("chart_options"));
    let large = run(&[&dry[..], &["--width", "1000"]].concat());
    assert!(
        stdout(&large).contains("\"width\": 1000"),
        "{}",
        stdout(&large)
    );
    let narrow = run(&[&dry[..], &["--width", "10"]].concat());
    expect_code(&narrow, 2);
    assert!(
        stderr(&narrow).contains("480..=4000"),
        "{}",
        stderr(&narrow)
    );
    let dots = ["--width", "4000", "--height", "4000", "--dpi", "600"];
    let huge = run(&[&dry[..], &dots].concat());
    expect_code(&huge, 2);
    assert!(
        stderr(&huge).contains("100 million dots"),
        "{}",
        stderr(&huge)
    );
}

/// Writes a day with a file or a few of each method but mixing, extension and grading.
fn write_day_of_methods(day: &Path) {
    std::fs::create_dir_all(day).unwrap();
    let write = |name: &str, bytes: Vec<u8>| std::fs::write(day.join(name), bytes).unwrap();
    write("pin.csv", PinLayout::Preamble.write(&[random_pin_run(1)]));
    write(
        "heating.csv",
        HeatingLayout::UnitsRow.write(&random_heating_run(1)),
    );
    for file in strip_files().iter().chain(&inflation_files()) {
        write(file.name(), file.bytes.clone());
    }
    for log in mixer_logs() {
        write(&log.name, log.bytes());
    }
    let (jet, after) = generate::story::water_jet_logs();
    write("jet.txt", write_jet(&jet));
    write("jet-after.csv", LogLayout::Power.write(&after));
    for name in ["uptake-semicolon.csv", "firmness-curve.csv"] {
        let from = project().join("tests/layouts").join(name);
        write(name, std::fs::read(from).unwrap());
    }
    // The same crumb as the fixture's, firmer with age: 12 − 8 exp(−0.35 t), invented.
    let fixture =
        String::from_utf8(std::fs::read(day.join("firmness-curve.csv")).unwrap()).unwrap();
    for age in [0_u32, 2, 3, 5, 7] {
        let firmer =
            (12.0 - 8.0 * (-0.35 * f64::from(age)).exp()) / (12.0 - 8.0 * (-0.35_f64).exp());
        let lines = fixture.lines().map(|line| match line.split_once(',') {
            Some(("run", _)) => format!("run,F-{age}"),
            Some(("age d", _)) => format!("age d,{age}"),
            Some((x, force)) if x.parse::<f64>().is_ok() => {
                format!("{x},{:.3}", force.parse::<f64>().unwrap() * firmer)
            }
            _ => line.to_owned(),
        });
        let text: Vec<String> = lines.collect();
        write(&format!("firmness-{age}.csv"), text.join("\n").into_bytes());
    }
}

/// Every method whose curves are worth a look has its figures, and none of them is empty.
#[test]
fn each_method_has_its_figures() {
    let folder = tempfile::tempdir().unwrap();
    let day = folder.path().join("methods");
    write_day_of_methods(&day);
    let kept = std::env::var_os("DOUGHTRACE_KEEP_CHARTS").map(PathBuf::from);
    let out = kept.unwrap_or_else(|| folder.path().join("out"));
    let output = run(&[
        "process",
        day.to_str().unwrap(),
        "--out",
        out.to_str().unwrap(),
    ]);
    assert!(output.status.code() < Some(2), "{}", stderr(&output));
    let page = std::fs::read_to_string(out.join("report.html")).unwrap();
    for (name, told) in [
        ("run-pin-1", "centre peak time"),
        ("run-heating-1", "C5"),
        ("run-ST-601", "n_exp"),
        ("run-BU-701", "n_exp nominal"),
        ("run-ML-501", "specific energy"),
        ("run-U-01", "Peleg"),
        ("inflation-1", "deformation energy"),
        ("firmness", "half time"),
        ("energy", "jet"),
    ] {
        let png = std::fs::read(out.join(format!("charts/{name}.png"))).expect(name);
        let (width, height, _) = stated_size(&png);
        assert!(width > 1000 && height > 600, "{name}");
        assert!(page.contains(told), "{name}: {told}");
    }
    // A disc's figure says that its stress is nominal; a strip's does not.
    assert!(page.contains("nominal stress"));
}

/// More than two dozen runs of one treatment hide each other: they have small panels of their own.
#[test]
fn many_runs_of_a_treatment_have_panels_of_their_own() {
    let folder = tempfile::tempdir().unwrap();
    let day = folder.path().join("many");
    std::fs::create_dir_all(&day).unwrap();
    // Every tenth file of the benchmark states nothing.
    let stated = generate::bench_day(30, 1200).filter(|(_, bytes)| bytes.starts_with(b"mixing"));
    let mut runs = 0;
    for (name, bytes) in stated {
        let text = String::from_utf8(bytes).unwrap();
        let lines = text.lines().filter_map(|line| match line.split_once(": ") {
            Some(("purpose", _)) => None,
            Some(("treatment", _)) => Some("treatment: spiral"),
            Some(("sample", _)) => Some("sample: invented-flour"),
            _ => Some(line),
        });
        let lines: Vec<&str> = lines.collect();
        std::fs::write(day.join(name), lines.join("\n")).unwrap();
        runs += 1;
    }
    assert!(runs > 24, "{runs}");
    let kept = std::env::var_os("DOUGHTRACE_KEEP_CHARTS")
        .map(|kept| PathBuf::from(kept).join("../co-many"));
    let out = kept.unwrap_or_else(|| folder.path().join("out"));
    let output = run(&[
        "process",
        day.to_str().unwrap(),
        "--out",
        out.to_str().unwrap(),
    ]);
    assert!(output.status.code() < Some(2), "{}", stderr(&output));
    assert!(out.join("charts/runs-by-treatment-1.png").is_file());
    let page = std::fs::read_to_string(out.join("report.html")).unwrap();
    assert!(page.contains("Mixing runs of spiral, flour invented-flour"));
}
