//! Times that are known to one side, rates, and agreement of instruments.

use super::bench::{assess, blocks, close, judge, noise, row, study};
use doughtrace::compare::ResultRow;
use doughtrace::record::Claim;
use doughtrace::schema::{Status, Unit, Verdict};

const RATIO: &str = "kind = \"ratio\"\ndirection = \"above\"\nmargin = 0.8";

/// Stabilities of eight blocks; two-arm `ratio` times spiral.
fn times(ratio: f64) -> Vec<ResultRow> {
    let scatter = noise(16);
    let lines: Vec<[f64; 2]> = (0..8)
        .map(|b| {
            [
                9.0 * (0.06 * scatter[b]).exp(),
                9.0 * ratio * (0.06 * scatter[b + 8]).exp(),
            ]
        })
        .collect();
    let table: Vec<&[f64]> = lines.iter().map(<[f64; 2]>::as_slice).collect();
    blocks(&["spiral", "two-arm"], &table)
}

/// Cuts the records at `end`: longer times become bounds.
fn cut(mut rows: Vec<ResultRow>, end: f64) -> Vec<ResultRow> {
    for row in &mut rows {
        if row.value.is_some_and(|v| v > end) {
            row.value = Some(end);
            row.status = Status::Above;
        }
    }
    rows
}

#[test]
fn bounds_enter_as_bounds_and_are_neither_dropped_nor_taken_for_times() {
    let whole = judge(RATIO, times(1.3)).contrast.unwrap();
    let cut_rows = cut(times(1.3), 11.4);
    let bounded = cut_rows
        .iter()
        .filter(|r| r.status == Status::Above)
        .count();
    assert!(bounded >= 4, "{bounded}");
    let claim = judge(RATIO, cut_rows.clone());
    let contrast = claim.contrast.unwrap();
    assert!(
        claim.error_term.contains("interval regression"),
        "{}",
        claim.error_term
    );
    assert_eq!((claim.verdict, claim.doughs), (Verdict::Supported, (8, 8)));
    // Close to the uncut truth; taking bounds for times would pull it down.
    let substituted = cut_rows
        .into_iter()
        .map(|mut row| {
            row.status = Status::Exact;
            row
        })
        .collect();
    let pulled = judge(RATIO, substituted).contrast.unwrap();
    assert!((contrast.estimate - whole.estimate).abs() < (pulled.estimate - whole.estimate).abs());
    assert!(
        claim.assumptions[0]
            .words
            .contains("of 8 doughs are bounds")
    );
}

#[test]
fn without_bounds_interval_regression_would_say_what_least_squares_says() {
    // One bound far below what matters changes hardly anything.
    let mut rows = times(1.3);
    let plain = judge(RATIO, rows.clone()).contrast.unwrap();
    rows[1].status = Status::Above;
    rows[1].value = rows[1].value.map(|v| v * 0.999_9);
    let censored = judge(RATIO, rows).contrast.unwrap();
    close(censored.low, plain.low.unwrap(), 0.05);
    close(Some(censored.estimate), plain.estimate, 0.05);
}

#[test]
fn a_method_that_never_came_to_an_end_still_gets_one_bound() {
    // Every two-arm dough was still stable at 12 min.
    let claim = judge(RATIO, cut(times(2.0), 12.0));
    let contrast = claim.contrast.unwrap();
    assert_eq!(contrast.high, None);
    assert!(contrast.low.unwrap() > 1.0);
    assert_eq!(claim.verdict, Verdict::Supported);
    assert!(claim.assumptions[0].doubtful);
    let below = "kind = \"ratio\"\ndirection = \"below\"\nmargin = 1.1";
    assert_eq!(
        judge(below, cut(times(2.0), 12.0)).verdict,
        Verdict::Contradicted
    );
}

#[test]
fn a_difference_of_bounds_is_refused_with_the_way_out() {
    let claim = judge(
        "kind = \"difference\"\ndirection = \"above\"\nmargin = 1",
        cut(times(1.3), 11.4),
    );
    assert_eq!(claim.verdict, Verdict::Refused);
    assert!(claim.refusal.unwrap_or_default().contains("as a ratio"));
}

/// Rates, exponents and half times of six doughs of each method.
fn staling(rate: f64, exponent: f64) -> Vec<ResultRow> {
    let scatter = noise(24);
    let mut rows = Vec::new();
    for block in 0..6 {
        for (method, k, n, at) in [
            ("spiral", 0.3, 1.0, 0),
            ("two-arm", 0.3 * rate, exponent, 1),
        ] {
            let k = k * (0.03 * scatter[2 * block + at]).exp();
            let n = n * (0.01 * scatter[12 + 2 * block + at]).exp();
            // HANDBOOK §10: half time (ln 2 / k)^(1/n).
            let half = (2.0_f64.ln() / k).powf(1.0 / n);
            for (metric, value) in [("m.m", k), ("m.n", n), ("m.half", half)] {
                let mut one = row(method, &format!("B{block}"), 0, value);
                one.metric = metric.to_owned();
                one.result_id = format!("{metric} {}", one.result_id);
                rows.push(one);
            }
        }
    }
    rows
}

fn slower(rows: Vec<ResultRow>) -> Claim {
    judge(
        "kind = \"rate\"\ndirection = \"below\"\nmargin = 0.9\nexponent = \"m.n\"\n\
         half_time = \"m.half\"\nexponent_margin = 0.1",
        rows,
    )
}

#[test]
fn rates_are_compared_where_exponents_are_shown_to_be_alike() {
    let claim = slower(staling(0.7, 1.0));
    assert_eq!(claim.verdict, Verdict::Supported, "{}", claim.plain);
    close(claim.contrast.map(|c| c.estimate), 0.7, 0.05);
    let alike = claim
        .assumptions
        .iter()
        .find(|a| a.name == "equal exponents");
    assert!(alike.is_some_and(|a| !a.doubtful));
    assert_eq!(slower(staling(1.0, 1.0)).verdict, Verdict::Contradicted);
    assert_eq!(slower(staling(0.9, 1.0)).verdict, Verdict::Undecided);
}

#[test]
fn different_exponents_are_compared_by_half_time() {
    // k 0.21 and n 0.8: half time (0.693 / 0.21)^1.25 = 4.45 d against 2.31 d.
    let claim = slower(staling(0.7, 0.8));
    close(claim.contrast.map(|c| c.estimate), 2.31 / 4.45, 0.06);
    assert!(
        claim.inference.iter().any(|w| w.contains("half time")),
        "{:?}",
        claim.inference
    );
    assert_eq!(claim.verdict, Verdict::Supported);
    assert_eq!(claim.doughs, (6, 6));
}

/// Pairs of values on two instruments.
fn instruments(pairs: &[(f64, f64)]) -> Vec<ResultRow> {
    let mut rows = Vec::new();
    for (place, (first, second)) in pairs.iter().enumerate() {
        for (name, value) in [("I-1", first), ("I-2", second)] {
            let mut one = row("spiral", &format!("B{place}"), 0, *value);
            one.result_id = format!("{name} {place}");
            one.origin.instrument = Some(name.to_owned());
            rows.push(one);
        }
    }
    rows
}

fn agree(margin: f64, rows: Vec<ResultRow>) -> Claim {
    let text = format!(
        "id = \"c\"\nmetric = \"m.m\"\nkind = \"agreement\"\ninstruments = [\"I-1\", \"I-2\"]\n\
         margin = {margin}"
    );
    assess(&study("", &[&text]), rows).claims.remove(0)
}

#[test]
fn limits_of_agreement_are_those_of_the_handbook() {
    // HANDBOOK V-BA1: mean -2.118, SD 38.765, limits -78.10 / 73.86.
    let first = [
        494.0, 395.0, 516.0, 434.0, 476.0, 557.0, 413.0, 442.0, 650.0, 433.0, 417.0, 656.0, 267.0,
        478.0, 178.0, 423.0, 427.0,
    ];
    let second = [
        512.0, 430.0, 520.0, 428.0, 500.0, 600.0, 364.0, 380.0, 658.0, 445.0, 432.0, 626.0, 260.0,
        477.0, 259.0, 350.0, 451.0,
    ];
    let pairs: Vec<(f64, f64)> = first.into_iter().zip(second).collect();
    let wide = agree(150.0, instruments(&pairs));
    let contrast = wide.contrast.unwrap();
    close(Some(contrast.estimate), -2.118, 5e-4);
    // The shown range is where both limits surely lie: outside the limits themselves.
    assert!(contrast.low.unwrap() < -78.10 && contrast.high.unwrap() > 73.86);
    assert_eq!(wide.verdict, Verdict::Supported);
    assert_eq!(agree(80.0, instruments(&pairs)).verdict, Verdict::Undecided);
    assert_eq!(
        agree(30.0, instruments(&pairs)).verdict,
        Verdict::Contradicted
    );
    assert!(wide.inference.iter().any(|w| w.contains("Passing–Bablok")));
}

#[test]
fn instruments_of_different_quantities_are_refused() {
    let pairs: Vec<(f64, f64)> = noise(8).iter().map(|n| (500.0 + n, 501.0 - n)).collect();
    let mut rows = instruments(&pairs);
    rows[0].unit = Unit::NewtonMetre;
    let claim = agree(10.0, rows);
    assert!(
        claim
            .refusal
            .unwrap_or_default()
            .contains("only for the same")
    );
    let few = agree(10.0, instruments(&pairs[..3]));
    assert!(few.refusal.unwrap_or_default().contains("at least four"));
    assert!(
        agree(10.0, Vec::new())
            .refusal
            .unwrap_or_default()
            .contains("neither instrument")
    );
}
