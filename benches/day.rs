//! The main job over a large day, beside the floor: reading and hashing the same bytes.
//!
//! `cargo bench --bench day` writes 2,000 generated mixing runs of 2,400 rows into a temporary
//! folder and processes them without charts, at one thread and at all cores, five times each, best
//! time shown; then it draws the charts of a small day, and makes the reports of a day of 60 runs and
//! of a month of 1,000 with all their charts. `-- RUNS ROWS` changes the size of the first.

#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "a benchmark prints, and may stop"
)]

#[path = "../tests/generate/mod.rs"]
mod generate;

use doughtrace::pipeline::{NoProgress, Plan, Request, StageTimes, process};
use doughtrace::schema::Digest;
use rayon::prelude::*;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

const REPEATS: usize = 5;
const CHART_RUNS: usize = 100;

/// Reports that are made: name, runs, and the longest time and largest page aimed at, s and MB.
const REPORTS: [(&str, usize, f64, f64); 2] = [("day", 60, 2.0, 5.0), ("month", 1000, 20.0, 5.0)];

fn main() {
    let numbers: Vec<usize> = std::env::args()
        .skip(1)
        .filter_map(|argument| argument.parse().ok())
        .collect();
    let runs = numbers.first().copied().unwrap_or(2000);
    let rows = numbers.get(1).copied().unwrap_or(2400);
    let folder = tempfile::tempdir().expect("temporary folder");
    let day = folder.path().join("day");
    std::fs::create_dir_all(&day).expect("day folder");
    let files = generate::write_bench_day(&day, runs, rows).expect("write the day");
    let bytes: u64 = files
        .iter()
        .map(|f| f.metadata().map_or(0, |m| m.len()))
        .sum();
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    println!(
        "{runs} runs x {rows} rows, {:.1} MB, {cores} cores",
        bytes as f64 / 1e6
    );
    let mut counts = vec![1];
    if cores > 1 {
        counts.push(cores);
    }
    for threads in counts {
        let floor = best_floor(&files, threads);
        let (wall, times) = best_process(&day, &folder.path().join("out"), threads, true);
        println!("-- {threads} thread(s)");
        println!("floor (read + SHA-256)      {:8.1} ms", ms(floor));
        println!(
            "process --no-charts         {:8.1} ms   {:.1} x floor",
            ms(wall),
            wall.as_secs_f64() / floor.as_secs_f64()
        );
        print_stages(&times);
    }
    let small = folder.path().join("small");
    std::fs::create_dir_all(&small).expect("day folder");
    generate::write_bench_day(&small, CHART_RUNS, rows).expect("write the day");
    let (_, times) = best_process(&small, &folder.path().join("out-small"), 1, false);
    println!("-- charts, 1 thread, {CHART_RUNS} runs");
    println!(
        "one run chart (read again, derived, drawn, encoded, written) {:.1} ms",
        ms(times.charts) / CHART_RUNS as f64
    );
    println!("-- whole reports with charts, {cores} thread(s)");
    for (name, runs, most_s, most_mb) in REPORTS {
        let day = folder.path().join(name);
        std::fs::create_dir_all(&day).expect("day folder");
        generate::write_bench_day(&day, runs, rows).expect("write the day");
        let out = folder.path().join(format!("out-{name}"));
        let (wall, times) = best_process(&day, &out, cores, false);
        let page = std::fs::metadata(out.join("report.html")).map_or(0, |file| file.len());
        println!(
            "report of a {name} of {runs} runs {:8.1} ms (aim {:.0} ms), of which charts {:.1} ms, page {:.1} ms; report.html {:.2} MB (aim {most_mb} MB)",
            ms(wall),
            1e3 * most_s,
            ms(times.charts),
            ms(times.report),
            page as f64 / 1e6
        );
    }
}

fn ms(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

fn best_floor(files: &[PathBuf], threads: usize) -> Duration {
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .expect("threads");
    (0..REPEATS)
        .map(|_| {
            let begin = Instant::now();
            let total: usize = pool.install(|| {
                files
                    .par_iter()
                    .map(|file| {
                        let bytes = std::fs::read(file).expect("read");
                        std::hint::black_box(Digest::of(&bytes));
                        bytes.len()
                    })
                    .sum()
            });
            std::hint::black_box(total);
            begin.elapsed()
        })
        .min()
        .expect("repeats")
}

fn best_process(day: &Path, out: &Path, threads: usize, no_charts: bool) -> (Duration, StageTimes) {
    let repeats = if no_charts { REPEATS } else { 1 };
    (0..repeats)
        .map(|_| {
            let request = Request {
                inputs: vec![day.to_owned()],
                out: out.to_owned(),
                no_charts,
                threads: Some(threads),
                no_archive: true,
                ..Request::default()
            };
            let plan = Plan::resolve(request).expect("plan");
            let begin = Instant::now();
            let done = process(&plan, "bench", &NoProgress).expect("process");
            (begin.elapsed(), done.times)
        })
        .min_by_key(|(wall, _)| *wall)
        .expect("repeats")
}

fn print_stages(times: &StageTimes) {
    for (name, time) in [
        ("  discover, run sheets", times.discover),
        ("  first pass (wall)", times.first_pass),
        ("    intake (threads added)", times.intake),
        ("    derive (threads added)", times.derive),
        ("  rules", times.check),
        ("  tables", times.tables),
        ("  report, manifest", times.report),
    ] {
        println!("{name:28}{:8.1} ms", ms(time));
    }
}
