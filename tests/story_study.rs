//! The mixing study among the sample runs: its files are what the generator makes, its numbers are
//! the generator's truth, and the claims of its study file come out as they truly are.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "tests may stop, and these print the figures they found"
)]

mod generate;

use generate::story::study::{StudyFile, mixing_study, reference_flour};
use std::path::PathBuf;

fn sample_runs() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("sample-runs")
}

fn all_files() -> Vec<StudyFile> {
    let mut files = mixing_study();
    files.extend(reference_flour());
    files
}

#[test]
fn committed_files_of_the_study_are_what_the_generator_makes() {
    let update = std::env::var_os("UPDATE").is_some_and(|v| v == "1");
    for file in all_files() {
        let path = sample_runs().join(&file.path);
        if update {
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(&path, &file.bytes).unwrap();
        }
        let committed = std::fs::read(&path).unwrap_or_default();
        assert!(
            committed == file.bytes,
            "{} differs from what the generator makes; run with UPDATE=1 and look at the change",
            file.path
        );
    }
}
