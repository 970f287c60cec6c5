//! A day's work: every run as tables, rules and reports need it, without its curves.

use super::{
    Calibration, ChangedFile, Conditions, Delivery, Exclusion, Fault, Grading, Metadata,
    MetricResult, Observation, ProfileStamp, RawFile, RowRange, Run, RunGroup, RunSheet,
    SignalFacts, TrendNote,
};
use crate::schema::{RunId, Test, Unit};
use std::sync::Arc;

/// A run after derivation: what was stated, what was seen, what was computed.
#[derive(Debug, Clone)]
pub struct RunRecord {
    /// Name of the run.
    pub id: RunId,
    /// Kind of test.
    pub test: Test,
    /// The file it came in.
    pub file: RawFile,
    /// The profile that read it.
    pub profile: ProfileStamp,
    /// Which curve of the file.
    pub selector: String,
    /// Lines of the file that hold the curve.
    pub rows: RowRange,
    /// Everything stated.
    pub metadata: Metadata,
    /// The typed part of it.
    pub conditions: Arc<Conditions>,
    /// Whether a line of a run sheet speaks of it.
    pub in_run_sheet: bool,
    /// Unit of its ordinate.
    pub unit: Unit,
    /// What was seen in the signal.
    pub facts: SignalFacts,
    /// Lines of the file for the points that [`SignalFacts`] names by index.
    pub lines: LineMap,
    /// The derived numbers, in the order of the method.
    pub results: Vec<MetricResult>,
    /// Who excluded the run and why, when somebody did.
    pub excluded: Option<Exclusion>,
}

/// Finds the raw line of a point after the curves are gone.
#[derive(Debug, Clone, Default)]
pub struct LineMap {
    first: u64,
    lines: Vec<u64>,
}

impl LineMap {
    /// Returns the map of `run`.
    pub fn of(run: &Run) -> LineMap {
        LineMap {
            first: run.rows.first,
            lines: run.lines.clone(),
        }
    }

    /// Returns the raw line of point `index`.
    pub fn line(&self, index: usize) -> u64 {
        self.lines
            .get(index)
            .copied()
            .unwrap_or(self.first + index as u64)
    }
}

impl RunRecord {
    /// Returns the record of `run` with what was seen and computed.
    pub fn new(
        run: &Run,
        conditions: Arc<Conditions>,
        facts: SignalFacts,
        results: Vec<MetricResult>,
        in_run_sheet: bool,
    ) -> Self {
        RunRecord {
            id: run.id.clone(),
            test: run.test,
            file: run.file.clone(),
            profile: run.profile.clone(),
            selector: run.selector.clone(),
            rows: run.rows,
            metadata: run.metadata.clone(),
            conditions,
            in_run_sheet,
            unit: run.curves.first().map_or(Unit::One, |curve| curve.unit()),
            facts,
            lines: LineMap::of(run),
            results,
            excluded: None,
        }
    }

    /// Returns the record with every number rejected because somebody excluded the run.
    #[must_use]
    pub fn excluded_by(mut self, exclusion: Exclusion) -> Self {
        for result in &mut self.results {
            result.reject(&format!(
                "excluded by {}: {}",
                exclusion.who, exclusion.reason
            ));
        }
        self.excluded = Some(exclusion);
        self
    }

    /// Returns the identifier of the run in the archive: of the bytes and of the curve among them.
    pub fn key(&self) -> String {
        Run::digest_of(&self.file.sha256, &self.selector)
            .short()
            .to_owned()
    }

    /// Returns the result of metric `id`, in its default reading.
    pub fn result(&self, id: &str) -> Option<&MetricResult> {
        self.results.iter().find(|result| {
            result.metric.id == id
                && result
                    .metric
                    .variants
                    .first()
                    .is_none_or(|v| v.id == result.variant)
        })
    }
}

impl Day {
    /// Returns every result of the day: those of its runs, of groups of runs, and of observations.
    pub fn results(&self) -> impl Iterator<Item = &MetricResult> {
        let of_runs = self.runs.iter().flat_map(|run| &run.results);
        let of_groups = self.groups.iter().flat_map(|group| &group.results);
        of_runs.chain(of_groups).chain(&self.grading.results)
    }
}

/// Everything a day folder held.
#[derive(Debug, Clone, Default)]
pub struct Day {
    /// Runs, ordered by file and position in the file.
    pub runs: Vec<RunRecord>,
    /// What several runs gave together.
    pub groups: Vec<RunGroup>,
    /// Graded and scalar observations.
    pub observations: Vec<Observation>,
    /// What the graded observations came to.
    pub grading: Grading,
    /// Flour lots judged by the limits of their grade, where limits are given.
    pub deliveries: Vec<Delivery>,
    /// What control charts say of instruments that measured a reference flour on this day.
    pub trends: Vec<TrendNote>,
    /// Run sheets.
    pub sheets: Vec<RunSheet>,
    /// Files that could not be read.
    pub faults: Vec<Fault>,
    /// What was passed over in files that could be read, each with its place.
    pub notes: Vec<Fault>,
    /// Files that came with other bytes than before under the same name.
    pub changed_files: Vec<ChangedFile>,
    /// Calibrations that the archive holds.
    pub calibrations: Vec<Calibration>,
    /// Day on which the files were taken in, YYYY-MM-DD; empty where no archive is kept.
    pub taken_in_on: String,
}
