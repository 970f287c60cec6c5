//! Numbers that several runs give together: the discs of a dough, its ages, its water series.

use super::MetricResult;
use crate::schema::Test;

/// Several runs of one test, and the numbers they give together.
#[derive(Debug, Clone)]
pub struct RunGroup {
    /// Kind of test.
    pub test: Test,
    /// What the runs have in common, such as `dough D-01, inflation`; unique among the groups of a
    /// day.
    pub name: String,
    /// Keys of the runs that count, in the order of the day.
    pub members: Vec<String>,
    /// Runs that were left out, each with the reason.
    pub left_out: Vec<(String, String)>,
    /// The numbers.
    pub results: Vec<MetricResult>,
}
