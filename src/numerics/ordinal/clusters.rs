//! How likely one treatment's grade lies above another's, when several grades belong to one dough.

use crate::numerics::Interval;
use crate::numerics::distribution::student_quantile;

/// Grades that belong together: those of one dough, or of one block. A dough has grades of one
/// treatment only.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cluster<T> {
    /// Grades of the treatment asked to lie above.
    pub above: Vec<T>,
    /// Grades of the other.
    pub below: Vec<T>,
}

/// Probability of superiority with an interval by clusters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClusteredSuperiority {
    /// Probability that a grade of the first treatment lies above one of the second, ties counted
    /// half.
    pub probability: f64,
    /// Its standard error between clusters; 0 when all clusters say the same.
    pub standard_error: f64,
    /// Degrees of freedom of the interval.
    pub degrees: f64,
    /// Interval on the scale of log odds, with Student's t. When every pair of clusters says the
    /// same (probability 0 or 1), the exact bound from as many independent pairs as there are:
    /// (α/2)^(1/pairs).
    pub interval: Interval,
}

/// Returns 1 for above, ½ for a tie, 0 for below.
fn lies_above<T: Ord>(a: &T, b: &T) -> f64 {
    match a.cmp(b) {
        std::cmp::Ordering::Greater => 1.0,
        std::cmp::Ordering::Equal => 0.5,
        std::cmp::Ordering::Less => 0.0,
    }
}

/// Returns the share of `others` that `value` lies above, ties half, from a sorted list.
fn placement<T: Ord>(value: &T, others: &[&T]) -> f64 {
    let lower = others.partition_point(|other| *other < value);
    let not_higher = others.partition_point(|other| *other <= value);
    (lower as f64 + 0.5 * (not_higher - lower) as f64) / others.len() as f64
}

/// Returns the interval of confidence `level` from a standard error, or the exact bound when there
/// is nothing between 0 and 1 to transform; `None` when clusters agree on another value.
fn interval_of(
    probability: f64,
    standard_error: f64,
    degrees: f64,
    pairs: usize,
    level: f64,
) -> Option<Interval> {
    let tail = 0.5 * (1.0 - level);
    let room = probability * (1.0 - probability);
    let bound = libm::pow(tail, 1.0 / pairs as f64);
    if room <= 1e-12 {
        return Some(if probability > 0.5 {
            Interval {
                low: bound,
                high: 1.0,
            }
        } else {
            Interval {
                low: 0.0,
                high: 1.0 - bound,
            }
        });
    }
    if standard_error <= 0.0 {
        return None;
    }
    let centre = libm::log(probability / (1.0 - probability));
    let reach = student_quantile(1.0 - tail, degrees)? * standard_error / room;
    let back = |x: f64| 1.0 / (1.0 + libm::exp(-x));
    Some(Interval {
        low: back(centre - reach),
        high: back(centre + reach),
    })
}

/// Returns the probability of superiority over all pairs of grades, with the variance between
/// clusters (Obuchowski 1997, Biometrics 53:567; for single grades that of DeLong et al. 1988,
/// Biometrics 44:837). Degrees of freedom: Satterthwaite's when no cluster holds both treatments,
/// else clusters less one. `level` is the confidence (0.95).
///
/// `None` for fewer than two clusters with grades of either treatment.
pub fn superiority_of_clusters<T: Ord>(
    clusters: &[Cluster<T>],
    level: f64,
) -> Option<ClusteredSuperiority> {
    let mut above: Vec<&T> = clusters.iter().flat_map(|c| &c.above).collect();
    let mut below: Vec<&T> = clusters.iter().flat_map(|c| &c.below).collect();
    above.sort();
    below.sort();
    let (n, m) = (above.len() as f64, below.len() as f64);
    let with = |has: fn(&Cluster<T>) -> bool| clusters.iter().filter(|c| has(c)).count();
    let with_above = with(|c| !c.above.is_empty());
    let with_below = with(|c| !c.below.is_empty());
    if with_above < 2 || with_below < 2 {
        return None;
    }
    let probability = above.iter().map(|a| placement(*a, &below)).sum::<f64>() / n;
    let (mut s_above, mut s_below, mut s_both) = (0.0, 0.0, 0.0);
    for cluster in clusters {
        let of_above: f64 = cluster
            .above
            .iter()
            .map(|a| placement(a, &below) - probability)
            .sum();
        let of_below: f64 = cluster
            .below
            .iter()
            .map(|b| 1.0 - placement(b, &above) - probability)
            .sum();
        s_above += of_above * of_above;
        s_below += of_below * of_below;
        s_both += of_above * of_below;
    }
    let spread = |count: usize| count as f64 / (count as f64 - 1.0);
    let part_above = spread(with_above) * s_above / (n * n);
    let part_below = spread(with_below) * s_below / (m * m);
    let both = with(|c| !c.above.is_empty() && !c.below.is_empty());
    let shared = 2.0 * spread(clusters.len()) * s_both / (n * m);
    let variance = part_above + part_below + if both > 0 { shared } else { 0.0 };
    let degrees = if both > 0 {
        with_above.max(with_below) as f64 - 1.0
    } else {
        let total = part_above + part_below;
        let squares = part_above * part_above / (with_above as f64 - 1.0)
            + part_below * part_below / (with_below as f64 - 1.0);
        if squares > 0.0 {
            total * total / squares
        } else {
            1.0
        }
    };
    let standard_error = variance.max(0.0).sqrt();
    let pairs = with_above.min(with_below);
    Some(ClusteredSuperiority {
        probability,
        standard_error,
        degrees,
        interval: interval_of(probability, standard_error, degrees, pairs, level)?,
    })
}

/// Returns the mean over blocks of the probability of superiority within each, with an interval
/// from its scatter between blocks (Student's t): only doughs of one block are compared, so that a
/// good flour does not help the treatment that happened to get it. Blocks without both treatments
/// are passed over.
///
/// `None` for fewer than two blocks with both treatments, or blocks that all agree on a
/// probability other than 0 or 1 (no scatter to judge by).
pub fn superiority_within_blocks<T: Ord>(
    blocks: &[Cluster<T>],
    level: f64,
) -> Option<ClusteredSuperiority> {
    let values: Vec<f64> = blocks
        .iter()
        .filter(|b| !b.above.is_empty() && !b.below.is_empty())
        .map(|b| {
            let pairs = b
                .above
                .iter()
                .flat_map(|a| b.below.iter().map(move |o| (a, o)));
            let sum: f64 = pairs.map(|(a, o)| lies_above(a, o)).sum();
            sum / (b.above.len() * b.below.len()) as f64
        })
        .collect();
    if values.len() < 2 {
        return None;
    }
    let count = values.len() as f64;
    let probability = values.iter().sum::<f64>() / count;
    let squares: f64 = values
        .iter()
        .map(|v| (v - probability) * (v - probability))
        .sum();
    let standard_error = (squares / (count - 1.0) / count).sqrt();
    let degrees = count - 1.0;
    Some(ClusteredSuperiority {
        probability,
        standard_error,
        degrees,
        interval: interval_of(probability, standard_error, degrees, values.len(), level)?,
    })
}
