//! The coverage of the intervals on 500 generated curves of each method.

use crate::generate::heating::random_heating_run;
use crate::generate::pin::random_pin_run;
use crate::runs::{derived, heating_run, pin_run};
use crate::tally::Tallies;

const RUNS: u64 = 500;

#[test]
#[ignore = "a simulation: seconds optimised, minutes not"]
fn pin_mixing_intervals_cover_the_truth_of_500_runs() {
    let mut tallies = Tallies::default();
    for seed in 0..RUNS {
        let generated = random_pin_run(seed);
        let results = derived(&pin_run(&generated)).results;
        tallies.count(&results, &generated.truth());
    }
    tallies.assert_covered(150, RUNS as usize, &[]);
}

#[test]
#[ignore = "a simulation: seconds optimised, minutes not"]
fn heating_intervals_cover_the_truth_of_500_runs() {
    let mut tallies = Tallies::default();
    for seed in 0..RUNS {
        let generated = random_heating_run(seed);
        let results = derived(&heating_run(&generated)).results;
        tallies.count(&results, &generated.truth());
    }
    // Sampled in step with the blades at 80/min, the band cannot be known.
    tallies.assert_covered(150, RUNS as usize, &["heating.amplitude"]);
}
