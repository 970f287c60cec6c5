//! Parameters of the strip method: declared, versioned, printed with every result.

use crate::schema::ParameterCard;

/// Slope of ln stress against strain below which uniaxial stretching is unstable (Considère).
pub const UNIAXIAL_LIMIT: f64 = 1.0;

/// Length before rupture over which the curve is read as straight, mm.
pub(super) const STRAIGHT_MM: f64 = 2.0;

/// Last readings left out of that line: they may be torn already, mm.
pub(super) const CLEAR_MM: f64 = 0.5;

/// Length within which a loss of load is sudden, mm.
pub(super) const SUDDEN_WITHIN_MM: f64 = 2.0;

/// What the method does to a record before it reads it, and how well it takes inputs to be known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Share of the force that is lost at rupture.
    pub rupture_share: f64,
    /// Length within which it is lost, mm.
    pub rupture_within_mm: f64,
    /// Half width of the local linear smoothing, mm.
    pub smoothing_half_width_mm: f64,
    /// Noise, as a share of the greatest force, up to which a record is read unsmoothed.
    pub quiet_share: f64,
    /// Share of the greatest force whose loss within 2 mm before rupture is reported.
    pub sudden_loss_share: f64,
    /// Strain from which the laws are fitted.
    pub fit_from_strain: f64,
    /// Share of the failure strain up to which they are fitted.
    pub fit_to_share: f64,
    /// Fewest readings of a fit.
    pub fit_least_points: usize,
    /// Fewest strips of a dough.
    pub least_strips: usize,
    /// Tolerance of half the gap, mm.
    pub half_gap_tolerance_mm: f64,
    /// Tolerance of the sag, mm.
    pub sag_tolerance_mm: f64,
    /// Tolerance of the cross-section, as a share.
    pub area_tolerance_share: f64,
    /// Tolerance of the place of first touch, mm.
    pub touch_tolerance_mm: f64,
    /// Tolerance of the force, as a share.
    pub force_tolerance_share: f64,
    /// Tolerance of the hook's speed, as a share.
    pub speed_tolerance_share: f64,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            rupture_share: 0.5,
            rupture_within_mm: 5.0,
            smoothing_half_width_mm: 1.5,
            quiet_share: 0.001,
            sudden_loss_share: 0.1,
            fit_from_strain: 0.3,
            fit_to_share: 0.9,
            fit_least_points: 10,
            least_strips: 6,
            half_gap_tolerance_mm: 0.1,
            sag_tolerance_mm: 0.3,
            area_tolerance_share: 0.05,
            touch_tolerance_mm: 0.3,
            force_tolerance_share: 0.01,
            speed_tolerance_share: 0.02,
        }
    }
}

impl Settings {
    /// Returns the parameters as they are listed by `explain` and in the report.
    pub fn cards(&self) -> Vec<ParameterCard> {
        let card = |name, value, meaning| ParameterCard {
            name,
            value,
            meaning,
        };
        let mut cards = vec![
            card(
                "rupture_share",
                self.rupture_share,
                "rupture: the force falls by more than this share of itself and never comes back above the middle of the fall (project choice)",
            ),
            card(
                "rupture_within_mm",
                self.rupture_within_mm,
                "length within which it falls at rupture (project choice)",
            ),
            card(
                "smoothing_half_width_mm",
                self.smoothing_half_width_mm,
                "half width of the local linear smoothing of noisy records (project choice)",
            ),
            card(
                "quiet_share",
                self.quiet_share,
                "noise, as a share of the maximum, up to which a record is read unsmoothed (project choice)",
            ),
            card(
                "sudden_loss_share",
                self.sudden_loss_share,
                "share of the maximum whose loss within 2 mm before rupture is reported (project choice)",
            ),
            card(
                "fit_from_strain",
                self.fit_from_strain,
                "both laws of strain hardening are fitted from this Hencky strain on (project choice)",
            ),
            card(
                "fit_to_share",
                self.fit_to_share,
                "and up to this share of the failure strain (project choice)",
            ),
            card(
                "fit_least_points",
                self.fit_least_points as f64,
                "fewest readings of a fit (project choice)",
            ),
            card(
                "least_strips",
                self.least_strips as f64,
                "fewest valid strips of a dough (common practice: 6 to 8; no source)",
            ),
        ];
        cards.extend(self.tolerances());
        cards
    }

    fn tolerances(&self) -> [ParameterCard; 8] {
        let card = |name, value, meaning| ParameterCard {
            name,
            value,
            meaning,
        };
        [
            card(
                "half_gap_tolerance_mm",
                self.half_gap_tolerance_mm,
                "half the gap is known to within this; like all tolerances here taken as rectangular (project choice)",
            ),
            card(
                "sag_tolerance_mm",
                self.sag_tolerance_mm,
                "the sag is known to within this (project choice)",
            ),
            card(
                "area_tolerance_share",
                self.area_tolerance_share,
                "the cross-section is known to within this share (project choice)",
            ),
            card(
                "touch_tolerance_mm",
                self.touch_tolerance_mm,
                "the hook touches the strip to within this of where the record counts from (project choice)",
            ),
            card(
                "force_tolerance_share",
                self.force_tolerance_share,
                "the force is known to within this share (project choice)",
            ),
            card(
                "speed_tolerance_share",
                self.speed_tolerance_share,
                "the hook's speed is known to within this share (project choice)",
            ),
            card(
                "slope_half_width",
                crate::derive::hardening::SLOPE_HALF_WIDTH,
                "half width of the stretch of strain over which the local slope of ln stress is read (project choice)",
            ),
            card(
                "uniaxial_limit",
                UNIAXIAL_LIMIT,
                "slope of ln stress against strain below which uniaxial stretching is unstable (Considère; derived)",
            ),
        ]
    }

    /// Returns the short name of these parameters, part of every result's identity.
    pub fn name(&self) -> String {
        ParameterCard::settings_name(&self.cards())
    }
}
