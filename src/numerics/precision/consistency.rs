//! Laboratories that do not agree with the others.

use super::laboratories::Precision;
use crate::numerics::distribution::{fisher_quantile, student_quantile};
use crate::numerics::error::{FitError, require_count, require_open_unit};

/// What a statistic is against its critical values.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Flag {
    /// At most the 5 % critical value.
    Consistent,
    /// Above that of 5 %, at most that of 1 %: kept, and marked.
    Straggler,
    /// Above the 1 % critical value: to be explained; left out only with a recorded reason.
    Outlier,
}

impl Flag {
    fn of(statistic: f64, five: f64, one: f64) -> Self {
        if statistic > one {
            Flag::Outlier
        } else if statistic > five {
            Flag::Straggler
        } else {
            Flag::Consistent
        }
    }
}

/// Mandel's statistics of one laboratory.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LaboratoryFlags {
    /// h: distance of its mean from the mean of means, in standard deviations of means.
    pub h: f64,
    /// What |h| is against its critical values.
    pub h_flag: Flag,
    /// k: its standard deviation over sr; `None` for a single result.
    pub k: Option<f64>,
    /// What k is against its critical values.
    pub k_flag: Flag,
}

/// The laboratory that a test points at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suspect {
    /// Place of the laboratory in the order given.
    pub laboratory: usize,
    /// The test's statistic.
    pub statistic: f64,
    /// Its critical value at 5 %.
    pub five_percent: f64,
    /// Its critical value at 1 %.
    pub one_percent: f64,
    /// What the statistic is against both.
    pub flag: Flag,
}

/// Consistency of laboratories at one level.
#[derive(Debug, Clone, PartialEq)]
pub struct Consistency {
    /// h and k of each laboratory.
    pub laboratories: Vec<LaboratoryFlags>,
    /// Cochran's test of the greatest variance.
    pub cochran: Suspect,
    /// Grubbs' test of the mean farthest from the mean of means.
    pub grubbs: Suspect,
}

/// Returns h, k, Cochran's and Grubbs' statistics of the laboratories behind `precision`
/// (ISO 5725-2:1994, 7.3; the test of two outlying means at once is not offered: it has tables
/// only). Laboratories with different numbers of results are judged by the commonest number, as the
/// standard allows.
///
/// # Errors
/// `TooFew` for fewer than three laboratories, `NoVariation` where all means are equal or no cell
/// scatters.
pub fn check_consistency(precision: &Precision) -> Result<Consistency, FitError> {
    let cells = &precision.cells;
    let count = cells.len();
    require_count("laboratories", 3, count)?;
    if precision.deviation_of_means <= 0.0 || precision.repeatability <= 0.0 {
        return Err(FitError::NoVariation);
    }
    let repeated: Vec<(usize, f64)> = cells
        .iter()
        .enumerate()
        .filter_map(|(place, cell)| cell.deviation.map(|d| (place, d * d)))
        .collect();
    let replicates = commonest(cells.iter().map(|cell| cell.count).filter(|n| *n > 1));
    let centre = cells.iter().map(|cell| cell.mean).sum::<f64>() / count as f64;
    let h_limits = both(|alpha| mandel_h_critical(alpha, count))?;
    let k_limits = both(|alpha| mandel_k_critical(alpha, repeated.len(), replicates))?;
    let laboratories: Vec<LaboratoryFlags> = cells
        .iter()
        .map(|cell| {
            let h = (cell.mean - centre) / precision.deviation_of_means;
            let k = cell.deviation.map(|d| d / precision.repeatability);
            LaboratoryFlags {
                h,
                h_flag: Flag::of(h.abs(), h_limits.0, h_limits.1),
                k,
                k_flag: Flag::of(k.unwrap_or(0.0), k_limits.0, k_limits.1),
            }
        })
        .collect();
    let suspect = |(laboratory, statistic): (usize, f64), limits: (f64, f64)| Suspect {
        laboratory,
        statistic,
        five_percent: limits.0,
        one_percent: limits.1,
        flag: Flag::of(statistic, limits.0, limits.1),
    };
    let total: f64 = repeated.iter().map(|(_, variance)| variance).sum();
    let shares = repeated.iter().map(|(place, v)| (*place, v / total));
    let distances = laboratories.iter().map(|lab| lab.h.abs()).enumerate();
    Ok(Consistency {
        cochran: suspect(
            greatest(shares),
            both(|alpha| cochran_critical(alpha, repeated.len(), replicates))?,
        ),
        grubbs: suspect(
            greatest(distances),
            both(|alpha| grubbs_critical(alpha, count))?,
        ),
        laboratories,
    })
}

fn both(critical: impl Fn(f64) -> Result<f64, FitError>) -> Result<(f64, f64), FitError> {
    Ok((critical(0.05)?, critical(0.01)?))
}

fn greatest(found: impl Iterator<Item = (usize, f64)>) -> (usize, f64) {
    found.fold((0, f64::NEG_INFINITY), |best, next| {
        if next.1 > best.1 { next } else { best }
    })
}

/// Returns the commonest of `numbers`, the least of several; 2 for none.
fn commonest(numbers: impl Iterator<Item = usize>) -> usize {
    let mut sorted: Vec<usize> = numbers.collect();
    sorted.sort_unstable();
    let runs = sorted.chunk_by(|a, b| a == b);
    runs.fold((2, 0), |best, run| {
        if run.len() > best.1 {
            (run[0], run.len())
        } else {
            best
        }
    })
    .0
}

fn fisher(probability: f64, above: f64, below: f64) -> Result<f64, FitError> {
    fisher_quantile(probability, above, below).ok_or(FitError::NoResidual)
}

/// Returns Cochran's critical value for the greatest of `laboratories` variances of `replicates`
/// each: `1 / (1 + (p - 1) / F)` with F at 1 - alpha / p (ISO 5725-2, table 4; Cochran 1941, Ann.
/// Eugen. 11:47).
///
/// # Errors
/// `TooFew` for fewer than two laboratories or replicates, `OutOfRange` for alpha outside 0..1.
pub fn cochran_critical(
    alpha: f64,
    laboratories: usize,
    replicates: usize,
) -> Result<f64, FitError> {
    let p = required(alpha, laboratories, replicates)?;
    let df = replicates as f64 - 1.0;
    let f = fisher(1.0 - alpha / p, df, (p - 1.0) * df)?;
    Ok(1.0 / (1.0 + (p - 1.0) / f))
}

/// Returns Grubbs' critical value for the mean farthest from the mean of `laboratories` means, on
/// either side: Student's t at 1 - alpha / 2p (ISO 5725-2, table 5; Grubbs and Beck 1972,
/// Technometrics 14:847).
///
/// # Errors
/// `TooFew` for fewer than three laboratories, `OutOfRange` for alpha outside 0..1.
pub fn grubbs_critical(alpha: f64, laboratories: usize) -> Result<f64, FitError> {
    require_open_unit("alpha", alpha)?;
    farthest(0.5 * alpha / laboratories as f64, laboratories)
}

/// Returns the critical value of Mandel's h: `(p - 1) t / sqrt(p (t² + p - 2))` with Student's t at
/// 1 - alpha / 2 (ISO 5725-2, table 6; Wilrich 2013, Adv. Stat. Anal. 97:1).
///
/// # Errors
/// `TooFew` for fewer than three laboratories, `OutOfRange` for alpha outside 0..1.
pub fn mandel_h_critical(alpha: f64, laboratories: usize) -> Result<f64, FitError> {
    require_open_unit("alpha", alpha)?;
    farthest(0.5 * alpha, laboratories)
}

/// Returns the critical value of Mandel's k: `sqrt(p / (1 + (p - 1) / F))` with F at 1 - alpha
/// (ISO 5725-2, table 7; Wilrich 2013).
///
/// # Errors
/// `TooFew` for fewer than two laboratories or replicates, `OutOfRange` for alpha outside 0..1.
pub fn mandel_k_critical(
    alpha: f64,
    laboratories: usize,
    replicates: usize,
) -> Result<f64, FitError> {
    let p = required(alpha, laboratories, replicates)?;
    let df = replicates as f64 - 1.0;
    let f = fisher(1.0 - alpha, df, (p - 1.0) * df)?;
    Ok((p / (1.0 + (p - 1.0) / f)).sqrt())
}

fn required(alpha: f64, laboratories: usize, replicates: usize) -> Result<f64, FitError> {
    require_open_unit("alpha", alpha)?;
    require_count("laboratories", 2, laboratories)?;
    require_count("replicates", 2, replicates)?;
    Ok(laboratories as f64)
}

/// Returns how far one of `laboratories` means lies from their mean, in their standard deviation,
/// where its own t against the others is exceeded with probability `tail`.
fn farthest(tail: f64, laboratories: usize) -> Result<f64, FitError> {
    require_count("laboratories", 3, laboratories)?;
    let p = laboratories as f64;
    let t = student_quantile(1.0 - tail, p - 2.0).ok_or(FitError::NoResidual)?;
    Ok((p - 1.0) * t / (p * (t * t + p - 2.0)).sqrt())
}
