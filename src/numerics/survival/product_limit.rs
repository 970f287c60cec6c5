//! The share of doughs not yet done at each time, and whether two treatments differ in it.

use super::regression::TimeOutcome;
use crate::numerics::Interval;
use crate::numerics::bootstrap::{Resampling, shuffle};
use crate::numerics::distribution::{chi_squared_upper, normal_quantile};
use rand_chacha::ChaCha8Rng;
use rand_core::SeedableRng;

/// A time that was reached, or the time until which it was not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RightCensored {
    /// The time.
    pub time: f64,
    /// Whether it was reached then; if not, it lies above.
    pub reached: bool,
}

/// Returns outcomes as times reached or not; `None` when one lies below a bound or between two,
/// which these methods cannot take: use the interval regression.
pub fn right_censored(outcomes: &[TimeOutcome]) -> Option<Vec<RightCensored>> {
    outcomes
        .iter()
        .map(|outcome| match *outcome {
            TimeOutcome::At(time) => Some(RightCensored {
                time,
                reached: true,
            }),
            TimeOutcome::Above(time) => Some(RightCensored {
                time,
                reached: false,
            }),
            TimeOutcome::Below(_) | TimeOutcome::Between(..) => None,
        })
        .collect()
}

/// The estimate from one time to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SurvivalStep {
    /// A time at which something was reached.
    pub time: f64,
    /// How many had not reached it just before, those that left the record then included.
    pub at_risk: usize,
    /// How many reached it at this time.
    pub reached: usize,
    /// Estimated share for which it lies above this time.
    pub share: f64,
    /// Its 95 % interval on the scale of ln(−ln share), with Greenwood's variance; `None` where the
    /// share is 0.
    pub interval: Option<Interval>,
}

/// Returns the product-limit estimate (Kaplan and Meier 1958, J. Am. Stat. Assoc. 53:457), one step
/// a time at which something was reached.
pub fn product_limit(times: &[RightCensored]) -> Vec<SurvivalStep> {
    let z = normal_quantile(0.975).unwrap_or(f64::NAN);
    let mut sorted = times.to_vec();
    sorted.sort_by(|a, b| a.time.total_cmp(&b.time));
    let mut at_risk = sorted.len();
    let (mut share, mut greenwood) = (1.0, 0.0);
    let mut steps = Vec::new();
    for tied in sorted.chunk_by(|a, b| a.time.total_cmp(&b.time).is_eq()) {
        let reached = tied.iter().filter(|t| t.reached).count();
        if reached > 0 {
            let left = (at_risk - reached) as f64;
            share *= left / at_risk as f64;
            greenwood += reached as f64 / (at_risk as f64 * left);
            let interval = (share > 0.0).then(|| {
                let log = libm::log(share);
                let factor = libm::exp(z * greenwood.sqrt() / log.abs());
                Interval {
                    low: libm::exp(log * factor),
                    high: libm::exp(log / factor),
                }
            });
            steps.push(SurvivalStep {
                time: tied[0].time,
                at_risk,
                reached,
                share,
                interval,
            });
        }
        at_risk -= tied.len();
    }
    steps
}

/// Returns the first time by which at least half have reached it; `None` when fewer ever do.
pub fn median_time(steps: &[SurvivalStep]) -> Option<f64> {
    let half = |step: &&SurvivalStep| step.share <= 0.5 + 1e-12;
    steps.iter().find(half).map(|step| step.time)
}

/// Whether two treatments differ in time; not by how much.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogRank {
    /// How many more of the first treatment reached it than if both were alike; positive when the
    /// first is quicker.
    pub excess: f64,
    /// Chi-squared with one degree of freedom.
    pub statistic: f64,
    /// p of the statistic.
    pub p: f64,
    /// p by shuffling the treatments within each stratum, the data counted as one shuffle. It
    /// assumes that records of both treatments ended alike.
    pub p_permuted: f64,
}

/// Returns the log-rank test of two treatments, summed over strata such as blocks (Mantel 1966,
/// Cancer Chemother. Rep. 50:163; hypergeometric variance). Each stratum holds the times of the
/// first and of the second treatment.
///
/// `None` when nothing was reached while both treatments were at risk.
pub fn log_rank(
    strata: &[(Vec<RightCensored>, Vec<RightCensored>)],
    resampling: Resampling,
) -> Option<LogRank> {
    let mut pooled: Vec<(Vec<RightCensored>, usize)> = strata
        .iter()
        .map(|(first, second)| {
            let both: Vec<RightCensored> = first.iter().chain(second).copied().collect();
            (both, first.len())
        })
        .collect();
    let statistic = |pooled: &[(Vec<RightCensored>, usize)]| {
        let parts = pooled.iter().map(|(times, first)| excess(times, *first));
        let (sum, variance) = parts.fold((0.0, 0.0), |(e, v), part| (e + part.0, v + part.1));
        (sum, variance)
    };
    let (found, variance) = statistic(&pooled);
    if variance <= 0.0 {
        return None;
    }
    let chi_squared = found * found / variance;
    let mut rng = ChaCha8Rng::seed_from_u64(resampling.seed);
    let mut reaching = 1;
    for _ in 0..resampling.times {
        pooled
            .iter_mut()
            .for_each(|(times, _)| shuffle(times, &mut rng));
        let (sum, variance) = statistic(&pooled);
        let shuffled = if variance > 0.0 {
            sum * sum / variance
        } else {
            0.0
        };
        reaching += usize::from(shuffled >= chi_squared * (1.0 - 1e-12));
    }
    Some(LogRank {
        excess: found,
        statistic: chi_squared,
        p: chi_squared_upper(chi_squared, 1.0)?,
        p_permuted: reaching as f64 / (resampling.times + 1) as f64,
    })
}

/// Returns reached less expected of the first `first` times, and its variance.
fn excess(times: &[RightCensored], first: usize) -> (f64, f64) {
    let mut order: Vec<usize> = (0..times.len()).collect();
    order.sort_by(|a, b| times[*a].time.total_cmp(&times[*b].time));
    let (mut all_left, mut first_left) = (times.len() as f64, first as f64);
    let (mut sum, mut variance) = (0.0, 0.0);
    for tied in order.chunk_by(|a, b| times[*a].time.total_cmp(&times[*b].time).is_eq()) {
        let count = |is: &dyn Fn(usize) -> bool| tied.iter().filter(|i| is(**i)).count() as f64;
        let reached = count(&|i| times[i].reached);
        let share = first_left / all_left;
        sum += count(&|i| i < first && times[i].reached) - reached * share;
        if all_left > 1.0 {
            let kept = (all_left - reached) / (all_left - 1.0);
            variance += reached * share * (1.0 - share) * kept;
        }
        all_left -= tied.len() as f64;
        first_left -= count(&|i| i < first);
    }
    (sum, variance)
}
