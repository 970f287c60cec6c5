//! Every built-in layout: one profile fits, and it reads what stands in the file.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop at the first surprise"
)]

use doughtrace::intake::{self, Intake, Records};
use doughtrace::profile::{self, BUILTIN_TEXTS, Profile};
use doughtrace::record::{Fault, RawFile, Run};
use doughtrace::schema::{Channel, Digest, Field, Unit};
use std::path::PathBuf;

fn folder(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(name)
}

fn builtin() -> Vec<Profile> {
    profile::builtin().unwrap()
}

fn named(id: &str) -> Profile {
    builtin().into_iter().find(|p| p.id == id).unwrap()
}

/// Every sample: profile identifier, file name, bytes.
fn samples() -> Vec<(String, String, Vec<u8>)> {
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

fn sample(id: &str) -> (String, Vec<u8>) {
    let (_, name, bytes) = samples().into_iter().find(|s| s.0 == id).unwrap();
    (name, bytes)
}

fn raw(name: &str, bytes: &[u8]) -> RawFile {
    RawFile {
        name: name.to_owned(),
        sha256: Digest::of(bytes),
        bytes: bytes.len() as u64,
    }
}

fn read(profile: &Profile, name: &str, bytes: &[u8]) -> Result<Intake, Fault> {
    intake::read(raw(name, bytes), bytes, profile)
}

fn runs_of(id: &str) -> Vec<Run> {
    let (name, bytes) = sample(id);
    runs(read(&named(id), &name, &bytes).unwrap())
}

fn runs(intake: Intake) -> Vec<Run> {
    match intake.records {
        Records::Curves(runs) => runs,
        other => panic!("no curves but {other:?}"),
    }
}

const X: [f64; 7] = [0.0, 15.0, 30.0, 45.0, 60.0, 75.0, 90.0];
const Y: [f64; 7] = [12.5, 210.25, 388.0, 471.5, 498.75, 503.0, 1203.5];

#[test]
fn every_profile_text_is_listed_and_named_after_its_id() {
    let mut files: Vec<String> = std::fs::read_dir(folder("schemas/profiles"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .map(|path| path.file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    files.sort();
    let mut listed: Vec<String> = BUILTIN_TEXTS.iter().map(|(n, _)| n.to_string()).collect();
    listed.sort();
    assert_eq!(files, listed);
    for (profile, (name, text)) in builtin().iter().zip(BUILTIN_TEXTS) {
        assert_eq!(profile.id, *name);
        assert_eq!(profile.digest, Digest::of(text.as_bytes()));
    }
}

#[test]
fn every_profile_has_a_sample_that_it_alone_fits() {
    let profiles = builtin();
    let samples = samples();
    assert_eq!(samples.len(), profiles.len());
    for (id, name, bytes) in &samples {
        let fitting: Vec<&str> = profiles
            .iter()
            .filter(|p| intake::explain_fit(p, bytes).fits())
            .map(|p| p.id.as_str())
            .collect();
        assert_eq!(fitting, [id.as_str()], "{name}");
        assert_eq!(&intake::select(&profiles, name, bytes).unwrap().id, id);
    }
}

#[test]
fn a_block_states_facts_with_their_lines_and_keeps_unknown_keys_as_notes() {
    let (name, bytes) = sample("mixing-block");
    let intake = read(&named("mixing-block"), &name, &bytes).unwrap();
    let notes: Vec<String> = intake.notes.iter().map(Fault::to_string).collect();
    assert_eq!(
        notes,
        [
            "mixing-block.csv, line 22, column `weather`: found key `weather` with value `fog over \
          the harbour`; expected a key that profile `mixing-block` knows; nothing to do, unless \
          the fact matters: then write a profile that has the key"
        ]
    );
    let run = runs(intake).remove(0);
    assert_eq!(run.id.as_str(), "M-01");
    assert_eq!(run.selector, "");
    assert_eq!(run.curves[0].x(), X);
    assert_eq!(run.curves[0].y(), Y);
    assert_eq!((run.rows.first, run.rows.last), (25, 31));
    assert!(run.lines.is_empty());
    assert_eq!(run.missing_cells, 0);
    assert_eq!(run.metadata.number(Field::WaterMl), Some(183.4));
    let at = run.metadata.statement(Field::WaterMl).unwrap();
    assert_eq!(at.origin.to_string(), "line 13 of the file");
    let conditions = run.conditions();
    assert_eq!(conditions.markers_s, [12.5, 240.0]);
    assert_eq!(conditions.full_scale, Some(1000.0));
    assert_eq!(conditions.bowl.map(|b| b.word()), Some("300"));
    assert_eq!(conditions.purpose.map(|p| p.word()), Some("final"));
}

#[test]
fn side_by_side_curves_end_where_their_column_ends_and_count_what_is_missing() {
    let runs = runs_of("mixing-side-by-side");
    let ids: Vec<&str> = runs.iter().map(|r| r.id.as_str()).collect();
    assert_eq!(ids, ["M-01", "M-02", "M-03"]);
    assert_eq!(runs[0].curves[0].x(), X);
    assert_eq!(runs[0].curves[0].y(), Y);
    assert_eq!(runs[0].curves[0].unit(), Unit::Fu);
    assert_eq!(runs[1].curves[0].points(), 5);
    assert_eq!((runs[1].rows.first, runs[1].rows.last), (5, 9));
    assert_eq!((runs[1].missing_cells, runs[1].lines.len()), (0, 0));
    assert_eq!(runs[2].curves[0].x(), [0.0, 30.0, 45.0, 60.0, 75.0]);
    assert_eq!(runs[2].curves[0].y(), [11.0, 205.5, 391.0, 468.0, 488.0]);
    assert_eq!(runs[2].lines, [5, 7, 8, 9, 10]);
    assert_eq!(runs[2].missing_cells, 1);
    assert_eq!(runs[2].selector, "M-03");
    assert_eq!(runs[2].metadata.number(Field::BowlG), Some(300.0));
    let stated = runs[2].metadata.statement(Field::RunId).unwrap();
    assert_eq!(stated.origin.to_string(), "line 4 of the file");
}

#[test]
fn plain_columns_take_their_name_from_the_file() {
    let run = runs_of("plain-two-columns").remove(0);
    assert_eq!(run.id.as_str(), "plain-two-columns");
    assert_eq!(run.curves[0].x(), X);
    assert_eq!(run.curves[0].y(), Y);
    assert_eq!((run.rows.first, run.rows.last), (2, 8));
    assert_eq!(run.metadata.iter().count(), 0);
}

#[test]
fn curves_of_unknown_unit_are_named_after_file_and_column() {
    let runs = runs_of("wide-unit-unknown");
    let ids: Vec<&str> = runs.iter().map(|r| r.id.as_str()).collect();
    assert_eq!(
        ids,
        ["wide-unit-unknown:flour one", "wide-unit-unknown:flour two"]
    );
    assert_eq!(runs[1].selector, "flour two");
    let curve = runs[1].curve(Channel::Signal).unwrap();
    assert_eq!(curve.unit(), Unit::ArbitraryUnit);
    assert_eq!(curve.y(), [226.5, 276.0, 338.0, 394.0]);
    assert_ne!(runs[0].curve_digest(), runs[1].curve_digest());
}

#[test]
fn a_run_sheet_links_files_to_doughs() {
    let (name, bytes) = sample("run-sheet");
    let intake = read(&named("run-sheet"), &name, &bytes).unwrap();
    assert!(intake.notes.is_empty());
    let Records::Sheet(sheet) = intake.records else {
        panic!("no sheet")
    };
    assert_eq!(sheet.lines.len(), 2);
    let first = &sheet.lines[0];
    assert_eq!((first.line, first.file.as_str()), (2, "M-01.csv"));
    assert_eq!(
        first.metadata.text(Field::Note).as_deref(),
        Some("rest of the bag, \"last\" dough")
    );
    assert_eq!(first.metadata.number(Field::WaterMl), Some(183.4));
    let second = &sheet.lines[1];
    assert_eq!((second.line, second.curve.as_str()), (3, "M-02"));
    assert_eq!(
        second.metadata.text(Field::Purpose).as_deref(),
        Some("titration")
    );
    let origin = &second.metadata.statement(Field::WaterMl).unwrap().origin;
    assert_eq!(origin.to_string(), "run-sheet.csv, line 3");
}
