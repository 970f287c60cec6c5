//! Gain of water at an equal response.

use super::draw::{Luck, row, study};
use super::tally::{allowance, report, require_honest, run};
use doughtrace::compare::ResultRow;

/// Consistency falls by 20 FU per point of water; three waters in each of four blocks, two-arm takes
/// `shift` points more. The slope of two-arm is `ratio` times that of spiral.
fn draw(shift: f64, ratio: f64, dough_sd: f64, luck: &mut Luck) -> Vec<ResultRow> {
    let mut rows = Vec::new();
    for block in 0..4 {
        let day = luck.normal(15.0);
        for (level, water) in [58.0, 60.0, 62.0].into_iter().enumerate() {
            for (method, shift, slope) in
                [("spiral", 0.0, -20.0), ("two-arm", shift, -20.0 * ratio)]
            {
                let value = 500.0 + day + slope * (water - 60.0 - shift) + luck.normal(dough_sd);
                let mut dough = row(method, block, level, 0, value);
                dough.origin.hydration_pct = Some(water);
                rows.push(dough);
            }
        }
    }
    rows
}

#[test]
#[ignore = "a proof of many minutes without optimisation"]
fn gain_of_water_is_honest_at_its_margin() {
    // A margin of parallelism that these doughs always meet, so that nothing is withheld.
    let loose = study("kind = \"gain-at-equal\"\nmargin = 1\nslope_margin = 0.99");
    let tally = run(&loose, 1.0, |index| {
        draw(1.0, 1.0, 8.0, &mut Luck::of(51, index))
    });
    require_honest("gain-at-equal", &tally);
    // With a margin that matters fewer verdicts are given, none of them more often wrong.
    let strict = study("kind = \"gain-at-equal\"\nmargin = 1\nslope_margin = 0.25");
    let tally = run(&strict, 1.0, |index| {
        draw(1.0, 1.0, 8.0, &mut Luck::of(52, index))
    });
    require_honest("gain-at-equal, parallel within 25 %", &tally);
}

#[test]
#[ignore = "a proof of many minutes without optimisation"]
fn lines_at_the_margin_of_parallelism_rarely_get_a_verdict() {
    let claim = study("kind = \"gain-at-equal\"\nmargin = 1\nslope_margin = 0.25");
    let tally = run(&claim, 1.0, |index| {
        draw(1.0, 0.75, 8.0, &mut Luck::of(53, index))
    });
    report("gain-at-equal, slopes just not parallel", &tally);
    let given = 1.0 - tally.withheld / tally.studies;
    assert!(
        given <= 0.05 + allowance(0.05, &tally),
        "verdicts given in {given}"
    );
}
