//! Krippendorff's alpha: any number of graders, missing cells, four kinds of scale.

/// What a difference of two values means: the kind of scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Difference {
    /// Names without order.
    Nominal,
    /// Order without distance: what counts is how many values lie between.
    Ordinal,
    /// Distance.
    Interval,
    /// Distance in relation to the sum, for values from 0.
    Ratio,
}

/// Returns alpha = 1 − observed / expected disagreement over the pairable values: `units` holds,
/// for each unit, the values it was given; a unit with fewer than two is left out
/// (Krippendorff 2011, Computing Krippendorff's Alpha-Reliability).
///
/// `None` when nothing can be paired or all pairable values are the same.
pub fn krippendorff_alpha(units: &[Vec<f64>], difference: Difference) -> Option<f64> {
    let values = distinct_values(units);
    let k = values.len();
    let mut total = vec![0.0; k * k];
    for unit in units {
        for (sum, part) in total.iter_mut().zip(unit_coincidences(unit, &values)) {
            *sum += part;
        }
    }
    alpha_of_coincidences(&total, &values, difference)
}

/// Returns how often each two of the increasing `values` meet in one unit, row by row: every
/// ordered pair of its values counts 1/(m − 1), where m values were given. Units add up.
pub fn unit_coincidences(unit: &[f64], values: &[f64]) -> Vec<f64> {
    let k = values.len();
    let mut met = vec![0.0; k * k];
    if unit.len() < 2 {
        return met;
    }
    let share = 1.0 / (unit.len() as f64 - 1.0);
    let place = |v: f64| values.partition_point(|w| *w < v);
    for (i, a) in unit.iter().enumerate() {
        for (j, b) in unit.iter().enumerate() {
            let cell = place(*a) * k + place(*b);
            if let Some(count) = met.get_mut(cell).filter(|_| i != j) {
                *count += share;
            }
        }
    }
    met
}

/// Returns alpha from the coincidences of increasing `values`, row by row; see
/// [`krippendorff_alpha`].
pub fn alpha_of_coincidences(
    coincidences: &[f64],
    values: &[f64],
    difference: Difference,
) -> Option<f64> {
    let k = values.len();
    if k == 0 || coincidences.len() != k * k {
        return None;
    }
    let rows = || coincidences.chunks_exact(k);
    let totals: Vec<f64> = rows().map(|row| row.iter().sum()).collect();
    let all: f64 = totals.iter().sum();
    let (mut observed, mut expected) = (0.0, 0.0);
    for (c, row) in rows().enumerate() {
        for (d, met) in row.iter().enumerate() {
            let apart = squared_difference(difference, values, &totals, (c, d));
            observed += met * apart;
            expected += totals[c] * totals[d] * apart;
        }
    }
    (expected > 0.0).then(|| 1.0 - (all - 1.0) * observed / expected)
}

/// Returns the values that occur in pairable units, in increasing order.
fn distinct_values(units: &[Vec<f64>]) -> Vec<f64> {
    let pairable = units.iter().filter(|unit| unit.len() > 1);
    let mut values: Vec<f64> = pairable.flatten().copied().collect();
    values.sort_by(f64::total_cmp);
    values.dedup_by(|a, b| a.total_cmp(b).is_eq());
    values
}

fn squared_difference(
    difference: Difference,
    values: &[f64],
    totals: &[f64],
    (c, d): (usize, usize),
) -> f64 {
    if c == d {
        return 0.0;
    }
    let (low, high) = (c.min(d), c.max(d));
    let root = match difference {
        Difference::Nominal => 1.0,
        Difference::Ordinal => {
            let between: f64 = totals[low..=high].iter().sum();
            between - 0.5 * (totals[low] + totals[high])
        }
        Difference::Interval => values[high] - values[low],
        Difference::Ratio => {
            let sum = values[high] + values[low];
            if sum.abs() > 0.0 {
                (values[high] - values[low]) / sum
            } else {
                0.0
            }
        }
    };
    root * root
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Four observers, twelve units, `.` missing (HANDBOOK §15, V-K2; Krippendorff 2011).
    const OBSERVERS: [&str; 4] = [
        "1 2 3 3 2 1 4 1 2 . . .",
        "1 2 3 3 2 2 4 1 2 5 . 3",
        ". 3 3 3 2 3 4 2 2 5 1 .",
        "1 2 3 3 2 4 4 1 2 5 1 .",
    ];

    #[test]
    fn alpha_agrees_with_krippendorffs_example() {
        let mut units = vec![Vec::new(); 12];
        for observer in OBSERVERS {
            for (unit, cell) in units.iter_mut().zip(observer.split(' ')) {
                unit.extend(cell.parse::<f64>().ok());
            }
        }
        for (difference, wanted) in [
            (Difference::Nominal, 0.743),
            (Difference::Ordinal, 0.815),
            (Difference::Interval, 0.849),
            (Difference::Ratio, 0.797),
        ] {
            let found = krippendorff_alpha(&units, difference).unwrap_or(f64::NAN);
            assert!((found - wanted).abs() < 5e-4, "{difference:?}: {found}");
        }
    }

    #[test]
    fn nothing_to_pair_or_nothing_that_varies_has_no_alpha() {
        assert_eq!(krippendorff_alpha(&[], Difference::Ordinal), None);
        let alone = [vec![1.0], vec![2.0]];
        assert_eq!(krippendorff_alpha(&alone, Difference::Ordinal), None);
        let same = [vec![3.0, 3.0], vec![3.0, 3.0]];
        assert_eq!(krippendorff_alpha(&same, Difference::Ordinal), None);
    }

    #[test]
    fn stretching_the_scale_does_not_move_the_ordinal_alpha() {
        let units = [
            vec![0.0, 1.0],
            vec![2.0, 2.0],
            vec![4.0, 3.0],
            vec![1.0, 1.0],
        ];
        let wide: Vec<Vec<f64>> = units
            .iter()
            .map(|u| u.iter().map(|v| v * v * v).collect())
            .collect();
        let of = |u: &[Vec<f64>]| krippendorff_alpha(u, Difference::Ordinal).unwrap_or(f64::NAN);
        assert!((of(&units) - of(&wide)).abs() < 1e-12);
    }
}
