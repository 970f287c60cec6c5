//! Parameters of the pin-mixer method: declared, versioned, printed with every result.

use crate::derive::band::Ripple;
use crate::derive::spread::NoiseDraws;
use crate::schema::ParameterCard;

/// Speed of the planetary head, 1/min (AACC 54-40; from memory, medium confidence).
pub const SPEED_PER_MIN: f64 = 88.0;

/// The pins stand as before after one turn of the head, and swing the torque up to twice in it
/// (common practice, no source).
pub(super) const PINS: Ripple = Ripple {
    period_s: 60.0 / SPEED_PER_MIN,
    fastest: 2.0,
};

/// Standard uncertainty of a stated torque calibration, as a share: 1 %, rectangular (project
/// choice).
pub(super) const U_TORQUE_SHARE: f64 = 0.01 / 1.732_050_807_568_877_2;

/// Standard uncertainty of the speed: 0.5/min, rectangular (project choice).
pub(super) const U_SPEED_PER_MIN: f64 = 0.5 / 1.732_050_807_568_877_2;

/// Standard uncertainty of the dough mass: 0.05 g, rectangular (project choice).
pub(super) const U_DOUGH_G: f64 = 0.05 / 1.732_050_807_568_877_2;

/// Standard uncertainty of a stated protein content, percentage points (project choice).
pub(super) const U_PROTEIN_PCT: f64 = 0.1;

/// What the method does to a signal before it reads it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Window of the rolling extremes, s.
    pub contour_window_s: f64,
    /// Half width of the local linear smoothing, s.
    pub smoothing_half_width_s: f64,
    /// Seconds after water contact in which no peak is looked for.
    pub wetting_s: f64,
    /// A maximum this close to the end of the record is no peak, s.
    pub end_guard_s: f64,
    /// Share of its height by which a passed peak must be left at the end of the record.
    pub least_fall_share: f64,
    /// Time of the fixed width, min.
    pub width_at_min: f64,
    /// Time after the peak of the other fixed width, min.
    pub width_after_peak_min: f64,
    /// Seconds around an operator marker that are bridged.
    pub marker_mask_s: f64,
    /// Limit of the outlier filter, in robust standard deviations.
    pub outlier_limit: f64,
    /// Window of the outlier filter, s.
    pub outlier_window_s: f64,
    /// Smallest scatter the outlier filter assumes, as a share of the maximum.
    pub least_scatter_share: f64,
    /// Largest share of the half band that slow sampling may miss for the contours to be read.
    pub tolerated_miss: f64,
    /// Band as a share of the maximum below which a record is a smoothed trace.
    pub least_band_share: f64,
    /// Consecutive readings at full scale that are a clipped record.
    pub clipped_readings: u32,
    /// Draws of the noise for the uncertainties.
    pub noise_draws: u32,
    /// Seed of those draws.
    pub noise_seed: u64,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            contour_window_s: 2.0,
            smoothing_half_width_s: 10.0,
            wetting_s: 20.0,
            end_guard_s: 20.0,
            least_fall_share: 0.01,
            width_at_min: 8.0,
            width_after_peak_min: 2.0,
            marker_mask_s: 5.0,
            outlier_limit: 5.0,
            outlier_window_s: 4.0,
            least_scatter_share: 0.02,
            tolerated_miss: 0.4,
            least_band_share: 0.02,
            clipped_readings: 3,
            noise_draws: 100,
            noise_seed: 54_40,
        }
    }
}

impl Settings {
    /// Returns how the noise is drawn anew.
    pub(super) fn draws(&self) -> NoiseDraws {
        NoiseDraws {
            least_step_s: 0.25 * self.contour_window_s,
            smoothing_half_width_s: self.smoothing_half_width_s,
            memory_s: self.contour_window_s,
            block_s: 1.5 * self.contour_window_s,
            reach_s: 60.0,
            times: self.noise_draws,
            seed: self.noise_seed,
        }
    }

    /// Returns the parameters as they are listed by `explain` and in the report.
    pub fn cards(&self) -> Vec<ParameterCard> {
        let card = |name, value, meaning| ParameterCard {
            name,
            value,
            meaning,
        };
        vec![
            card(
                "contour_window_s",
                self.contour_window_s,
                "window of the rolling extremes: at least two turns of the head at 88/min (project choice)",
            ),
            card(
                "smoothing_half_width_s",
                self.smoothing_half_width_s,
                "half width of the local linear smoothing of both contours (project choice)",
            ),
            card(
                "wetting_s",
                self.wetting_s,
                "no peak is looked for this soon after the start (project choice)",
            ),
            card(
                "end_guard_s",
                self.end_guard_s,
                "a maximum this close to the end of the record is no peak (project choice)",
            ),
            card(
                "least_fall_share",
                self.least_fall_share,
                "share of its height by which the curve must lie below a passed peak at its end (project choice)",
            ),
            card(
                "width_at_min",
                self.width_at_min,
                "time of the fixed width (AACC 54-40 practice; from memory)",
            ),
            card(
                "width_after_peak_min",
                self.width_after_peak_min,
                "time after the peak of the other fixed width (from memory)",
            ),
            card(
                "marker_mask_s",
                self.marker_mask_s,
                "readings within this time of an operator marker are bridged (project choice)",
            ),
            card(
                "outlier_limit",
                self.outlier_limit,
                "robust standard deviations beyond which a reading is a spike or drop-out (project choice)",
            ),
            card(
                "outlier_window_s",
                self.outlier_window_s,
                "window of the outlier filter (project choice)",
            ),
            card(
                "least_scatter_share",
                self.least_scatter_share,
                "smallest scatter the outlier filter assumes, as a share of the maximum (project choice)",
            ),
            card(
                "tolerated_miss",
                self.tolerated_miss,
                "share of the half band that slow sampling may miss for the contours to be read (project choice)",
            ),
            card(
                "least_band_share",
                self.least_band_share,
                "band, as a share of the maximum, below which a record is a smoothed trace (project choice)",
            ),
            card(
                "clipped_readings",
                f64::from(self.clipped_readings),
                "consecutive readings at full scale that are a clipped record (project choice)",
            ),
            card(
                "noise_draws",
                f64::from(self.noise_draws),
                "times the noise is drawn anew, in blocks of 1.5 contour windows, for the uncertainties (project choice)",
            ),
            card(
                "noise_seed",
                self.noise_seed as f64,
                "seed of those draws: the same seed gives the same intervals (project choice)",
            ),
        ]
    }

    /// Returns the short name of these parameters, part of every result's identity.
    pub fn name(&self) -> String {
        ParameterCard::settings_name(&self.cards())
    }
}
