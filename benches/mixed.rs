//! How fast a study is modelled: `cargo bench --no-default-features --bench mixed`.
//!
//! 1,000 doughs, three pieces each, 20 metrics; methods fixed; flour, day and dough random, with days
//! nested in flours and, harder, crossed with them.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a bench prints what it measured and stops at the first surprise"
)]

use doughtrace::numerics::linear::{Coding, Contrasts, Design, Factor, Variable, fit_linear};
use doughtrace::numerics::mixed::{Criterion, fit_mixed};
use std::time::Instant;

const DOUGHS: usize = 1_000;
const PIECES: usize = 3;
const METRICS: usize = 20;
const DAYS: usize = 100;
const FLOURS: usize = 10;
const METHODS: usize = 3;

/// Returns a number between -1 and 1, the same on each call with the same seed.
fn noise(seed: u64) -> f64 {
    let mut x = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x5851_F42D_4C95_7F2D;
    for _ in 0..3 {
        x ^= x >> 29;
        x = x.wrapping_mul(0xBF58_476D_1CE4_E5B9);
    }
    (x >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
}

/// Returns method, flour, day and dough of each piece.
fn layout(crossed: bool) -> [Factor; 4] {
    let rows = 0..DOUGHS * PIECES;
    let dough = |row: usize| row / PIECES;
    let day = |row: usize| dough(row) * DAYS / DOUGHS;
    let flour = |row: usize| {
        if crossed {
            (dough(row) * 7 + day(row)) % FLOURS
        } else {
            day(row) * FLOURS / DAYS
        }
    };
    let method = |row: usize| (dough(row) * 31 + dough(row) / 17) % METHODS;
    [
        Factor::new(rows.clone().map(method).collect()),
        Factor::new(rows.clone().map(flour).collect()),
        Factor::new(rows.clone().map(day).collect()),
        Factor::new(rows.map(dough).collect()),
    ]
}

fn responses(layout: &[Factor; 4], metric: u64) -> Vec<f64> {
    let effect = |factor: usize, row: usize, size: f64| {
        size * noise(
            metric * 1_000_003 + factor as u64 * 10_007 + layout[factor].codes()[row] as u64,
        )
    };
    (0..DOUGHS * PIECES)
        .map(|row| {
            400.0
                + 10.0 * layout[0].codes()[row] as f64
                + effect(1, row, 30.0)
                + effect(2, row, 20.0)
                + effect(3, row, 15.0)
                + 10.0 * noise(metric * 77_777_777 + row as u64)
        })
        .collect()
}

fn measure(name: &str, crossed: bool, random: &[usize]) {
    let layout = layout(crossed);
    let variable = Variable::Factor(layout[0].clone(), Coding::Sum);
    let groupings: Vec<Factor> = random.iter().map(|f| layout[*f].clone()).collect();
    let metrics: Vec<Vec<f64>> = (0..METRICS as u64).map(|m| responses(&layout, m)).collect();
    let started = Instant::now();
    let mut last = 0.0;
    for y in &metrics {
        let design = Design::new(vec![variable.clone()], vec![vec![0]]).unwrap();
        let fit = fit_mixed(&design, &groupings, y, Criterion::Restricted).unwrap();
        for (a, b) in [(1, 0), (2, 0), (2, 1)] {
            let weights = design.difference(0, a, b).unwrap();
            last = fit.contrast(&weights).unwrap().df;
        }
        fit.test_term(0).unwrap();
    }
    println!(
        "{name}: {METRICS} metrics of {DOUGHS} doughs in {:.3} s (df of the last contrast {last:.1})",
        started.elapsed().as_secs_f64()
    );
}

fn main() {
    measure("flour, day in flour, dough", false, &[1, 2, 3]);
    measure("flour x day, dough", true, &[1, 2, 3]);
    measure("dough only", false, &[3]);
    let layout = layout(false);
    let y = responses(&layout, 0);
    let started = Instant::now();
    for _ in 0..METRICS {
        let design = Design::blocked(&layout[0], &layout[2]).unwrap();
        let fit = fit_linear(&design, &y).unwrap();
        fit.contrast(&design.difference(1, 1, 0).unwrap()).unwrap();
    }
    println!(
        "fixed blocks of 100 days, 3,000 rows: {METRICS} metrics in {:.3} s",
        started.elapsed().as_secs_f64()
    );
}
