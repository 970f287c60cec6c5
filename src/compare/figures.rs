//! What charts of a study draw: plain numbers, no colours and no places.

use super::contrast::Residual;
use crate::record::{ContrastUnit, GradeCounts};
use crate::schema::{Unit, Verdict};

/// One line of the forest of claims.
#[derive(Debug, Clone, PartialEq)]
pub struct ForestRow {
    /// Name of the claim.
    pub claim: String,
    /// Identifier of the verdict.
    pub claim_id: String,
    /// Estimate.
    pub estimate: f64,
    /// Lower end of the interval; `None` where it is unbounded.
    pub low: Option<f64>,
    /// Upper end of the interval; `None` where it is unbounded.
    pub high: Option<f64>,
    /// Lower end of the values for which the claim is true.
    pub margin_low: Option<f64>,
    /// Upper end of the values for which the claim is true.
    pub margin_high: Option<f64>,
    /// The contrast of two methods that do not differ.
    pub no_difference: f64,
    /// Unit of all of them.
    pub unit: ContrastUnit,
    /// Whether the axis is one of ratios.
    pub log_scale: bool,
    /// Confidence of the interval.
    pub confidence: f64,
    /// Verdict.
    pub verdict: Verdict,
    /// Doughs of the treatment and of the reference.
    pub doughs: (usize, usize),
    /// Blocks.
    pub blocks: usize,
}

/// One dough of a paired picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Dot {
    /// Dough.
    pub dough: String,
    /// Mixing method.
    pub treatment: String,
    /// Block; dots of one block are joined.
    pub block: String,
    /// Value in the metric's unit (geometric mean of the pieces for ratios).
    pub value: f64,
    /// Pieces behind the value.
    pub pieces: usize,
    /// Results behind the value.
    pub results: Vec<String>,
}

/// Paired dots and residuals of one claim.
#[derive(Debug, Clone, PartialEq)]
pub struct ClaimPicture {
    /// Name of the claim.
    pub claim: String,
    /// Identifier of the verdict.
    pub claim_id: String,
    /// Metric.
    pub metric: String,
    /// Unit of the dots.
    pub unit: Option<Unit>,
    /// The treatment the claim is about.
    pub treatment: String,
    /// What it is compared with.
    pub reference: String,
    /// Doughs of both methods.
    pub dots: Vec<Dot>,
    /// Residuals of the model, for the check of its assumptions.
    pub residuals: Vec<Residual>,
    /// Lines of response over water, for `gain-at-equal`.
    pub lines: Option<HydrationLines>,
    /// Parts of the energy, for `energy-share`.
    pub energies: Vec<EnergyPart>,
    /// Grades by method and mixing time, for `grade`.
    pub grades: Vec<GradeBar>,
    /// Doughs measured with both instruments, for `agreement`.
    pub agreement: Vec<AgreementPair>,
    /// Difference of whole curves, for `same-curve`.
    pub band: Option<CurveBand>,
}

/// The difference of two methods' curves with its simultaneous band, timing taken out.
#[derive(Debug, Clone, PartialEq)]
pub struct CurveBand {
    /// Abscissa on the common clock.
    pub x: Vec<f64>,
    /// Mean difference, treatment less reference.
    pub mean: Vec<f64>,
    /// Lower edge of the band.
    pub low: Vec<f64>,
    /// Upper edge of the band.
    pub high: Vec<f64>,
    /// Differences up to this count as none.
    pub margin: f64,
    /// Stretches in which the shapes surely differ.
    pub regions: Vec<CurveRegion>,
}

/// A stretch of the abscissa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurveRegion {
    /// Where it begins.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
    /// Whether the treatment lies above the reference.
    pub above: bool,
}

/// How often each grade was given at one mixing time of one method.
#[derive(Debug, Clone, PartialEq)]
pub struct GradeBar {
    /// Mixing method.
    pub treatment: String,
    /// Mixing time, min.
    pub mix_time_min: Option<f64>,
    /// Gradings of each grade, and of overmixed pieces.
    pub counts: GradeCounts,
}

/// One dough on two instruments.
#[derive(Debug, Clone, PartialEq)]
pub struct AgreementPair {
    /// Dough.
    pub dough: String,
    /// Mean on the instrument that the claim is about.
    pub first: f64,
    /// Mean on the other.
    pub second: f64,
}

/// Mean of one part of the specific energy of one method.
#[derive(Debug, Clone, PartialEq)]
pub struct EnergyPart {
    /// Mixing method.
    pub treatment: String,
    /// Metric of the part.
    pub metric: String,
    /// Mean over doughs.
    pub mean: f64,
    /// Doughs behind the mean.
    pub doughs: usize,
    /// Unit of the mean.
    pub unit: Unit,
}

/// Response against water for both methods, with the shift between them.
#[derive(Debug, Clone, PartialEq)]
pub struct HydrationLines {
    /// Line of the treatment.
    pub treatment: HydrationLine,
    /// Line of the reference.
    pub reference: HydrationLine,
    /// Response at which the shift is drawn: the middle of what both methods reached.
    pub level: f64,
    /// Points of water that the treatment takes more.
    pub shift: f64,
    /// Lower end of the interval of the shift; `None` where it is unbounded.
    pub shift_low: Option<f64>,
    /// Upper end of the interval of the shift; `None` where it is unbounded.
    pub shift_high: Option<f64>,
    /// Unit of the response.
    pub unit: Unit,
}

/// One of two parallel lines, drawn over the water that was measured.
#[derive(Debug, Clone, PartialEq)]
pub struct HydrationLine {
    /// Mixing method.
    pub treatment: String,
    /// Least and most water that was measured.
    pub range: (f64, f64),
    /// Response of the common-slope line at both ends, blocks averaged.
    pub response: (f64, f64),
    /// Water and response of each dough.
    pub points: Vec<(f64, f64)>,
}

/// Figures of a study.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Figures {
    /// Forest of all claims that have an estimate.
    pub forest: Vec<ForestRow>,
    /// One picture per claim that compares doughs.
    pub claims: Vec<ClaimPicture>,
}
