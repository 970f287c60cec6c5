//! Outcomes from fits and from replicates, with what they share.

use crate::numerics::distribution::student_quantile;
use crate::record::{Estimate, Outcome};

/// Returns the outcome of a value read from a fit: its own interval and standard uncertainty, both
/// widened by the standard uncertainty `shared` of inputs that no scatter shows (JCGM 100, 5.1).
pub(super) fn widened(value: f64, (low, high): (f64, f64), u: f64, shared: f64) -> Outcome {
    let half = |own: f64| own.max(0.0).hypot(2.0 * shared);
    let (below, above) = (half(value - low), half(high - value));
    match Estimate::with_interval(value, value - below, value + above, u.hypot(shared)) {
        Ok(estimate) => Outcome::Exact(estimate),
        Err(error) => Outcome::NotComputable(error.to_string()),
    }
}

/// Returns the mean of independent values with its interval from Student's t, widened by what
/// they share; `reading` is the standard uncertainty of one of them, which their scatter cannot
/// undercut and which stands for it where there is one value only. `None` without values.
pub(super) fn mean_of(values: &[f64], reading: f64, shared: f64) -> Option<Outcome> {
    let n = values.len();
    if n == 0 {
        return None;
    }
    let count = n as f64;
    let mean = values.iter().sum::<f64>() / count;
    let Some(t) = student_quantile(0.975, count - 1.0) else {
        let half = 2.0 * reading;
        return Some(widened(mean, (mean - half, mean + half), reading, shared));
    };
    let squares: f64 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
    let scatter = (squares / (count - 1.0) / count).sqrt();
    let floor = reading / count.sqrt();
    let half = (t * scatter).max(2.0 * floor);
    Some(widened(
        mean,
        (mean - half, mean + half),
        scatter.max(floor),
        shared,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_interval_of_a_mean_is_that_of_student() {
        // scipy 1.17.1: stats.t.interval(0.95, 2, 4, stats.sem([3.9, 4.0, 4.1]))
        // = (3.751586, 4.248414).
        let found = mean_of(&[3.9, 4.0, 4.1], 0.0, 0.0).and_then(|o| o.estimate());
        assert!(found.is_some_and(|e| (e.low() - 3.751_586).abs() < 1e-6));
        assert!(found.is_some_and(|e| (e.high() - 4.248_414).abs() < 1e-6));
        assert_eq!(mean_of(&[], 1.0, 1.0), None);
        let one = mean_of(&[4.0], 0.3, 0.4).and_then(|o| o.estimate());
        // Analytic: 0.3 and 0.4 make 0.5.
        assert!(one.is_some_and(|e| (e.std_uncertainty() - 0.5).abs() < 1e-12));
    }
}
