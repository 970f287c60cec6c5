//! The chi-squared distribution.

use statrs::distribution::{ChiSquared, ContinuousCDF};

/// Returns the probability that chi-squared with `df` degrees of freedom exceeds `x`; `None` unless
/// the degrees of freedom are positive.
pub fn chi_squared_upper(x: f64, df: f64) -> Option<f64> {
    let distribution = ChiSquared::new(df).ok()?;
    Some(if x <= 0.0 { 1.0 } else { distribution.sf(x) })
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
    }
}
