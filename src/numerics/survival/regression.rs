//! Interval regression: the logarithm of a time is a sum of effects and an error.

use crate::numerics::distribution::student_quantile;
use crate::numerics::maximize::{Local, Maximum, add_square, maximize, reach};
use crate::numerics::regression::regress;
use crate::numerics::slice::{Slice, logistic_point, logistic_slice, normal_point, normal_slice};
use crate::numerics::{Estimate, Interval};
use nalgebra::{DMatrix, DVector};

/// Standard error, in standard deviations of the error and over the span of a column, above which
/// its coefficient is taken as without end.
const ENDLESS: f64 = 30.0;

/// What is known of a time; any unit, but above 0 and the same for all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TimeOutcome {
    /// The time itself.
    At(f64),
    /// It is longer than this: the record ended before.
    Above(f64),
    /// It is shorter than this: it was over at the first reading.
    Below(f64),
    /// It lies between these two readings.
    Between(f64, f64),
}

/// Law of the error of the logarithm of a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TimeLaw {
    /// Normal: times are log-normal.
    LogNormal,
    /// Logistic: times are log-logistic, with more of them far out.
    LogLogistic,
}

impl TimeLaw {
    fn point(self, z: f64) -> Slice {
        match self {
            Self::LogNormal => normal_point(z),
            Self::LogLogistic => logistic_point(z),
        }
    }

    fn slice(self, upper: Option<f64>, lower: Option<f64>) -> Option<Slice> {
        match self {
            Self::LogNormal => normal_slice(upper, lower),
            Self::LogLogistic => logistic_slice(upper, lower),
        }
    }
}

/// Times and what they may depend on.
#[derive(Debug, Clone, Copy)]
pub struct TimeData<'a> {
    /// One outcome a dough.
    pub outcomes: &'a [TimeOutcome],
    /// Columns of numbers, each as long as the outcomes: treatment and block as 0 and 1 against
    /// their reference. The constant is added.
    pub columns: &'a [Vec<f64>],
}

/// Why times could not be compared by regression.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum TimeFault {
    /// A column is not as long as the list of outcomes.
    #[error("columns and times differ in length")]
    Length,
    /// A time is not above 0, or the ends of an interval are not in order.
    #[error("a time is not above 0, or the ends of its interval are not in order")]
    NoTime,
    /// Columns depend on one another.
    #[error("the columns depend on one another")]
    Dependent,
    /// Too few doughs, or too few of them with a time (or an interval) rather than a bound.
    #[error("too few times for so many effects: bounds alone set no scatter")]
    TooFew,
    /// No maximum was found.
    #[error("the likelihood has no maximum that could be found")]
    NoMaximum,
}

/// A fitted model: ln time = intercept + Σ column·coefficient + scale·error.
#[derive(Debug, Clone, PartialEq)]
pub struct TimeFit {
    /// Law of the error.
    pub law: TimeLaw,
    /// Intercept, ln of the unit of time.
    pub intercept: Estimate,
    /// One coefficient a column: the logarithm of the ratio of times.
    pub coefficients: Vec<Estimate>,
    /// Columns whose coefficient has no finite estimate, as when all times of a treatment are
    /// bounds: their interval still has one end.
    pub endless: Vec<usize>,
    /// Scale of the error (for the normal law its standard deviation), by maximum likelihood.
    pub scale: f64,
    /// Largest log-likelihood of the times.
    pub log_likelihood: f64,
    /// Outcomes that are a time or lie between two.
    pub determined: usize,
}

/// Logarithms of what is known, and the columns with the constant first.
struct Prepared {
    upper: Vec<Option<f64>>,
    lower: Vec<Option<f64>>,
    columns: Vec<Vec<f64>>,
    determined: usize,
}

fn prepare(data: TimeData) -> Result<Prepared, TimeFault> {
    let n = data.outcomes.len();
    if data.columns.iter().any(|c| c.len() != n) {
        return Err(TimeFault::Length);
    }
    let (mut upper, mut lower) = (Vec::with_capacity(n), Vec::with_capacity(n));
    let mut determined = 0;
    for outcome in data.outcomes {
        let (low, high) = match *outcome {
            TimeOutcome::At(t) => (Some(t), Some(t)),
            TimeOutcome::Above(t) => (Some(t), None),
            TimeOutcome::Below(t) => (None, Some(t)),
            TimeOutcome::Between(a, b) if a < b => (Some(a), Some(b)),
            TimeOutcome::Between(..) => return Err(TimeFault::NoTime),
        };
        let known = [low, high];
        if known.iter().flatten().any(|t| !(*t > 0.0 && t.is_finite())) {
            return Err(TimeFault::NoTime);
        }
        determined += usize::from(low.is_some() && high.is_some());
        lower.push(low.map(libm::log));
        upper.push(high.map(libm::log));
    }
    let mut columns = vec![vec![1.0; n]];
    columns.extend_from_slice(data.columns);
    Ok(Prepared {
        upper,
        lower,
        columns,
        determined,
    })
}

impl Prepared {
    /// Returns the log-likelihood at coefficients over the scale, and 1 over the scale last, in
    /// which it is concave (Burridge 1981, J. R. Stat. Soc. B 43:41). `shift` is taken off the
    /// logarithm of each time.
    fn evaluate(&self, law: TimeLaw, shift: &[f64], at: &[f64]) -> Option<Local> {
        let (slopes, precision) = (&at[..at.len() - 1], at[at.len() - 1]);
        if precision <= 0.0 {
            return None;
        }
        let p = at.len();
        let mut value = 0.0;
        let mut gradient = vec![0.0; p];
        let mut information = DMatrix::zeros(p, p);
        for (i, moved) in shift.iter().enumerate() {
            let centre: f64 = slopes
                .iter()
                .zip(&self.columns)
                .map(|(s, c)| s * c[i])
                .sum();
            let cut = |log_time: Option<f64>| log_time.map(|t| precision * (t - moved) - centre);
            let (upper, lower) = (self.upper[i], self.lower[i]);
            let exact = upper.zip(lower).filter(|(u, l)| u <= l);
            let s = match exact {
                Some((log_time, _)) => {
                    value += libm::log(precision) - log_time;
                    gradient[p - 1] += 1.0 / precision;
                    information[(p - 1, p - 1)] += 1.0 / (precision * precision);
                    law.point(precision * (log_time - moved) - centre)
                }
                None => law.slice(cut(upper), cut(lower))?,
            };
            value += s.log_p;
            let row = |log_time: f64| {
                let mut row: Vec<f64> = self.columns.iter().map(|c| -c[i]).collect();
                row.push(log_time - moved);
                row
            };
            let ends = [
                (upper.map(row), s.upper, s.curved[0]),
                (lower.map(row), s.lower, s.curved[1]),
            ];
            for (row, slope, curved) in &ends {
                if let Some(row) = row {
                    gradient
                        .iter_mut()
                        .zip(row)
                        .for_each(|(g, x)| *g += slope * x);
                    add_square(&mut information, row, *curved);
                }
            }
            if let [(Some(u), ..), (Some(l), ..)] = &ends {
                let apart: Vec<f64> = u.iter().zip(l).map(|(a, b)| a - b).collect();
                add_square(&mut information, &apart, s.curved[2]);
            }
        }
        Some(Local {
            value,
            gradient: DVector::from_vec(gradient),
            information,
        })
    }

    /// Returns the maximum over the columns kept, from a rough regression in which bounds stand for
    /// times.
    fn maximum(&self, law: TimeLaw, shift: &[f64]) -> Option<Maximum> {
        let rough: Vec<f64> = self
            .upper
            .iter()
            .zip(&self.lower)
            .zip(shift)
            .map(|((u, l), moved)| match (u, l) {
                (Some(u), Some(l)) => 0.5 * (u + l) - moved,
                (known, other) => known.or(*other).unwrap_or_default() - moved,
            })
            .collect();
        let fit = regress(&self.columns, &rough)?;
        let precision = 1.0 / fit.residual_sd.max(1e-3);
        let mut start: Vec<f64> = fit.coefficients.iter().map(|c| c * precision).collect();
        start.push(precision);
        maximize(&start, None, |at| self.evaluate(law, shift, at))
    }
}

/// Returns the accelerated failure time model of times that may be bounds (Kalbfleisch and Prentice
/// 2002, ch. 3; from memory), by Newton's method.
///
/// # Errors
/// [`TimeFault`]; too few when the outcomes that are a time or lie between two are no more than
/// the coefficients, the constant counted.
pub fn fit_times(data: TimeData, law: TimeLaw) -> Result<TimeFit, TimeFault> {
    let prepared = prepare(data)?;
    let n = data.outcomes.len();
    if prepared.determined <= prepared.columns.len() {
        return Err(TimeFault::TooFew);
    }
    let ramp: Vec<f64> = (0..n).map(|i| (i * i) as f64).collect();
    regress(&prepared.columns, &ramp).ok_or(TimeFault::Dependent)?;
    let found = prepared
        .maximum(law, &vec![0.0; n])
        .ok_or(TimeFault::NoMaximum)?;
    let precision = found.at[found.at.len() - 1];
    let scale = 1.0 / precision;
    let inverse = found
        .local
        .information
        .clone()
        .cholesky()
        .map(|c| c.inverse());
    let inverse = inverse.ok_or(TimeFault::NoMaximum)?;
    let last = prepared.columns.len();
    let coefficient = |k: usize| {
        let estimate = found.at[k] * scale;
        // By the delta method from (coefficient/scale, 1/scale).
        let variance = inverse[(k, k)] - 2.0 * estimate * inverse[(k, last)]
            + estimate * estimate * inverse[(last, last)];
        Estimate {
            value: estimate,
            standard_error: scale * variance.max(0.0).sqrt(),
            df: f64::INFINITY,
        }
    };
    let endless: Vec<usize> = (1..last)
        .filter(|k| {
            let column = prepared.columns[*k].iter();
            let (low, high) = column.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
                (l.min(*v), h.max(*v))
            });
            let over_scale = inverse[(*k, *k)].sqrt() * (high - low);
            over_scale.is_nan() || over_scale >= ENDLESS
        })
        .map(|k| k - 1)
        .collect();
    if !found.converged && endless.is_empty() {
        return Err(TimeFault::NoMaximum);
    }
    Ok(TimeFit {
        law,
        intercept: coefficient(0),
        coefficients: (1..last).map(coefficient).collect(),
        endless,
        scale,
        log_likelihood: found.local.value,
        determined: prepared.determined,
    })
}

/// Returns the interval of the ratio of times that one unit of `column` makes, by the profile of
/// the likelihood; an end that the bounds leave open is 0 or infinite.
///
/// Twice the fall of the log-likelihood is held against n·ln(1 + t²/(n − p)) with Student's t of
/// n − p degrees of freedom (n outcomes, p coefficients with the constant), not against chi-squared:
/// without bounds and under the normal law the interval is then exactly that of least squares, and
/// with few doughs it is not too narrow (a choice; `tests/statistics_survival.rs` counts its
/// coverage).
///
/// `None` when there is no such column or a fit on the way fails.
pub fn ratio_interval(
    data: TimeData,
    fit: &TimeFit,
    column: usize,
    level: f64,
) -> Option<Interval> {
    let mut prepared = prepare(data).ok()?;
    let n = data.outcomes.len() as f64;
    let degrees = n - prepared.columns.len() as f64;
    let t = student_quantile(0.5 + 0.5 * level, degrees)?;
    let limit = n * libm::log1p(t * t / degrees);
    let coefficient = fit.coefficients.get(column)?;
    let top = fit.log_likelihood;
    prepared.columns.remove(column + 1);
    let moving = data.columns.get(column)?;
    let fall = |effect: f64| {
        let shift: Vec<f64> = moving.iter().map(|x| effect * x).collect();
        let found = prepared.maximum(fit.law, &shift)?;
        Some(2.0 * (top - found.local.value))
    };
    let unbounded = fit.endless.contains(&column);
    let stride = if unbounded {
        2.0 * fit.scale
    } else {
        coefficient.standard_error.min(4.0 * fit.scale)
    };
    let ends = |side: f64| {
        // An estimate without end is open on its own side.
        if unbounded && side * coefficient.value.signum() > 0.0 {
            return Some(side * f64::INFINITY);
        }
        reach(coefficient.value, side * stride, limit, fall)
    };
    Some(Interval {
        low: libm::exp(ends(-1.0)?),
        high: libm::exp(ends(1.0)?),
    })
}
