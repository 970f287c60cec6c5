//! Whether groups scatter alike.

use super::factor::Factor;
use crate::numerics::error::{FitError, require_finite, require_length};
use crate::numerics::estimate::FisherTest;
use crate::numerics::exact::one_way;
use crate::numerics::median;

/// From where the distances of a group are measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Centre {
    /// The mean: Levene 1960 (Contributions to Probability and Statistics, 278).
    Mean,
    /// The median: Brown and Forsythe 1974 (J. Am. Stat. Assoc. 69:364); holds its level for skew
    /// and long-tailed data too.
    Median,
}

/// Returns the test that all groups scatter alike: the one-way analysis of variance of the
/// distances from the centre of each group.
///
/// # Errors
/// `Lengths`, `NotFinite`; `TooFew` or `NoResidual` as [`one_way`]; `NoVariation` where all
/// distances within groups are equal.
pub fn compare_spread(
    values: &[f64],
    groups: &Factor,
    centre: Centre,
) -> Result<FisherTest, FitError> {
    require_length(groups.len(), values.len())?;
    require_finite(values)?;
    let mut members = vec![Vec::new(); groups.levels()];
    for (code, value) in groups.codes().iter().zip(values) {
        members[*code].push(*value);
    }
    let centres: Vec<f64> = members
        .iter_mut()
        .map(|group| match centre {
            Centre::Mean => group.iter().sum::<f64>() / group.len() as f64,
            Centre::Median => median(group).unwrap_or(f64::NAN),
        })
        .collect();
    let distances: Vec<f64> = groups
        .codes()
        .iter()
        .zip(values)
        .map(|(code, value)| (value - centres[*code]).abs())
        .collect();
    Ok(one_way(&distances, groups)?.test)
}
