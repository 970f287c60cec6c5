//! Precision from several laboratories.

use super::repeatability::{LIMIT_FACTOR, pool_repeatability};
use crate::numerics::error::{FitError, require_count, require_finite};
use crate::numerics::exact::{sum, sum_of_squares};

/// One laboratory's results at one level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cell {
    /// Number of results.
    pub count: usize,
    /// Their mean.
    pub mean: f64,
    /// Their standard deviation; `None` for a single result.
    pub deviation: Option<f64>,
}

/// Precision of a test at one level.
#[derive(Debug, Clone, PartialEq)]
pub struct Precision {
    /// The laboratories, in the order given.
    pub cells: Vec<Cell>,
    /// General mean, laboratories weighted by their results.
    pub mean: f64,
    /// Standard deviation of the laboratories' means.
    pub deviation_of_means: f64,
    /// Repeatability standard deviation, sr.
    pub repeatability: f64,
    /// Variance between laboratories as estimated, before it is cut off at zero.
    pub between_variance: f64,
    /// Whether that estimate was negative, so that zero stands in its place.
    pub negative_variance: bool,
    /// Reproducibility standard deviation, sR.
    pub reproducibility: f64,
}

impl Precision {
    /// Standard deviation between laboratories, sL.
    pub fn between(&self) -> f64 {
        self.between_variance.max(0.0).sqrt()
    }

    /// The repeatability limit r = 2.8 sr.
    pub fn repeatability_limit(&self) -> f64 {
        LIMIT_FACTOR * self.repeatability
    }

    /// The reproducibility limit R = 2.8 sR.
    pub fn reproducibility_limit(&self) -> f64 {
        LIMIT_FACTOR * self.reproducibility
    }
}

/// Returns the precision from the results of each laboratory at one level, by analysis of variance;
/// laboratories may have different numbers of results (ISO 5725-2:1994, 7.4).
///
/// # Errors
/// `TooFew` for fewer than two laboratories, one without a result, or no replicate anywhere;
/// `NotFinite` with the place within its laboratory.
pub fn estimate_precision(laboratories: &[Vec<f64>]) -> Result<Precision, FitError> {
    require_count("laboratories", 2, laboratories.len())?;
    for results in laboratories {
        require_count("results", 1, results.len())?;
        require_finite(results)?;
    }
    let within = pool_repeatability(laboratories)?;
    let cells: Vec<Cell> = laboratories.iter().map(|results| cell(results)).collect();
    let count_of = |cell: &Cell| cell.count as f64;
    let total: f64 = cells.iter().map(count_of).sum();
    let mean = sum(cells.iter().map(|c| count_of(c) * c.mean)) / total;
    let df = cells.len() as f64 - 1.0;
    let squares = sum(cells
        .iter()
        .map(|c| count_of(c) * (c.mean - mean) * (c.mean - mean)));
    let own: f64 = cells.iter().map(|c| count_of(c) * count_of(c)).sum();
    let typical = (total - own / total) / df;
    let variance = within.deviation * within.deviation;
    let between_variance = (squares / df - variance) / typical;
    let means: Vec<f64> = cells.iter().map(|c| c.mean).collect();
    Ok(Precision {
        mean,
        deviation_of_means: (sum_of_squares(&means) / df).sqrt(),
        repeatability: within.deviation,
        between_variance,
        negative_variance: between_variance < 0.0,
        reproducibility: (variance + between_variance.max(0.0)).sqrt(),
        cells,
    })
}

fn cell(results: &[f64]) -> Cell {
    let n = results.len() as f64;
    Cell {
        count: results.len(),
        mean: sum(results.iter().copied()) / n,
        deviation: (results.len() > 1).then(|| (sum_of_squares(results) / (n - 1.0)).sqrt()),
    }
}
