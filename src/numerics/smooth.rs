//! Local linear regression with a flat window.

/// Returns, at every abscissa, the value of the straight line fitted by least squares to all
/// points within `half_width` of it (Cleveland 1979, J. Am. Stat. Assoc. 74:829, with a flat
/// weight; from memory). A half width of 0 returns `y`. `x` must not decrease and must be as long
/// as `y`.
///
/// A straight line comes back unchanged, also at the ends, where the window is one-sided.
pub fn local_linear(x: &[f64], y: &[f64], half_width: f64) -> Vec<f64> {
    let n = x.len().min(y.len());
    if half_width <= 0.0 || n < 3 {
        return y[..n].to_vec();
    }
    let sums = PrefixSums::of(&x[..n], &y[..n]);
    let mut smoothed = Vec::with_capacity(n);
    let (mut from, mut to) = (0, 0);
    for i in 0..n {
        while x[i] - x[from] > half_width {
            from += 1;
        }
        while to < n && x[to] - x[i] <= half_width {
            to += 1;
        }
        smoothed.push(sums.line_value(from, to, x[i]).unwrap_or(y[i]));
    }
    smoothed
}

/// Returns what [`local_linear`] returns at index `at`, from the points near it alone.
pub fn local_linear_at(x: &[f64], y: &[f64], half_width: f64, at: usize) -> f64 {
    let from = x[..at].partition_point(|v| x[at] - v > half_width);
    let to = at + x[at..].partition_point(|v| v - x[at] <= half_width);
    if half_width <= 0.0 || to - from < 2 {
        return y[at];
    }
    PrefixSums::of(&x[from..to], &y[from..to])
        .line_value(0, to - from, x[at])
        .unwrap_or(y[at])
}

/// Running sums of x, y, xx, xy about the middle of the data, so that a window costs O(1).
struct PrefixSums {
    origin_x: f64,
    origin_y: f64,
    sums: Vec<[f64; 4]>,
}

impl PrefixSums {
    fn of(x: &[f64], y: &[f64]) -> PrefixSums {
        let (origin_x, origin_y) = (x[x.len() / 2], y[y.len() / 2]);
        let mut total = [0.0; 4];
        let mut sums = Vec::with_capacity(x.len() + 1);
        sums.push(total);
        for (a, b) in x.iter().zip(y) {
            let (a, b) = (a - origin_x, b - origin_y);
            total[0] += a;
            total[1] += b;
            total[2] += a * a;
            total[3] += a * b;
            sums.push(total);
        }
        PrefixSums {
            origin_x,
            origin_y,
            sums,
        }
    }

    /// Value at `x` of the line fitted to points `from..to`; `None` for fewer than two points.
    fn line_value(&self, from: usize, to: usize, x: f64) -> Option<f64> {
        let count = (to - from) as f64;
        if count < 2.0 {
            return None;
        }
        let (a, b) = (&self.sums[from], &self.sums[to]);
        let (mean_x, mean_y) = ((b[0] - a[0]) / count, (b[1] - a[1]) / count);
        let spread = (b[2] - a[2]) - count * mean_x * mean_x;
        let joint = (b[3] - a[3]) - count * mean_x * mean_y;
        // All points at one abscissa: the mean is the best line there is.
        let slope = if spread > 1e-9 * count {
            joint / spread
        } else {
            0.0
        };
        Some(self.origin_y + mean_y + slope * (x - self.origin_x - mean_x))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_is_unchanged_even_at_the_ends_and_on_uneven_abscissae() {
        let x: Vec<f64> = (0..400)
            .map(|i| f64::from(i) * 0.5 + 0.1 * f64::from(i % 3))
            .collect();
        let y: Vec<f64> = x.iter().map(|t| 3.0 + 0.25 * t).collect();
        for (a, b) in local_linear(&x, &y, 15.0).iter().zip(&y) {
            assert!((a - b).abs() < 1e-9, "{a} {b}");
        }
    }

    #[test]
    fn agrees_with_polynomial_least_squares_of_a_general_library() {
        // numpy 1.26 polyfit(x[0:7], y[0:7], 1) at x = 3 for y below: 4.857142857142857 (the
        // window of half width 3 around x = 3 holds exactly these seven points).
        let x: Vec<f64> = (0..10).map(f64::from).collect();
        let y = [1.0, 4.0, 2.0, 8.0, 5.0, 7.0, 7.0, 9.0, 3.0, 1.0];
        let smoothed = local_linear(&x, &y, 3.0);
        assert!((smoothed[3] - 34.0 / 7.0).abs() < 1e-12);
        // Left end: polyfit(x[0:4], y[0:4], 1) = 1.9 x + 0.9, at 0: 0.9.
        assert!((smoothed[0] - 0.9).abs() < 1e-12);
    }

    #[test]
    fn one_point_agrees_with_the_whole() {
        let x: Vec<f64> = (0..60).map(|i| f64::from(i) * 0.5).collect();
        let y: Vec<f64> = (0..60).map(|i| f64::from((i * 37) % 23)).collect();
        let whole = local_linear(&x, &y, 4.0);
        for (i, expected) in whole.iter().enumerate() {
            assert!((local_linear_at(&x, &y, 4.0, i) - expected).abs() < 1e-9);
        }
    }

    #[test]
    fn no_half_width_changes_nothing() {
        assert_eq!(
            local_linear(&[0.0, 1.0, 2.0], &[5.0, 1.0, 4.0], 0.0),
            vec![5.0, 1.0, 4.0]
        );
    }
}
