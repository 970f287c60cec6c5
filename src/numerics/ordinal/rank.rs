//! A rank test of two treatments within strata.

use crate::numerics::agreement::tie_sum;
use crate::numerics::bootstrap::{Resampling, shuffle};
use crate::numerics::distribution::normal_cdf;
use rand_chacha::ChaCha8Rng;
use rand_core::SeedableRng;

/// Values of two treatments in one block; one value a dough.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stratum<T> {
    /// Values of the treatment asked to lie above.
    pub above: Vec<T>,
    /// Values of the other.
    pub below: Vec<T>,
}

/// A stratified rank test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VanElteren {
    /// Standardised sum of weighted rank sums; positive when the first treatment lies above.
    pub z: f64,
    /// Two-sided p by the normal approximation, without continuity correction.
    pub p_normal: f64,
    /// Two-sided p by shuffling the treatments within each stratum, the data counted as one
    /// shuffle. Use this one for few doughs.
    pub p_permuted: f64,
    /// Smallest two-sided p that so many doughs can reach, 2 over the number of arrangements: a
    /// test that cannot go below the level proves nothing.
    pub smallest_p: f64,
}

/// Midranks within a stratum, those of the first treatment first, and what their sum should be.
struct Ranked {
    ranks: Vec<f64>,
    above: usize,
    weight: f64,
    expected: f64,
    variance: f64,
}

/// Returns the stratified rank-sum test with weights 1/(N + 1), which gives every stratum the pull
/// that its size earns (van Elteren 1960, Bull. Int. Stat. Inst. 37:351; Lehmann 1975, ch. 3; from
/// memory). Ties share their ranks. Strata with one treatment only are passed over.
///
/// `None` when no stratum has both, or within all strata all values are the same.
pub fn van_elteren<T: Ord>(strata: &[Stratum<T>], resampling: Resampling) -> Option<VanElteren> {
    let mut ranked: Vec<Ranked> = strata
        .iter()
        .filter(|s| !s.above.is_empty() && !s.below.is_empty())
        .map(rank)
        .collect();
    let variance: f64 = ranked
        .iter()
        .map(|r| r.weight * r.weight * r.variance)
        .sum();
    if variance <= 0.0 {
        return None;
    }
    let excess = |r: &Ranked| {
        let sum: f64 = r.ranks[..r.above].iter().sum();
        r.weight * (sum - r.expected)
    };
    let found: f64 = ranked.iter().map(excess).sum();
    let z = found / variance.sqrt();
    let smallest_p = ranked.iter().map(arrangements).product::<f64>();
    let mut rng = ChaCha8Rng::seed_from_u64(resampling.seed);
    let wanted = found.abs() * (1.0 - 1e-12);
    let mut reaching = 1;
    for _ in 0..resampling.times {
        ranked
            .iter_mut()
            .for_each(|r| shuffle(&mut r.ranks, &mut rng));
        let sum: f64 = ranked.iter().map(excess).sum();
        reaching += usize::from(sum.abs() >= wanted);
    }
    Some(VanElteren {
        z,
        p_normal: 2.0 * normal_cdf(-z.abs()),
        p_permuted: reaching as f64 / (resampling.times + 1) as f64,
        smallest_p: (2.0 / smallest_p).min(1.0),
    })
}

fn rank<T: Ord>(stratum: &Stratum<T>) -> Ranked {
    let values: Vec<&T> = stratum.above.iter().chain(&stratum.below).collect();
    let mut sorted = values.clone();
    sorted.sort();
    let midrank = |value: &&T| {
        let lower = sorted.partition_point(|other| other < value);
        let not_higher = sorted.partition_point(|other| other <= value);
        0.5 * (lower + not_higher + 1) as f64
    };
    let (above, all) = (stratum.above.len(), values.len() as f64);
    let ties = tie_sum(&stratum.above, &stratum.below);
    let (n, m) = (above as f64, all - above as f64);
    Ranked {
        ranks: values.iter().map(midrank).collect(),
        above,
        weight: 1.0 / (all + 1.0),
        expected: 0.5 * n * (all + 1.0),
        variance: n * m / 12.0 * (all + 1.0 - ties / (all * (all - 1.0))),
    }
}

/// Returns in how many ways the treatments can be dealt to the doughs of a stratum.
fn arrangements(ranked: &Ranked) -> f64 {
    let all = ranked.ranks.len();
    (1..=ranked.above)
        .map(|k| (all - ranked.above + k) as f64 / k as f64)
        .product()
}
