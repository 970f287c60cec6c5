//! Intervals by resampling whole blocks, from a stated seed.

use rand_chacha::ChaCha8Rng;
use rand_core::{Rng, SeedableRng};

/// How blocks are resampled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Resampling {
    /// How often.
    pub times: usize,
    /// Seed of the generator (ChaCha with 8 rounds): the same seed gives the same interval.
    pub seed: u64,
}

/// What resampling showed of a statistic.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resampled {
    /// 2.5 % point of the resampled values.
    pub low: f64,
    /// 97.5 % point.
    pub high: f64,
    /// Their standard deviation.
    pub standard_error: f64,
    /// Share of resamples in which the statistic was defined.
    pub defined: f64,
}

/// Returns the percentile interval of `statistic` over resamples of `blocks` blocks drawn with
/// replacement (Efron and Tibshirani 1993, ch. 13; from memory). The statistic is given the
/// indices of the blocks drawn; a block keeps together what belongs together, such as all
/// gradings of a piece.
///
/// `None` for fewer than two blocks, or when fewer than half of the resamples define it.
pub fn resample_blocks(
    blocks: usize,
    resampling: Resampling,
    mut statistic: impl FnMut(&[usize]) -> Option<f64>,
) -> Option<Resampled> {
    if blocks < 2 || resampling.times < 2 {
        return None;
    }
    let mut rng = ChaCha8Rng::seed_from_u64(resampling.seed);
    let mut drawn = vec![0; blocks];
    let mut values = Vec::with_capacity(resampling.times);
    for _ in 0..resampling.times {
        for slot in &mut drawn {
            *slot = draw_below(blocks, &mut rng);
        }
        values.extend(statistic(&drawn).filter(|v| v.is_finite()));
    }
    if 2 * values.len() < resampling.times || values.len() < 2 {
        return None;
    }
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    let squares: f64 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
    values.sort_by(f64::total_cmp);
    Some(Resampled {
        low: quantile(&values, 0.025),
        high: quantile(&values, 0.975),
        standard_error: (squares / (count - 1.0)).sqrt(),
        defined: count / resampling.times as f64,
    })
}

/// Returns a whole number below `bound` (0 for none): the high half of a 128-bit product is uniform
/// to 1 in 2^64.
pub(super) fn draw_below(bound: usize, rng: &mut ChaCha8Rng) -> usize {
    ((u128::from(rng.next_u64()) * bound as u128) >> 64) as usize
}

/// Puts `values` into an order drawn at random (Fisher and Yates 1938; from memory).
pub fn shuffle<T>(values: &mut [T], rng: &mut ChaCha8Rng) {
    for last in (1..values.len()).rev() {
        values.swap(last, draw_below(last + 1, rng));
    }
}

/// Returns the quantile of sorted values, by linear interpolation (type 7 of Hyndman and Fan 1996,
/// Am. Stat. 50:361).
pub(super) fn quantile(sorted: &[f64], at: f64) -> f64 {
    let place = at * (sorted.len() - 1) as f64;
    let below = place.floor() as usize;
    let next = sorted[(below + 1).min(sorted.len() - 1)];
    sorted[below] + (place - below as f64) * (next - sorted[below])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_interval_of_a_mean_is_that_of_theory() {
        // Analytic: mean of 200 values of 0..200 has standard error sd/sqrt(n) = 57.73/14.14.
        let values: Vec<f64> = (0..200).map(f64::from).collect();
        let settings = Resampling {
            times: 4000,
            seed: 7,
        };
        let mean = |drawn: &[usize]| {
            Some(drawn.iter().map(|&i| values[i]).sum::<f64>() / drawn.len() as f64)
        };
        let found = resample_blocks(200, settings, mean);
        let wanted = 57.735 / 200.0_f64.sqrt();
        assert!(
            found.is_some_and(|f| (f.standard_error / wanted - 1.0).abs() < 0.05),
            "{found:?}"
        );
        assert!(
            found.is_some_and(|f| (f.high - 99.5 - 1.96 * wanted).abs() < 0.6),
            "{found:?}"
        );
        assert_eq!(found, resample_blocks(200, settings, mean));
        let other = Resampling {
            seed: 8,
            ..settings
        };
        assert_ne!(found, resample_blocks(200, other, mean));
    }

    #[test]
    fn a_statistic_that_is_mostly_undefined_has_no_interval() {
        let settings = Resampling {
            times: 100,
            seed: 1,
        };
        assert_eq!(resample_blocks(10, settings, |_| None), None);
        assert_eq!(resample_blocks(1, settings, |_| Some(1.0)), None);
    }
}
