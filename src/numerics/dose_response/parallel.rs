//! Parallel lines.

use super::ratio::{Ratio, ratio_of_contrasts};
use crate::numerics::error::{FitError, require_finite, require_length};
use crate::numerics::estimate::{Estimate, FisherTest, Interval};
use crate::numerics::linear::{Coding, Contrasts, Design, Factor, Setting, Variable, fit_linear};
use crate::numerics::mixed::{Blocks, Fit};

const TREATMENT: usize = 0;
const DOSE: usize = 1;
const SQUARE: usize = 2;
const CELL: usize = 3;
const BLOCK: usize = 4;

/// Response lines over a dose, one per treatment (Finney 1978, Statistical Method in Biological
/// Assay, chapter 4): designs with one common slope, a slope for each, and curves.
#[derive(Debug, Clone)]
pub struct ParallelLines {
    dose: Vec<f64>,
    treatment: Factor,
    blocks: Blocks,
    common: Design,
    separate: Design,
    curved: Option<Design>,
    cells: Option<Design>,
}

/// What parallel lines say about one treatment against a reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Comparison {
    /// Dose of the treatment less dose of the reference at equal response, one slope for both.
    pub shift: Ratio,
    /// Slope of the treatment over slope of the reference, a slope for each: lines count as parallel
    /// when its limits lie within a margin around 1, not when a test fails to see a difference.
    pub slope_ratio: Ratio,
    /// The one slope of all treatments: response per unit of dose.
    pub common_slope: Estimate,
    /// Test that all treatments' slopes are equal.
    pub parallelism: FisherTest,
    /// Test that no treatment's line bends (square of the dose); `None` for fewer than three doses.
    pub curvature: Option<FisherTest>,
    /// Test of the means of treatment and dose against the lines; `None` with random blocks, or
    /// without more doses than two or without replicates.
    pub lack_of_fit: Option<FisherTest>,
    /// Responses that both lines reach within the doses each was measured at: without any, the shift
    /// extrapolates and decides nothing.
    pub common_responses: Option<Interval>,
}

impl ParallelLines {
    /// Returns the designs for the given dose and treatment of each observation.
    ///
    /// # Errors
    /// As [`Design::new`]: lengths, values that are not finite, a single treatment.
    pub fn new(dose: &[f64], treatment: &Factor, blocks: Blocks) -> Result<Self, FitError> {
        require_length(treatment.len(), dose.len())?;
        require_finite(dose)?;
        // Slopes and shifts do not depend on the origin; doses about zero keep digits.
        let centre = dose.iter().sum::<f64>() / dose.len().max(1) as f64;
        let centred: Vec<f64> = dose.iter().map(|d| d - centre).collect();
        let cell = cells(dose, treatment);
        let mut variables = vec![
            Variable::Factor(treatment.clone(), Coding::Sum),
            Variable::Measured(centred.clone()),
            Variable::Measured(centred.iter().map(|d| d * d).collect()),
            Variable::Factor(cell.clone(), Coding::Sum),
        ];
        let mut base = vec![vec![TREATMENT], vec![DOSE]];
        if let Blocks::Fixed(block) = &blocks {
            variables.push(Variable::Factor(block.clone(), Coding::Sum));
            base.insert(0, vec![BLOCK]);
        }
        let design = |added: &[&[usize]]| {
            let more = added.iter().map(|term| term.to_vec());
            Design::new(
                variables.clone(),
                base.iter().cloned().chain(more).collect(),
            )
        };
        let slopes: &[usize] = &[TREATMENT, DOSE];
        let separate = design(&[slopes])?;
        let curved = design(&[slopes, &[SQUARE], &[TREATMENT, SQUARE]])?;
        let full = design(&[slopes, &[CELL]])?;
        let added = |design: &Design| design.rank() > separate.rank();
        let seen =
            |design: Design| (added(&design) && design.rank() < design.rows()).then_some(design);
        Ok(Self {
            curved: seen(curved),
            cells: match &blocks {
                Blocks::Random(_) => None,
                Blocks::None | Blocks::Fixed(_) => seen(full),
            },
            common: design(&[])?,
            separate,
            dose: centred,
            treatment: treatment.clone(),
            blocks,
        })
    }

    /// Returns what the lines through `response` say about `treatment` against `reference` (levels
    /// of the treatment), with limits of `confidence`.
    ///
    /// # Errors
    /// As the fits: `Lengths`, `NotFinite`, `NoResidual`, `NotEstimable` for a treatment with a
    /// single dose, `NoVariation` where a slope is zero; `Unknown` for a level that is not there.
    pub fn compare(
        &self,
        response: &[f64],
        treatment: usize,
        reference: usize,
        confidence: f64,
    ) -> Result<Comparison, FitError> {
        let common = Fit::of(&self.common, &self.blocks, response)?;
        let separate = Fit::of(&self.separate, &self.blocks, response)?;
        let slope = self.common.slope(DOSE, &[])?;
        let slope_of = |level| {
            self.separate
                .slope(DOSE, &[(TREATMENT, Setting::Level(level))])
        };
        let shift = ratio_of_contrasts(
            &common,
            &self.common.difference(TREATMENT, reference, treatment)?,
            &slope,
            confidence,
        )?;
        let slopes_term = self.separate.terms().len() - 1;
        Ok(Comparison {
            slope_ratio: ratio_of_contrasts(
                &separate,
                &slope_of(treatment)?,
                &slope_of(reference)?,
                confidence,
            )?,
            common_slope: common.contrast(&slope)?,
            parallelism: separate.test_term(slopes_term)?,
            curvature: self.curvature(response)?,
            lack_of_fit: self.lack_of_fit(response)?,
            common_responses: self.common_responses(&common, treatment, reference)?,
            shift,
        })
    }

    /// Returns the slope of each treatment, a slope for each.
    ///
    /// # Errors
    /// As [`ParallelLines::compare`].
    pub fn slopes(&self, response: &[f64]) -> Result<Vec<Estimate>, FitError> {
        let fit = Fit::of(&self.separate, &self.blocks, response)?;
        (0..self.treatment.levels())
            .map(|level| {
                let at = [(TREATMENT, Setting::Level(level))];
                fit.contrast(&self.separate.slope(DOSE, &at)?)
            })
            .collect()
    }

    fn curvature(&self, response: &[f64]) -> Result<Option<FisherTest>, FitError> {
        let Some(design) = &self.curved else {
            return Ok(None);
        };
        let fit = Fit::of(design, &self.blocks, response)?;
        let last = design.terms().len() - 1;
        let bends = design.term_columns(last - 1)?.start..design.term_columns(last)?.end;
        let hypotheses: Vec<Vec<f64>> = bends
            .map(|column| {
                let mut weights = vec![0.0; design.width()];
                weights[column] = 1.0;
                weights
            })
            .collect();
        match fit.test(&hypotheses) {
            // Some treatment has two doses only: its line has no bend to test.
            Err(FitError::NotEstimable) => Ok(None),
            test => test.map(Some),
        }
    }

    fn lack_of_fit(&self, response: &[f64]) -> Result<Option<FisherTest>, FitError> {
        let Some(design) = &self.cells else {
            return Ok(None);
        };
        let fit = fit_linear(design, response)?;
        let added = fit.sequential_sums().last().copied();
        Ok(added.map(|lack| {
            let statistic = lack.mean_square() / fit.error().mean_square();
            FisherTest::new(statistic, lack.df, fit.error().df)
        }))
    }

    /// Returns the responses that the parallel lines of both treatments reach within their doses.
    fn common_responses(
        &self,
        fit: &Fit<'_>,
        treatment: usize,
        reference: usize,
    ) -> Result<Option<Interval>, FitError> {
        let reach = |level: usize| {
            let doses = self.treatment.codes().iter().zip(&self.dose);
            let own = doses.filter(|(code, _)| **code == level).map(|(_, d)| *d);
            let ends = own.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), d| {
                (low.min(d), high.max(d))
            });
            let at = |dose: f64| {
                let held = [
                    (TREATMENT, Setting::Level(level)),
                    (DOSE, Setting::Value(dose)),
                ];
                Ok(fit.contrast(&self.common.mean_at(&held)?)?.value)
            };
            let (a, b): (f64, f64) = (at(ends.0)?, at(ends.1)?);
            Ok((a.min(b), a.max(b)))
        };
        let (one, other) = (reach(treatment)?, reach(reference)?);
        let shared = Interval {
            low: one.0.max(other.0),
            high: one.1.min(other.1),
        };
        Ok((shared.low <= shared.high).then_some(shared))
    }
}

/// Returns the combinations of treatment and dose.
fn cells(dose: &[f64], treatment: &Factor) -> Factor {
    // Doses are compared by their bits: equal settings are written alike.
    let keys: Vec<u64> = dose.iter().map(|d| d.to_bits()).collect();
    Factor::of_labels(&keys).0.nested_in(treatment)
}
