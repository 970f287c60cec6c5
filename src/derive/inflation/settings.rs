//! Constants and parameters of the inflation method: declared, versioned, printed with every result.

use crate::schema::ParameterCard;

/// Overpressure per height of the legacy manometer, mm H2O per mm (published: a methods page of
/// the trade; HANDBOOK §6.2).
pub const MM_WATER_PER_MM: f64 = 1.1;

/// Pressure of one millimetre of water, kPa.
pub const KPA_PER_MM_WATER: f64 = 0.009_806_65;

/// `G = 2.226 sqrt(L)`: the square root of the air at rupture (ISO 27971; from memory, high
/// confidence).
pub const SWELLING_FACTOR: f64 = 2.226;

/// Air per chart millimetre that the factor of `G` implies, 2.226² = 4.955 ml (derived).
pub const ML_PER_MM_OF_G: f64 = SWELLING_FACTOR * SWELLING_FACTOR;

/// Air flow, l/h, and chart speed, mm/s (ISO 27971; from memory, high confidence).
pub const AIR_FLOW_L_H: f64 = 96.0;
/// Speed of the legacy chart, mm/s (ISO 27971; from memory, high confidence).
pub const CHART_MM_PER_S: f64 = 5.5;

/// Air per chart millimetre at the nominal flow, 96 l/h at 5.5 mm/s: 4.848 ml (derived).
pub const ML_PER_MM_OF_FLOW: f64 = AIR_FLOW_L_H * 1000.0 / 3600.0 / CHART_MM_PER_S;

/// `W = 1.32 (V/L) S` in 10⁻⁴ J, V in ml, L in mm, S in cm² of chart (ISO 27971; from memory, high
/// confidence).
pub const ENERGY_FACTOR: f64 = 1.32;

/// Slope of ln stress against strain below which biaxial stretching is unstable (van Vliet 1992;
/// from memory, high confidence).
pub const BIAXIAL_LIMIT: f64 = 2.0;

/// Step of the curve that a disc leaves for the mean of its dough, mm.
pub(super) const SHAPE_STEP_MM: f64 = 0.5;

/// Length before rupture over which the curve is read as straight, mm.
pub(super) const STRAIGHT_MM: f64 = 2.0;

/// Last readings left out of that line, mm.
pub(super) const CLEAR_MM: f64 = 0.3;

/// What the method does to a record before it reads it, and how well it takes inputs to be known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Share of its pressure that a bubble loses at rupture.
    pub rupture_share: f64,
    /// Chart length within which it is lost, mm.
    pub rupture_within_mm: f64,
    /// Half width of the local linear smoothing, mm.
    pub smoothing_half_width_mm: f64,
    /// Noise, as a share of the greatest pressure, up to which a record is read unsmoothed.
    pub quiet_share: f64,
    /// Share of the greatest pressure whose loss before rupture looks like a leak.
    pub leak_share: f64,
    /// Length within which it is lost, mm.
    pub leak_within_mm: f64,
    /// Strain from which the laws are fitted.
    pub fit_from_strain: f64,
    /// Share of the failure strain up to which they are fitted.
    pub fit_to_share: f64,
    /// Fewest readings of a fit.
    pub fit_least_points: usize,
    /// Fewest discs of a dough.
    pub least_discs: usize,
    /// Radius of the opening where none is stated, mm.
    pub disc_radius_mm: f64,
    /// Thickness of the disc where none is stated, mm.
    pub disc_thickness_mm: f64,
    /// Tolerance of the radius, mm.
    pub radius_tolerance_mm: f64,
    /// Tolerance of the thickness, mm.
    pub thickness_tolerance_mm: f64,
    /// Tolerance of the pressure, as a share.
    pub pressure_tolerance_share: f64,
    /// Tolerance of air flow and chart speed, as a share.
    pub flow_tolerance_share: f64,
    /// Tolerance of the start of the air, mm.
    pub start_tolerance_mm: f64,
    /// Standard uncertainty of the flour's moisture, %.
    pub moisture_u_pct: f64,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            rupture_share: 0.3,
            rupture_within_mm: 2.0,
            smoothing_half_width_mm: 1.0,
            quiet_share: 0.001,
            leak_share: 0.1,
            leak_within_mm: 2.0,
            fit_from_strain: 0.3,
            fit_to_share: 0.9,
            fit_least_points: 10,
            least_discs: 4,
            disc_radius_mm: 27.5,
            disc_thickness_mm: 2.67,
            radius_tolerance_mm: 0.1,
            thickness_tolerance_mm: 0.05,
            pressure_tolerance_share: 0.01,
            flow_tolerance_share: 0.02,
            start_tolerance_mm: 0.3,
            moisture_u_pct: 0.1,
        }
    }
}

/// Returns a card.
fn card(name: &'static str, value: f64, meaning: &'static str) -> ParameterCard {
    ParameterCard {
        name,
        value,
        meaning,
    }
}

impl Settings {
    /// Returns the parameters as they are listed by `explain` and in the report.
    pub fn cards(&self) -> Vec<ParameterCard> {
        let mut cards = self.reading();
        cards.extend(self.tolerances());
        cards.extend(constants());
        cards
    }

    fn reading(&self) -> Vec<ParameterCard> {
        vec![
            card(
                "rupture_share",
                self.rupture_share,
                "rupture: the pressure falls by more than this share of itself and never comes back above the middle of the fall (project choice)",
            ),
            card(
                "rupture_within_mm",
                self.rupture_within_mm,
                "chart length within which it falls at rupture (project choice)",
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
                "leak_share",
                self.leak_share,
                "share of the maximum whose loss before rupture looks like a leak (project choice)",
            ),
            card(
                "leak_within_mm",
                self.leak_within_mm,
                "chart length within which it is lost (project choice)",
            ),
            card(
                "fit_from_strain",
                self.fit_from_strain,
                "both laws of strain hardening are fitted from this nominal strain on (project choice)",
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
                "slope_half_width",
                crate::derive::hardening::SLOPE_HALF_WIDTH,
                "half width of the stretch of strain over which the local slope of ln stress is read (project choice)",
            ),
            card(
                "least_discs",
                self.least_discs as f64,
                "fewest discs of a dough that count (ISO 27971; from memory, medium confidence)",
            ),
        ]
    }

    fn tolerances(&self) -> Vec<ParameterCard> {
        vec![
            card(
                "disc_radius_mm",
                self.disc_radius_mm,
                "radius of the opening where none is stated (from memory, medium confidence)",
            ),
            card(
                "disc_thickness_mm",
                self.disc_thickness_mm,
                "thickness of the disc where none is stated (from memory, medium confidence)",
            ),
            card(
                "radius_tolerance_mm",
                self.radius_tolerance_mm,
                "the radius is known to within this; like all tolerances here taken as rectangular (project choice)",
            ),
            card(
                "thickness_tolerance_mm",
                self.thickness_tolerance_mm,
                "the thickness is known to within this (project choice)",
            ),
            card(
                "pressure_tolerance_share",
                self.pressure_tolerance_share,
                "the pressure is known to within this share (project choice)",
            ),
            card(
                "flow_tolerance_share",
                self.flow_tolerance_share,
                "air flow and chart speed are known to within this share (project choice)",
            ),
            card(
                "start_tolerance_mm",
                self.start_tolerance_mm,
                "the air starts to within this of where the record counts from (project choice)",
            ),
            card(
                "moisture_u_pct",
                self.moisture_u_pct,
                "standard uncertainty of the flour's moisture, % (HANDBOOK V-GUM)",
            ),
        ]
    }

    /// Returns the short name of these parameters, part of every result's identity.
    pub fn name(&self) -> String {
        ParameterCard::settings_name(&self.cards())
    }
}

fn constants() -> Vec<ParameterCard> {
    vec![
        card(
            "mm_water_per_mm",
            MM_WATER_PER_MM,
            "overpressure per height of the legacy manometer (published)",
        ),
        card(
            "swelling_factor",
            SWELLING_FACTOR,
            "G over the square root of L (ISO 27971; from memory)",
        ),
        card(
            "energy_factor",
            ENERGY_FACTOR,
            "W = 1.32 (V/L) S, with V = G² 6.54 S (ISO 27971; from memory)",
        ),
        card(
            "air_flow_l_h",
            AIR_FLOW_L_H,
            "air flow where none is stated (ISO 27971; from memory)",
        ),
        card(
            "chart_mm_per_s",
            CHART_MM_PER_S,
            "speed of the legacy chart (ISO 27971; from memory)",
        ),
        card(
            "biaxial_limit",
            BIAXIAL_LIMIT,
            "slope of ln stress against strain below which biaxial stretching is unstable (van Vliet 1992; from memory)",
        ),
    ]
}
