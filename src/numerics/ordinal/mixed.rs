//! Proportional-odds regression with random intercepts of graders and doughs.

use super::design::Design;
use super::fit::{OrdinalData, OrdinalFault, fit_proportional_odds, prepare};
use super::quadrature::gauss_hermite;
use crate::numerics::Estimate;
use crate::numerics::maximize::{
    Local, information_by_differences, maximize, maximize_by_differences,
};
use crate::numerics::slice::logistic_slice;
use nalgebra::{DMatrix, DVector};

/// A fitted model: logit P(grade ≤ j) = threshold_j − Σ column·coefficient − Σ random intercepts.
#[derive(Debug, Clone, PartialEq)]
pub struct RandomIntercepts {
    /// The grades that occur, in order.
    pub levels: Vec<usize>,
    /// Thresholds between them.
    pub thresholds: Vec<Estimate>,
    /// One coefficient a column, for a given grader and dough.
    pub coefficients: Vec<Estimate>,
    /// Standard deviation of the random intercepts of each grouping; 0 when the data show none.
    pub deviations: Vec<f64>,
    /// Largest log-likelihood, as far as the quadrature is exact.
    pub log_likelihood: f64,
    /// Whether the maximum was reached; if not, its figures must not be used.
    pub converged: bool,
}

/// Groups numbered from 0, and how many there are.
struct Grouping {
    of: Vec<usize>,
    count: usize,
}

/// The two cuts around each observation's grade, before random intercepts.
type Cuts = Vec<(Option<f64>, Option<f64>)>;

struct Model {
    design: Design,
    grades: Vec<usize>,
    groupings: Vec<Grouping>,
    nodes: Vec<(f64, f64)>,
}

/// Returns the model of grades with a normal random intercept for every group of each grouping:
/// graders, and doughs nested in blocks or crossed with graders. Group labels need only differ.
///
/// One grouping: adaptive Gauss–Hermite quadrature with `nodes` nodes (Pinheiro and Bates 1995, J.
/// Comput. Graph. Stat. 4:12; 1 is Laplace's approximation, 10 the usual choice). Several: Laplace's
/// approximation over all at once, whatever `nodes` says. Standard errors from the observed
/// information, by differences. With few groups they are too small, as for all such models: judge
/// a claim by doughs, not by gradings.
///
/// # Errors
/// [`OrdinalFault`]; under separation no such model is fitted.
pub fn fit_random_intercepts(
    data: OrdinalData,
    groupings: &[Vec<usize>],
    nodes: usize,
) -> Result<RandomIntercepts, OrdinalFault> {
    if groupings.iter().any(|g| g.len() != data.grades.len()) {
        return Err(OrdinalFault::Length);
    }
    let fixed = fit_proportional_odds(data)?;
    if fixed.separated {
        return Err(OrdinalFault::Separated);
    }
    let prepared = prepare(data)?;
    let cuts = fixed.thresholds.len();
    let model = Model {
        design: Design::new(data.columns, prepared.grades.len(), cuts, &[]),
        grades: prepared.grades,
        groupings: groupings.iter().map(|labels| number(labels)).collect(),
        nodes: gauss_hermite(nodes.clamp(1, 50)),
    };
    let all = fixed.thresholds.iter().chain(&fixed.coefficients);
    let mut first: Vec<f64> = all.map(|c| c.value).collect();
    let observed = model.design.observed(&model.grades, &first);
    let inverse = observed
        .and_then(|local| local.information.cholesky())
        .map(|root| root.inverse())
        .ok_or(OrdinalFault::NoMaximum)?;
    let (known, whole) = (first.len(), first.len() + groupings.len());
    first.resize(whole, 0.7);
    let guess = DMatrix::from_fn(whole, whole, |i, j| {
        if i < known && j < known {
            inverse[(i, j)]
        } else {
            f64::from(u8::from(i == j)) * 0.2
        }
    });
    let value = |at: &[f64]| model.log_likelihood(at).unwrap_or(f64::NEG_INFINITY);
    let (at, log_likelihood, converged) =
        maximize_by_differences(&first, guess, value).ok_or(OrdinalFault::NoMaximum)?;
    let information = information_by_differences(&at, value);
    let covariance = information.cholesky().map(|root| root.inverse());
    let covariance = covariance.ok_or(OrdinalFault::NoMaximum)?;
    let mut fitted = at.iter().enumerate().map(|(i, estimate)| Estimate {
        value: *estimate,
        standard_error: covariance[(i, i)].sqrt(),
        df: f64::INFINITY,
    });
    Ok(RandomIntercepts {
        levels: fixed.levels,
        thresholds: fitted.by_ref().take(cuts).collect(),
        coefficients: fitted.by_ref().take(known - cuts).collect(),
        deviations: fitted.map(|c| c.value.abs()).collect(),
        log_likelihood,
        converged,
    })
}

fn number(labels: &[usize]) -> Grouping {
    let mut known = labels.to_vec();
    known.sort_unstable();
    known.dedup();
    let place = |label: &usize| known.partition_point(|k| k < label);
    Grouping {
        of: labels.iter().map(place).collect(),
        count: known.len(),
    }
}

impl Model {
    /// Returns the log-likelihood at thresholds, coefficients and deviations; a negative deviation
    /// is its absolute value.
    fn log_likelihood(&self, at: &[f64]) -> Option<f64> {
        let (fixed, deviations) = at.split_at(self.design.parameters);
        let cuts = self.design.cut_values(fixed, &self.grades);
        match (&self.groupings[..], deviations) {
            ([grouping], [deviation]) => self.by_quadrature(&cuts, grouping, *deviation),
            _ => self.by_laplace(&cuts, deviations),
        }
    }

    fn by_quadrature(&self, cuts: &Cuts, grouping: &Grouping, deviation: f64) -> Option<f64> {
        let mut members = vec![Vec::new(); grouping.count];
        for (cut, group) in cuts.iter().zip(&grouping.of) {
            members[*group].push(*cut);
        }
        let mut total = 0.0;
        for group in &members {
            total += self.log_integral(group, deviation)?;
        }
        Some(total)
    }

    /// Returns the logarithm of the likelihood of one group, its intercept integrated out about
    /// its mode.
    fn log_integral(&self, group: &Cuts, deviation: f64) -> Option<f64> {
        let (mode, curvature) = mode(group, deviation)?;
        let width = (2.0 / curvature).sqrt();
        let terms: Option<Vec<f64>> = self
            .nodes
            .iter()
            .map(|(x, weight)| {
                let u = mode + width * x;
                let height = group_value(group, deviation * u)? - 0.5 * u * u;
                Some(height + x * x + libm::log(*weight))
            })
            .collect();
        let terms = terms?;
        let top = terms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let sum: f64 = terms.iter().map(|t| libm::exp(t - top)).sum();
        let constant = 0.5 * libm::log(2.0 * std::f64::consts::PI);
        Some(top + libm::log(sum * width) - constant)
    }

    /// Returns Laplace's approximation over all random intercepts at once.
    fn by_laplace(&self, cuts: &Cuts, deviations: &[f64]) -> Option<f64> {
        let count: usize = self.groupings.iter().map(|g| g.count).sum();
        let evaluate = |u: &[f64]| self.joint(cuts, deviations, u);
        let found = maximize(&vec![0.0; count], None, evaluate)?;
        let root = found.local.information.cholesky()?;
        let half_log_determinant: f64 = root
            .l_dirty()
            .diagonal()
            .iter()
            .map(|d| libm::log(*d))
            .sum();
        Some(found.local.value - half_log_determinant)
    }

    /// Returns the log-density of grades and random intercepts `u` (standard normal) together.
    fn joint(&self, cuts: &Cuts, deviations: &[f64], u: &[f64]) -> Option<Local> {
        let mut value = -0.5 * u.iter().map(|v| v * v).sum::<f64>();
        let mut gradient = DVector::from_iterator(u.len(), u.iter().map(|v| -v));
        let mut information = DMatrix::identity(u.len(), u.len());
        let mut own = vec![(0, 0.0); deviations.len()];
        for (i, (upper, lower)) in cuts.iter().enumerate() {
            let (mut first, mut sum) = (0, 0.0);
            for ((slot, grouping), deviation) in own.iter_mut().zip(&self.groupings).zip(deviations)
            {
                *slot = (first + grouping.of[i], *deviation);
                sum += deviation * u[slot.0];
                first += grouping.count;
            }
            let s = logistic_slice(upper.map(|c| c - sum), lower.map(|c| c - sum))?;
            value += s.log_p;
            for (a, da) in &own {
                gradient[*a] -= da * (s.upper + s.lower);
                for (b, db) in &own {
                    information[(*a, *b)] += da * db * (s.curved[0] + s.curved[1]);
                }
            }
        }
        Some(Local {
            value,
            gradient,
            information,
        })
    }
}

/// Returns the log-likelihood of a group whose intercept is `shift`.
fn group_value(group: &Cuts, shift: f64) -> Option<f64> {
    let mut value = 0.0;
    for (upper, lower) in group {
        value += logistic_slice(upper.map(|c| c - shift), lower.map(|c| c - shift))?.log_p;
    }
    Some(value)
}

/// Returns the most likely standard normal intercept of a group, and the negated curvature there.
fn mode(group: &Cuts, deviation: f64) -> Option<(f64, f64)> {
    let mut u = 0.0;
    let mut settled = false;
    for _ in 0..200 {
        let (mut slope, mut curvature) = (-u, 1.0);
        for (upper, lower) in group {
            let shift = deviation * u;
            let s = logistic_slice(upper.map(|c| c - shift), lower.map(|c| c - shift))?;
            slope -= deviation * (s.upper + s.lower);
            curvature += deviation * deviation * (s.curved[0] + s.curved[1]);
        }
        if settled {
            return Some((u, curvature));
        }
        let step = (slope / curvature).clamp(-2.0, 2.0);
        u += step;
        settled = step.abs() < 1e-9;
    }
    None
}
