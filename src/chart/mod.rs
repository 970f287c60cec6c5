//! The `chart` room: figures from plain data to PNG bytes; the only home of `plotters`.
//!
//! A figure is a struct of plain numbers and words ([`RunCurve`], [`Overlay`], [`DayOverview`],
//! [`ExtensionCurves`], [`MembraneGrades`], …) that implements [`Figure`]: drawn as PNG ([`Picture`])
//! or SVG ([`Drawing`]). Charts never compute a metric: what they print was derived elsewhere and handed in as text. They know
//! no file, no clock and no system font, so the same figure gives the same bytes everywhere.
//!
//! House rules of every figure: units on each axis; direct labels; treatment shown by colour *and*
//! by dash or marker; values known to one side only drawn open with an arrow; every text measured
//! before it is placed and listed in [`Picture::labels`], so a test can prove that nothing is
//! clipped or covered.

pub mod agreement;
pub mod claims_forest;
pub mod control_chart;
pub mod curve_difference;
pub mod day_overview;
pub mod delivery_limits;
pub mod energy;
pub mod extension_curves;
pub mod grade_distribution;
pub mod heating_curve;
pub mod hydration_lines;
pub mod inflation;
pub mod membrane_grades;
pub mod mixer_log;
pub mod overlay;
pub mod paired_dots;
pub mod rate_fit;
pub mod residuals;
pub mod run_curve;
pub mod small_multiples;
pub mod strain_hardening;
pub mod survival;
pub mod temperature_balance;

mod axis;
mod canvas;
mod clip;
mod curve;
mod figure;
mod font;
mod frame;
mod framed;
mod hatch;
mod indexed;
mod key;
mod label;
mod layer;
mod mark;
mod marks;
mod panel;
mod picture;
mod pixels;
mod place;
mod plot;
mod sheet;
mod swarm;
mod text;
mod theme;
mod vector;
mod words;

pub use agreement::{Agreement, AgreementLevel, MethodLine, Pair};
pub use claims_forest::{ClaimsForest, ForestClaim, ForestPanel, ForestScale, Verdict};
pub use control_chart::{ControlChart, ControlLimits, ControlPanel, ControlSignal, Cusum};
pub use curve_difference::CurveDifference;
pub use day_overview::{Cell, DayOverview, Dot, DotGroup, DotState, MetricRow};
pub use delivery_limits::{Delivery, DeliveryLimits, LimitStrip};
pub use energy::{EnergyBySource, EnergyGroup};
pub use extension_curves::{ExtensionCurve, ExtensionCurves, ExtensionPanel, Reading};
pub use figure::{Figure, Paint};
pub use grade_distribution::{GradeBar, GradeDistribution, GradePanel};
pub use heating_curve::{HeatingCurve, Phase, SlopeLine};
pub use hydration_lines::{HydrationLines, Shift};
pub use inflation::{Inflation, NominalCurve};
pub use label::{LabelBox, LabelKind};
pub use mark::{Mark, MarkShape, Reference};
pub use membrane_grades::{GradedPiece, MembraneGrades, MembranePanel};
pub use mixer_log::{LogPanel, MixerLog};
pub use overlay::{Group, Overlay, Series};
pub use paired_dots::{MeanInterval, PairedBlock, PairedDots};
pub use picture::{ChartError, Drawing, Page, Picture, Provenance, provenance_in};
pub use rate_fit::{RateFit, RateGroup, RateLaw, RatePoint};
pub use residuals::{ResidualPoint, Residuals};
pub use run_curve::RunCurve;
pub use small_multiples::{Multiple, SmallMultiples};
pub use strain_hardening::{StrainHardening, StressFit, StressGroup};
pub use survival::{Survival, SurvivalGroup, SurvivalStep};
pub use temperature_balance::{HeatStep, Temperature, TemperatureBalance};
pub use theme::{Dash, Look, Marker, Palette, Rgb};

pub use words::{Counts, Words, caption};

use crate::schema::Status;

/// Which side of the drawn position the true value lies on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Bound {
    /// The value was read: drawn solid.
    #[default]
    Exact,
    /// The true value is above: drawn open, with an arrow towards larger values.
    Above,
    /// The true value is below: drawn open, with an arrow towards smaller values.
    Below,
}

impl Bound {
    /// Returns the words before a value: nothing, `above ` or `below `.
    pub fn words(self) -> &'static str {
        match self {
            Bound::Exact => "",
            Bound::Above => "above ",
            Bound::Below => "below ",
        }
    }

    /// Returns how a result of `status` is drawn, or `None` when it has no place on an axis.
    pub fn of(status: Status) -> Option<Bound> {
        match status {
            Status::Exact => Some(Bound::Exact),
            Status::Above => Some(Bound::Above),
            Status::Below => Some(Bound::Below),
            Status::NotReached | Status::NotComputable | Status::Rejected => None,
        }
    }
}
