//! A band that holds a whole curve of differences.

use super::mean_curve;
use crate::numerics::Resampling;
use rand_chacha::ChaCha8Rng;
use rand_core::{Rng, SeedableRng};

/// How a band is made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandSettings {
    /// Confidence that the band holds the whole curve, such as 0.95.
    pub confidence: f64,
    /// How often signs are drawn when they are too many to take all (from 2^blocks on), and the
    /// seed.
    pub resampling: Resampling,
}

/// Why a band was refused.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum BandFault {
    /// Curves differ in length, are empty, or hold a value that is no number.
    #[error("curves differ in length, are empty, or hold a value that is no number")]
    Shape,
    /// The confidence does not lie strictly between 0 and 1.
    #[error("the confidence must lie between 0 and 1")]
    Confidence,
    /// With so few blocks no difference, however large, could be told from chance.
    #[error(
        "{blocks} blocks can reach p {smallest_p} at best; at least {needed} blocks are needed"
    )]
    TooFewBlocks {
        /// Blocks there are.
        blocks: usize,
        /// Smallest p they can reach: 2 over 2^blocks.
        smallest_p: f64,
        /// Blocks that would do.
        needed: usize,
    },
    /// All blocks differ by exactly the same curve.
    #[error("all blocks differ by the same curve: no scatter to judge by")]
    NoScatter,
}

/// A mean curve of differences between two treatments, with its band.
#[derive(Debug, Clone, PartialEq)]
pub struct DifferenceBand {
    /// Mean difference at each time.
    pub mean: Vec<f64>,
    /// Lower edge of the band at each time.
    pub low: Vec<f64>,
    /// Upper edge.
    pub high: Vec<f64>,
    /// Half width of the band over its standard error.
    pub critical: f64,
    /// p of the test that there is no difference at any time, by the signs of the blocks.
    pub p: f64,
    /// Smallest p that so many blocks can reach.
    pub smallest_p: f64,
    /// Blocks.
    pub blocks: usize,
}

/// A stretch of time in which the band leaves out 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Region {
    /// Index of its first time.
    pub first: usize,
    /// Index of its last time.
    pub last: usize,
    /// Whether the first treatment is above the second there.
    pub above: bool,
}

impl DifferenceBand {
    /// Returns the stretches in which the treatments differ: the band leaves out 0. The chance that
    /// any is found without a difference is at most one less the confidence.
    pub fn regions(&self) -> Vec<Region> {
        let mut regions: Vec<Region> = Vec::new();
        for (i, (low, high)) in self.low.iter().zip(&self.high).enumerate() {
            if *low <= 0.0 && *high >= 0.0 {
                continue;
            }
            let above = *low > 0.0;
            match regions.last_mut() {
                Some(r) if r.last + 1 == i && r.above == above => r.last = i,
                _ => regions.push(Region {
                    first: i,
                    last: i,
                    above,
                }),
            }
        }
        regions
    }

    /// Returns whether the whole band lies strictly within ±margin: the curves are then the same
    /// for all that matters. A margin must be fixed before the data.
    pub fn is_within(&self, margin: f64) -> bool {
        self.low.iter().all(|v| *v > -margin) && self.high.iter().all(|v| *v < margin)
    }

    /// Returns whether the band lies wholly outside ±margin at some time: the curves are then not
    /// the same.
    pub fn is_somewhere_beyond(&self, margin: f64) -> bool {
        self.low.iter().any(|v| *v > margin) || self.high.iter().any(|v| *v < -margin)
    }
}

/// Returns the simultaneous band for the mean of `differences`, one curve a block (first treatment
/// less second, doughs of a treatment averaged within the block), by flipping the signs of blocks
/// (Fisher 1935; largest statistic over all times: Westfall and Young 1993; from memory). With
/// up to 12 blocks all signs are taken, else some are drawn.
///
/// The statistic at each time is the mean over a standard error whose variance is drawn halfway to
/// the mean variance over all times: with six to ten blocks a variance of one time alone is so
/// uncertain that the band is nearly twice as wide. p comes from flipping the differences
/// themselves, exact if they are symmetric. The band's half width is the larger of the quantiles of
/// that and of the flipped residuals: the first so that a band that leaves out 0 never contradicts
/// p, the second because only residuals give the right width when there is a difference
/// (`tests/statistics_functional.rs` counts its coverage).
///
/// # Errors
/// [`BandFault`]; a design is refused whose blocks could not reach one less the confidence.
pub fn difference_band(
    differences: &[Vec<f64>],
    settings: BandSettings,
) -> Result<DifferenceBand, BandFault> {
    let blocks = differences.len();
    let alpha = 1.0 - settings.confidence;
    if !(alpha > 0.0 && alpha < 1.0) {
        return Err(BandFault::Confidence);
    }
    let points = differences.first().map_or(0, Vec::len);
    let sound = |d: &Vec<f64>| d.len() == points && d.iter().all(|v| v.is_finite());
    if points == 0 || !differences.iter().all(sound) {
        return Err(BandFault::Shape);
    }
    let smallest = |blocks: usize| 2.0 * libm::exp2(-(blocks as f64));
    if smallest(blocks) > alpha {
        let needed = (blocks..64).find(|b| smallest(*b) <= alpha).unwrap_or(64);
        return Err(BandFault::TooFewBlocks {
            blocks,
            smallest_p: smallest(blocks),
            needed,
        });
    }
    let mean = mean_curve(differences);
    let residuals: Vec<Vec<f64>> = differences
        .iter()
        .map(|d| d.iter().zip(&mean).map(|(v, m)| v - m).collect())
        .collect();
    let none = vec![1.0; blocks];
    let errors = standard_errors(&residuals, &none);
    if !errors.iter().all(|e| *e > 0.0) {
        return Err(BandFault::NoScatter);
    }
    let signs = all_signs(blocks, settings.resampling);
    let observed = largest_statistic(differences, &none);
    let flipped = |curves: &[Vec<f64>]| -> Vec<f64> {
        let mut largest: Vec<f64> = signs.iter().map(|s| largest_statistic(curves, s)).collect();
        largest.sort_by(f64::total_cmp);
        largest
    };
    let under_none = flipped(differences);
    let place = (settings.confidence * signs.len() as f64).ceil() as usize;
    let quantile = |sorted: &[f64]| sorted[place.clamp(1, sorted.len()) - 1];
    let critical = quantile(&under_none).max(quantile(&flipped(&residuals)));
    let reached = observed * (1.0 - 1e-12);
    let reaching = under_none.len() - under_none.partition_point(|v| *v < reached);
    let edge = |side: f64| -> Vec<f64> {
        let edge = |(m, e): (&f64, &f64)| m + side * critical * e;
        mean.iter().zip(&errors).map(edge).collect()
    };
    Ok(DifferenceBand {
        low: edge(-1.0),
        high: edge(1.0),
        critical,
        p: reaching as f64 / signs.len() as f64,
        smallest_p: smallest(blocks).max(1.0 / signs.len() as f64),
        blocks,
        mean,
    })
}

/// Blocks up to which all signs are taken: 2^12 of them.
const ALL_SIGNS_TO: usize = 12;

/// Returns every arrangement of signs, or some drawn at random with the data's own first.
fn all_signs(blocks: usize, resampling: Resampling) -> Vec<Vec<f64>> {
    let of_bits = |bits: &dyn Fn(usize) -> bool| -> Vec<f64> {
        (0..blocks)
            .map(|b| if bits(b) { -1.0 } else { 1.0 })
            .collect()
    };
    if blocks <= ALL_SIGNS_TO {
        return (0..1_u32 << blocks)
            .map(|word| of_bits(&|b| word >> b & 1 == 1))
            .collect();
    }
    let mut rng = ChaCha8Rng::seed_from_u64(resampling.seed);
    let mut signs = vec![vec![1.0; blocks]];
    for _ in 0..resampling.times.max(999) {
        let words: Vec<u64> = (0..blocks.div_ceil(64)).map(|_| rng.next_u64()).collect();
        signs.push(of_bits(&|b| words[b / 64] >> (b % 64) & 1 == 1));
    }
    signs
}

/// Returns the mean curve of signed curves and the standard error of each of its values, its
/// variance drawn halfway to the mean over all times.
fn moments(curves: &[Vec<f64>], signs: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let count = curves.len() as f64;
    let points = curves.first().map_or(0, Vec::len);
    let (mut mean, mut squares) = (vec![0.0; points], vec![0.0; points]);
    for (curve, sign) in curves.iter().zip(signs) {
        for ((m, q), v) in mean.iter_mut().zip(&mut squares).zip(curve) {
            *m += sign * v;
            *q += v * v;
        }
    }
    for (m, q) in mean.iter_mut().zip(&mut squares) {
        *m /= count;
        *q = ((*q / count - *m * *m) / (count - 1.0)).max(0.0);
    }
    let overall = squares.iter().sum::<f64>() / points as f64;
    let drawn = |q: &f64| (0.5 * (q + overall)).sqrt();
    let errors = squares.iter().map(drawn).collect();
    (mean, errors)
}

fn standard_errors(residuals: &[Vec<f64>], signs: &[f64]) -> Vec<f64> {
    moments(residuals, signs).1
}

/// Returns the largest of |mean|/standard error over all times; infinite without any scatter.
fn largest_statistic(curves: &[Vec<f64>], signs: &[f64]) -> f64 {
    let (mean, errors) = moments(curves, signs);
    let statistic = |(m, e): (&f64, &f64)| if m.abs() > 0.0 { m.abs() / e } else { 0.0 };
    mean.iter().zip(&errors).map(statistic).fold(0.0, f64::max)
}
