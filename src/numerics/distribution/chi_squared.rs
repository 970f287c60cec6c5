//! The chi-squared distribution.

use statrs::distribution::{ChiSquared, ContinuousCDF};

/// Returns the probability that chi-squared with `df` degrees of freedom exceeds `x`; `None` unless
/// the degrees of freedom are positive.
pub fn chi_squared_upper(x: f64, df: f64) -> Option<f64> {
    let distribution = ChiSquared::new(df).ok()?;
    Some(if x <= 0.0 { 1.0 } else { distribution.sf(x) })
}

/// Returns the value below which chi-squared with `df` degrees of freedom lies with `probability`;
/// `None` unless the degrees of freedom are positive and the probability lies strictly between 0
/// and 1.
pub fn chi_squared_quantile(probability: f64, df: f64) -> Option<f64> {
    if !(probability > 0.0 && probability < 1.0) {
        return None;
    }
    let distribution = ChiSquared::new(df).ok()?;
    Some(distribution.inverse_cdf(probability)).filter(|x| x.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_a_general_library() {
        // scipy 1.17.1: chi2.sf(7.2, 3).
        let found = chi_squared_upper(7.2, 3.0);
        assert!(found.is_some_and(|p| (p - 0.065_789_052_7).abs() < 1e-9));
        assert_eq!(chi_squared_upper(1.0, 0.0), None);
        // scipy 1.17.1: chi2.ppf([0.975, 0.025], 4).
        let found = chi_squared_quantile(0.975, 4.0).zip(chi_squared_quantile(0.025, 4.0));
        assert!(found.is_some_and(|(high, low)| {
            (high - 11.143_286_78).abs() < 1e-7 && (low - 0.484_418_56).abs() < 1e-7
        }));
        assert_eq!(chi_squared_quantile(1.0, 4.0), None);
    }
}
