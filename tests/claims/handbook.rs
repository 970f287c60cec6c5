//! HANDBOOK V-A1 and V-A2 through the claim kinds.

use super::bench::{blocks, close, judge};
use doughtrace::compare::ResultRow;
use doughtrace::record::Claim;
use doughtrace::schema::Verdict;

/// V-A1: rows flour, columns method, ml/g.
fn bread() -> Vec<ResultRow> {
    blocks(
        &["spiral", "two-arm", "high-speed"],
        &[
            &[3.9, 4.1, 4.4],
            &[4.2, 4.3, 4.5],
            &[3.5, 3.8, 4.0],
            &[4.6, 4.7, 4.9],
            &[4.0, 4.0, 4.4],
        ],
    )
}

fn equal(margin: f64, error: &str) -> Claim {
    let claim = format!("kind = \"equivalent\"\nmargin = {margin}\nerror = \"{error}\"");
    judge(&claim, bread())
}

#[test]
fn equivalence_with_the_paired_error_is_that_of_the_handbook() {
    // V-A2: mean 0.1400, 90 % CI 0.0313 … 0.2487, p 0.0175 for 0.30 and 0.152 for 0.20.
    let wide = equal(0.30, "paired");
    let contrast = wide.contrast.unwrap();
    close(Some(contrast.estimate), 0.14, 1e-9);
    close(contrast.low, 0.0313, 5e-5);
    close(contrast.high, 0.2487, 5e-5);
    close(contrast.p, 0.0175, 5e-5);
    close(contrast.df, 4.0, 0.0);
    assert_eq!(wide.verdict, Verdict::Supported);
    assert!(wide.error_term.contains("paired"), "{}", wide.error_term);
    let narrow = equal(0.20, "paired");
    close(narrow.contrast.unwrap().p, 0.152, 5e-4);
    // Not shown to be equal is not shown to be different.
    assert_eq!(narrow.verdict, Verdict::Undecided);
}

#[test]
fn equivalence_with_the_pooled_error_is_that_of_the_handbook() {
    // V-A2: 8 df, 90 % CI 0.0555 … 0.2245, TOST p 0.0039 (0.30) and 0.112 (0.20).
    for error in ["pooled", "automatic"] {
        let wide = equal(0.30, error);
        let contrast = wide.contrast.unwrap();
        close(contrast.low, 0.0555, 5e-5);
        close(contrast.high, 0.2245, 5e-5);
        close(contrast.p, 0.0039, 5e-5);
        close(contrast.df, 8.0, 0.0);
        assert!(
            wide.error_term.contains("pooled over 3 methods"),
            "{}",
            wide.error_term
        );
        close(equal(0.20, error).contrast.unwrap().p, 0.112, 5e-4);
    }
}

#[test]
fn a_difference_from_zero_is_that_of_the_handbook() {
    // V-A2: two-sided p against 0 is 0.0516 paired and 0.015 pooled; the claim is one-sided.
    let above = |error: &str| {
        let claim = format!(
            "kind = \"difference\"\ndirection = \"above\"\nmargin = 0\nerror = \"{error}\""
        );
        judge(&claim, bread())
    };
    close(above("paired").contrast.unwrap().p, 0.0516 / 2.0, 5e-5);
    close(above("pooled").contrast.unwrap().p, 0.015 / 2.0, 5e-4);
    assert_eq!(above("pooled").verdict, Verdict::Supported);
    let below = "kind = \"difference\"\ndirection = \"below\"\nmargin = 0";
    assert_eq!(judge(below, bread()).verdict, Verdict::Contradicted);
}

#[test]
fn slices_of_a_loaf_do_not_become_replicates() {
    // Three slices per dough, alike: the doughs and the interval stay those of V-A2.
    let mut rows = Vec::new();
    for row in bread() {
        for (slice, shift) in [-0.02, 0.0, 0.02].into_iter().enumerate() {
            let mut copy = row.clone();
            copy.result_id = format!("{}-{slice}", row.result_id);
            copy.origin.subsample = Some(slice.to_string());
            copy.value = row.value.map(|v| v + shift);
            rows.push(copy);
        }
    }
    let claim = judge(
        "kind = \"equivalent\"\nmargin = 0.3\nerror = \"paired\"",
        rows,
    );
    assert_eq!(claim.doughs, (5, 5));
    assert_eq!(claim.results.len(), 45);
    close(claim.contrast.unwrap().low, 0.0313, 5e-5);
    close(claim.contrast.unwrap().df, 4.0, 0.0);
}

#[test]
fn over_flours_the_error_is_that_of_method_and_flour() {
    // V-A1's rows are flours. Two doughs of each on one day add no degree of freedom.
    let mut rows = Vec::new();
    for row in bread() {
        for (dough, shift) in [-0.01, 0.01].into_iter().enumerate() {
            let mut copy = row.clone();
            copy.result_id = format!("{}-{dough}", row.result_id);
            copy.origin.batch = Some(format!("{}-{dough}", row.run_id));
            copy.origin.sample = row.origin.block.clone();
            copy.value = row.value.map(|v| v + shift);
            rows.push(copy);
        }
    }
    let over = |scope: &str| {
        let text = format!("kind = \"equivalent\"\nmargin = 0.3\nscope = \"{scope}\"");
        judge(&text, rows.clone())
    };
    let flours = over("flours");
    close(flours.contrast.unwrap().df, 8.0, 0.0);
    close(flours.contrast.unwrap().low, 0.0555, 5e-5);
    assert!(
        flours.error_term.contains("method × flour"),
        "{}",
        flours.error_term
    );
    assert!(
        flours
            .inference
            .iter()
            .any(|w| w.contains("flours like those"))
    );
    // Doughs of one cell differ by far less than flours do: within blocks, that shows.
    let doughs = over("doughs");
    assert!(
        doughs.error_term.contains("method × block"),
        "{}",
        doughs.error_term
    );
}
