//! How fast one file becomes points: `cargo bench --no-default-features --bench intake`.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a bench prints what it measured and stops at the first surprise"
)]

use doughtrace::intake;
use doughtrace::profile::{Profile, builtin};
use doughtrace::record::RawFile;
use doughtrace::schema::Digest;
use std::fmt::Write as _;
use std::time::Instant;

const ROWS: usize = 2_400;
const ROUNDS: usize = 400;

/// A file of the plain two-column layout, 2,400 rows at 2 Hz.
fn plain() -> String {
    let mut text = String::from("time_s,consistency_fu\n");
    for row in 0..ROWS {
        let level = 500.0 - (row as f64 * 0.7).sin() * 23.0;
        writeln!(text, "{:.1},{level:.2}", row as f64 * 0.5).unwrap();
    }
    text
}

/// The same points with decimal comma, in minutes, with a temperature.
fn semicolon() -> Vec<u8> {
    let mut text = String::from("Mixing record\nRun = B-01\n\nt (min);M (FU);T (\u{b0}C)\n");
    for row in 0..ROWS {
        let level = 500.0 - (row as f64 * 0.7).sin() * 23.0;
        let line = format!("{:.5};{level:.2};25.5", row as f64 / 120.0);
        writeln!(text, "{}", line.replace('.', ",")).unwrap();
    }
    text.chars()
        .map(|c| u8::try_from(u32::from(c)).unwrap())
        .collect()
}

/// 115 columns of 241 rows.
fn wide() -> String {
    let mut text = String::from("time_s");
    for column in 0..115 {
        write!(text, ",flour {column}").unwrap();
    }
    text.push('\n');
    for row in 0..241 {
        write!(text, "{}", row * 2).unwrap();
        for column in 0..115 {
            write!(text, ",{}", 200 + (row * 7 + column * 13) % 300).unwrap();
        }
        text.push('\n');
    }
    text
}

fn measure(name: &str, bytes: &[u8], profiles: &[Profile]) {
    let file = RawFile {
        name: format!("{name}.csv"),
        sha256: Digest::of(bytes),
        bytes: bytes.len() as u64,
    };
    let profile = intake::select(profiles, &file.name, bytes).unwrap();
    let mut choosing = Vec::new();
    let mut reading = Vec::new();
    for _ in 0..ROUNDS {
        let start = Instant::now();
        intake::select(profiles, &file.name, bytes).unwrap();
        let chosen = Instant::now();
        std::hint::black_box(intake::read(file.clone(), bytes, profile).unwrap());
        reading.push(chosen.elapsed().as_secs_f64());
        choosing.push((chosen - start).as_secs_f64());
    }
    reading.sort_by(f64::total_cmp);
    choosing.sort_by(f64::total_cmp);
    let (read, choose) = (reading[ROUNDS / 2], choosing[ROUNDS / 2]);
    println!(
        "{name:<12} {:>7} bytes   choose {:>6.1} µs   read {:>7.1} µs   {:>6.0} MB/s",
        bytes.len(),
        choose * 1e6,
        read * 1e6,
        bytes.len() as f64 / read / 1e6
    );
}

fn main() {
    let profiles = builtin().unwrap();
    measure("plain", plain().as_bytes(), &profiles);
    measure("semicolon", &semicolon(), &profiles);
    measure("wide", wide().as_bytes(), &profiles);
}
