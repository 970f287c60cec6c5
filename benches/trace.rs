//! What keeping costs, and how long an auditor waits: a day processed with and without its archive,
//! the archive verified (chain, and every number computed again), one result traced.
//!
//! `cargo bench --bench trace [-- RUNS ROWS]`; 10,000 runs of 2,400 rows when left out. The target
//! of the trace is 100 ms from opening the archive.

#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a benchmark prints, and may stop"
)]

#[path = "../tests/generate/mod.rs"]
mod generate;

use doughtrace::archive::{Archive, VerifyOptions, verify_chain};
use doughtrace::pipeline::{NoProgress, Plan, Request, process, trace, verify};
use std::time::{Duration, Instant};

fn main() {
    let numbers: Vec<usize> = std::env::args()
        .skip(1)
        .filter_map(|argument| argument.parse().ok())
        .collect();
    let runs = numbers.first().copied().unwrap_or(10_000);
    let rows = numbers.get(1).copied().unwrap_or(2_400);
    let folder = tempfile::tempdir().unwrap();
    let day = folder.path().join("day");
    generate::write_bench_day(&day, runs, rows).unwrap();
    let place = folder.path().join("lab");
    let request = |name: &str, no_archive: bool| Request {
        inputs: vec![day.clone()],
        out: folder.path().join(name),
        no_charts: true,
        no_archive,
        archive: (!no_archive).then(|| place.clone()),
        ..Request::default()
    };
    println!("{runs} runs x {rows} rows");
    let timed = |name: &str, no_archive: bool| {
        let plan = Plan::resolve(request(name, no_archive)).unwrap();
        let begin = Instant::now();
        let done = process(&plan, "2031-05-14 08:00:00 UTC", &NoProgress).unwrap();
        (begin.elapsed(), done)
    };
    let (bare, _) = timed("bare", true);
    let (kept, done) = timed("kept", false);
    let (again, _) = timed("again", false);
    println!("process, no archive              {:9.1} ms", ms(bare));
    println!("process into a new archive       {:9.1} ms", ms(kept));
    println!("process again, nothing new       {:9.1} ms", ms(again));

    let archive = Archive::at(&place);
    let options = VerifyOptions {
        threads: std::thread::available_parallelism().map_or(1, usize::from),
        ..VerifyOptions::default()
    };
    let begin = Instant::now();
    assert!(verify_chain(&archive, &options).unwrap().verified());
    println!(
        "verify: bytes and chain          {:9.1} ms",
        ms(begin.elapsed())
    );
    let begin = Instant::now();
    let verified = verify(&archive, &options).unwrap();
    let whole = begin.elapsed();
    assert!(verified.holds());
    println!(
        "verify: and {} numbers      {:9.1} ms   {:.2} x process",
        verified.recomputed.results,
        ms(whole),
        whole.as_secs_f64() / bare.as_secs_f64()
    );

    let last = done.day.runs.last().unwrap();
    let id = last.results.first().unwrap().id.to_string();
    let best = (0..10)
        .map(|_| {
            let begin = Instant::now();
            let reader = archive.read().unwrap();
            let found = trace(&reader, &id, false).unwrap();
            assert_eq!(found.kind, "result");
            begin.elapsed()
        })
        .min()
        .unwrap();
    println!(
        "trace of one result, archive opened {:6.1} ms (best of 10)",
        ms(best)
    );
    let ledger = std::fs::metadata(place.join("ledger.jsonl")).unwrap().len();
    println!("ledger {:.1} MB", ledger as f64 / 1e6);
}

fn ms(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}
