//! What the likelihood needs of the data: cross products of groupings, design and response.

use super::sparse::{Pattern, Symmetric};
use crate::numerics::error::{FitError, require_count, require_length};
use crate::numerics::linear::{Design, Factor};
use std::ops::Range;

/// Cross products, computed once per response.
#[derive(Debug, Clone)]
pub(super) struct Effects {
    /// Z'Z over all levels of all groupings, the grouping with most levels first: nested groupings
    /// then factorise without any fill.
    pub cross: Symmetric,
    pub pattern: Pattern,
    /// Levels of each grouping within the order above, groupings as given.
    pub spans: Vec<Range<usize>>,
    /// Z'Q by columns of the design's orthonormal basis Q.
    pub with_design: Vec<Vec<f64>>,
    /// Z'r of the residuals r of least squares.
    pub with_residuals: Vec<f64>,
    /// r'r.
    pub residual_sum: f64,
    /// Degrees of freedom of the error variance.
    pub df: f64,
    /// Whether the likelihood is that of the residuals.
    pub restricted: bool,
}

impl Effects {
    /// Returns the cross products of `residuals`, the response less its least-squares fit.
    ///
    /// # Errors
    /// `Lengths`; `TooFew` for a grouping with one level; `NotEstimable` for a grouping that is the
    /// same as another, as the single observations, or as fixed effects.
    pub fn of(
        design: &Design,
        groupings: &[Factor],
        residuals: &[f64],
        restricted: bool,
    ) -> Result<Self, FitError> {
        let spans = ordered_spans(groupings);
        for grouping in groupings {
            require_length(design.rows(), grouping.len())?;
            let occupied = grouping.counts().iter().filter(|c| **c > 0).count();
            require_count("groups", 2, occupied)?;
            if occupied >= design.rows() {
                return Err(FitError::NotEstimable);
            }
        }
        refuse_doubles(groupings)?;
        let size = spans.iter().map(|span| span.end).max().unwrap_or(0);
        let place =
            |grouping: usize, row: usize| spans[grouping].start + groupings[grouping].codes()[row];
        let pairs = (0..groupings.len()).flat_map(|i| (0..=i).map(move |j| (i, j)));
        let entries = pairs.flat_map(|(i, j)| {
            (0..design.rows()).map(move |row| (place(i, row), place(j, row), 1.0))
        });
        let cross = Symmetric::of_entries(size, entries);
        let gathered = |column: &[f64]| {
            let mut sums = vec![0.0; size];
            for grouping in 0..groupings.len() {
                for (row, value) in column.iter().enumerate() {
                    sums[place(grouping, row)] += value;
                }
            }
            sums
        };
        let effects = Self {
            pattern: Pattern::of(&cross),
            with_design: design.basis.columns.iter().map(|c| gathered(c)).collect(),
            with_residuals: gathered(residuals),
            residual_sum: residuals.iter().map(|r| r * r).sum(),
            df: if restricted {
                (design.rows() - design.rank()) as f64
            } else {
                design.rows() as f64
            },
            restricted,
            cross,
            spans,
        };
        effects.refuse_fixed()?;
        Ok(effects)
    }

    /// Refuses groupings whose levels are all told apart by fixed effects already.
    fn refuse_fixed(&self) -> Result<(), FitError> {
        for span in &self.spans {
            let total: f64 = self.cross.diagonal[span.clone()].iter().sum();
            let explained: f64 = self
                .with_design
                .iter()
                .flat_map(|column| &column[span.clone()])
                .map(|w| w * w)
                .sum();
            if total - explained <= 1e-9 * total {
                return Err(FitError::NotEstimable);
            }
        }
        Ok(())
    }

    /// Returns the square root of `ratios` for each level.
    pub fn scale(&self, ratios: &[f64]) -> Vec<f64> {
        let mut scale = vec![0.0; self.cross.size()];
        for (span, ratio) in self.spans.iter().zip(ratios) {
            scale[span.clone()].fill(ratio.sqrt());
        }
        scale
    }
}

/// Returns the places of each grouping's levels, groupings with more levels first.
fn ordered_spans(groupings: &[Factor]) -> Vec<Range<usize>> {
    let mut order: Vec<usize> = (0..groupings.len()).collect();
    order.sort_by_key(|g| std::cmp::Reverse(groupings[*g].levels()));
    let mut spans = vec![0..0; groupings.len()];
    let mut start = 0;
    for grouping in order {
        let end = start + groupings[grouping].levels();
        spans[grouping] = start..end;
        start = end;
    }
    spans
}

/// Refuses two groupings that part the observations in the same way: their variances cannot be
/// told apart.
fn refuse_doubles(groupings: &[Factor]) -> Result<(), FitError> {
    let occupied = |factor: &Factor| factor.counts().iter().filter(|c| **c > 0).count();
    for (i, left) in groupings.iter().enumerate() {
        for right in &groupings[..i] {
            let both = left.nested_in(right).levels();
            if both == occupied(left) && both == occupied(right) {
                return Err(FitError::NotEstimable);
            }
        }
    }
    Ok(())
}
