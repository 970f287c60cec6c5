//! The number of units.

use super::probability::{Aim, power};
use crate::numerics::error::{FitError, require_count, require_open_unit, require_positive};

/// How units are laid out; one of each treatment per block or pair.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layout {
    /// Groups without blocks, one error from all of them.
    Groups {
        /// Number of treatments in the study.
        treatments: usize,
    },
    /// Complete randomised blocks, one error from all treatments.
    Blocks {
        /// Number of treatments in the study.
        treatments: usize,
    },
    /// Pairs, their differences being the data: the deviation is that of the differences.
    Pairs,
}

impl Layout {
    /// Returns the standard error of the difference of two treatments and its degrees of freedom,
    /// for `count` units of each treatment and the standard `deviation` of single units within
    /// groups or blocks (of differences for pairs).
    ///
    /// # Errors
    /// `TooFew` for fewer than two treatments or units, `OutOfRange` for a deviation that is not
    /// positive.
    pub fn error(self, count: usize, deviation: f64) -> Result<(f64, f64), FitError> {
        require_count("units", 2, count)?;
        require_positive("deviation", deviation)?;
        let n = count as f64;
        let of_groups = deviation * (2.0 / n).sqrt();
        match self {
            Layout::Groups { treatments } => {
                require_count("treatments", 2, treatments)?;
                Ok((of_groups, treatments as f64 * (n - 1.0)))
            }
            Layout::Blocks { treatments } => {
                require_count("treatments", 2, treatments)?;
                Ok((of_groups, (treatments as f64 - 1.0) * (n - 1.0)))
            }
            Layout::Pairs => Ok((deviation / n.sqrt(), n - 1.0)),
        }
    }
}

/// A number of units and what it achieves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Planned {
    /// Units of each treatment: blocks, where there are some.
    pub count: usize,
    /// Power at that number.
    pub power: f64,
}

/// Returns the smallest number of units per treatment, up to `most`, at which the test of `aim` at
/// level `alpha` has at least the `wanted` power when the difference is truly `truth`; `None` where
/// `most` do not suffice.
///
/// # Errors
/// As [`power`] and [`Layout::error`]; `OutOfRange` unless `wanted` lies strictly between 0 and 1.
pub fn smallest_count(
    layout: Layout,
    (aim, truth): (Aim, f64),
    deviation: f64,
    (alpha, wanted): (f64, f64),
    most: usize,
) -> Result<Option<Planned>, FitError> {
    require_open_unit("power", wanted)?;
    let at = |count: usize| {
        let (error, df) = layout.error(count, deviation)?;
        let power = power(aim, truth, error, df, alpha)?;
        Ok::<_, FitError>(Planned { count, power })
    };
    // Double until enough, then halve the gap: power rises with the number of units.
    let mut enough = at(2)?;
    let mut too_few = 1;
    while enough.power < wanted {
        if enough.count >= most {
            return Ok(None);
        }
        too_few = enough.count;
        enough = at((2 * enough.count).min(most))?;
    }
    while enough.count - too_few > 1 {
        let middle = at(too_few + (enough.count - too_few) / 2)?;
        if middle.power >= wanted {
            enough = middle;
        } else {
            too_few = middle.count;
        }
    }
    Ok(Some(enough))
}
