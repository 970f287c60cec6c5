//! Whether a flour lot meets the limits set for its grade.

use super::Estimate;
use crate::schema::{MetricCard, ResultId, SampleId};

/// The decision rule in words, as reports print it.
pub const DECISION_RULE: &str = "Decision rule: a guard band of U (k = 2, about 95 %) on both sides \
of each limit. Accepted: inside by more than U. Rejected: outside by more than U. Between: the \
uncertainty of the result does not settle it; measure again or decide with the customer.";

/// What the limits say of a lot in one metric.
#[derive(Debug, Clone, PartialEq)]
pub enum DeliveryVerdict {
    /// Inside the limits by more than the guard band.
    Accept,
    /// Outside a limit by more than the guard band.
    Reject,
    /// Within the guard band of a limit: the uncertainty of the result does not settle it.
    Between,
    /// There is no number to judge; the reason says why.
    NotJudged(String),
}

impl DeliveryVerdict {
    /// Returns the word used in data.
    pub fn word(&self) -> &'static str {
        match self {
            DeliveryVerdict::Accept => "accept",
            DeliveryVerdict::Reject => "reject",
            DeliveryVerdict::Between => "between",
            DeliveryVerdict::NotJudged(_) => "not-judged",
        }
    }
}

/// A lot judged in one metric.
#[derive(Debug, Clone)]
pub struct Delivery {
    /// Flour lot.
    pub sample: SampleId,
    /// Grade that the lot was delivered as.
    pub grade: String,
    /// Metric.
    pub metric: MetricCard,
    /// Reading of the metric; empty when it has one.
    pub variant: &'static str,
    /// Results judged.
    pub results: Vec<ResultId>,
    /// Mean of the results and its uncertainty; `None` when there is no number.
    pub found: Option<Estimate>,
    /// Least value allowed.
    pub lower: Option<f64>,
    /// Greatest value allowed.
    pub upper: Option<f64>,
    /// Half width of the guard band on each side of a limit, in the metric's unit.
    pub guard: f64,
    /// Who set the limits.
    pub set_by: String,
    /// What they come to.
    pub verdict: DeliveryVerdict,
}
