//! Median and scatter that a few wild readings do not move.

/// Factor that makes the median absolute deviation of normal data estimate its standard
/// deviation: 1/Φ⁻¹(3/4) (Rousseeuw and Croux 1993, J. Am. Stat. Assoc. 88:1273; from memory).
pub(super) const NORMAL_FACTOR: f64 = 1.482_602_218_505_602;

/// Returns the median of `values`; `None` when there are none.
pub fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    median_in_place(&mut sorted)
}

/// Values that suffice for a robust figure of a long record: its standard error is then below 6 %
/// (of a median absolute deviation, 1.17/√n; from memory).
const ENOUGH_VALUES: usize = 500;

/// Returns every k-th value, so that some 500 to 1,000 remain of a long record.
fn some(values: &[f64]) -> Vec<f64> {
    values
        .iter()
        .copied()
        .step_by((values.len() / ENOUGH_VALUES).max(1))
        .collect()
}

/// Returns the median of an even selection of `values`; exact for fewer than 1,000.
pub fn median_of_some(values: &[f64]) -> Option<f64> {
    median_in_place(&mut some(values))
}

/// Returns [`normal_scatter`] of an even selection of `values`; exact for fewer than 1,000.
pub fn scatter_of_some(values: &[f64]) -> Option<f64> {
    normal_scatter(&some(values))
}

/// Returns the median, reordering `values`.
pub(super) fn median_in_place(values: &mut [f64]) -> Option<f64> {
    let n = values.len();
    if n == 0 {
        return None;
    }
    let (lower, middle, _) = values.select_nth_unstable_by(n / 2, f64::total_cmp);
    let upper = *middle;
    if n % 2 == 1 {
        return Some(upper);
    }
    let below = lower.iter().copied().max_by(f64::total_cmp)?;
    Some(0.5 * (below + upper))
}

/// Returns the robust standard deviation of `values` about their median: 1.4826 times the median
/// absolute deviation. `None` when there are none.
pub fn normal_scatter(values: &[f64]) -> Option<f64> {
    let mut work = values.to_vec();
    let centre = median_in_place(&mut work)?;
    for (slot, value) in work.iter_mut().zip(values) {
        *slot = (value - centre).abs();
    }
    median_in_place(&mut work).map(|mad| NORMAL_FACTOR * mad)
}

/// Returns the standard deviation of the noise of readings, robustly, from each one's distance to
/// the straight line between its neighbours; nought for fewer than three. `x` must not decrease.
pub fn reading_scatter(x: &[f64], y: &[f64]) -> f64 {
    let inner = 1..x.len().min(y.len()).saturating_sub(1);
    let residuals: Vec<f64> = inner
        .filter_map(|i| {
            let span = x[i + 1] - x[i - 1];
            let w = (x[i + 1] - x[i]) / span;
            let line = w * y[i - 1] + (1.0 - w) * y[i + 1];
            (span > 0.0).then(|| (y[i] - line) / (1.0 + w * w + (1.0 - w) * (1.0 - w)).sqrt())
        })
        .collect();
    normal_scatter(&residuals).unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn median_of_odd_even_and_none() {
        assert_eq!(median(&[3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(median(&[4.0, 1.0, 2.0, 3.0]), Some(2.5));
        assert_eq!(median(&[]), None);
    }

    #[test]
    fn one_wild_value_does_not_move_the_scatter() {
        let calm = normal_scatter(&[1.0, 2.0, 3.0, 4.0, 5.0]);
        let wild = normal_scatter(&[1.0, 2.0, 3.0, 4.0, 5000.0]);
        assert_eq!(calm, wild);
    }
}
