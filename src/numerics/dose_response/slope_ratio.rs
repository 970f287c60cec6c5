//! Lines from one common height at dose zero.

use super::ratio::{Ratio, ratio_of_contrasts};
use crate::numerics::error::{FitError, require_finite, require_length};
use crate::numerics::estimate::FisherTest;
use crate::numerics::linear::{Coding, Design, Factor, Variable};
use crate::numerics::mixed::{Blocks, Fit};

/// The ratio of two slopes that start from one height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SlopeRatio {
    /// Slope of the treatment over slope of the reference.
    pub ratio: Ratio,
    /// Test that all lines do start from one height; `None` where no degree of freedom is left.
    pub common_start: Option<FisherTest>,
}

/// Returns the slope ratio of treatment over reference (`levels`, in this order) with limits of
/// `confidence`, all treatments starting from one height at dose zero (Finney 1978, Statistical
/// Method in Biological Assay, chapter 7). Observations at dose zero may bear any treatment.
///
/// # Errors
/// As [`Design::new`] and the fits; `NotEstimable` for a treatment without a dose other than zero.
pub fn analyse_slope_ratio(
    response: &[f64],
    dose: &[f64],
    (treatment, levels): (&Factor, (usize, usize)),
    blocks: &Blocks,
    confidence: f64,
) -> Result<SlopeRatio, FitError> {
    require_length(treatment.len(), dose.len())?;
    require_finite(dose)?;
    let lines = treatment.levels();
    for level in [levels.0, levels.1] {
        if level >= lines {
            return Err(FitError::Unknown {
                what: "level",
                index: level,
            });
        }
    }
    let mut variables: Vec<Variable> = (0..lines)
        .map(|level| {
            let own = treatment.codes().iter().zip(dose);
            let own = own.map(|(code, d)| if *code == level { *d } else { 0.0 });
            Variable::Measured(own.collect())
        })
        .collect();
    let mut terms: Vec<Vec<usize>> = (0..lines).map(|level| vec![level]).collect();
    variables.push(Variable::Factor(treatment.clone(), Coding::Sum));
    let start = terms.len();
    if let Blocks::Fixed(block) = blocks {
        variables.push(Variable::Factor(block.clone(), Coding::Sum));
        terms.push(vec![variables.len() - 1]);
    }
    let design = Design::new(variables.clone(), terms.clone())?;
    let fit = Fit::of(&design, blocks, response)?;
    let slope = |level: usize| design.slope(level, &[]);
    let ratio = ratio_of_contrasts(&fit, &slope(levels.0)?, &slope(levels.1)?, confidence)?;
    terms.push(vec![start]);
    let apart = Design::new(variables, terms)?;
    let common_start = Fit::of(&apart, blocks, response)
        .and_then(|fit| fit.test_term(apart.terms().len() - 1))
        .ok();
    Ok(SlopeRatio {
        ratio,
        common_start,
    })
}
