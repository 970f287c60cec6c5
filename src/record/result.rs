//! One derived number with everything needed to find it again.

use super::{Conditions, Outcome, RowRange, Run, RunRecord};
use std::sync::Arc;

use crate::schema::{Digest, MetricCard, ResultId, RunId, Test, Unit};

/// One derived number.
#[derive(Debug, Clone)]
pub struct MetricResult {
    /// Deterministic identifier.
    pub id: ResultId,
    /// Raw file, as found.
    pub file: String,
    /// SHA-256 of the raw file.
    pub raw_sha256: Digest,
    /// Run.
    pub run_id: RunId,
    /// Kind of test.
    pub test: Test,
    /// The metric.
    pub metric: MetricCard,
    /// Unit of the value: the metric's, or arbitrary units where the record documents none.
    pub unit: Unit,
    /// Reading of the metric; empty when it has one.
    pub variant: &'static str,
    /// What was stated about the run: dough, treatment, block.
    pub conditions: Arc<Conditions>,
    /// How it came out.
    pub outcome: Outcome,
    /// Lines of the raw file it was read from.
    pub rows: Option<RowRange>,
    /// Parameters it was computed with, as canonical text.
    pub parameters: String,
    /// Results it was computed from; empty for a number read from the raw file itself.
    pub from: Vec<ResultId>,
}

impl MetricResult {
    /// Returns the part of every identifier of `run` that its results share: raw digest, selector
    /// of the curve, profile, and the effective metadata.
    pub fn identity_of(run: &Run) -> String {
        let mut text = format!(
            "raw {}\ncurve {}\nprofile {}\n",
            run.file.sha256, run.selector, run.profile.sha256
        );
        for (field, statements) in run.metadata.iter() {
            if let Some(first) = statements.first() {
                text.push_str(&format!("{field}={}\n", first.value));
            }
        }
        text
    }

    /// Returns the part of the identifiers of a group's results that they share: the test, the
    /// group's name, and what identifies each run in it.
    pub fn identity_of_group(test: Test, name: &str, members: &[&RunRecord]) -> String {
        let mut text = format!("group {test} {name}\n");
        for run in members {
            text.push_str(&format!("run {}\n", run.key()));
            for result in &run.results {
                text.push_str(&format!("from {}\n", result.id));
            }
        }
        text
    }

    /// Returns the text of parameter `name` in [`MetricResult::parameters`].
    pub fn parameter(&self, name: &str) -> Option<&str> {
        let mut parts = self.parameters.split("; ");
        parts.find_map(|part| part.strip_prefix(name)?.strip_prefix('='))
    }

    /// Returns the part of the standard uncertainty that every number read with the same instruments
    /// shares, in the unit of the value, where the method keeps it apart. It does not average out
    /// over doughs: a mean or difference adds it once (HANDBOOK 19).
    pub fn shared_u(&self) -> Option<f64> {
        let u: f64 = self.parameter("shared_u")?.parse().ok()?;
        (u.is_finite() && u >= 0.0).then_some(u)
    }

    /// Rejects the result for `reason`. It gets an identifier of its own: the one it had still
    /// stands for the number as it was read.
    pub fn reject(&mut self, reason: &str) {
        let text = format!("{}\nrejected {reason}\n", self.id);
        self.id = ResultId::from_digest(&Digest::of(text.as_bytes()));
        self.outcome = Outcome::Rejected(reason.to_owned());
    }

    /// Returns the result's identifier: the first 128 bits of SHA-256 over the identity of its run,
    /// the parameters, the metric, its revision and the variant. The same input gives the same
    /// identifier on any machine.
    pub fn identify(
        run_identity: &str,
        metric: &MetricCard,
        variant: &str,
        parameters: &str,
    ) -> ResultId {
        let text = format!(
            "{run_identity}metric {} r{} {variant}\nparameters {parameters}\n",
            metric.id, metric.revision
        );
        ResultId::from_digest(&Digest::of(text.as_bytes()))
    }
}
