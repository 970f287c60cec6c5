//! The noise of a record drawn anew, in blocks that keep what belongs together.

use super::bootstrap::{Resampling, draw_below};
use rand_chacha::ChaCha8Rng;
use rand_core::SeedableRng;

/// How residuals are cut into blocks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NoiseBlocks {
    /// Readings in a block: longer than the memory of the noise.
    pub length: usize,
    /// Readings to either side from which a block is drawn: noise that grows or falls along the
    /// record stays where it is.
    pub reach: usize,
}

/// Draws the noise of a record anew as often as `resampling` says, and shows each draw to `look`:
/// moving blocks (Künsch 1989, Ann. Stat. 17:1217) taken from near the place they are put
/// (Paparoditis and Politis 2002; both from memory). `residuals` are lines of one record, all as
/// long as the first; the same blocks are taken from each, so that they keep moving together.
/// Nothing is drawn of lines shorter than two blocks.
pub fn resample_noise(
    residuals: &[Vec<f64>],
    blocks: NoiseBlocks,
    resampling: Resampling,
    mut look: impl FnMut(&[Vec<f64>]),
) {
    let n = residuals.iter().map(Vec::len).min().unwrap_or(0);
    let length = blocks.length.max(1);
    if n < 2 * length {
        return;
    }
    let mut rng = ChaCha8Rng::seed_from_u64(resampling.seed);
    let mut drawn: Vec<Vec<f64>> = residuals.iter().map(|_| vec![0.0; n]).collect();
    for _ in 0..resampling.times {
        let mut at = 0;
        while at < n {
            let size = length.min(n - at);
            let low = at.saturating_sub(blocks.reach);
            let high = (at + blocks.reach).min(n - size).max(low);
            let low = low.min(n - size);
            let from = low + draw_below(high - low + 1, &mut rng);
            for (slot, line) in drawn.iter_mut().zip(residuals) {
                slot[at..at + size].copy_from_slice(&line[from..from + size]);
            }
            at += size;
        }
        look(&drawn);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_core::Rng;

    const BLOCKS: NoiseBlocks = NoiseBlocks {
        length: 5,
        reach: 40,
    };

    fn means(line: &[f64], seed: u64) -> Vec<f64> {
        let mut found = Vec::new();
        let resampling = Resampling { times: 2000, seed };
        resample_noise(&[line.to_vec()], BLOCKS, resampling, |drawn| {
            found.push(drawn[0].iter().sum::<f64>() / drawn[0].len() as f64);
        });
        found
    }

    #[test]
    fn the_scatter_of_a_mean_is_that_of_theory() {
        // Analytic: moving averages over 3 of white noise of variance 1/3 keep the sum's variance:
        // the mean of n has standard error about sqrt(1/n) = 0.0316 for n = 1000.
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        let white: Vec<f64> = (0..1002)
            .map(|_| (rng.next_u64() >> 11) as f64 / (1_u64 << 53) as f64 * 12.0_f64.sqrt())
            .map(|v| v - 3.0_f64.sqrt())
            .collect();
        let smooth: Vec<f64> = white
            .windows(3)
            .map(|w| w.iter().sum::<f64>() / 3.0)
            .collect();
        let wide = NoiseBlocks {
            length: 15,
            reach: 1000,
        };
        let mut found = Vec::new();
        let resampling = Resampling {
            times: 2000,
            seed: 2,
        };
        resample_noise(&[smooth], wide, resampling, |drawn| {
            found.push(drawn[0].iter().sum::<f64>() / 1000.0);
        });
        let mean = found.iter().sum::<f64>() / 2000.0;
        let sd = (found.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / 1999.0).sqrt();
        assert!((sd / 0.0316 - 1.0).abs() < 0.15, "{sd}");
    }

    #[test]
    fn the_same_seed_gives_the_same_draws_and_blocks_stay_near() {
        let ramp: Vec<f64> = (0..200).map(f64::from).collect();
        assert_eq!(means(&ramp, 3), means(&ramp, 3));
        assert_ne!(means(&ramp, 3), means(&ramp, 4));
        resample_noise(
            &[ramp.clone(), ramp],
            BLOCKS,
            Resampling { times: 50, seed: 5 },
            |drawn| {
                assert_eq!(drawn[0], drawn[1], "lines move together");
                for (place, value) in drawn[0].iter().enumerate() {
                    assert!((place as f64 - value).abs() <= 45.0, "{place}: {value}");
                }
            },
        );
    }

    #[test]
    fn short_lines_are_left_alone() {
        assert!(means(&[1.0; 9], 1).is_empty());
        assert!(means(&[], 1).is_empty());
    }
}
