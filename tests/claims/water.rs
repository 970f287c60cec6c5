//! Gain of water at an equal response.

use super::bench::{close, judge, noise, row};
use doughtrace::compare::ResultRow;
use doughtrace::record::Claim;
use doughtrace::schema::Verdict;

fn gain(margin: f64) -> String {
    format!("kind = \"gain-at-equal\"\nmargin = {margin}\nslope_margin = 0.25")
}

/// Consistency falls by 20 FU per point of water; two-arm takes `shift` points more for the same.
/// Three waters in each of four blocks for each method, doughs scattering by `scatter`.
fn titration(shift: f64, slope_of_two_arm: f64, scatter: f64) -> Vec<ResultRow> {
    let noise = noise(24);
    let mut rows = Vec::new();
    for block in 0..4 {
        for (level, water) in [58.0, 60.0, 62.0].into_iter().enumerate() {
            for (method, start, slope, at) in [
                ("spiral", 0.0, -20.0, 0),
                ("two-arm", shift, slope_of_two_arm, 1),
            ] {
                let place = block * 6 + level * 2 + at;
                let value = 500.0
                    + 8.0 * block as f64
                    + slope * (water - 60.0 - start)
                    + scatter * noise[place];
                let mut dough = row(method, &format!("B{block}"), level, value);
                dough.origin.hydration_pct = Some(water);
                rows.push(dough);
            }
        }
    }
    rows
}

fn withheld(claim: &Claim, words: &str) {
    assert_eq!(claim.verdict, Verdict::Undecided);
    assert!(claim.plain.contains(words), "{}", claim.plain);
}

#[test]
fn the_horizontal_shift_is_found_and_judged() {
    let claim = judge(&gain(1.0), titration(2.0, -20.0, 5.0));
    close(claim.contrast.map(|c| c.estimate), 2.0, 0.2);
    assert_eq!(claim.verdict, Verdict::Supported);
    assert!(claim.plain.contains("points more water"), "{}", claim.plain);
    assert_eq!(
        judge(&gain(2.0), titration(2.0, -20.0, 5.0)).verdict,
        Verdict::Undecided
    );
    assert_eq!(
        judge(&gain(3.0), titration(2.0, -20.0, 5.0)).verdict,
        Verdict::Contradicted
    );
    let parallel = claim
        .assumptions
        .iter()
        .find(|a| a.name == "parallel lines");
    assert!(parallel.is_some_and(|a| !a.doubtful && a.words.contains("0.75 to 1.25")));
}

#[test]
fn lines_that_are_not_shown_parallel_get_no_verdict() {
    withheld(&judge(&gain(1.0), titration(2.0, -8.0, 5.0)), "parallel");
    // Too noisy to say: a test that fails to see a difference is not enough.
    let noisy = judge(&gain(0.0), titration(2.0, -20.0, 25.0));
    let parallel = noisy
        .assumptions
        .iter()
        .find(|a| a.name == "parallel lines");
    assert!(
        parallel.is_some_and(|a| a.doubtful),
        "{:?}",
        noisy.assumptions
    );
    withheld(&noisy, "No verdict is given");
}

#[test]
fn a_response_that_hardly_changes_with_water_leaves_the_gain_unbounded() {
    let flat: Vec<ResultRow> = titration(2.0, -20.0, 5.0)
        .into_iter()
        .zip(noise(24))
        .map(|(mut row, noise)| {
            row.value = Some(500.0 + 20.0 * noise);
            row
        })
        .collect();
    let claim = judge(&gain(0.0), flat);
    let contrast = claim.contrast.unwrap();
    assert_eq!((contrast.low, contrast.high), (None, None));
    assert_eq!(claim.verdict, Verdict::Undecided);
}

#[test]
fn nothing_is_read_beyond_the_measured_water() {
    // Two-arm needs ten points more for the same consistency; measured were four.
    let claim = judge(&gain(1.0), titration(10.0, -20.0, 5.0));
    assert_eq!(claim.verdict, Verdict::Refused);
    assert!(claim.refusal.is_some_and(|r| r.contains("extrapolated")));
}

#[test]
fn one_amount_of_water_makes_no_line() {
    let mut rows = titration(2.0, -20.0, 5.0);
    rows.retain(|r| {
        r.origin.hydration_pct == Some(60.0) || r.origin.treatment.as_deref() == Some("spiral")
    });
    let claim = judge(&gain(1.0), rows);
    assert!(
        claim
            .refusal
            .is_some_and(|r| r.contains("1 amounts of water"))
    );
    let mut two = titration(2.0, -20.0, 5.0);
    two.retain(|r| r.origin.hydration_pct != Some(60.0));
    let claim = judge(&gain(1.0), two);
    assert!(
        claim
            .warnings
            .iter()
            .any(|w| w.contains("two amounts of water")),
        "{:?}",
        claim.warnings
    );
    let mut unknown = titration(2.0, -20.0, 5.0);
    unknown[0].origin.hydration_pct = None;
    assert!(
        judge(&gain(1.0), unknown)
            .refusal
            .is_some_and(|r| r.contains("not stated"))
    );
}

#[test]
fn bent_lines_are_said() {
    let bent: Vec<ResultRow> = titration(0.5, -20.0, 1.0)
        .into_iter()
        .map(|mut row| {
            let water = row.origin.hydration_pct.unwrap_or(0.0) - 60.0;
            row.value = row.value.map(|v| v + 3.0 * water * water);
            row
        })
        .collect();
    let claim = judge(&gain(0.0), bent);
    assert!(
        claim
            .warnings
            .iter()
            .any(|w| w.contains("straight lines is doubtful"))
    );
}

#[test]
fn shared_uncertainty_of_the_water_widens_the_gain() {
    let width = |parameters: &str| {
        let mut rows = titration(2.0, -20.0, 5.0);
        for row in &mut rows {
            row.parameters = parameters.to_owned();
        }
        let contrast = judge(&gain(1.0), rows).contrast.unwrap();
        contrast.high.unwrap() - contrast.low.unwrap()
    };
    let (none, some) = (width(""), width("water_shared_u=0.5"));
    // 2 · 1.645 · 0.5 alone is 1.645.
    assert!(none < 0.5 && some > 1.6, "{none} {some}");
}
