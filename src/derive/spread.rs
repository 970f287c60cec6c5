//! Uncertainty of what is read from smoothed lines: their noise is drawn anew, and they are read
//! again.

use crate::numerics::{NoiseBlocks, Resampling, local_linear, resample_noise};

/// What drawing the noise anew showed of one number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Standard deviation over the draws.
    pub scatter: f64,
    /// Mean over the draws minus the number itself: what smoothing and noise bend it by.
    pub bias: f64,
    /// Share of the draws in which the number was defined.
    pub defined: f64,
}

impl Spread {
    /// Returns the standard uncertainty: scatter and bias in quadrature. The bias is not corrected
    /// but taken as uncertain, twice: a smoothed line has lost part of its curvature and smoothing
    /// bends it less the second time, and its maximum stands on a crest of noise already (project
    /// choice, from simulation).
    pub fn u(&self) -> f64 {
        self.scatter.hypot(2.0 * self.bias)
    }
}

/// How the noise of a record is drawn anew.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NoiseDraws {
    /// Least step between the points that are drawn, s: a record sampled faster is thinned to it.
    pub least_step_s: f64,
    /// Half width of the local linear smoothing, s.
    pub smoothing_half_width_s: f64,
    /// How long a raw line remembers a reading, s: blocks are longer.
    pub memory_s: f64,
    /// Length of a block, s.
    pub block_s: f64,
    /// Time to either side from which a block is drawn, s.
    pub reach_s: f64,
    /// Number of draws.
    pub times: u32,
    /// Seed of the draws.
    pub seed: u64,
}

/// Raw lines over one abscissa, each with its smoothed line.
pub(super) struct NoisyLines<'a> {
    /// Seconds from time zero.
    pub t: &'a [f64],
    /// Raw lines.
    pub raw: Vec<&'a [f64]>,
    /// Smoothed lines, in the same order.
    pub smooth: Vec<&'a [f64]>,
}

impl NoisyLines<'_> {
    /// Returns the spread of every number that `read` reads from times, lines before smoothing and
    /// smoothed lines; `None` where fewer than half of the draws define it.
    pub fn spreads(
        &self,
        draws: &NoiseDraws,
        read: impl Fn(&[f64], &[Vec<f64>], &[Vec<f64>]) -> Vec<Option<f64>>,
    ) -> Vec<Option<Spread>> {
        let kept = thinned(self.t, draws.least_step_s);
        let pick = |line: &[f64]| -> Vec<f64> {
            kept.iter().filter_map(|i| line.get(*i).copied()).collect()
        };
        let t = pick(self.t);
        let smooth: Vec<Vec<f64>> = self.smooth.iter().map(|line| pick(line)).collect();
        let blocks = blocks(&t, draws);
        let inflate = inflation(&t, draws, blocks.length);
        let residuals: Vec<Vec<f64>> = self
            .raw
            .iter()
            .zip(&smooth)
            .map(|(raw, smooth)| {
                let raw = pick(raw);
                raw.iter()
                    .zip(smooth)
                    .map(|(a, b)| inflate * (a - b))
                    .collect()
            })
            .collect();
        let values = read(&t, &smooth, &smooth);
        let mut sums = vec![Moments::default(); values.len()];
        let resampling = Resampling {
            times: draws.times as usize,
            seed: draws.seed,
        };
        resample_noise(&residuals, blocks, resampling, |noise| {
            let noisy: Vec<Vec<f64>> = smooth
                .iter()
                .zip(noise)
                .map(|(line, noise)| line.iter().zip(noise).map(|(a, b)| a + b).collect())
                .collect();
            let again: Vec<Vec<f64>> = noisy
                .iter()
                .map(|line| local_linear(&t, line, draws.smoothing_half_width_s))
                .collect();
            for (sum, value) in sums.iter_mut().zip(read(&t, &noisy, &again)) {
                sum.add(value);
            }
        });
        values
            .iter()
            .zip(&sums)
            .map(|(value, sum)| sum.spread((*value)?, draws.times))
            .collect()
    }
}

/// Returns the points to keep so that no two lie closer than `least_step_s`.
fn thinned(t: &[f64], least_step_s: f64) -> Vec<usize> {
    let mut kept: Vec<usize> = Vec::new();
    let mut next = f64::MIN;
    for (i, at) in t.iter().enumerate() {
        if *at >= next - 1e-9 {
            kept.push(i);
            next = at + least_step_s;
        }
    }
    // The end of the record is read too.
    if let (Some(last), Some(end)) = (kept.last().copied(), t.len().checked_sub(1))
        && last != end
    {
        kept.push(end);
    }
    kept
}

/// Returns the mean step of the abscissa.
fn mean_step(t: &[f64]) -> f64 {
    let span = t.last().zip(t.first()).map_or(0.0, |(b, a)| b - a);
    (span / t.len().saturating_sub(1).max(1) as f64).max(1e-6)
}

/// Returns the factor by which residuals are too small. A smoothed line follows its own noise: of
/// the variance of a block's mean, the share of the smoothing window that the block fills is lost.
/// And noise that is correlated over m readings loses the correlations across the ends of blocks of
/// L readings: (m² − 1)/(3 m L) of its variance. (Variance of means and of a moving average, cut
/// into blocks; derived.)
fn inflation(t: &[f64], draws: &NoiseDraws, length: usize) -> f64 {
    let step = mean_step(t);
    let block_s = length as f64 * step;
    let window_s = 2.0 * draws.smoothing_half_width_s;
    let followed = (block_s / window_s.max(f64::MIN_POSITIVE)).min(0.6);
    let m = (draws.memory_s / step).max(1.0);
    let cut = ((m * m - 1.0) / (3.0 * m * length as f64)).min(0.6);
    1.0 / ((1.0 - followed) * (1.0 - cut)).sqrt()
}

fn blocks(t: &[f64], draws: &NoiseDraws) -> NoiseBlocks {
    let step = mean_step(t);
    NoiseBlocks {
        length: (draws.block_s / step).ceil().max(1.0) as usize,
        reach: (draws.reach_s / step).ceil() as usize,
    }
}

/// Running count, sum and sum of squares about the first value.
#[derive(Debug, Clone, Copy, Default)]
struct Moments {
    origin: f64,
    count: u32,
    sum: f64,
    squares: f64,
}

impl Moments {
    fn add(&mut self, value: Option<f64>) {
        let Some(value) = value.filter(|v| v.is_finite()) else {
            return;
        };
        if self.count == 0 {
            self.origin = value;
        }
        self.count += 1;
        self.sum += value - self.origin;
        self.squares += (value - self.origin) * (value - self.origin);
    }

    fn spread(&self, value: f64, times: u32) -> Option<Spread> {
        if self.count < 2 || 2 * self.count < times {
            return None;
        }
        let count = f64::from(self.count);
        let mean = self.sum / count;
        let variance = (self.squares - count * mean * mean) / (count - 1.0);
        Some(Spread {
            scatter: variance.max(0.0).sqrt(),
            bias: self.origin + mean - value,
            defined: count / f64::from(times),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::ChaCha8Rng;
    use rand_core::{Rng, SeedableRng};

    #[test]
    fn the_spread_of_a_smoothed_level_is_that_of_theory() {
        // Analytic: the middle of a line fitted to n independent readings of standard deviation s
        // has standard error s/sqrt(n): 40 readings of 1 s within ±20 s, s = 1.
        let t: Vec<f64> = (0..600).map(f64::from).collect();
        let mut rng = ChaCha8Rng::seed_from_u64(4);
        let raw: Vec<f64> = (0..600)
            .map(|_| ((rng.next_u64() >> 11) as f64 / (1_u64 << 53) as f64 - 0.5) * 12.0_f64.sqrt())
            .collect();
        let draws = NoiseDraws {
            least_step_s: 1.0,
            smoothing_half_width_s: 20.0,
            memory_s: 1.0,
            block_s: 2.0,
            reach_s: 200.0,
            times: 400,
            seed: 1,
        };
        let smooth = local_linear(&t, &raw, 20.0);
        let lines = NoisyLines {
            t: &t,
            raw: vec![&raw],
            smooth: vec![&smooth],
        };
        let found = lines.spreads(&draws, |_, _, lines| vec![lines[0].get(300).copied(), None]);
        let spread = found[0].unwrap_or(Spread {
            scatter: 0.0,
            bias: 9.0,
            defined: 0.0,
        });
        assert!(
            (spread.scatter * 41.0_f64.sqrt() - 1.0).abs() < 0.2,
            "{spread:?}"
        );
        assert!(spread.bias.abs() < 0.1 && found[1].is_none(), "{found:?}");
    }

    #[test]
    fn thinning_keeps_the_step_and_the_end() {
        let t = [0.0, 0.3, 0.6, 0.9, 1.2, 1.3];
        assert_eq!(thinned(&t, 0.5), [0, 2, 4, 5]);
        assert_eq!(thinned(&t, 0.0), [0, 1, 2, 3, 4, 5]);
    }
}
