//! Ratios of times that some doughs show only to one side: interval regression on doughs, nothing
//! dropped and no bound taken for a time (HANDBOOK §1.9, 12.2).

use super::gather::{Gathered, block_of, doughs_of};
use super::inference::Inference;
use super::layout::{Standing, stand};
use crate::numerics::Interval;
use crate::numerics::survival::{
    TimeData, TimeFault, TimeFit, TimeLaw, TimeOutcome, fit_times, ratio_interval,
};
use crate::schema::Status;
use crate::study::{PlannedClaim, Scale, Study};
use std::collections::{BTreeMap, BTreeSet};

/// The fitted ratio of times of two methods, blocks kept apart.
pub(super) struct TimeRatio {
    outcomes: Vec<TimeOutcome>,
    /// The treatment (1) against the reference (0) first, then blocks.
    columns: Vec<Vec<f64>>,
    fit: TimeFit,
}

/// Doughs and blocks behind a ratio of times.
pub(super) struct TimeDoughs {
    /// Doughs of the treatment and of the reference.
    pub doughs: (usize, usize),
    /// Doughs of either whose time is a bound.
    pub bounds: (usize, usize),
    pub blocks: usize,
    /// Whether blocks are kept apart; where too few doughs have a time they cannot be.
    pub blocked: bool,
}

/// Returns what the design can say, doughs known to one side counting as doughs.
///
/// # Errors
/// As [`stand`].
pub(super) fn standing(
    study: &Study,
    claim: &PlannedClaim,
    gathered: &Gathered<'_>,
) -> Result<Standing, String> {
    let mut all = gathered.clone();
    all.rows.append(&mut all.censored);
    all.doughs = doughs_of(study, &all.rows, Scale::Log)?;
    stand(claim, &all)
}

/// Returns the ratio of times of the claim's two methods.
///
/// # Errors
/// The reason why these doughs cannot answer.
pub(super) fn time_ratio(
    study: &Study,
    claim: &PlannedClaim,
    gathered: &Gathered<'_>,
) -> Result<(TimeRatio, TimeDoughs), String> {
    let doughs = outcomes_of(study, claim, gathered)?;
    let count = |treated: bool| doughs.iter().filter(|d| d.treated == treated).count();
    let bounds = |treated: bool| {
        let own = doughs.iter().filter(|d| d.treated == treated);
        own.filter(|d| !matches!(d.outcome, TimeOutcome::At(_)))
            .count()
    };
    for (treated, name) in [(true, &claim.treatment), (false, &claim.reference)] {
        if count(treated) < 2 {
            return Err(format!(
                "there are {} doughs of `{name}` with a time or a bound; at least two are needed",
                count(treated)
            ));
        }
    }
    let blocks: BTreeSet<&str> = doughs.iter().map(|d| d.block).collect();
    let outcomes: Vec<TimeOutcome> = doughs.iter().map(|d| d.outcome).collect();
    let within = columns_of(&doughs, &blocks);
    let (columns, fit, blocked) = match fit_of(&outcomes, &within) {
        Ok(fit) => (within, fit, true),
        // Doughs enter their block's scatter into the error then: safe, but less sharp.
        Err(TimeFault::TooFew | TimeFault::NoMaximum) => {
            let plain: Vec<Vec<f64>> = within.into_iter().take(1).collect();
            let fit = fit_of(&outcomes, &plain).map_err(|e| e.to_string())?;
            (plain, fit, false)
        }
        Err(fault) => return Err(fault.to_string()),
    };
    let found = TimeDoughs {
        doughs: (count(true), count(false)),
        bounds: (bounds(true), bounds(false)),
        blocks: blocks.len(),
        blocked: blocked || blocks.len() < 2,
    };
    let ratio = TimeRatio {
        outcomes,
        columns,
        fit,
    };
    Ok((ratio, found))
}

/// Returns the treatment (1) against the reference (0), then each block but the first.
fn columns_of(doughs: &[TimeDough<'_>], blocks: &BTreeSet<&str>) -> Vec<Vec<f64>> {
    let one = |is: bool| f64::from(u8::from(is));
    let mut columns = vec![doughs.iter().map(|d| one(d.treated)).collect()];
    for block in blocks.iter().skip(1) {
        columns.push(doughs.iter().map(|d| one(d.block == *block)).collect());
    }
    columns
}

fn fit_of(outcomes: &[TimeOutcome], columns: &[Vec<f64>]) -> Result<TimeFit, TimeFault> {
    fit_times(TimeData { outcomes, columns }, TimeLaw::LogNormal)
}

impl TimeRatio {
    /// Standard deviation between doughs, of the logarithm of a time.
    pub fn sd(&self) -> f64 {
        self.fit.scale
    }
}

impl Inference for TimeRatio {
    fn value(&self) -> f64 {
        let effect = self.fit.coefficients.first();
        effect.map_or(f64::NAN, |e| libm::exp(e.value))
    }

    fn interval(&self, alpha: f64) -> Option<Interval> {
        let data = TimeData {
            outcomes: &self.outcomes,
            columns: &self.columns,
        };
        ratio_interval(data, &self.fit, 0, 1.0 - 2.0 * alpha)
    }

    fn df(&self) -> Option<f64> {
        Some(self.outcomes.len() as f64 - self.columns.len() as f64 - 1.0)
    }
}

struct TimeDough<'e> {
    treated: bool,
    block: &'e str,
    outcome: TimeOutcome,
}

/// Pieces of one dough: the sum of logarithms, and to which sides bounds leave it open.
#[derive(Default)]
struct Pieces {
    sum: f64,
    count: usize,
    above: bool,
    below: bool,
}

fn outcomes_of<'e>(
    study: &Study,
    claim: &PlannedClaim,
    gathered: &Gathered<'e>,
) -> Result<Vec<TimeDough<'e>>, String> {
    let mut doughs: BTreeMap<&str, (bool, &str, Pieces)> = BTreeMap::new();
    for row in gathered.rows.iter().chain(&gathered.censored) {
        let treatment = row.origin.treatment.as_ref();
        let ours = treatment == Some(&claim.treatment) || treatment == Some(&claim.reference);
        let (Some(batch), Some(value), true) = (row.origin.batch.as_deref(), row.value, ours)
        else {
            continue;
        };
        let treated = treatment == Some(&claim.treatment);
        let block = block_of(study.block, &row.origin).unwrap_or("");
        let fresh = || (treated, block, Pieces::default());
        let (_, _, pieces) = doughs.entry(batch).or_insert_with(fresh);
        pieces.sum += libm::log(value);
        pieces.count += 1;
        pieces.above |= row.status == Status::Above;
        pieces.below |= row.status == Status::Below;
    }
    let known = doughs.into_iter().map(|(batch, (treated, block, pieces))| {
        let mean = libm::exp(pieces.sum / pieces.count as f64);
        // A mean of bounds to one side bounds the mean.
        let outcome = match (pieces.above, pieces.below) {
            (false, false) => TimeOutcome::At(mean),
            (true, false) => TimeOutcome::Above(mean),
            (false, true) => TimeOutcome::Below(mean),
            (true, true) => {
                return Err(format!(
                    "pieces of dough `{batch}` are bounded to both sides: their mean is not known"
                ));
            }
        };
        Ok(TimeDough {
            treated,
            block,
            outcome,
        })
    });
    known.collect()
}
