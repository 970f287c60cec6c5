//! Parameters of the mixing method: declared, versioned, printed with every result.

use crate::schema::ParameterCard;

/// Period after which both blades stand as before: two turns of the slow blade at 63/min
/// (94.5/min for the fast one), in s. Derived from the speeds of ISO 5530-1 (HANDBOOK 1.1).
pub const BLADE_PERIOD_S: f64 = 2.0 * 60.0 / 63.0;

/// Speed of the slow blade, 1/min (ISO 5530-1; from memory, high confidence).
pub const SLOW_BLADE_PER_MIN: f64 = 63.0;

/// Consistency the method aims at, FU (ICC 115/1).
pub const TARGET_FU: f64 = 500.0;

/// Window of the maximum within which a run gives an absorption, FU (ISO 5530-1; from memory).
pub const ACCEPTED_FU: std::ops::RangeInclusive<f64> = 480.0..=520.0;

/// What the method does to a signal before it reads it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Blade periods over which the contours are read, where sampling allows.
    pub contour_periods: u32,
    /// Most blade periods over which contours are read when the record is sampled slowly.
    pub most_contour_periods: u32,
    /// Half width of the local linear smoothing, s.
    pub smoothing_half_width_s: f64,
    /// Seconds after water contact in which no peak is looked for.
    pub wetting_s: f64,
    /// Seconds a contour must stay past the line for arrival or departure.
    pub hold_s: f64,
    /// Seconds around an operator marker in which no extreme is looked for.
    pub marker_mask_s: f64,
    /// Smallest tolerance of the plateau, FU.
    pub least_delta_fu: f64,
    /// Tolerance of the plateau in multiples of the noise of the centre.
    pub delta_per_noise: f64,
    /// Depth of the valley that makes two peaks of one, FU.
    pub valley_fu: f64,
    /// Least time between two peaks, s.
    pub peaks_apart_s: f64,
    /// A maximum this close to the end of the record is no peak, s.
    pub end_guard_s: f64,
    /// Limit of the outlier filter, in robust standard deviations.
    pub outlier_limit: f64,
    /// Window of the outlier filter in blade periods.
    pub outlier_periods: u32,
    /// Smallest scatter the outlier filter assumes, FU at a maximum of 500.
    pub least_scatter_fu: f64,
    /// Share of the highest maximum that a further maximum must reach to count as a peak.
    pub counted_share: f64,
    /// Largest share of the half band that slow sampling may miss for the contours to be read.
    pub tolerated_miss: f64,
    /// Band as a share of the maximum below which a record is a smoothed trace.
    pub least_band_share: f64,
    /// Half band assumed, as a share of the maximum, where it cannot be seen.
    pub assumed_half_band_share: f64,
    /// Part of a ripple that may survive smoothing before heights are unknown.
    pub tolerated_alias: f64,
    /// Consecutive readings at the highest value that are a clipped record.
    pub clipped_readings: u32,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            contour_periods: 2,
            most_contour_periods: 10,
            smoothing_half_width_s: 15.0,
            wetting_s: 25.0,
            hold_s: 10.0,
            marker_mask_s: 5.0,
            least_delta_fu: 2.0,
            delta_per_noise: 2.0,
            valley_fu: 10.0,
            peaks_apart_s: 30.0,
            end_guard_s: 20.0,
            outlier_limit: 4.0,
            outlier_periods: 3,
            least_scatter_fu: 5.0,
            counted_share: 0.9,
            tolerated_miss: 0.28,
            least_band_share: 0.04,
            assumed_half_band_share: 0.09,
            tolerated_alias: 0.1,
            clipped_readings: 3,
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
        vec![
            card(
                "blade_period_s",
                BLADE_PERIOD_S,
                "both blades stand as before after two slow turns at 63/min (derived)",
            ),
            card(
                "contour_periods",
                f64::from(self.contour_periods),
                "blade periods over which the contours are read (project choice)",
            ),
            card(
                "most_contour_periods",
                f64::from(self.most_contour_periods),
                "most blade periods used when the record is sampled slowly (project choice)",
            ),
            card(
                "smoothing_half_width_s",
                self.smoothing_half_width_s,
                "half width of the local linear smoothing (project choice)",
            ),
            card(
                "wetting_s",
                self.wetting_s,
                "no peak is looked for while water is being added (ISO 5530-1: within 25 s; from memory)",
            ),
            card(
                "hold_s",
                self.hold_s,
                "a contour must stay past the line this long (project choice)",
            ),
            card(
                "marker_mask_s",
                self.marker_mask_s,
                "readings within this time of an operator marker are bridged, and no extreme is looked for there (project choice)",
            ),
            card(
                "least_delta_fu",
                self.least_delta_fu,
                "smallest tolerance of the plateau; 0.4 % of the maximum where the unit is unknown (project choice)",
            ),
            card(
                "delta_per_noise",
                self.delta_per_noise,
                "tolerance of the plateau in multiples of the centre's noise (project choice)",
            ),
            card(
                "valley_fu",
                self.valley_fu,
                "valley that separates two peaks; 2 % of the maximum where the unit is unknown (project choice)",
            ),
            card(
                "peaks_apart_s",
                self.peaks_apart_s,
                "least time between two peaks (project choice)",
            ),
            card(
                "end_guard_s",
                self.end_guard_s,
                "a maximum this close to the end of the record is no peak (project choice)",
            ),
            card(
                "outlier_limit",
                self.outlier_limit,
                "robust standard deviations beyond which a reading is a spike or drop-out (project choice)",
            ),
            card(
                "least_scatter_fu",
                self.least_scatter_fu,
                "smallest scatter the outlier filter assumes, at a maximum of 500 FU (project choice)",
            ),
            card(
                "counted_share",
                self.counted_share,
                "share of the highest maximum that makes a further maximum a peak (project choice)",
            ),
            card(
                "tolerated_miss",
                self.tolerated_miss,
                "share of the half band that slow sampling may miss for the contours to be read (project choice)",
            ),
            card(
                "least_band_share",
                self.least_band_share,
                "band, as a share of the maximum, below which a record is a smoothed trace: the band of a dough spans 60 to 90 FU of 500 (ISO 5530-1, from memory)",
            ),
            card(
                "assumed_half_band_share",
                self.assumed_half_band_share,
                "half band assumed where it cannot be seen: 45 FU of 500 (ISO 5530-1, from memory)",
            ),
            card(
                "tolerated_alias",
                self.tolerated_alias,
                "part of the blades' ripple that may survive smoothing before heights are unknown (project choice)",
            ),
            card(
                "clipped_readings",
                f64::from(self.clipped_readings),
                "consecutive readings at the highest value that are a clipped record (project choice)",
            ),
            card(
                "outlier_periods",
                f64::from(self.outlier_periods),
                "blade periods of the outlier window (project choice)",
            ),
        ]
    }

    /// Returns the short name of these parameters, part of every result's identity.
    pub fn name(&self) -> String {
        ParameterCard::settings_name(&self.cards())
    }
}
