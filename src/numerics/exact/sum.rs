//! Compensated sums.

/// Returns the sum of `values` as if computed in twice the working precision and then rounded
/// (Neumaier 1974, Z. Angew. Math. Mech. 54:39; Ogita, Rump and Oishi 2005, SIAM J. Sci. Comput.
/// 26:1955, `Sum2`).
pub fn sum(values: impl IntoIterator<Item = f64>) -> f64 {
    let (mut total, mut lost) = (0.0_f64, 0.0_f64);
    for value in values {
        let next = total + value;
        lost += if total.abs() >= value.abs() {
            (total - next) + value
        } else {
            (value - next) + total
        };
        total = next;
    }
    total + lost
}

/// Returns the sum of the squared distances of `values` from their own mean: two passes, with the
/// rounding of the mean corrected (Chan, Golub and LeVeque 1983, Am. Stat. 37:242). Zero for none.
pub fn sum_of_squares(values: &[f64]) -> f64 {
    let Some(origin) = values.first() else {
        return 0.0;
    };
    let n = values.len() as f64;
    let mean = sum(values.iter().map(|v| v - origin)) / n;
    let distance = |v: &f64| (v - origin) - mean;
    let left = sum(values.iter().map(distance));
    sum(values.iter().map(|v| distance(v) * distance(v))) - left * left / n
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_lost_between_great_and_small() {
        assert!((sum([1.0, 1e100, 1.0, -1e100]) - 2.0).abs() < 1e-300);
        assert!((sum_of_squares(&[1e9, 1e9 + 1.0, 1e9 + 2.0]) - 2.0).abs() < 1e-12);
        assert!(sum_of_squares(&[]).abs() < 1e-300);
    }
}
