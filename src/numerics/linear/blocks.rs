//! Randomised blocks.

use super::design::{Coding, Design, Variable};
use super::factor::Factor;
use super::fit::fit_linear;
use crate::numerics::error::FitError;
use crate::numerics::estimate::{FisherTest, SumOfSquares};

/// The analysis of variance of treatments in blocks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlockedAnova {
    /// Between blocks, before treatments.
    pub blocks: SumOfSquares,
    /// Between treatments, after blocks.
    pub treatments: SumOfSquares,
    /// Error: the interaction of both where each treatment occurs once in each block.
    pub error: SumOfSquares,
    /// Test of the treatments.
    pub test: FisherTest,
}

impl Design {
    /// Variable of the blocks in [`Design::blocked`].
    pub const BLOCK: usize = 0;
    /// Variable of the treatments in [`Design::blocked`].
    pub const TREATMENT: usize = 1;

    /// Returns the design `block + treatment` of fixed blocks, complete or not. Marginal means of
    /// treatments average the blocks with equal weight, so that a missing cell does not shift them.
    ///
    /// # Errors
    /// As [`Design::new`].
    pub fn blocked(treatment: &Factor, block: &Factor) -> Result<Self, FitError> {
        Design::new(
            vec![
                Variable::Factor(block.clone(), Coding::Sum),
                Variable::Factor(treatment.clone(), Coding::Sum),
            ],
            vec![vec![Self::BLOCK], vec![Self::TREATMENT]],
        )
    }
}

/// Returns the analysis of `response` under `treatment` in fixed `block`s (Cochran and Cox 1957,
/// Experimental Designs, 4.2; treatments are adjusted for blocks, so cells may be missing or
/// repeated). Contrasts come from [`fit_linear`] on [`Design::blocked`].
///
/// # Errors
/// As [`Design::new`] and [`fit_linear`]; `NotEstimable` where blocks and treatments are confounded.
pub fn analyse_blocks(
    response: &[f64],
    treatment: &Factor,
    block: &Factor,
) -> Result<BlockedAnova, FitError> {
    let design = Design::blocked(treatment, block)?;
    let fit = fit_linear(&design, response)?;
    let sums = fit.sequential_sums();
    let (Some(blocks), Some(treatments)) = (sums.first(), sums.get(1)) else {
        return Err(FitError::NotEstimable);
    };
    if treatments.df + 1.0 < treatment.levels() as f64 {
        return Err(FitError::NotEstimable);
    }
    Ok(BlockedAnova {
        blocks: *blocks,
        treatments: *treatments,
        error: fit.error(),
        test: fit.test_term(Design::TREATMENT)?,
    })
}
