//! Rolling maximum, minimum and mean over a centred window in the unit of the abscissa.

use std::collections::VecDeque;

/// Returns the largest and the smallest value within `half_width` of every abscissa, in one pass
/// (monotone queues; Lemire 2006, arXiv cs/0610046, from memory). `x` must not decrease.
pub fn rolling_extent(x: &[f64], y: &[f64], half_width: f64) -> (Vec<f64>, Vec<f64>) {
    let n = x.len().min(y.len());
    let (mut highest, mut lowest) = (Vec::with_capacity(n), Vec::with_capacity(n));
    let (mut tops, mut bottoms) = (VecDeque::<usize>::new(), VecDeque::<usize>::new());
    let mut next = 0;
    for i in 0..n {
        while next < n && x[next] - x[i] <= half_width {
            while tops.back().is_some_and(|&j| y[j] <= y[next]) {
                tops.pop_back();
            }
            tops.push_back(next);
            while bottoms.back().is_some_and(|&j| y[j] >= y[next]) {
                bottoms.pop_back();
            }
            bottoms.push_back(next);
            next += 1;
        }
        while tops.front().is_some_and(|&j| x[i] - x[j] > half_width) {
            tops.pop_front();
        }
        while bottoms.front().is_some_and(|&j| x[i] - x[j] > half_width) {
            bottoms.pop_front();
        }
        highest.push(tops.front().map_or(y[i], |&j| y[j]));
        lowest.push(bottoms.front().map_or(y[i], |&j| y[j]));
    }
    (highest, lowest)
}

/// Returns the mean of the values within `half_width` of every abscissa. At the ends the window
/// shrinks on both sides alike, so that a slope does not bend the mean. `x` must not decrease.
pub fn rolling_mean(x: &[f64], y: &[f64], half_width: f64) -> Vec<f64> {
    let n = x.len().min(y.len());
    if n == 0 {
        return Vec::new();
    }
    let origin = y[n / 2];
    let mut sums = Vec::with_capacity(n + 1);
    let mut total = 0.0;
    sums.push(total);
    for value in &y[..n] {
        total += value - origin;
        sums.push(total);
    }
    let (first, last) = (x[0], x[n - 1]);
    let mut means = Vec::with_capacity(n);
    let (mut from, mut to) = (0, 0);
    for i in 0..n {
        let half = half_width.min(x[i] - first).min(last - x[i]);
        // The half width shrinks toward the right end, so `from` and `to` only ever move right
        // there; toward the left end it grows by no more than the step, with the same effect.
        while from < i && x[i] - x[from] > half + f64::EPSILON * x[i].abs() {
            from += 1;
        }
        to = to.max(i + 1);
        while to < n && x[to] - x[i] <= half {
            to += 1;
        }
        means.push(origin + (sums[to] - sums[from]) / (to - from) as f64);
    }
    means
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn extent_agrees_with_a_direct_search() {
        let x: Vec<f64> = (0..200).map(|i| f64::from(i) * 0.5).collect();
        let y: Vec<f64> = (0..200).map(|i| f64::from((i * 7919) % 101)).collect();
        let (top, bottom) = rolling_extent(&x, &y, 1.9);
        for i in 0..200 {
            let near = (0..200)
                .filter(|&j| (x[j] - x[i]).abs() <= 1.9)
                .map(|j| y[j]);
            let (lo, hi) = near.fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
            assert_eq!((top[i], bottom[i]), (hi, lo), "at {i}");
        }
    }

    #[test]
    fn mean_of_a_straight_line_is_the_line() {
        let x: Vec<f64> = (0..100).map(|i| f64::from(i) * 0.25).collect();
        let y: Vec<f64> = x.iter().map(|t| 2.0 * t - 1.0).collect();
        for (m, v) in rolling_mean(&x, &y, 1.905).iter().zip(&y) {
            assert!((m - v).abs() < 1e-9);
        }
    }
}
