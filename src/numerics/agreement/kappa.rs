//! Agreement of two graders beyond chance, over ordered or unordered categories.

/// How much a disagreement by so many categories counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weights {
    /// Every disagreement counts alike (Cohen 1960, Educ. Psychol. Meas. 20:37).
    None,
    /// By the distance in categories, |i−j|/(k−1) (Cohen 1968, Psychol. Bull. 70:213).
    Linear,
    /// By its square; rises with the number of categories.
    Quadratic,
}

impl Weights {
    /// Returns the disagreement weight of categories `i` and `j` out of `k`, from 0 to 1.
    pub fn disagreement(self, i: usize, j: usize, k: usize) -> f64 {
        let share = i.abs_diff(j) as f64 / (k.saturating_sub(1).max(1)) as f64;
        match self {
            Weights::None => f64::from(u8::from(i != j)),
            Weights::Linear => share,
            Weights::Quadratic => share * share,
        }
    }
}

/// A kappa with its large-sample standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kappa {
    /// 1 for full agreement, 0 for agreement as by chance.
    pub value: f64,
    /// Large-sample standard error (Fleiss, Cohen and Everitt 1969, Psychol. Bull. 72:323).
    pub standard_error: f64,
}

/// Returns how often the first grader gave `i` and the second `j`, as `table[i][j]`. Pairs with a
/// category outside `0..categories` are left out.
pub fn pair_table(pairs: &[(usize, usize)], categories: usize) -> Vec<Vec<f64>> {
    let mut table = vec![vec![0.0; categories]; categories];
    for &(first, second) in pairs {
        if let Some(cell) = table.get_mut(first).and_then(|row| row.get_mut(second)) {
            *cell += 1.0;
        }
    }
    table
}

/// Returns kappa = 1 − Σ w·observed / Σ w·expected of a square table of counts; expected from both
/// graders' own margins. `None` when the table is empty, not square, or allows no disagreement.
pub fn weighted_kappa(table: &[Vec<f64>], weights: Weights) -> Option<Kappa> {
    let margins = Margins::of(table)?;
    let (rows, columns) = (&margins.rows, &margins.columns);
    let (mut observed, mut expected) = (0.0, 0.0);
    margins.each_cell(table, |i, j, share| {
        let weight = weights.disagreement(i, j, margins.k);
        observed += weight * share;
        expected += weight * rows[i] * columns[j];
    });
    if expected <= 0.0 {
        return None;
    }
    Some(Kappa {
        value: 1.0 - observed / expected,
        standard_error: standard_error(table, weights, &margins, (observed, expected)),
    })
}

fn standard_error(
    table: &[Vec<f64>],
    weights: Weights,
    margins: &Margins,
    (observed, expected): (f64, f64),
) -> f64 {
    let k = margins.k;
    let agreement = |i, j| 1.0 - weights.disagreement(i, j, k);
    let by_row: Vec<f64> = (0..k)
        .map(|i| (0..k).map(|j| agreement(i, j) * margins.columns[j]).sum())
        .collect();
    let by_column: Vec<f64> = (0..k)
        .map(|j| (0..k).map(|i| agreement(i, j) * margins.rows[i]).sum())
        .collect();
    let (agreed, by_chance) = (1.0 - observed, 1.0 - expected);
    let mut sum = 0.0;
    margins.each_cell(table, |i, j, share| {
        let part = agreement(i, j) * expected - (by_row[i] + by_column[j]) * (1.0 - agreed);
        sum += share * part * part;
    });
    let centre = agreed * by_chance - 2.0 * by_chance + agreed;
    let variance = (sum - centre * centre) / (margins.total * expected.powi(4));
    variance.max(0.0).sqrt()
}

/// Returns Scott's pi of a square table of counts: like unweighted kappa, with chance from the
/// margins of both graders together (Scott 1955, Public Opin. Q. 19:321).
pub fn scott_pi(table: &[Vec<f64>]) -> Option<f64> {
    let margins = Margins::of(table)?;
    let agreed: f64 = (0..margins.k).map(|i| table[i][i] / margins.total).sum();
    let by_chance: f64 = margins
        .rows
        .iter()
        .zip(&margins.columns)
        .map(|(a, b)| 0.25 * (a + b) * (a + b))
        .sum();
    (by_chance < 1.0).then(|| (agreed - by_chance) / (1.0 - by_chance))
}

/// Size, total and marginal shares of a square table.
struct Margins {
    k: usize,
    total: f64,
    rows: Vec<f64>,
    columns: Vec<f64>,
}

impl Margins {
    fn of(table: &[Vec<f64>]) -> Option<Margins> {
        let k = table.len();
        if table.iter().any(|row| row.len() != k) {
            return None;
        }
        let total: f64 = table.iter().flatten().sum();
        if total <= 0.0 || !total.is_finite() {
            return None;
        }
        let rows = table.iter().map(|r| r.iter().sum::<f64>() / total);
        let columns = (0..k).map(|j| table.iter().map(|r| r[j]).sum::<f64>() / total);
        Some(Margins {
            k,
            total,
            rows: rows.collect(),
            columns: columns.collect(),
        })
    }

    /// Calls `visit` with row, column and share of every cell, in row order.
    fn each_cell(&self, table: &[Vec<f64>], mut visit: impl FnMut(usize, usize, f64)) {
        for (i, row) in table.iter().enumerate() {
            for (j, count) in row.iter().enumerate() {
                visit(i, j, count / self.total);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(rows: &[[f64; 4]]) -> Vec<Vec<f64>> {
        rows.iter().map(|row| row.to_vec()).collect()
    }

    #[test]
    fn kappa_agrees_with_the_handbook() {
        // HANDBOOK §15, V-K1 (n 40): 0.62489, linear 0.75113, quadratic 0.86164.
        let t = table(&[
            [5.0, 2.0, 0.0, 0.0],
            [1.0, 8.0, 3.0, 0.0],
            [0.0, 2.0, 9.0, 2.0],
            [0.0, 0.0, 1.0, 7.0],
        ]);
        for (weights, wanted) in [
            (Weights::None, 0.62489),
            (Weights::Linear, 0.75113),
            (Weights::Quadratic, 0.86164),
        ] {
            let found = weighted_kappa(&t, weights).map_or(f64::NAN, |k| k.value);
            assert!((found - wanted).abs() < 5e-6, "{weights:?}: {found}");
        }
    }

    #[test]
    fn no_variation_has_no_kappa() {
        let same = pair_table(&[(2, 2), (2, 2), (2, 2)], 5);
        assert_eq!(weighted_kappa(&same, Weights::Linear), None);
        assert_eq!(scott_pi(&same), None);
        assert_eq!(weighted_kappa(&pair_table(&[], 5), Weights::None), None);
        assert_eq!(weighted_kappa(&[vec![1.0], vec![]], Weights::None), None);
    }

    #[test]
    fn swapping_the_graders_changes_nothing() {
        let pairs = [(0, 1), (1, 1), (2, 3), (4, 4), (3, 1), (2, 2)];
        let back: Vec<_> = pairs.iter().map(|(a, b)| (*b, *a)).collect();
        let one = weighted_kappa(&pair_table(&pairs, 5), Weights::Quadratic);
        let two = weighted_kappa(&pair_table(&back, 5), Weights::Quadratic);
        let off = one.zip(two).map(|(a, b)| (a.value - b.value).abs());
        assert!(off.is_some_and(|d| d < 1e-12));
    }
}
