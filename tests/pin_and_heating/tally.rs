//! Counting how often an interval holds the truth.

use crate::generate::{Truth, TruthValue};
use doughtrace::record::{MetricResult, Outcome};
use std::collections::BTreeMap;

/// What became of one metric in one variant.
#[derive(Default)]
struct Tally {
    exact: usize,
    covered: usize,
    other_status: usize,
    errors: Vec<f64>,
    widths: Vec<f64>,
}

/// What became of every metric.
#[derive(Default)]
pub struct Tallies(BTreeMap<(&'static str, &'static str), Tally>);

impl Tallies {
    /// Holds the results of one run against its truth.
    pub fn count(&mut self, results: &[MetricResult], truth: &Truth) {
        for result in results {
            let Some(value) = truth.get(result.metric.id, result.variant) else {
                continue;
            };
            let tally = self
                .0
                .entry((result.metric.id, result.variant))
                .or_default();
            match (&result.outcome, value) {
                (Outcome::Exact(e), TruthValue::Exact(t)) => {
                    tally.exact += 1;
                    tally.errors.push(e.value() - t);
                    tally.widths.push(0.5 * (e.high() - e.low()));
                    tally.covered += usize::from(e.low() <= t && t <= e.high());
                }
                (outcome, t) => {
                    let same = matches!(
                        (outcome, t),
                        (Outcome::Above(_), TruthValue::Above(_))
                            | (Outcome::Below(_), TruthValue::Below(_))
                            | (Outcome::NotReached(_), TruthValue::NotReached)
                            | (Outcome::NotComputable(_), TruthValue::NotComputable)
                    );
                    tally.other_status += usize::from(!same);
                }
            }
        }
    }

    /// Prints every metric's figures, and asserts that each interval holds the truth in at least
    /// 93 % of at least `least` exact readings, with the status that the truth has in all but 2 %
    /// of `runs`; `often_unknown` may be not computable more often.
    pub fn assert_covered(mut self, least: usize, runs: usize, often_unknown: &[&str]) {
        let (mut exact, mut covered) = (0, 0);
        let mut short = Vec::new();
        for ((metric, variant), tally) in &mut self.0 {
            exact += tally.exact;
            covered += tally.covered;
            let share = tally.covered as f64 / tally.exact.max(1) as f64;
            println!(
                "{metric:36} {variant:18} exact {:3}, covered {:5.1} %, other status {:2}, error 5/50/95 %: {:+.4} {:+.4} {:+.4}, half interval {:.4}",
                tally.exact,
                100.0 * share,
                tally.other_status,
                quantile(&mut tally.errors, 0.05),
                quantile(&mut tally.errors, 0.5),
                quantile(&mut tally.errors, 0.95),
                quantile(&mut tally.widths, 0.5),
            );
            let other = 50 * tally.other_status > runs && !often_unknown.contains(metric);
            if share < 0.93 || tally.exact < least || other {
                short.push(format!("{metric} {variant}"));
            }
        }
        println!(
            "all metrics: {:.2} % of {exact} intervals hold the truth",
            100.0 * covered as f64 / exact.max(1) as f64
        );
        assert!(short.is_empty(), "not covered: {}", short.join(", "));
    }
}

fn quantile(values: &mut [f64], at: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let place = (at * values.len() as f64) as usize;
    values.get(place).copied().unwrap_or(f64::NAN)
}
