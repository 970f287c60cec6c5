//! A study of 1,000 doughs × 20 metrics with the six first kinds of claims, on all cores.
//!
//! `cargo bench --no-default-features --bench compare`

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a benchmark may stop, and reports"
)]

use doughtrace::compare::{Evidence, Origin, ResultRow, evaluate};
use doughtrace::schema::{Status, Test, Unit, Verdict};
use doughtrace::study::{Study, parse};
use std::time::Instant;

const BLOCKS: usize = 84;
const METRICS: usize = 20;
const METHODS: [&str; 4] = ["spiral", "two-arm", "high-speed", "planetary"];
const WATERS: [f64; 3] = [58.0, 60.0, 62.0];

fn main() {
    let evidence = Evidence {
        results: rows(),
        ..Evidence::default()
    };
    let study = study();
    let doughs = BLOCKS * METHODS.len() * WATERS.len();
    let mut best = f64::INFINITY;
    for _ in 0..3 {
        let start = Instant::now();
        let assessment = evaluate(&study, &evidence);
        best = best.min(start.elapsed().as_secs_f64());
        let judged = assessment.claims.iter();
        let refused = judged.filter(|c| c.verdict == Verdict::Refused).count();
        assert_eq!((assessment.claims.len(), refused), (6 * METRICS, 0));
    }
    println!(
        "{doughs} doughs × {METRICS} metrics ({} rows), {} claims: {best:.2} s",
        evidence.results.len(),
        study.claims.len()
    );
}

/// Returns one claim of each kind for each metric.
fn study() -> Study {
    let mut text = format!(
        "title = \"t\"\narchives = [\"a\"]\nreference = \"spiral\"\n[factors]\ntreatment = {METHODS:?}\n"
    );
    let kinds = [
        "kind = \"difference\"\ndirection = \"above\"\nmargin = 0",
        "kind = \"ratio\"\ndirection = \"above\"\nmargin = 0.9",
        "kind = \"equivalent\"\nmargin_percent = 15",
        "kind = \"not-worse\"\nbetter = \"lower\"\nmargin = 10",
        "kind = \"gain-at-equal\"\nmargin = 1\nslope_margin = 0.25",
        "kind = \"energy-share\"\nmargin = 0.7",
    ];
    for metric in 0..METRICS {
        for (place, kind) in kinds.iter().enumerate() {
            let primary = metric == 0 && place == 0;
            text.push_str(&format!(
                "[[claims]]\nid = \"m{metric}-{place}\"\nsentence = \"s\"\nmetric = \"m.m{metric}\"\n\
                 treatments = [\"two-arm\"]\nprimary = {primary}\n{kind}\n"
            ));
        }
    }
    parse(&text).unwrap()
}

/// Returns two pieces of each dough for each metric.
fn rows() -> Vec<ResultRow> {
    let mut rows = Vec::new();
    for metric in 0..METRICS {
        for block in 0..BLOCKS {
            for (method, treatment) in METHODS.iter().enumerate() {
                for water in WATERS {
                    for piece in 0..2 {
                        rows.push(row(metric, block, (method, treatment), water, piece));
                    }
                }
            }
        }
    }
    rows
}

fn row(
    metric: usize,
    block: usize,
    (method, treatment): (usize, &str),
    water: f64,
    piece: usize,
) -> ResultRow {
    let batch = format!("{block}-{treatment}-{water}");
    let place = (((metric * BLOCKS + block) * 4 + method) * 3 + water as usize) * 2 + piece;
    let noise = (place as f64 * 0.618_033_988_75).fract() - 0.5;
    let value = 500.0 + 5.0 * method as f64 - 20.0 * (water - 60.0) + 30.0 * noise;
    ResultRow {
        result_id: format!("{metric}-{batch}-{piece}"),
        metric: format!("m.m{metric}"),
        variant: String::new(),
        status: Status::Exact,
        value: Some(value),
        low: None,
        high: None,
        std_uncertainty: None,
        unit: Unit::Fu,
        test: Test::Mixing,
        run_id: format!("run-{metric}-{batch}-{piece}"),
        origin: Origin {
            sample: Some("F-1".to_owned()),
            batch: Some(batch),
            treatment: Some(treatment.to_owned()),
            block: Some(format!("B{block}")),
            replicate: None,
            subsample: Some(piece.to_string()),
            hydration_pct: Some(water),
            instrument: None,
            machine: None,
        },
        age_d: None,
        rest_min: None,
        parameters: String::new(),
        excluded: None,
    }
}
