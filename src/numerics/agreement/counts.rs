//! Agreement of any number of graders over unordered categories, cells missing or not.

/// How often each category was given to each unit: `counts[unit][category]`.
pub type Counts = [Vec<u32>];

/// Returns the share of pairs of gradings of the same unit that agree, averaged over the units
/// with at least two gradings. `None` when there is no such unit.
pub fn percent_agreement(counts: &Counts) -> Option<f64> {
    let shares: Vec<f64> = counts
        .iter()
        .filter_map(|unit| {
            let given = f64::from(unit.iter().sum::<u32>());
            let agreeing: f64 = unit
                .iter()
                .map(|&r| f64::from(r) * (f64::from(r) - 1.0))
                .sum();
            (given >= 2.0).then(|| agreeing / (given * (given - 1.0)))
        })
        .collect();
    (!shares.is_empty()).then(|| shares.iter().sum::<f64>() / shares.len() as f64)
}

/// Returns the share of each category: the mean, over graded units, of its share within the unit.
fn prevalence(counts: &Counts) -> Vec<f64> {
    let categories = counts.iter().map(Vec::len).max().unwrap_or(0);
    let mut shares = vec![0.0; categories];
    let mut graded = 0.0;
    for unit in counts {
        let given = f64::from(unit.iter().sum::<u32>());
        if given > 0.0 {
            graded += 1.0;
            for (share, &r) in shares.iter_mut().zip(unit) {
                *share += f64::from(r) / given;
            }
        }
    }
    shares.iter().map(|s| s / f64::max(graded, 1.0)).collect()
}

/// Returns Fleiss' kappa (Fleiss 1971, Psychol. Bull. 76:378); with missing cells in the form of
/// Gwet 2014 (Handbook of Inter-Rater Reliability, 4th ed.), to which it reduces without.
pub fn fleiss_kappa(counts: &Counts) -> Option<f64> {
    let agreed = percent_agreement(counts)?;
    let by_chance: f64 = prevalence(counts).iter().map(|p| p * p).sum();
    (by_chance < 1.0).then(|| (agreed - by_chance) / (1.0 - by_chance))
}

/// Returns Gwet's AC1 (Gwet 2008, Br. J. Math. Stat. Psychol. 61:29), which stays stable when
/// nearly all units fall into one category. `None` for fewer than two categories.
pub fn gwet_ac1(counts: &Counts) -> Option<f64> {
    let agreed = percent_agreement(counts)?;
    let shares = prevalence(counts);
    if shares.len() < 2 {
        return None;
    }
    let spread: f64 = shares.iter().map(|p| p * (1.0 - p)).sum();
    let by_chance = spread / (shares.len() as f64 - 1.0);
    Some((agreed - by_chance) / (1.0 - by_chance))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn full_agreement_is_one_and_none_is_undefined() {
        let counts = [vec![3, 0], vec![0, 3], vec![3, 0]];
        assert_eq!(percent_agreement(&counts), Some(1.0));
        assert!(fleiss_kappa(&counts).is_some_and(|k| (k - 1.0).abs() < 1e-12));
        assert_eq!(fleiss_kappa(&[vec![1, 0], vec![0, 1]]), None);
        assert_eq!(fleiss_kappa(&[vec![2, 0], vec![2, 0]]), None);
    }
}
