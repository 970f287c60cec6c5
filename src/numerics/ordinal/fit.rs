//! Proportional-odds regression with fixed factors.

use super::design::Design;
use crate::numerics::distribution::{chi_squared_upper, normal_quantile};
use crate::numerics::maximize::{Local, Maximum, maximize, reach};
use crate::numerics::{Estimate, Interval};
use nalgebra::{DMatrix, DVector};

/// Standard error over the span of a column above which its coefficient is taken as without end. A
/// coefficient of data that overlap has one of a few units at most.
const ENDLESS: f64 = 50.0;

/// Grades and what they may depend on.
#[derive(Debug, Clone, Copy)]
pub struct OrdinalData<'a> {
    /// Grade of each observation; only the order counts.
    pub grades: &'a [usize],
    /// Columns of numbers, each as long as the grades: treatment and block as 0 and 1 against
    /// their reference. No constant: the thresholds are it.
    pub columns: &'a [Vec<f64>],
}

/// Why a model of grades could not be fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum OrdinalFault {
    /// A column or a grouping is not as long as the list of grades.
    #[error("columns and grades differ in length")]
    Length,
    /// All grades are the same.
    #[error("all grades are the same: nothing to compare")]
    OneGrade,
    /// Columns depend on one another, or there are more coefficients than the grades bear.
    #[error("the columns depend on one another, or there are too many for so few grades")]
    Dependent,
    /// A column parts the grades entirely; a model with random intercepts is then not fitted.
    #[error("a column parts the grades entirely: use the clustered superiority or a rank test")]
    Separated,
    /// No maximum was found.
    #[error("the likelihood has no maximum that could be found")]
    NoMaximum,
}

/// A fitted model: logit P(grade ≤ j) = threshold_j − Σ column·coefficient.
#[derive(Debug, Clone, PartialEq)]
pub struct ProportionalOdds {
    /// The grades that occur, in order; one more than thresholds.
    pub levels: Vec<usize>,
    /// Thresholds between them.
    pub thresholds: Vec<Estimate>,
    /// One coefficient a column: the logarithm of the ratio of the odds of a grade above any
    /// threshold; positive means higher grades.
    pub coefficients: Vec<Estimate>,
    /// Largest log-likelihood; of the penalised fit when `separated`, without its penalty.
    pub log_likelihood: f64,
    /// Whether some column (or several together) parts the grades so that its coefficient has no
    /// finite estimate. The coefficients are then those of the penalised fit, and their intervals
    /// must come from [`profile_interval`].
    pub separated: bool,
}

/// Grades as ranks among those that occur.
pub(super) struct Prepared {
    pub levels: Vec<usize>,
    pub grades: Vec<usize>,
}

pub(super) fn prepare(data: OrdinalData) -> Result<Prepared, OrdinalFault> {
    let n = data.grades.len();
    if data.columns.iter().any(|c| c.len() != n) {
        return Err(OrdinalFault::Length);
    }
    let mut levels = data.grades.to_vec();
    levels.sort_unstable();
    levels.dedup();
    if levels.len() < 2 {
        return Err(OrdinalFault::OneGrade);
    }
    let place = |grade: &usize| levels.partition_point(|level| level < grade);
    let grades = data.grades.iter().map(place).collect();
    Ok(Prepared { levels, grades })
}

/// Returns thresholds that give each grade its overall share, and coefficients of 0.
fn start(prepared: &Prepared, columns: usize) -> Vec<f64> {
    let n = prepared.grades.len() as f64;
    let mut at: Vec<f64> = (1..prepared.levels.len())
        .map(|j| {
            let below = prepared.grades.iter().filter(|g| **g < j).count() as f64;
            libm::log(below / (n - below))
        })
        .collect();
    at.extend(std::iter::repeat_n(0.0, columns));
    at
}

/// Adds the penalty of Jeffreys, half the log-determinant of the expected information, to a
/// log-likelihood; its slope by central differences.
fn penalised(design: &Design, grades: &[usize], at: &[f64]) -> Option<Local> {
    let penalty = |at: &[f64]| {
        let root = design.expected(at)?.cholesky()?;
        Some(
            root.l_dirty()
                .diagonal()
                .iter()
                .map(|d| libm::log(*d))
                .sum(),
        )
    };
    let mut local = design.observed(grades, at)?;
    let here: f64 = penalty(at)?;
    local.value += here;
    let mut moved = at.to_vec();
    for i in 0..at.len() {
        // Cuts near one another leave the domain when moved too far.
        let step = 1e-5;
        moved[i] = at[i] + step;
        let above: f64 = penalty(&moved)?;
        moved[i] = at[i] - step;
        let below: f64 = penalty(&moved)?;
        moved[i] = at[i];
        local.gradient[i] += (above - below) / (2.0 * step);
    }
    local.information = design.expected(at)?;
    Some(local)
}

/// Returns the maximum from `start` with parameter `held` where it starts.
fn maximum(
    design: &Design,
    grades: &[usize],
    start: &[f64],
    held: Option<usize>,
    separated: bool,
) -> Option<Maximum> {
    if separated {
        maximize(start, held, |at| penalised(design, grades, at))
    } else {
        maximize(start, held, |at| design.observed(grades, at))
    }
}

/// Returns the proportional-odds model of the grades (McCullagh 1980, J. R. Stat. Soc. B 42:109),
/// by Newton's method with observed information; the likelihood is concave (Pratt 1981).
///
/// Under separation the fit is that of the likelihood penalised by Jeffreys' prior: finite, and for
/// two grades Firth's (1993, Biometrika 80:27; Heinze and Schemper 2002, Stat. Med. 21:2409).
///
/// # Errors
/// [`OrdinalFault`] when columns do not fit the grades or the data bear no model.
pub fn fit_proportional_odds(data: OrdinalData) -> Result<ProportionalOdds, OrdinalFault> {
    let prepared = prepare(data)?;
    let cuts = prepared.levels.len() - 1;
    let design = Design::new(data.columns, prepared.grades.len(), cuts, &[]);
    let first = start(&prepared, data.columns.len());
    // Dependent columns show in the expected information where every coefficient is 0.
    let expected = design.expected(&first).ok_or(OrdinalFault::NoMaximum)?;
    if !has_inverse(&expected) {
        return Err(OrdinalFault::Dependent);
    }
    let plain = maximum(&design, &prepared.grades, &first, None, false);
    let errors = plain.as_ref().and_then(standard_errors);
    let endless = errors.as_ref().is_none_or(|errors| {
        let spans = data.columns.iter().map(|c| span(c));
        let scales = std::iter::repeat_n(1.0, cuts).chain(spans);
        !errors.iter().zip(scales).all(|(e, s)| e * s < ENDLESS)
    });
    let separated = endless || plain.as_ref().is_none_or(|m| !m.converged);
    let found = if separated {
        maximum(&design, &prepared.grades, &first, None, true)
    } else {
        plain
    };
    let found = found.ok_or(OrdinalFault::NoMaximum)?;
    let log_likelihood = design
        .observed(&prepared.grades, &found.at)
        .ok_or(OrdinalFault::NoMaximum)?
        .value;
    let errors = standard_errors(&found).ok_or(OrdinalFault::NoMaximum)?;
    let mut all = found.at.iter().zip(&errors).map(|(e, s)| Estimate {
        value: *e,
        standard_error: *s,
        df: f64::INFINITY,
    });
    Ok(ProportionalOdds {
        thresholds: all.by_ref().take(cuts).collect(),
        coefficients: all.collect(),
        levels: prepared.levels,
        log_likelihood,
        separated,
    })
}

fn span(column: &[f64]) -> f64 {
    let high = column.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let low = column.iter().copied().fold(f64::INFINITY, f64::min);
    high - low
}

/// Returns whether a matrix, scaled to a unit diagonal, has an inverse that rounding leaves alone.
fn has_inverse(information: &DMatrix<f64>) -> bool {
    let roots: Vec<f64> = information.diagonal().iter().map(|d| d.sqrt()).collect();
    let scaled = DMatrix::from_fn(information.nrows(), information.ncols(), |i, j| {
        information[(i, j)] / (roots[i] * roots[j])
    });
    let inverse = scaled.cholesky().map(|c| c.inverse());
    inverse.is_some_and(|inverse| inverse.diagonal().iter().all(|v| *v < 1e10))
}

fn standard_errors(found: &Maximum) -> Option<Vec<f64>> {
    let inverse = found.local.information.clone().cholesky()?.inverse();
    let errors: Vec<f64> = inverse.diagonal().iter().map(|v| v.sqrt()).collect();
    errors.iter().all(|e| e.is_finite()).then_some(errors)
}

/// Returns the interval of coefficient `column` in which twice the fall of the (penalised)
/// likelihood, maximised over all else, stays below chi-squared's quantile of `level` (0.95).
/// An end is infinite when the likelihood never falls so far: the data set no bound there.
///
/// `None` when there is no such column or a fit on the way fails.
pub fn profile_interval(
    data: OrdinalData,
    fit: &ProportionalOdds,
    column: usize,
    level: f64,
) -> Option<Interval> {
    let prepared = prepare(data).ok()?;
    let cuts = prepared.levels.len() - 1;
    let design = Design::new(data.columns, prepared.grades.len(), cuts, &[]);
    let coefficient = fit.coefficients.get(column)?;
    let held = cuts + column;
    let all = fit.thresholds.iter().chain(&fit.coefficients);
    let best: Vec<f64> = all.map(|c| c.value).collect();
    let value = |at: &[f64], held| {
        let found = maximum(&design, &prepared.grades, at, held, fit.separated)?;
        Some(found.local.value)
    };
    let top = value(&best, None)?;
    let fall = |place: f64| {
        let mut at = best.clone();
        at[held] = place;
        Some(2.0 * (top - value(&at, Some(held))?))
    };
    let z = normal_quantile(0.5 + 0.5 * level)?;
    let stride = coefficient.standard_error.clamp(0.1, 2.0) * z;
    Some(Interval {
        low: reach(coefficient.value, -stride, z * z, fall)?,
        high: reach(coefficient.value, stride, z * z, fall)?,
    })
}

/// A score test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScoreTest {
    /// The statistic, chi-squared when the hypothesis holds.
    pub statistic: f64,
    /// Its degrees of freedom.
    pub degrees: usize,
    /// Its p.
    pub p: f64,
}

/// Returns the score test that the columns named move all thresholds alike (Peterson and Harrell
/// 1990, Appl. Stat. 39:205; expected information). A small p says that the odds are not
/// proportional: the treatment acts on some grades more than on others.
///
/// `None` for two grades (nothing to test), separated data, or when each threshold's own effect
/// cannot be told.
pub fn test_proportional_odds(
    data: OrdinalData,
    fit: &ProportionalOdds,
    columns: &[usize],
) -> Option<ScoreTest> {
    let prepared = prepare(data).ok()?;
    let cuts = prepared.levels.len() - 1;
    let known = columns.iter().all(|k| *k < data.columns.len());
    if fit.separated || cuts < 2 || columns.is_empty() || !known {
        return None;
    }
    let design = Design::new(data.columns, prepared.grades.len(), cuts, columns);
    let all = fit.thresholds.iter().chain(&fit.coefficients);
    let mut at: Vec<f64> = all.map(|c| c.value).collect();
    let degrees = design.parameters - at.len();
    at.resize(design.parameters, 0.0);
    let gradient: DVector<f64> = design.observed(&prepared.grades, &at)?.gradient;
    let expected = design.expected(&at)?;
    if !has_inverse(&expected) {
        return None;
    }
    let statistic = gradient.dot(&expected.cholesky()?.solve(&gradient));
    Some(ScoreTest {
        statistic,
        degrees,
        p: chi_squared_upper(statistic, degrees as f64)?,
    })
}
