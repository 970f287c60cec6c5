//! The resolution of a record.

/// Returns the resolution of a record: the least difference between two of its readings that is
/// not rounding of the computer's; zero when all are equal.
pub fn least_step(y: &[f64]) -> f64 {
    let mut sorted = y.to_vec();
    sorted.sort_by(f64::total_cmp);
    let steps = sorted.windows(2).map(|pair| pair[1] - pair[0]);
    let least = steps.filter(|s| *s > 1e-9).fold(f64::MAX, f64::min);
    if least < f64::MAX { least } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_least_step_is_the_resolution() {
        assert!((least_step(&[0.5, 2.0, 1.75, 0.5]) - 0.25).abs() < 1e-12);
        assert!(least_step(&[1.0, 1.0]) < 1e-12);
    }
}
