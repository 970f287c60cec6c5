//! How fast an archive is written, opened, traced and verified, on 10,000 runs:
//! `cargo bench --no-default-features --bench archive [-- FOLDER [RUNS_AN_EVENT…]]`.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a bench prints what it measured and stops at the first surprise"
)]

use doughtrace::archive::{
    Action, Archive, Event, Item, NewFile, Owner, VerifyOptions, Writer, verify_chain,
};
use doughtrace::schema::Digest;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::time::Instant;

const RUNS: usize = 10_000;
const RESULTS_PER_RUN: usize = 20;

fn owner() -> Owner {
    Owner {
        who: "bench".to_owned(),
        pid: std::process::id(),
        host: "bench".to_owned(),
        since: "2031-05-14T08:00:00Z".to_owned(),
    }
}

/// A file of 2,400 rows, about 40 kB, as a mixing record is.
fn content(run: usize) -> Vec<u8> {
    let mut text = format!("run,{run}\ntime_s,consistency_fu\n");
    for row in 0..2_400_usize {
        let level = 500.0 - ((row + run) as f64 * 0.7).sin() * 23.0;
        writeln!(text, "{:.1},{level:.3}", row as f64 * 0.5).unwrap();
    }
    text.into_bytes()
}

fn result_id(run: usize, n: usize) -> String {
    Digest::of(format!("{run} {n}").as_bytes())
        .short()
        .to_owned()
}

fn run_item(run: usize, digest: &Digest) -> Item {
    Item::with_id("run", &format!("run-{run}"))
        .holding((0..RESULTS_PER_RUN).map(|n| result_id(run, n)))
        .made_from([digest.to_string(), "mixer-3".to_owned()])
}

/// Commits the runs, so many in one event, and prints the time.
fn fill(archive: &Archive, batch: usize) {
    let runs: Vec<usize> = (0..RUNS).collect();
    let contents: Vec<Vec<u8>> = runs.iter().map(|run| content(*run)).collect();
    let bytes: usize = contents.iter().map(Vec::len).sum();
    let begin = Instant::now();
    let mut writer = archive.open_or_create(&owner()).unwrap();
    for runs in runs.chunks(batch) {
        commit(&mut writer, runs, &contents);
    }
    let spent = begin.elapsed();
    println!(
        "write {RUNS} runs, {:.0} MB, {batch} an event: {:.2} s, {:.2} ms a run",
        bytes as f64 / 1e6,
        spent.as_secs_f64(),
        spent.as_secs_f64() * 1e3 / RUNS as f64
    );
}

fn commit(writer: &mut Writer, runs: &[usize], contents: &[Vec<u8>]) {
    let mut event = Event::new(
        "2031-05-14T08:00:00Z",
        "bench",
        "doughtrace",
        Action::Derive,
    );
    let mut files = Vec::new();
    for run in runs {
        let bytes = &contents[*run];
        event.outputs.push(run_item(*run, &Digest::of(bytes)));
        files.push(NewFile::raw(&format!("day/{run}.csv"), bytes.clone()));
    }
    writer.commit(event, files).unwrap();
}

/// Times `act`, best of five.
fn best<T>(mut act: impl FnMut() -> T) -> (f64, T) {
    let mut timed = || {
        let begin = Instant::now();
        let value = act();
        (begin.elapsed().as_secs_f64() * 1e3, value)
    };
    let fastest = (0..4).map(|_| timed().0).fold(f64::INFINITY, f64::min);
    let (last, value) = timed();
    (fastest.min(last), value)
}

fn read(archive: &Archive, folder: &Path) {
    let ledger = std::fs::metadata(folder.join("ledger.jsonl"))
        .unwrap()
        .len();
    println!("ledger: {:.1} MB", ledger as f64 / 1e6);
    let (ms, _) = best(|| archive.read().unwrap());
    println!("open for reading: {ms:.1} ms");
    let result = result_id(RUNS / 2, 7);
    let (ms, trace) = best(|| archive.read().unwrap().trace(&result).unwrap());
    assert_eq!(trace.made_from.len(), 2);
    println!("open and trace one result to its raw file: {ms:.1} ms");
    let raw = Digest::of(&content(RUNS / 3));
    let (ms, trace) = best(|| archive.read().unwrap().trace(raw.as_str()).unwrap());
    assert_eq!(trace.made_into.len(), 1);
    println!("open and trace one raw file to all made of it: {ms:.1} ms");
    let (ms, _) = best(|| archive.read().unwrap().find(&result).unwrap());
    println!("open and find one id: {ms:.1} ms");
    let (ms, _) = best(|| archive.open_or_create(&owner()).unwrap());
    println!("open for writing: {ms:.1} ms");
    for threads in [1, 2] {
        let options = VerifyOptions {
            threads,
            ..VerifyOptions::default()
        };
        let (ms, report) = best(|| verify_chain(archive, &options).unwrap());
        assert!(report.verified());
        println!(
            "verify {} files, {:.0} MB, {threads} threads: {:.0} ms",
            report.files,
            report.bytes as f64 / 1e6,
            ms
        );
    }
}

fn main() {
    let given: Vec<String> = std::env::args().skip(1).collect();
    let mut words = given.iter().filter(|a| !a.starts_with("--"));
    let place = words.next().map_or_else(std::env::temp_dir, PathBuf::from);
    let mut batches: Vec<usize> = words.map(|w| w.parse().unwrap()).collect();
    if batches.is_empty() {
        batches = vec![64, 1_024];
    }
    for batch in batches {
        let folder = tempfile::tempdir_in(&place).unwrap();
        let archive = Archive::at(folder.path());
        fill(&archive, batch);
        read(&archive, folder.path());
    }
}
