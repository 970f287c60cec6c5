//! The program as a person at the shell meets it, and the tables it writes.

#![allow(
    dead_code,
    clippy::unwrap_used,
    reason = "each test binary uses its own part; tests may stop"
)]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The folder of this project.
pub fn project() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// The program, about to run in this project's folder at a fixed time.
pub fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_doughtrace"));
    command
        .current_dir(project())
        .env("SOURCE_DATE_EPOCH", "1770000000");
    command
}

/// Runs the program and returns what came of it.
pub fn run(arguments: &[&str]) -> Output {
    program().args(arguments).output().unwrap()
}

/// What it printed as data.
pub fn stdout(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

/// What it printed as messages.
pub fn stderr(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

/// Stops the test unless the program ended with `code`.
#[track_caller]
pub fn expect_code(output: &Output, code: i32) {
    assert_eq!(
        output.status.code(),
        Some(code),
        "stdout:\n{}\nstderr:\n{}",
        stdout(output),
        stderr(output)
    );
}

/// One line of a CSV table, by column name.
pub type Row = BTreeMap<String, String>;

/// Returns the rows of the CSV table `name` of an output folder.
pub fn table(out: &Path, name: &str) -> Vec<Row> {
    let mut reader = csv::Reader::from_path(out.join("tables").join(name)).unwrap();
    let head = reader.headers().unwrap().clone();
    reader
        .records()
        .map(|row| {
            let row = row.unwrap();
            head.iter()
                .map(String::from)
                .zip(row.iter().map(String::from))
                .collect()
        })
        .collect()
}
