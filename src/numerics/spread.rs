//! How well a standard deviation is known.

use super::distribution::chi_squared_quantile;

/// Returns mean and standard deviation (over `n - 1`) of `values`; `None` for fewer than two.
pub fn mean_and_deviation(values: &[f64]) -> Option<(f64, f64)> {
    let n = values.len() as f64;
    if values.len() < 2 {
        return None;
    }
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
    Some((mean, (squares / (n - 1.0)).sqrt()))
}

/// Returns the 95 % interval of the standard deviation of a normal quantity, of which one with
/// `degrees` degrees of freedom was found (chi-squared; any textbook). `None` without degrees.
pub fn deviation_interval(deviation: f64, degrees: usize) -> Option<(f64, f64)> {
    let degrees = degrees as f64;
    let bound = |p: f64| Some(deviation * (degrees / chi_squared_quantile(p, degrees)?).sqrt());
    Some((bound(0.975)?, bound(0.025)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_a_general_library() {
        // numpy 2.4.6: mean and std(ddof=1) of [1, 2, 4, 8, 16] are 6.2 and 6.099180272790763;
        // scipy 1.17.1: chi2.ppf([0.975, 0.025], 4) = 11.143286781877796, 0.48441855708793.
        let (mean, deviation) = mean_and_deviation(&[1.0, 2.0, 4.0, 8.0, 16.0]).unwrap_or_default();
        assert!((mean - 6.2).abs() < 1e-12 && (deviation - 6.099_180_272_790_763).abs() < 1e-12);
        let interval = deviation_interval(1.0, 4);
        assert!(interval.is_some_and(|(low, high)| {
            (low - (4.0_f64 / 11.143_286_781_877_796).sqrt()).abs() < 1e-8
                && (high - (4.0_f64 / 0.484_418_557_087_93).sqrt()).abs() < 1e-8
        }));
        assert_eq!(deviation_interval(1.0, 0), None);
        assert_eq!(mean_and_deviation(&[1.0]), None);
    }
}
