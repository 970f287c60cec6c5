//! What graded observations came to: grades without arithmetic, and how far graders agree.

use super::{Grade, MetricResult, Outcome};
use crate::schema::BatchId;

/// What the graded observations of a day came to.
#[derive(Debug, Clone, Default)]
pub struct Grading {
    /// By treatment and mixing time, then by sheet, dough and mixing time; each in that order.
    pub groups: Vec<GradeSummary>,
    /// How far graders agree, by sheet and over the day.
    pub agreement: Vec<AgreementSummary>,
    /// The numbers among them as rows of the results table: by dough and mixing time, and by sheet.
    pub results: Vec<MetricResult>,
}

impl Grading {
    /// Adds what another method made of the observations.
    pub fn append(&mut self, other: Grading) {
        self.groups.extend(other.groups);
        self.agreement.extend(other.agreement);
        self.results.extend(other.results);
    }
}

/// How often each grade was given, and how often the piece was overmixed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct GradeCounts {
    /// How often each grade was given to a piece that was not overmixed, lowest grade first.
    pub grades: [usize; Grade::ALL.len()],
    /// How often the piece was called overmixed, graded or not: a failure of the window.
    pub overmixed: usize,
}

impl GradeCounts {
    /// Returns the number of gradings.
    pub fn total(&self) -> usize {
        self.graded() + self.overmixed
    }

    /// Returns the number of gradings of pieces that were not overmixed.
    pub fn graded(&self) -> usize {
        self.grades.iter().sum()
    }

    /// Returns how often `grade` was given to a piece that was not overmixed.
    pub fn of(&self, grade: Grade) -> usize {
        let places = Grade::ALL.iter().zip(self.grades);
        places
            .filter(|(listed, _)| **listed == grade)
            .map(|(_, count)| count)
            .sum()
    }
}

/// The median of ordered grades: never a mean of two.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum MedianGrade {
    /// Lower and upper median are this grade.
    Grade(Grade),
    /// The lower and the upper median of an even number of gradings differ.
    Between(Grade, Grade),
    /// There is none; the reason says why.
    Unknown(String),
}

impl std::fmt::Display for MedianGrade {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            MedianGrade::Grade(grade) => write!(f, "{}", grade.digit()),
            MedianGrade::Between(low, high) => {
                write!(f, "between {} and {}", low.digit(), high.digit())
            }
            MedianGrade::Unknown(reason) => f.write_str(reason),
        }
    }
}

/// What graders said of the pieces of one treatment, or one dough, at one mixing time. Blind
/// repeats are left out: a piece counts once per grader.
#[derive(Debug, Clone)]
pub struct GradeSummary {
    /// Mixing method.
    pub treatment: Option<String>,
    /// Sheet, for a summary of one dough.
    pub file: Option<String>,
    /// Dough; `None` for all doughs of the treatment.
    pub batch_id: Option<BatchId>,
    /// Block of the design; `None` where it differs within the group.
    pub block: Option<String>,
    /// Mixing time, min.
    pub mix_time_min: Option<f64>,
    /// Doughs.
    pub doughs: usize,
    /// Pieces.
    pub pieces: usize,
    /// Distribution of the gradings.
    pub counts: GradeCounts,
    /// Median of the gradings of pieces that were not overmixed.
    pub median: MedianGrade,
    /// Share of gradings at full window, %; overmixed counts as failure.
    pub full_window_pct: Outcome,
    /// Share of first tears with a clean edge, %, among those whose edge was noted.
    pub clean_edge_pct: Outcome,
}

/// How far graders agree, by one coefficient.
#[derive(Debug, Clone)]
pub struct AgreementSummary {
    /// Sheet; `None` for the day as a whole.
    pub file: Option<String>,
    /// Metric identifier of the coefficient.
    pub metric: &'static str,
    /// Its reading: weights of a kappa, kind of scale of an alpha.
    pub variant: &'static str,
    /// The graders compared; the same one twice for blind repeats.
    pub graders: Vec<String>,
    /// Whether it compares a grader's first grading with the blind repeat of the same piece.
    pub within_grader: bool,
    /// Pieces with at least two grades.
    pub pieces: usize,
    /// Pieces seen by these graders that are left out, since fewer than two gave a grade.
    pub left_out: usize,
    /// The coefficient with its interval from resampling pieces.
    pub outcome: Outcome,
}
