//! Single readings far from their neighbourhood.

use super::extent::rolling_mean;
use super::robust::{NORMAL_FACTOR, median_in_place, median_of_some};

/// Returns the indices of readings that stand further than `limit` robust standard deviations
/// from the median of the readings within `half_width` of them (Hampel's identifier; Davies and
/// Gather 1993, J. Am. Stat. Assoc. 88:782; from memory). `floor` is the smallest scatter assumed,
/// so that a constant stretch does not turn every step into an outlier. A window always holds at
/// least seven readings. `x` must not decrease.
///
/// A periodic ripple sampled near twice its frequency splits a window into two camps, and the
/// median sits in one of them. So a reading must also lie outside the middle half of a window twice
/// as wide by more than 1.2 times that half's width: no ripple of two sines does.
///
/// Only readings are examined that lie further from the mean of their neighbourhood than
/// `limit * floor` and than three times the record's median distance, or that follow an outlier:
/// the ripple of two sines stays within three times its median.
pub fn find_outliers(x: &[f64], y: &[f64], half_width: f64, limit: f64, floor: f64) -> Vec<usize> {
    let n = x.len().min(y.len());
    if n < LEAST_READINGS {
        return Vec::new();
    }
    let jump = limit * floor;
    let distances: Vec<f64> = rolling_mean(&x[..n], &y[..n], half_width)
        .iter()
        .zip(y)
        .map(|(mean, value)| (value - mean).abs())
        .collect();
    let usual = median_of_some(&distances).unwrap_or(0.0);
    let suspicious = jump.max(3.0 * usual);
    let mut found: Vec<usize> = Vec::new();
    let mut window = Vec::new();
    for i in 0..n {
        let follows = i > 0 && found.last() == Some(&(i - 1));
        if distances[i] <= suspicious && !follows {
            continue;
        }
        let (from, to) = neighbourhood(&x[..n], i, half_width);
        window.clear();
        window.extend_from_slice(&y[from..to]);
        let Some(centre) = median_in_place(&mut window) else {
            continue;
        };
        let distance = (y[i] - centre).abs();
        if distance <= jump {
            continue;
        }
        for value in &mut window {
            *value = (*value - centre).abs();
        }
        let scatter = median_in_place(&mut window).map_or(0.0, |mad| NORMAL_FACTOR * mad);
        if distance > limit * scatter.max(floor) {
            let (from, to) = neighbourhood(&x[..n], i, 2.0 * half_width);
            if leaves_middle_half(&y[from..to], y[i]) {
                found.push(i);
            }
        }
    }
    found
}

/// Returns whether `value` lies outside the middle half of `window` by 1.2 times its width.
fn leaves_middle_half(window: &[f64], value: f64) -> bool {
    let mut sorted = window.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let at = |share: usize| {
        sorted
            .get(sorted.len() * share / 4)
            .copied()
            .unwrap_or(value)
    };
    let (low, high) = (at(1), at(3));
    let reach = 1.2 * (high - low);
    value > high + reach || value < low - reach
}

const LEAST_READINGS: usize = 7;

fn neighbourhood(x: &[f64], i: usize, half_width: f64) -> (usize, usize) {
    let (mut from, mut to) = (i, i + 1);
    while from > 0 && x[i] - x[from - 1] <= half_width {
        from -= 1;
    }
    while to < x.len() && x[to] - x[i] <= half_width {
        to += 1;
    }
    while to - from < LEAST_READINGS && (from > 0 || to < x.len()) {
        from = from.saturating_sub(1);
        to = (to + 1).min(x.len());
    }
    (from, to)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spike_is_found_and_a_blade_ripple_is_not_at_any_sampling_rate() {
        for step in [0.1, 0.2, 0.25, 0.5] {
            let x: Vec<f64> = (0..400).map(|i| f64::from(i) * step).collect();
            let mut y: Vec<f64> = x
                .iter()
                .map(|t| 500.0 + 40.0 * libm::sin(std::f64::consts::TAU * t * 1.05))
                .collect();
            assert_eq!(
                find_outliers(&x, &y, 2.857, 4.0, 1.0),
                Vec::<usize>::new(),
                "step {step}"
            );
            y[200] = 900.0;
            y[300] = 0.0;
            assert_eq!(
                find_outliers(&x, &y, 2.857, 4.0, 1.0),
                vec![200, 300],
                "step {step}"
            );
        }
    }

    #[test]
    fn a_drop_out_of_several_readings_is_found_whole() {
        let x: Vec<f64> = (0..400).map(|i| f64::from(i) * 0.25).collect();
        let mut y: Vec<f64> = x
            .iter()
            .map(|t| 500.0 + 40.0 * libm::sin(std::f64::consts::TAU * t * 1.05))
            .collect();
        y[200..206].fill(12.0);
        let found = find_outliers(&x, &y, 2.857, 4.0, 1.0);
        assert_eq!(found, (200..206).collect::<Vec<_>>());
    }

    #[test]
    fn too_few_readings_have_no_outliers() {
        assert!(find_outliers(&[0.0, 1.0], &[0.0, 99.0], 2.0, 4.0, 1.0).is_empty());
    }
}
