//! The water absorption that several heating runs of one flour give together.

use crate::generate::noise::Noise;
use crate::generate::story::{LOWMARSH, NORTHDYKE, SPIRAL, blends};
use crate::runs::{heating_run, record};
use doughtrace::derive::derive_groups;
use doughtrace::derive::heating::water::Series;
use doughtrace::record::{Outcome, RunGroup, RunRecord};

fn trial(number: u32, beyond: f64) -> RunRecord {
    record(&heating_run(&blends::heating_run(
        number, &LOWMARSH, &SPIRAL, beyond,
    )))
}

fn only(groups: &[RunGroup]) -> &RunGroup {
    assert_eq!(groups.len(), 1);
    &groups[0]
}

#[test]
fn two_bracketing_runs_give_the_absorption_of_their_flour() {
    let runs = vec![trial(1, -1.5), trial(2, 2.0)];
    let groups = derive_groups(&runs);
    let group = only(&groups);
    assert_eq!(group.name, "flour lowmarsh-40, spiral, heating");
    assert_eq!(group.members.len(), 2);
    let result = &group.results[0];
    assert_eq!(result.metric.id, "heating.water_absorption");
    assert_eq!(result.from.len(), 2, "made from the two C1");
    let found = result.outcome.estimate().unwrap();
    let truth = blends::heating_absorption(&LOWMARSH, &SPIRAL);
    assert!((found.value() - truth).abs() < 0.5, "{found:?}, {truth}");
    assert!(
        found.low() <= truth && truth <= found.high(),
        "{found:?}, {truth}"
    );
    assert!(result.parameters.contains("interpolated"));
}

#[test]
fn runs_that_say_too_little_are_left_out_and_lots_are_kept_apart() {
    let mut bare = blends::heating_run(3, &LOWMARSH, &SPIRAL, 1.0);
    bare.facts.hydration_basis = String::new();
    let mut other = blends::heating_run(4, &NORTHDYKE, &SPIRAL, 0.0);
    other.facts.lab.run_id = "HT-4".to_owned();
    let runs = vec![
        trial(1, -1.5),
        record(&heating_run(&bare)),
        trial(2, 2.0),
        record(&heating_run(&other)),
    ];
    // One hydration of the other flour was no search for its absorption.
    let groups = derive_groups(&runs);
    let group = only(&groups);
    assert_eq!(group.members.len(), 2);
    assert_eq!(group.left_out.len(), 1);
    assert!(
        group.left_out[0].1.contains("hydration_basis"),
        "{:?}",
        group.left_out
    );
}

#[test]
fn runs_too_far_from_the_target_give_a_reason() {
    let runs = vec![trial(1, -8.0), trial(2, -5.0)];
    let groups = derive_groups(&runs);
    let outcome = &only(&groups).results[0].outcome;
    assert!(
        matches!(outcome, Outcome::NotComputable(why) if why.contains("at most 0.1 N m")),
        "{outcome:?}"
    );
}

/// Doughs whose C1 falls exponentially with water: C1 = 1.10 exp(-0.045 (H - WA)), an invented law.
#[test]
fn intervals_of_the_absorption_cover_the_truth_of_2000_flours() {
    let (mut covered, mut exact) = (0, 0);
    for seed in 0..2000 {
        let mut draw = Noise::new(500_000 + seed);
        let truth = draw.uniform(54.0, 66.0);
        let moisture = draw.uniform(11.5, 15.0);
        let u_c1 = draw.uniform(0.001, 0.01);
        // One error of calibration and of moisture for all runs of a flour; masses for each.
        let calibration = 1.0 + draw.uniform(-0.01, 0.01);
        let moisture_error = 0.1 * draw.normal();
        let mut series = Series {
            moisture_pct: moisture,
            ..Series::default()
        };
        for beyond in [draw.uniform(-4.0, -0.5), draw.uniform(0.5, 4.0)] {
            let real = truth + beyond;
            let per_gram = (100.0 + real) * (100.0 + real) / 7500.0;
            let weighed = per_gram * (draw.uniform(-0.05, 0.05) + draw.uniform(-0.05, 0.05));
            let by_moisture = (100.0 + real) / (100.0 - moisture) * moisture_error;
            let c1 = 1.1 * libm::exp(-0.045 * beyond) * calibration + u_c1 * draw.normal();
            series.add(real + weighed + by_moisture, c1, u_c1);
        }
        let Ok(bracket) = series.bracket() else {
            continue;
        };
        let found = bracket.hydration_at(1.1);
        let u = bracket.u_hydration(moisture);
        exact += 1;
        covered += usize::from((found - truth).abs() <= 2.0 * u);
    }
    let share = f64::from(covered as u32) / f64::from(exact);
    println!(
        "heating.water_absorption: {exact} exact, covered {:.1} %",
        100.0 * share
    );
    assert!(exact > 1900 && share >= 0.93, "{exact}, {share}");
}
