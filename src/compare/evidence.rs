//! What claims are judged from: plain rows made of the results tables and the graded observations
//! of one or more archives.

use crate::record::Grade;
use crate::schema::{Status, Test, Unit};

/// Everything a study may use.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Evidence {
    /// One row per result.
    pub results: Vec<ResultRow>,
    /// One row per graded piece and grader.
    pub grades: Vec<GradeRow>,
    /// One row per recorded curve.
    pub curves: Vec<CurveRow>,
}

/// One derived number with what is known about the dough it was measured on.
#[derive(Debug, Clone, PartialEq)]
pub struct ResultRow {
    /// Identifier of the result.
    pub result_id: String,
    /// Metric.
    pub metric: String,
    /// Reading of the metric; empty for the only one.
    pub variant: String,
    /// How it came out.
    pub status: Status,
    /// Value, or the bound for `above` and `below`.
    pub value: Option<f64>,
    /// Lower end of the reading's 95 % interval.
    pub low: Option<f64>,
    /// Upper end of the reading's 95 % interval.
    pub high: Option<f64>,
    /// Standard uncertainty of the reading.
    pub std_uncertainty: Option<f64>,
    /// Unit of all of them.
    pub unit: Unit,
    /// Kind of test.
    pub test: Test,
    /// Run, or group of runs.
    pub run_id: String,
    /// Where the dough was made and measured.
    pub origin: Origin,
    /// Age of the bread, d.
    pub age_d: Option<f64>,
    /// Rest before the test, min.
    pub rest_min: Option<f64>,
    /// Parameters of the computation, `name=value` joined by `; `. `shared_u` is the standard
    /// uncertainty that all results of the instrument share, in `unit` (type B); `boundary` names
    /// the system that an energy counts.
    pub parameters: String,
    /// Why the archive already leaves the result out.
    pub excluded: Option<String>,
}

/// The dough behind a row, and how it was made.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Origin {
    /// Flour lot.
    pub sample: Option<String>,
    /// Dough: the unit of replication.
    pub batch: Option<String>,
    /// Mixing method.
    pub treatment: Option<String>,
    /// Block of the design.
    pub block: Option<String>,
    /// Replicate of the dough.
    pub replicate: Option<String>,
    /// Piece, disc, slice or strip of the dough.
    pub subsample: Option<String>,
    /// Water, points of flour mass.
    pub hydration_pct: Option<f64>,
    /// Instrument of the test.
    pub instrument: Option<String>,
    /// Machine that mixed the dough.
    pub machine: Option<String>,
}

/// One graded piece.
#[derive(Debug, Clone, PartialEq)]
pub struct GradeRow {
    /// What the grade traces to: a row of the observations table.
    pub observation: String,
    /// Where the piece comes from.
    pub origin: Origin,
    /// Mixing time when the piece was taken, min.
    pub mix_time_min: Option<f64>,
    /// Piece.
    pub piece: String,
    /// Grader.
    pub grader: String,
    /// Grade; absent where only the overmixed flag was set.
    pub grade: Option<Grade>,
    /// Sticky, flowing, no recovery: a failure, whatever the grade.
    pub overmixed: bool,
    /// Why the archive already leaves it out.
    pub excluded: Option<String>,
}

/// One recorded curve.
#[derive(Debug, Clone, PartialEq)]
pub struct CurveRow {
    /// Identifier of the curve, for tracing: that of its run in an archive.
    pub curve_id: String,
    /// Run.
    pub run_id: String,
    /// What the ordinate is, such as `mixing.centre`; claims name it as their metric.
    pub metric: String,
    /// Where the dough comes from.
    pub origin: Origin,
    /// Abscissa, rising.
    pub x: Vec<f64>,
    /// Ordinate at each abscissa.
    pub y: Vec<f64>,
    /// Unit of the ordinate.
    pub unit: Unit,
    /// Start and peak on the abscissa, such as water contact and development time, by which timing
    /// is told from shape.
    pub landmarks: Option<(f64, f64)>,
    /// Why the archive already leaves it out.
    pub excluded: Option<String>,
}

impl ResultRow {
    /// Returns the value of the parameter called `name`, as written.
    pub fn parameter(&self, name: &str) -> Option<&str> {
        self.parameters.split(';').find_map(|part| {
            let (key, value) = part.split_once('=')?;
            (key.trim() == name).then(|| value.trim())
        })
    }

    /// Returns the standard uncertainty that all results of the instrument share, in the row's
    /// unit; zero where none is stated.
    pub fn shared_uncertainty(&self) -> f64 {
        self.parameter("shared_u")
            .and_then(|text| text.parse::<f64>().ok())
            .filter(|u| u.is_finite() && *u >= 0.0)
            .unwrap_or(0.0)
    }

    /// Returns the name of the settings the result was computed with.
    pub fn settings(&self) -> &str {
        self.parameters
            .split(';')
            .map(str::trim)
            .find(|part| part.starts_with("settings "))
            .unwrap_or("")
    }
}
