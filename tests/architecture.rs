//! The import rule between rooms, read from the source itself.
//!
//! Data flows one way, and each heavy crate has one home; DEVELOPERS.md says why.

#![allow(clippy::unwrap_used, reason = "tests may stop")]

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Room, rooms it may import, outside crates that only it (or a room that names them too) may use.
const ROOMS: &[(&str, &[&str], &[&str])] = &[
    ("schema", &[], &[]),
    ("record", &["schema"], &[]),
    ("profile", &["schema"], &["toml", "strsim"]),
    (
        "intake",
        &["schema", "record", "profile"],
        &["csv", "encoding_rs", "fast_float2", "memchr"],
    ),
    ("numerics", &[], &["statrs", "rand_chacha", "rand_core"]),
    (
        "derive",
        &["schema", "record", "numerics"],
        &["rand_chacha", "rand_core"],
    ),
    ("check", &["schema", "record"], &[]),
    ("trend", &["schema", "record", "numerics"], &[]),
    ("limits", &["schema", "record"], &["toml", "strsim"]),
    ("study", &["schema", "record"], &["toml", "strsim"]),
    (
        "compare",
        &["schema", "record", "study", "numerics"],
        &["rand_chacha", "rand_core"],
    ),
    ("table", &["schema", "record"], &["polars", "csv"]),
    (
        "chart",
        &["schema", "record"],
        &["plotters", "plotters_backend", "png", "ab_glyph"],
    ),
    (
        "report",
        &["schema", "record"],
        &["minijinja", "base64", "rust_xlsxwriter"],
    ),
    (
        "archive",
        &["schema", "record"],
        &["ed25519_dalek", "fs4", "memchr"],
    ),
    (
        "pipeline",
        &[
            "schema", "record", "profile", "intake", "numerics", "derive", "check", "limits",
            "trend", "study", "compare", "table", "chart", "report", "archive",
        ],
        &["rayon", "glob", "tempfile", "jiff"],
    ),
    (
        "cli",
        &[
            "schema", "record", "profile", "intake", "derive", "check", "study", "compare",
            "report", "archive", "pipeline",
        ],
        &[
            "clap",
            "clap_complete",
            "clap_mangen",
            "indicatif",
            "anyhow",
            "csv",
            "jiff",
        ],
    ),
];

/// Crates that have a home; a crate not listed here may be used anywhere.
fn homed_crates() -> BTreeSet<&'static str> {
    ROOMS
        .iter()
        .flat_map(|(_, _, crates)| crates.iter().copied())
        .collect()
}

fn source_files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            source_files(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

/// Returns the code of a file before its unit tests, without comments.
fn code(path: &Path) -> String {
    let text = std::fs::read_to_string(path).unwrap();
    let before_tests = text
        .split("#[cfg(test)]")
        .next()
        .unwrap_or_default()
        .to_owned();
    let kept: Vec<&str> = before_tests
        .lines()
        .filter(|line| !line.trim_start().starts_with("//"))
        .collect();
    kept.join("\n")
}

/// Returns the words that follow each `start` in `text`, up to the next character of no identifier.
fn words_after<'t>(text: &'t str, start: &str) -> Vec<&'t str> {
    text.match_indices(start)
        .map(|(at, _)| {
            let rest = &text[at + start.len()..];
            let end = rest
                .find(|c: char| !c.is_alphanumeric() && c != '_')
                .unwrap_or(rest.len());
            &rest[..end]
        })
        .collect()
}

/// Returns what `text`, a file of `room`, imports against the table.
fn violations(room: &str, text: &str) -> Vec<String> {
    let Some((_, rooms, crates)) = ROOMS.iter().find(|(name, _, _)| *name == room) else {
        return vec![format!("room `{room}` is not in the table")];
    };
    let mut found = Vec::new();
    let known: BTreeSet<&str> = ROOMS.iter().map(|(name, _, _)| *name).collect();
    for target in words_after(text, "crate::") {
        if known.contains(target) && target != room && !rooms.contains(&target) {
            found.push(format!("imports room `{target}`"));
        }
    }
    // `use crate::{a, b}` would slip through the search above.
    if text.contains("use crate::{") {
        found.push("imports with `use crate::{…}`: write one line for each room".to_owned());
    }
    for name in homed_crates() {
        let used = text.match_indices(&format!("{name}::")).any(|(at, _)| {
            // `crate::table::csv::…` or `my_csv::` is not the crate `csv`.
            !text[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_' || c == ':')
        });
        if used && !crates.contains(&name) {
            found.push(format!("uses crate `{name}`"));
        }
    }
    found
}

#[test]
fn every_room_imports_only_what_its_line_allows() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut problems = Vec::new();
    let mut files = Vec::new();
    source_files(&root, &mut files);
    assert!(files.len() > 50, "{} source files found", files.len());
    for path in files {
        let below = path.strip_prefix(&root).unwrap();
        let room = below.iter().next().unwrap().to_string_lossy().into_owned();
        if ["lib.rs", "main.rs", "cluster"].contains(&room.as_str()) {
            continue;
        }
        for problem in violations(&room, &code(&path)) {
            problems.push(format!("{}: {problem}", below.display()));
        }
    }
    assert!(problems.is_empty(), "{}", problems.join("\n"));
}

#[test]
fn the_check_itself_can_fail() {
    assert_eq!(
        violations("check", "use crate::derive::METHODS;"),
        ["imports room `derive`"]
    );
    assert_eq!(
        violations("derive", "let x = polars::prelude::df();"),
        ["uses crate `polars`"]
    );
    assert_eq!(violations("record", "use crate::{table};").len(), 1);
    assert!(violations("derive", "use crate::numerics::median;").is_empty());
    assert_eq!(
        violations("attic", ""),
        ["room `attic` is not in the table"]
    );
}

#[test]
fn files_stay_small_enough_to_read() {
    let mut files = Vec::new();
    source_files(
        &Path::new(env!("CARGO_MANIFEST_DIR")).join("src"),
        &mut files,
    );
    let long: Vec<String> = files
        .iter()
        .map(|path| (path, std::fs::read_to_string(path).unwrap().lines().count()))
        .filter(|(path, lines)| *lines > 500 && !path.ends_with("tests.rs"))
        .map(|(path, lines)| format!("{} has {lines} lines", path.display()))
        .collect();
    assert!(long.is_empty(), "{}", long.join("\n"));
}
