//! The scatter of a number computed from a few pieces, by leaving out each in turn.

use super::distribution::student_quantile;

/// A number computed from a few pieces, with how much it depends on which they were.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jackknifed {
    /// The number from all pieces.
    pub value: f64,
    /// Its standard error.
    pub standard_error: f64,
    /// Pieces less one.
    pub degrees: usize,
}

impl Jackknifed {
    /// Returns half of the 95 % interval: Student's t times the standard error.
    pub fn half_interval(&self) -> f64 {
        let t = student_quantile(0.975, self.degrees as f64).unwrap_or(2.0);
        t * self.standard_error
    }
}

/// Returns `read` of all `pieces` with its standard error (Tukey 1958, Ann. Math. Stat. 29:614; for
/// a mean it is that of theory); `read` is given the indices that count. `None` for fewer than two
/// pieces, or where the number is not defined with any one of them left out.
pub fn jackknife(pieces: usize, read: impl Fn(&[usize]) -> Option<f64>) -> Option<Jackknifed> {
    let all: Vec<usize> = (0..pieces).collect();
    let value = read(&all)?;
    if pieces < 2 {
        return None;
    }
    let mut without = Vec::with_capacity(pieces);
    for out in 0..pieces {
        let kept: Vec<usize> = all.iter().copied().filter(|i| *i != out).collect();
        without.push(read(&kept)?);
    }
    let n = pieces as f64;
    let mean = without.iter().sum::<f64>() / n;
    let squares: f64 = without.iter().map(|v| (v - mean) * (v - mean)).sum();
    Some(Jackknifed {
        value,
        standard_error: ((n - 1.0) / n * squares).sqrt(),
        degrees: pieces - 1,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_a_mean_it_is_the_standard_error_of_theory() {
        // scipy 1.17.1: stats.sem([1, 2, 4, 8, 16]) = 2.727636339397171; t(0.975, 4) = 2.7764451.
        let values = [1.0, 2.0, 4.0, 8.0, 16.0];
        let mean =
            |kept: &[usize]| Some(kept.iter().map(|i| values[*i]).sum::<f64>() / kept.len() as f64);
        let found = jackknife(5, mean);
        assert!(found.is_some_and(|f| {
            (f.value - 6.2).abs() < 1e-12
                && (f.standard_error - 2.727_636_339_397_171).abs() < 1e-12
                && (f.half_interval() - 2.727_636_339_397_171 * 2.776_445_1).abs() < 1e-6
        }));
        assert_eq!(jackknife(1, mean), None);
        assert_eq!(jackknife(3, |kept| (kept.len() == 3).then_some(1.0)), None);
    }
}
