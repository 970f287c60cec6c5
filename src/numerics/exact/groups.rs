//! One-way analysis of variance.

use super::sum::{sum, sum_of_squares};
use crate::numerics::error::{FitError, require_count, require_finite, require_length};
use crate::numerics::estimate::{FisherTest, SumOfSquares};
use crate::numerics::linear::Factor;

/// The analysis of variance of groups of values.
#[derive(Debug, Clone, PartialEq)]
pub struct OneWay {
    /// Between groups.
    pub between: SumOfSquares,
    /// Within groups.
    pub within: SumOfSquares,
    /// Test that all groups have one mean.
    pub test: FisherTest,
    /// Mean of each group; `None` for a level without a value.
    pub means: Vec<Option<f64>>,
}

impl OneWay {
    /// Share of the total sum of squares that lies between groups.
    pub fn r_squared(&self) -> f64 {
        self.between.sum / (self.between.sum + self.within.sum)
    }

    /// Standard deviation within groups.
    pub fn residual_deviation(&self) -> f64 {
        self.within.mean_square().sqrt()
    }
}

/// Returns the one-way analysis of variance of `values` in `groups` (Fisher 1925; sums as
/// [`sum_of_squares`], about a common origin). Against the certified NIST data sets it keeps the
/// digits that the given doubles keep: see the module about numbers with many constant leading
/// digits.
///
/// # Errors
/// `Lengths`, `NotFinite`, `TooFew` for fewer than two groups, `NoResidual` without replicates in
/// any group, `NoVariation` where the values of every group are equal.
pub fn one_way(values: &[f64], groups: &Factor) -> Result<OneWay, FitError> {
    require_length(groups.len(), values.len())?;
    require_finite(values)?;
    let origin = values.first().copied().unwrap_or(0.0);
    let mut members = vec![Vec::new(); groups.levels()];
    for (code, value) in groups.codes().iter().zip(values) {
        members[*code].push(value - origin);
    }
    let filled: Vec<&Vec<f64>> = members.iter().filter(|group| !group.is_empty()).collect();
    require_count("groups", 2, filled.len())?;
    if filled.len() == values.len() {
        return Err(FitError::NoResidual);
    }
    let mean_of = |group: &[f64]| sum(group.iter().copied()) / group.len() as f64;
    let grand = sum(values.iter().map(|v| v - origin)) / values.len() as f64;
    let within = SumOfSquares {
        sum: sum(filled.iter().map(|group| sum_of_squares(group))),
        df: (values.len() - filled.len()) as f64,
    };
    let between = SumOfSquares {
        sum: sum(filled.iter().map(|group| {
            let distance = mean_of(group) - grand;
            group.len() as f64 * distance * distance
        })),
        df: (filled.len() - 1) as f64,
    };
    if within.sum <= 0.0 {
        return Err(FitError::NoVariation);
    }
    Ok(OneWay {
        test: FisherTest::new(
            between.mean_square() / within.mean_square(),
            between.df,
            within.df,
        ),
        between,
        within,
        means: members
            .iter()
            .map(|group| (!group.is_empty()).then(|| origin + mean_of(group)))
            .collect(),
    })
}
