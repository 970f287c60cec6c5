//! Parameters of the heating method: declared, versioned, printed with every result.

use crate::derive::band::Ripple;
use crate::derive::spread::NoiseDraws;
use crate::schema::ParameterCard;

/// Speed of the blades, 1/min (ISO 17718; from memory, high confidence).
pub const SPEED_PER_MIN: f64 = 80.0;

/// Torque that the first maximum aims at, N m (ISO 17718; from memory, high confidence).
pub const TARGET_NM: f64 = 1.10;

/// Window of the first maximum within which a run gives an absorption, N m (ISO 17718; from
/// memory, high confidence).
pub const ACCEPTED_NM: std::ops::RangeInclusive<f64> = 1.05..=1.15;

/// Dough mass of the bowl, g (ISO 17718; from memory, high confidence).
pub const DOUGH_G: f64 = 75.0;

/// The blades stand as before after one turn, and swing the torque up to twice in it (common
/// practice, no source).
pub(super) const BLADES: Ripple = Ripple {
    period_s: 60.0 / SPEED_PER_MIN,
    fastest: 2.0,
};

/// Standard uncertainty of the dough temperature: 0.5 °C, rectangular (project choice).
pub(super) const U_DOUGH_C: f64 = 0.5 / 1.732_050_807_568_877_2;

/// Standard uncertainty of the flour moisture, percentage points (HANDBOOK V-GUM).
pub(super) const U_MOISTURE_PCT: f64 = 0.1;

/// Standard uncertainty of a mass weighed: 0.05 g, rectangular (project choice).
pub(super) const U_MASS_G: f64 = 0.05 / 1.732_050_807_568_877_2;

/// Standard uncertainty of the torque's calibration, as a share: 1 %, rectangular (project choice).
/// It belongs to comparisons with a fixed torque, such as the absorption's 1.10 N m.
pub(super) const U_TORQUE_SHARE: f64 = 0.01 / 1.732_050_807_568_877_2;

/// Least step between the points whose noise is drawn anew, s: times are read to it.
pub(super) const LEAST_STEP_S: f64 = 1.0;

/// What the method does to a signal before it reads it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// End of the constant phase at 30 °C, min.
    pub constant_end_min: f64,
    /// End of the heating, min.
    pub heating_end_min: f64,
    /// End of the hot phase at 90 °C and start of the cooling, min.
    pub hot_end_min: f64,
    /// End of the cooling, min.
    pub cooling_end_min: f64,
    /// End of the test, min.
    pub end_min: f64,
    /// How much earlier a record may end and still show the end of the test, s.
    pub end_slack_s: f64,
    /// Half width of the local linear smoothing, s.
    pub smoothing_half_width_s: f64,
    /// Turns of the blades over which the centre is averaged before, and the band is read.
    pub contour_turns: u32,
    /// Most turns over which the band is read when the record is sampled slowly.
    pub most_contour_turns: u32,
    /// Largest share of the half band that slow sampling may miss for the band to be read.
    pub tolerated_miss: f64,
    /// Band as a share of the first maximum below which a record is a smoothed trace.
    pub least_band_share: f64,
    /// Share of the first maximum that bounds the stability.
    pub stability_share: f64,
    /// Seconds the centre must stay past the level of the stability.
    pub hold_s: f64,
    /// Least rise that is a gelatinisation, and least fall that is a breakdown, N m.
    pub least_change_nm: f64,
    /// A third maximum this close to the end of the hot phase has no minimum after it, s.
    pub end_guard_s: f64,
    /// Share of a stretch, in its middle, over which its slope is regressed.
    pub central_share: f64,
    /// Length of the lines whose steepest is the greatest derivative, s.
    pub derivative_window_s: f64,
    /// Limit of the outlier filter, in robust standard deviations.
    pub outlier_limit: f64,
    /// Window of the outlier filter, s.
    pub outlier_window_s: f64,
    /// Smallest scatter the outlier filter assumes, as a share of the maximum.
    pub least_scatter_share: f64,
    /// Seconds around an operator marker that are bridged.
    pub marker_mask_s: f64,
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
            constant_end_min: 8.0,
            heating_end_min: 23.0,
            hot_end_min: 30.0,
            cooling_end_min: 40.0,
            end_min: 45.0,
            end_slack_s: 5.0,
            smoothing_half_width_s: 10.0,
            contour_turns: 3,
            most_contour_turns: 40,
            tolerated_miss: 0.3,
            least_band_share: 0.01,
            stability_share: 0.89,
            hold_s: 10.0,
            least_change_nm: 0.05,
            end_guard_s: 20.0,
            central_share: 0.8,
            derivative_window_s: 60.0,
            outlier_limit: 6.0,
            outlier_window_s: 6.0,
            least_scatter_share: 0.01,
            marker_mask_s: 5.0,
            clipped_readings: 3,
            noise_draws: 100,
            noise_seed: 17_718,
        }
    }
}

impl Settings {
    /// Returns the least time over which the centre is averaged before it is smoothed, s.
    pub(super) fn least_mean_s(&self) -> f64 {
        f64::from(self.contour_turns) * BLADES.period_s
    }

    /// Returns how the noise of a centre averaged over `memory_s` is drawn anew.
    pub(super) fn draws(&self, memory_s: f64) -> NoiseDraws {
        NoiseDraws {
            least_step_s: LEAST_STEP_S,
            smoothing_half_width_s: self.smoothing_half_width_s,
            memory_s,
            block_s: 2.0 * memory_s,
            reach_s: 90.0,
            times: self.noise_draws,
            seed: self.noise_seed,
        }
    }

    /// Returns the parameters as they are listed by `explain` and in the report.
    pub fn cards(&self) -> Vec<ParameterCard> {
        [
            self.programme_cards(),
            self.reading_cards(),
            self.signal_cards(),
        ]
        .concat()
    }

    fn programme_cards(&self) -> Vec<ParameterCard> {
        vec![
            card(
                "constant_end_min",
                self.constant_end_min,
                "end of the phase at 30 °C (ISO 17718; from memory)",
            ),
            card(
                "heating_end_min",
                self.heating_end_min,
                "end of the heating to 90 °C at 4 °C/min (ISO 17718; from memory)",
            ),
            card(
                "hot_end_min",
                self.hot_end_min,
                "end of the phase at 90 °C, start of the cooling (ISO 17718; from memory)",
            ),
            card(
                "cooling_end_min",
                self.cooling_end_min,
                "end of the cooling to 50 °C at 4 °C/min (ISO 17718; from memory)",
            ),
            card(
                "end_min",
                self.end_min,
                "end of the phase at 50 °C and of the test (ISO 17718; from memory)",
            ),
            card(
                "end_slack_s",
                self.end_slack_s,
                "a record may end this much earlier and still show the end of the test (project choice)",
            ),
        ]
    }

    fn reading_cards(&self) -> Vec<ParameterCard> {
        vec![
            card(
                "stability_share",
                self.stability_share,
                "share of C1 that bounds the stability (ISO 17718: C1 less 11 %; from memory)",
            ),
            card(
                "hold_s",
                self.hold_s,
                "the centre must stay past the level of the stability this long (project choice)",
            ),
            card(
                "least_change_nm",
                self.least_change_nm,
                "least rise from C2 to C3 that is a gelatinisation; a fall after C3 of less than twice its own uncertainty is none (project choice)",
            ),
            card(
                "end_guard_s",
                self.end_guard_s,
                "a C3 this close to the end of the hot phase has no C4 after it (project choice)",
            ),
            card(
                "central_share",
                self.central_share,
                "middle share of a stretch over which its slope is regressed (project choice)",
            ),
            card(
                "derivative_window_s",
                self.derivative_window_s,
                "length of the lines whose steepest is the greatest derivative (project choice)",
            ),
        ]
    }

    fn signal_cards(&self) -> Vec<ParameterCard> {
        vec![
            card(
                "smoothing_half_width_s",
                self.smoothing_half_width_s,
                "half width of the local linear smoothing of the centre (project choice)",
            ),
            card(
                "contour_turns",
                f64::from(self.contour_turns),
                "turns of the blades at 80/min over which the centre is averaged and the band is read (project choice)",
            ),
            card(
                "most_contour_turns",
                f64::from(self.most_contour_turns),
                "most turns over which the band is read when the record is sampled slowly (project choice)",
            ),
            card(
                "tolerated_miss",
                self.tolerated_miss,
                "share of the half band that slow sampling may miss for the band to be read (project choice)",
            ),
            card(
                "least_band_share",
                self.least_band_share,
                "band, as a share of C1, below which a record is a smoothed trace (project choice)",
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
                "marker_mask_s",
                self.marker_mask_s,
                "readings within this time of an operator marker are bridged (project choice)",
            ),
            card(
                "clipped_readings",
                f64::from(self.clipped_readings),
                "consecutive readings at full scale that are a clipped record (project choice)",
            ),
            card(
                "noise_draws",
                f64::from(self.noise_draws),
                "times the noise is drawn anew, in blocks of two averaging windows, for the uncertainties (project choice)",
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

fn card(name: &'static str, value: f64, meaning: &'static str) -> ParameterCard {
    ParameterCard {
        name,
        value,
        meaning,
    }
}
