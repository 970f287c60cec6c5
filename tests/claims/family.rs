//! Gates and families through whole studies.

use super::bench::{assess, blocks, noise, study};
use doughtrace::compare::ResultRow;
use doughtrace::schema::{Gate, Verdict};

/// Two metrics over eight blocks: in m.a two-arm lies 30 above spiral, in m.b 3 above.
fn rows() -> Vec<ResultRow> {
    let scatter = noise(32);
    let mut all = Vec::new();
    for (metric, shift, from) in [("m.a", 30.0, 0), ("m.b", 3.0, 16)] {
        let lines: Vec<[f64; 2]> = (0..8)
            .map(|b| {
                [
                    500.0 + 4.0 * scatter[from + b],
                    500.0 + shift + 4.0 * scatter[from + 8 + b],
                ]
            })
            .collect();
        let table: Vec<&[f64]> = lines.iter().map(<[f64; 2]>::as_slice).collect();
        for mut row in blocks(&["spiral", "two-arm"], &table) {
            row.metric = metric.to_owned();
            row.result_id = format!("{metric}-{}", row.result_id);
            all.push(row);
        }
    }
    all
}

fn claim(id: &str, metric: &str, rest: &str) -> String {
    format!("id = \"{id}\"\nmetric = \"{metric}\"\ntreatments = [\"two-arm\"]\n{rest}")
}

#[test]
fn a_secondary_claim_counts_only_if_the_primary_holds() {
    let secondary = claim(
        "second",
        "m.a",
        "kind = \"difference\"\ndirection = \"above\"\nmargin = 5",
    );
    let with = |margin: f64| {
        let primary = claim(
            "first",
            "m.a",
            &format!(
                "primary = true\nkind = \"difference\"\ndirection = \"above\"\nmargin = {margin}"
            ),
        );
        assess(&study("", &[&secondary, &primary]), rows()).claims
    };
    let holds = with(10.0);
    assert_eq!(
        (holds[0].gate, holds[0].verdict),
        (Gate::Open, Verdict::Supported)
    );
    assert_eq!(holds[1].gate, Gate::Primary);
    for margin in [30.0, 90.0] {
        let fails = with(margin);
        assert_eq!(
            (fails[0].gate, fails[0].verdict),
            (Gate::Closed, Verdict::Undecided)
        );
        assert_eq!(fails[0].verdict_alone, Verdict::Supported);
        assert!(
            fails[0].plain.contains("does not count"),
            "{}",
            fails[0].plain
        );
    }
}

#[test]
fn more_secondary_claims_widen_the_intervals_of_each() {
    let primary = claim(
        "first",
        "m.a",
        "primary = true\nkind = \"equivalent\"\nmargin = 60",
    );
    let second = claim(
        "second",
        "m.b",
        "kind = \"difference\"\ndirection = \"above\"\nmargin = 0",
    );
    let third = claim("third", "m.b", "kind = \"equivalent\"\nmargin = 1");
    let two = assess(&study("", &[&primary, &second]), rows());
    let three = assess(&study("", &[&primary, &second, &third]), rows());
    let width = |claim: &doughtrace::record::Claim| {
        let contrast = claim.contrast.unwrap();
        (
            contrast.high.unwrap() - contrast.low.unwrap(),
            contrast.confidence,
        )
    };
    let (narrow, wide) = (width(&two.claims[1]), width(&three.claims[1]));
    assert!(wide.0 > narrow.0);
    assert!((narrow.1 - 0.9).abs() < 1e-12 && (wide.1 - 0.95).abs() < 1e-12);
    // The interval that is drawn is the one that decides.
    let row = &three.figures.forest[1];
    assert_eq!((row.low, row.high), {
        let contrast = three.claims[1].contrast.unwrap();
        (contrast.low, contrast.high)
    });
}

#[test]
fn figures_hold_each_dough_once_and_the_residuals() {
    let primary = claim(
        "first",
        "m.a",
        "primary = true\nkind = \"equivalent\"\nmargin = 60",
    );
    let assessment = assess(&study("", &[&primary]), rows());
    let picture = &assessment.figures.claims[0];
    assert_eq!(picture.dots.len(), 16);
    assert!(
        picture
            .dots
            .iter()
            .all(|dot| dot.results.len() == 1 && dot.pieces == 1)
    );
    assert_eq!(picture.residuals.len(), 16);
    let sum: f64 = picture.residuals.iter().map(|r| r.residual).sum();
    assert!(sum.abs() < 1e-9);
    assert_eq!(picture.claim_id, assessment.claims[0].claim_id);
}
