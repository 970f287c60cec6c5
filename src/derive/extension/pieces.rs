//! The mean of the pieces of one dough after one rest.

use crate::record::{AREA_LIMIT_PCT, Conditions, Outcome, PieceGroup, RunRecord, piece_groups};
use crate::schema::{Axis, MetricCard, RunId};
use std::sync::Arc;

/// The mean of one metric over the pieces of one dough after one rest.
///
/// Pieces of one dough are sub-samples, and the 45-, 90- and 135-minute rests are repeated measures
/// on the same pieces: neither counts as a further dough ([`PieceMean::CAUTION`]).
#[derive(Debug, Clone)]
pub struct PieceMean {
    /// The metric.
    pub metric: MetricCard,
    /// What was stated of the dough.
    pub conditions: Arc<Conditions>,
    /// Rest, min, as planned where a plan is stated.
    pub rest_min: Option<f64>,
    /// What the abscissa counts.
    pub axis: Axis,
    /// The pieces in the mean.
    pub pieces: Vec<RunId>,
    /// Pieces stretched but not in the mean, with the reason.
    pub left_out: Vec<(RunId, String)>,
    /// The mean, its interval propagated from the readings' uncertainties alone: it says how well
    /// the pieces were read, not how much doughs differ.
    pub outcome: Outcome,
}

impl PieceMean {
    /// What must be said wherever means of several rests stand side by side.
    pub const CAUTION: &'static str = "Rests are repeated measures on the same pieces, and pieces are sub-samples of one dough: \
         they are not independent, and n counts pieces, not doughs.";

    /// Returns the number of pieces in the mean.
    pub fn n(&self) -> usize {
        self.pieces.len()
    }
}

/// Returns, for every dough and rest and every extension metric, the mean of its usable pieces
/// (ISO 5530-2: of two). Where a piece's area lies more than 15 % from the mean of the areas, the
/// mean is rejected: the test has to be repeated.
pub fn piece_means(runs: &[RunRecord]) -> Vec<PieceMean> {
    let groups = piece_groups(runs);
    let cards: Vec<MetricCard> = super::metrics().iter().map(|metric| metric.card).collect();
    groups
        .iter()
        .flat_map(|group| cards.iter().filter_map(|card| mean_of(group, *card)))
        .collect()
}

fn mean_of(group: &PieceGroup<'_>, metric: MetricCard) -> Option<PieceMean> {
    let first = group.pieces.first()?.1;
    let (mut pieces, mut left_out) = (Vec::new(), Vec::new());
    let (mut sum, mut uncertainties) = (0.0, 0.0);
    for (_, run) in &group.pieces {
        match run.result(metric.id).map(|result| &result.outcome) {
            Some(Outcome::Exact(estimate)) => {
                sum += estimate.value();
                uncertainties += estimate.std_uncertainty();
                pieces.push(run.id.clone());
            }
            Some(outcome) => {
                let why = outcome.reason().map(str::to_owned);
                let why = why
                    .unwrap_or_else(|| format!("its value is only a bound ({})", outcome.status()));
                left_out.push((run.id.clone(), why));
            }
            None => left_out.push((run.id.clone(), "the metric was not derived".into())),
        }
    }
    let n = pieces.len() as f64;
    let outcome = if group.areas_apart() {
        Outcome::Rejected(format!(
            "the pieces' areas lie more than {AREA_LIMIT_PCT:.0} % from their mean: repeat the test"
        ))
    } else if pieces.is_empty() {
        Outcome::NotComputable("no piece of this dough and rest has a value".into())
    } else {
        // What two readings share (force per EU, hook speed) does not average out: taken as shared.
        Outcome::exact(sum / n, uncertainties / n)
    };
    Some(PieceMean {
        metric,
        conditions: Arc::clone(&first.conditions),
        rest_min: group.rest_min,
        axis: group.axis,
        pieces,
        left_out,
        outcome,
    })
}
