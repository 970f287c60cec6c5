//! The contrast of two treatments from dough values: which model, which error term, what speaks
//! against its assumptions (HANDBOOK §12.2, V-A1, V-A2).

use super::gather::{Dough, Gathered};
use super::layout::Standing;
use crate::numerics::distribution::fisher_upper;
use crate::numerics::equivalence::{paired, welch};
use crate::numerics::exact::{one_way, summarise};
use crate::numerics::linear::{
    Centre, Coding, Contrasts, Design, Factor, LinearFit, Variable, compare_spread, fit_linear,
    shapiro_wilk,
};
use crate::numerics::mixed::{Criterion, fit_mixed};
use crate::numerics::{Estimate, FitError};
use crate::record::Assumption;
use crate::study::{ErrorChoice, PlannedClaim, Scope};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;

/// Below this probability a check speaks against its assumption.
const DOUBTFUL_P: f64 = 0.05;

/// A contrast on the scale of the analysis (of logarithms for ratios).
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Contrast {
    pub estimate: Estimate,
    /// Standard deviation between doughs that the error term stands for.
    pub sd: f64,
    pub error_term: String,
    pub assumptions: Vec<Assumption>,
    pub residuals: Vec<Residual>,
}

/// One dough (or cell) in the check of the model.
#[derive(Debug, Clone, PartialEq)]
pub struct Residual {
    /// Mixing method.
    pub treatment: String,
    /// Block.
    pub block: String,
    /// What the model expects, on the scale of the analysis.
    pub fitted: f64,
    /// Observed less expected.
    pub residual: f64,
}

/// One value of the model: a dough, or the mean of the doughs of one cell.
#[derive(Debug, Clone)]
struct Unit<'e> {
    treatment: &'e str,
    block: &'e str,
    value: f64,
    doughs: usize,
}

/// Designs already built: a study asks the same design about many metrics.
#[derive(Default)]
pub(super) struct Designs(RefCell<BTreeMap<DesignKey, Rc<Design>>>);

type DesignKey = (Vec<usize>, Vec<usize>);

impl Designs {
    /// Returns the design of `treatments` in `blocks`, one-way where there is one block.
    fn of(&self, treatments: &Factor, blocks: &Factor) -> Result<Rc<Design>, FitError> {
        let key = (treatments.codes().to_vec(), blocks.codes().to_vec());
        if let Some(design) = self.0.borrow().get(&key) {
            return Ok(Rc::clone(design));
        }
        let design = Rc::new(match blocks.levels() {
            0 | 1 => Design::new(
                vec![Variable::Factor(treatments.clone(), Coding::Sum)],
                vec![vec![0]],
            ),
            _ => Design::blocked(treatments, blocks),
        }?);
        self.0.borrow_mut().insert(key, Rc::clone(&design));
        Ok(design)
    }
}

/// Returns the contrast of treatment less reference.
///
/// # Errors
/// The reason why these doughs cannot answer.
pub(super) fn contrast(
    claim: &PlannedClaim,
    gathered: &Gathered<'_>,
    standing: &Standing,
    designs: &Designs,
) -> Result<Contrast, String> {
    let found = match claim.scope {
        Scope::Doughs => over_doughs(claim, &gathered.doughs, standing, designs)?,
        Scope::Flours => over_flours(claim, &gathered.doughs, designs)?,
    };
    let shared = shared_uncertainty(claim, gathered);
    let estimate = found.estimate.with_shared_uncertainty(shared);
    let mut found = Contrast {
        estimate: estimate.map_err(|e| e.to_string())?,
        ..found
    };
    if shared > 0.0 {
        found.error_term.push_str(
            "; with the shared uncertainty of the instruments, which no repetition averages out",
        );
    }
    Ok(found)
}

/// Returns the type B standard uncertainty of the contrast, added once whatever the number of
/// doughs: that of both instruments, or of the one where both treatments were measured with it.
/// What cancels in a difference is not credited.
fn shared_uncertainty(claim: &PlannedClaim, gathered: &Gathered<'_>) -> f64 {
    let of = |treatment: &str| {
        let doughs = super::layout::doughs_of(gathered, treatment);
        let sum: f64 = doughs.iter().map(|d| d.shared_u).sum();
        let instruments: Vec<&str> = doughs
            .iter()
            .flat_map(|d| d.instruments.iter().copied())
            .collect();
        (sum / doughs.len().max(1) as f64, instruments)
    };
    let (one, with) = of(&claim.treatment);
    let (other, and) = of(&claim.reference);
    match with.iter().any(|instrument| and.contains(instrument)) {
        true => one.max(other),
        false => libm::hypot(one, other),
    }
}

fn over_doughs<'e>(
    claim: &PlannedClaim,
    doughs: &[Dough<'e>],
    standing: &Standing,
    designs: &Designs,
) -> Result<Contrast, String> {
    let units: Vec<Unit<'e>> = doughs
        .iter()
        .map(|dough| Unit {
            treatment: dough.treatment,
            block: dough.block,
            value: dough.value,
            doughs: 1,
        })
        .collect();
    if claim.error == ErrorChoice::Paired {
        return own_error(claim, &units, standing);
    }
    let pooled = pooled_error(claim, &units, designs, "doughs within blocks")?;
    if let Some(interaction) = pooled.assumptions.iter().find(|a| a.name == INTERACTION)
        && interaction.doubtful
    {
        let cells = cell_means(&units);
        let mut found = pooled_error(claim, &cells, designs, "method × block")?;
        found.assumptions.push(interaction.clone());
        return Ok(found);
    }
    let uneven = pooled
        .assumptions
        .iter()
        .any(|a| a.name == SPREAD && a.doubtful);
    if uneven && claim.error == ErrorChoice::Automatic {
        let mut found = own_error(claim, &units, standing)?;
        let spread = pooled.assumptions.into_iter().filter(|a| a.name == SPREAD);
        found.assumptions.extend(spread);
        return Ok(found);
    }
    Ok(pooled)
}

/// The error of a claim over flours is that of method × flour: each flour counts once for each
/// method, however many doughs were made of it.
fn over_flours<'e>(
    claim: &PlannedClaim,
    doughs: &[Dough<'e>],
    designs: &Designs,
) -> Result<Contrast, String> {
    let units: Vec<Unit<'e>> = doughs
        .iter()
        .filter_map(|dough| {
            Some(Unit {
                treatment: dough.treatment,
                block: dough.sample?,
                value: dough.value,
                doughs: 1,
            })
        })
        .collect();
    let cells = cell_means(&units);
    let even = cells
        .windows(2)
        .all(|pair| pair[0].doughs == pair[1].doughs);
    if !even && claim.error != ErrorChoice::Paired {
        return mixed_over_flours(claim, &units);
    }
    match claim.error {
        ErrorChoice::Paired => {
            let shared = Standing {
                shared_blocks: 2,
                ..Standing::default()
            };
            own_error(claim, &cells, &shared)
        }
        _ => pooled_error(claim, &cells, designs, "method × flour"),
    }
}

/// Flours with unequal numbers of doughs: a mixed model with flour and method × flour random.
fn mixed_over_flours(claim: &PlannedClaim, units: &[Unit<'_>]) -> Result<Contrast, String> {
    let frame = Frame::of(units);
    let (Some(one), Some(other)) = (frame.level(&claim.treatment), frame.level(&claim.reference))
    else {
        return Err("no flour is named for one of the methods".to_owned());
    };
    let design = Design::new(
        vec![Variable::Factor(frame.treatments.clone(), Coding::Sum)],
        vec![vec![0]],
    );
    let design = design.map_err(in_words)?;
    let cells = frame.treatments.nested_in(&frame.blocks);
    let groupings = [frame.blocks.clone(), cells];
    let fit = fit_mixed(&design, &groupings, &frame.values, Criterion::Restricted);
    let fit = fit.map_err(in_words)?;
    let weights = design.difference(0, one, other).map_err(in_words)?;
    let estimate = fit.contrast(&weights).map_err(in_words)?;
    let residuals = fit.residuals();
    Ok(Contrast {
        sd: estimate.standard_error * (frame.blocks.levels() as f64 / 2.0).sqrt(),
        estimate,
        error_term: format!(
            "method × flour and doughs, mixed model by restricted likelihood with Satterthwaite's \
             degrees of freedom ({:.1})",
            estimate.df
        ),
        assumptions: residual_checks(residuals, &frame),
        residuals: frame.residual_rows(units, residuals),
    })
}

const SPREAD: &str = "equal scatter";
const INTERACTION: &str = "methods differ alike in all blocks";
const NORMAL: &str = "normal residuals";

/// The values of a model with their groupings.
struct Frame<'e> {
    names: Vec<&'e str>,
    treatments: Factor,
    blocks: Factor,
    values: Vec<f64>,
}

impl<'e> Frame<'e> {
    fn of(units: &[Unit<'e>]) -> Self {
        let labels: Vec<&str> = units.iter().map(|u| u.treatment).collect();
        let blocks: Vec<&str> = units.iter().map(|u| u.block).collect();
        let (treatments, names) = Factor::of_labels(&labels);
        Self {
            names,
            treatments,
            blocks: Factor::of_labels(&blocks).0,
            values: units.iter().map(|u| u.value).collect(),
        }
    }

    fn level(&self, treatment: &str) -> Option<usize> {
        self.names.iter().position(|name| *name == treatment)
    }

    fn residual_rows(&self, units: &[Unit<'_>], residuals: &[f64]) -> Vec<Residual> {
        units
            .iter()
            .zip(residuals)
            .map(|(unit, residual)| Residual {
                treatment: unit.treatment.to_owned(),
                block: unit.block.to_owned(),
                fitted: unit.value - residual,
                residual: *residual,
            })
            .collect()
    }
}

fn in_words(error: FitError) -> String {
    match error {
        FitError::NotEstimable => "the difference of the methods cannot be told from that of the \
                                   blocks"
            .to_owned(),
        FitError::NoResidual => "there is no dough left over to estimate the error from: repeat \
                                 the doughs, or make them in more blocks"
            .to_owned(),
        other => other.to_string(),
    }
}

/// Additive model of blocks and all methods of the study; error pooled over them.
fn pooled_error(
    claim: &PlannedClaim,
    units: &[Unit<'_>],
    designs: &Designs,
    error_of: &str,
) -> Result<Contrast, String> {
    let frame = Frame::of(units);
    let (Some(one), Some(other)) = (frame.level(&claim.treatment), frame.level(&claim.reference))
    else {
        return Err("one of the methods has no dough".to_owned());
    };
    let design = designs
        .of(&frame.treatments, &frame.blocks)
        .map_err(in_words)?;
    let fit = fit_linear(&design, &frame.values).map_err(in_words)?;
    let factor = match frame.blocks.levels() {
        0 | 1 => 0,
        _ => Design::TREATMENT,
    };
    let weights = design.difference(factor, one, other).map_err(in_words)?;
    let estimate = fit.contrast(&weights).map_err(in_words)?;
    let mut assumptions = residual_checks(fit.residuals(), &frame);
    assumptions.extend(interaction_check(&fit, &frame));
    Ok(Contrast {
        estimate,
        sd: fit.error().mean_square().sqrt(),
        error_term: format!(
            "{error_of}, pooled over {} methods ({} degrees of freedom)",
            frame.names.len(),
            estimate.df
        ),
        assumptions,
        residuals: frame.residual_rows(units, fit.residuals()),
    })
}

fn interaction_check(fit: &LinearFit<'_>, frame: &Frame<'_>) -> Option<Assumption> {
    if frame.blocks.levels() < 2 {
        return None;
    }
    let cells = frame.treatments.nested_in(&frame.blocks);
    // Residuals of doughs of one cell differ only as doughs do; what is left of the residuals is
    // the interaction.
    let within = one_way(fit.residuals(), &cells).ok()?.within;
    let lack = fit.error().sum - within.sum;
    let df = fit.error().df - within.df;
    if df < 1.0 || within.df < 1.0 || within.sum <= 0.0 {
        return None;
    }
    let statistic = (lack / df).max(0.0) / within.mean_square();
    let p = fisher_upper(statistic, df, within.df);
    Some(Assumption {
        name: INTERACTION,
        words: format!(
            "method × block against doughs within them, F({df}, {}) = {statistic:.2}, p = {p:.3}",
            within.df
        ),
        doubtful: p < DOUBTFUL_P,
    })
}

fn residual_checks(residuals: &[f64], frame: &Frame<'_>) -> Vec<Assumption> {
    let mut checks = Vec::new();
    if let Ok(test) = compare_spread(residuals, &frame.treatments, Centre::Median) {
        checks.push(Assumption {
            name: SPREAD,
            words: format!(
                "Brown–Forsythe test of the residuals by method, F({}, {}) = {:.2}, p = {:.3}",
                test.numerator_df, test.denominator_df, test.statistic, test.p
            ),
            doubtful: test.p < DOUBTFUL_P,
        });
    }
    checks.extend(normality(residuals));
    checks
}

fn normality(residuals: &[f64]) -> Option<Assumption> {
    let test = shapiro_wilk(residuals).ok()?;
    Some(Assumption {
        name: NORMAL,
        words: format!(
            "Shapiro–Wilk test of {} residuals, W = {:.3}, p = {:.3}",
            residuals.len(),
            test.statistic,
            test.p
        ),
        doubtful: test.p < DOUBTFUL_P,
    })
}

/// Returns the mean of the units of each cell of method and block.
fn cell_means<'e>(units: &[Unit<'e>]) -> Vec<Unit<'e>> {
    let mut cells: BTreeMap<(&str, &str), (f64, usize)> = BTreeMap::new();
    for unit in units {
        let cell = cells.entry((unit.block, unit.treatment)).or_default();
        *cell = (cell.0 + unit.value, cell.1 + unit.doughs);
    }
    cells
        .into_iter()
        .map(|((block, treatment), (sum, doughs))| Unit {
            treatment,
            block,
            value: sum / doughs as f64,
            doughs,
        })
        .collect()
}

/// The two methods' own error: of their differences within blocks, or of both groups where there
/// are no blocks.
fn own_error(
    claim: &PlannedClaim,
    units: &[Unit<'_>],
    standing: &Standing,
) -> Result<Contrast, String> {
    let cells = cell_means(units);
    let of = |treatment: &str| -> BTreeMap<&str, f64> {
        let own = cells.iter().filter(|unit| unit.treatment == treatment);
        own.map(|unit| (unit.block, unit.value)).collect()
    };
    let (one, other) = (of(&claim.treatment), of(&claim.reference));
    if standing.blocks == 1 {
        return two_groups(claim, units);
    }
    let (mut left, mut right, mut blocks) = (Vec::new(), Vec::new(), Vec::new());
    for (block, value) in &one {
        if let Some(against) = other.get(block) {
            left.push(*value);
            right.push(*against);
            blocks.push((*block).to_owned());
        }
    }
    let estimate = paired(&left, &right).map_err(|_| {
        format!(
            "{} blocks hold doughs of both methods; paired differences need at least two",
            left.len()
        )
    })?;
    let differences = left.iter().zip(&right).map(|(l, r)| l - r);
    let residuals: Vec<f64> = differences.map(|d| d - estimate.value).collect();
    Ok(Contrast {
        sd: estimate.standard_error * (left.len() as f64 / 2.0).sqrt(),
        estimate,
        error_term: format!(
            "differences within {} blocks, paired ({} degrees of freedom)",
            left.len(),
            estimate.df
        ),
        assumptions: normality(&residuals).into_iter().collect(),
        residuals: blocks
            .into_iter()
            .zip(&residuals)
            .map(|(block, residual)| Residual {
                treatment: format!("{} less {}", claim.treatment, claim.reference),
                block,
                fitted: estimate.value,
                residual: *residual,
            })
            .collect(),
    })
}

fn two_groups(claim: &PlannedClaim, units: &[Unit<'_>]) -> Result<Contrast, String> {
    let of = |treatment: &str| -> Vec<f64> {
        let own = units.iter().filter(|unit| unit.treatment == treatment);
        own.map(|unit| unit.value).collect()
    };
    let (one, other) = (of(&claim.treatment), of(&claim.reference));
    let summary = |values: &[f64]| summarise(values).map_err(in_words);
    let (of_one, of_other) = (summary(&one)?, summary(&other)?);
    let estimate = welch(&of_one, &of_other).map_err(in_words)?;
    let mut residuals = Vec::new();
    for (treatment, values, mean) in [
        (&claim.treatment, one, of_one.mean),
        (&claim.reference, other, of_other.mean),
    ] {
        residuals.extend(values.into_iter().map(|value| Residual {
            treatment: treatment.clone(),
            block: String::new(),
            fitted: mean,
            residual: value - mean,
        }));
    }
    let plain: Vec<f64> = residuals.iter().map(|r| r.residual).collect();
    let variance = 0.5 * (of_one.deviation.powi(2) + of_other.deviation.powi(2));
    Ok(Contrast {
        estimate,
        sd: variance.sqrt(),
        error_term: format!(
            "doughs of both methods, each with its own scatter ({:.1} degrees of freedom)",
            estimate.df
        ),
        assumptions: normality(&plain).into_iter().collect(),
        residuals,
    })
}
