//! A grouping of observations: treatments, blocks, days, batches.

/// The level of each observation of one factor, counted from 0.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Factor {
    codes: Vec<usize>,
    levels: usize,
}

impl Factor {
    /// Returns the factor with the given level of each observation; the levels are 0 up to the
    /// greatest code.
    pub fn new(codes: Vec<usize>) -> Self {
        let levels = codes.iter().max().map_or(0, |most| most + 1);
        Self { codes, levels }
    }

    /// Returns the factor of `labels`, one per observation, and its levels in sorted order.
    pub fn of_labels<L: Ord + Clone>(labels: &[L]) -> (Self, Vec<L>) {
        let mut names = labels.to_vec();
        names.sort();
        names.dedup();
        let codes = labels
            .iter()
            .map(|label| names.partition_point(|name| name < label))
            .collect();
        let levels = names.len();
        (Self { codes, levels }, names)
    }

    /// Returns the factor whose levels are the pairs of levels of both that occur together: batches
    /// numbered anew on each day become batches within days. Levels are sorted by `outer` first.
    /// Observations beyond the shorter of both are left out.
    pub fn nested_in(&self, outer: &Factor) -> Self {
        let pairs: Vec<(usize, usize)> = outer
            .codes
            .iter()
            .copied()
            .zip(self.codes.iter().copied())
            .collect();
        Self::of_labels(&pairs).0
    }

    /// The level of each observation.
    pub fn codes(&self) -> &[usize] {
        &self.codes
    }

    /// How many levels there are, levels without an observation included.
    pub fn levels(&self) -> usize {
        self.levels
    }

    /// How many observations there are.
    pub fn len(&self) -> usize {
        self.codes.len()
    }

    /// Whether there is no observation at all.
    pub fn is_empty(&self) -> bool {
        self.codes.is_empty()
    }

    /// Returns the number of observations at each level.
    pub fn counts(&self) -> Vec<usize> {
        let mut counts = vec![0; self.levels];
        for code in &self.codes {
            counts[*code] += 1;
        }
        counts
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_are_sorted_and_nesting_keeps_only_pairs_that_occur() {
        let (day, names) = Factor::of_labels(&["tue", "mon", "tue", "mon"]);
        assert_eq!(
            (day.codes(), names),
            (&[1, 0, 1, 0][..], vec!["mon", "tue"])
        );
        let batch = Factor::new(vec![0, 0, 1, 0]);
        let within = batch.nested_in(&day);
        assert_eq!((within.codes(), within.levels()), (&[1, 0, 2, 0][..], 3));
        assert_eq!(within.counts(), [2, 1, 1]);
    }
}
