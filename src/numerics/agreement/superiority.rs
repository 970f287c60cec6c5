//! Which of two groups tends to lie higher, for ordered values without arithmetic.

/// Probability that a value of the first group lies above one of the second, with its test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Superiority {
    /// Pairs in which the first group's value is higher, ties counted half (Mann and Whitney 1947,
    /// Ann. Math. Stat. 18:50).
    pub u: f64,
    /// U over the number of pairs: 0.5 when neither tends to lie higher.
    pub probability: f64,
    /// Two-sided p, normal approximation with tie and continuity correction; `None` when all
    /// values are the same. It takes the values as independent.
    pub p_two_sided: Option<f64>,
}

/// Returns how often values of `above` lie above those of `below`; `None` when a group is empty.
pub fn superiority<T: Ord>(above: &[T], below: &[T]) -> Option<Superiority> {
    let (n, m) = (above.len() as f64, below.len() as f64);
    if above.is_empty() || below.is_empty() {
        return None;
    }
    let mut sorted: Vec<&T> = below.iter().collect();
    sorted.sort();
    let u: f64 = above
        .iter()
        .map(|value| {
            let lower = sorted.partition_point(|other| *other < value);
            let not_higher = sorted.partition_point(|other| *other <= value);
            lower as f64 + 0.5 * (not_higher - lower) as f64
        })
        .sum();
    let all = n + m;
    let variance = n * m / 12.0 * (all + 1.0 - tie_sum(above, below) / (all * (all - 1.0)));
    let p_two_sided = (variance > 0.0).then(|| {
        let away = ((u - 0.5 * n * m).abs() - 0.5).max(0.0);
        libm::erfc(away / variance.sqrt() / std::f64::consts::SQRT_2)
    });
    Some(Superiority {
        u,
        probability: u / (n * m),
        p_two_sided,
    })
}

/// Returns Σ t³ − t over the groups of t equal values of both samples.
pub(crate) fn tie_sum<T: Ord>(a: &[T], b: &[T]) -> f64 {
    let mut sorted: Vec<&T> = a.iter().chain(b).collect();
    sorted.sort();
    sorted
        .chunk_by(|x, y| x == y)
        .map(|tied| {
            let t = tied.len() as f64;
            t * t * t - t
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grades(counts: &[(u8, usize)]) -> Vec<u8> {
        counts
            .iter()
            .flat_map(|(grade, count)| std::iter::repeat_n(*grade, *count))
            .collect()
    }

    #[test]
    fn agrees_with_the_handbook() {
        // HANDBOOK §15, V-O1: U 267, probability 0.6675, p 0.0515.
        let a = grades(&[(0, 1), (1, 4), (2, 9), (3, 6)]);
        let b = grades(&[(1, 2), (2, 6), (3, 12)]);
        let found = superiority(&b, &a);
        assert!(found.is_some_and(|s| (s.u - 267.0).abs() < 1e-12));
        assert!(found.is_some_and(|s| (s.probability - 0.6675).abs() < 1e-12));
        let p = found.and_then(|s| s.p_two_sided).unwrap_or(f64::NAN);
        assert!((p - 0.0515).abs() < 5e-5, "{p}");
    }

    #[test]
    fn a_group_against_itself_is_even_and_no_variation_has_no_test() {
        let a = grades(&[(1, 3), (2, 4), (4, 1)]);
        assert!(superiority(&a, &a).is_some_and(|s| (s.probability - 0.5).abs() < 1e-12));
        let same = superiority(&[2, 2], &[2, 2, 2]);
        assert!(same.is_some_and(|s| s.p_two_sided.is_none()));
        assert_eq!(superiority::<u8>(&[], &[1]), None);
    }
}
