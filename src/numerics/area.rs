//! The area under a curve.

/// Returns the area under the points between abscissae `from` and `to` by trapezoids, the first and
/// last cut at the limits; nothing is added where the points do not reach. `x` must not decrease.
pub fn area_between(x: &[f64], y: &[f64], from: f64, to: f64) -> f64 {
    let mut area = 0.0;
    for (x, y) in x.windows(2).zip(y.windows(2)) {
        let (begin, end) = (x[0].max(from), x[1].min(to));
        let step = x[1] - x[0];
        if end > begin && step > 0.0 {
            let at = |when: f64| y[0] + (y[1] - y[0]) * ((when - x[0]) / step);
            area += 0.5 * (at(begin) + at(end)) * (end - begin);
        }
    }
    area
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_a_general_library_and_cuts_at_its_limits() {
        // numpy 2.4.6: trapezoid([1, 4, 2, 8], [0, 1, 2, 4]) = 15.5.
        let (x, y) = ([0.0, 1.0, 2.0, 4.0], [1.0, 4.0, 2.0, 8.0]);
        assert!((area_between(&x, &y, -5.0, 9.0) - 15.5).abs() < 1e-12);
        // Analytic: under the line 2 + 3 (t - 2) from 2 to 3 lie 3.5.
        assert!((area_between(&x, &y, 2.0, 3.0) - 3.5).abs() < 1e-12);
        assert!(area_between(&x, &y, 3.0, 2.0).abs() < 1e-12);
        assert!(area_between(&[], &[], 0.0, 1.0).abs() < 1e-12);
    }
}
