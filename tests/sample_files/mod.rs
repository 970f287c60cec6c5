//! The sample files of the built-in layouts, and short ways to read them.
#![allow(
    dead_code,
    clippy::unwrap_used,
    clippy::panic,
    reason = "shared by several tests, which may stop at the first surprise"
)]

use doughtrace::intake::{self, Intake, Records};
use doughtrace::profile::{self, Profile};
use doughtrace::record::{Fault, RawFile, Run};
use doughtrace::schema::Digest;
use std::path::PathBuf;

pub fn folder(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(name)
}

pub fn builtin() -> Vec<Profile> {
    profile::builtin().unwrap()
}

pub fn named(id: &str) -> Profile {
    builtin().into_iter().find(|p| p.id == id).unwrap()
}

/// Every sample: profile identifier, file name, bytes.
pub fn samples() -> Vec<(String, String, Vec<u8>)> {
    let mut found: Vec<_> = std::fs::read_dir(folder("tests/layouts"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e != "md"))
        .map(|path| {
            let stem = path.file_stem().unwrap().to_str().unwrap().to_owned();
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            (stem, name, std::fs::read(&path).unwrap())
        })
        .collect();
    found.sort();
    found
}

pub fn sample(id: &str) -> (String, Vec<u8>) {
    let (_, name, bytes) = samples().into_iter().find(|s| s.0 == id).unwrap();
    (name, bytes)
}

pub fn raw(name: &str, bytes: &[u8]) -> RawFile {
    RawFile {
        name: name.to_owned(),
        sha256: Digest::of(bytes),
        bytes: bytes.len() as u64,
    }
}

pub fn read(profile: &Profile, name: &str, bytes: &[u8]) -> Result<Intake, Fault> {
    intake::read(raw(name, bytes), bytes, profile)
}

pub fn runs_of(id: &str) -> Vec<Run> {
    let (name, bytes) = sample(id);
    runs(read(&named(id), &name, &bytes).unwrap())
}

pub fn runs(intake: Intake) -> Vec<Run> {
    match intake.records {
        Records::Curves(runs) => runs,
        other => panic!("no curves but {other:?}"),
    }
}
