//! The band of a mixing curve: upper and lower contour, and what cannot be known of them.

use super::settings::{BLADE_PERIOD_S, Settings};
use crate::derive::band::{Ripple, raw_contours};
use crate::numerics::{local_linear, local_linear_at, rolling_mean};

/// The contours of the band.
#[derive(Debug, Clone, PartialEq)]
pub enum Contours {
    /// Read from the signal over so many blade periods.
    Read {
        /// Smoothed upper contour.
        upper: Contour,
        /// Smoothed lower contour.
        lower: Contour,
        /// Blade periods over which they were read.
        periods: u32,
        /// Share of the half band that slow sampling may have missed.
        missed_share: f64,
    },
    /// Supplied by the file.
    Supplied {
        /// Smoothed upper contour.
        upper: Contour,
        /// Smoothed lower contour.
        lower: Contour,
    },
    /// Not to be known; the reason says why.
    Unknown(String),
}

/// A smoothed line with its noise.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Contour {
    /// Value at each point of the record.
    pub y: Vec<f64>,
    /// Robust scatter of the unsmoothed line about it.
    pub noise: f64,
    /// Standard uncertainty of its level from that scatter.
    pub u_level: f64,
    /// Why the height of the line is not known, although its course is.
    pub height_unknown: Option<String>,
    /// The line before smoothing.
    raw: Vec<f64>,
    /// Half width of the smoothing, s.
    half_width_s: f64,
}

impl Contour {
    /// Returns the standard uncertainty of the level at point `index`: noise, and what smoothing
    /// may have bent.
    ///
    /// The bias of a local line grows with the square of its width (Fan and Gijbels 1996, Local
    /// Polynomial Modelling, 3.2; from memory), so 4/3 of the change from half the width to the
    /// whole estimates it. It is not corrected but taken as a standard uncertainty.
    pub fn u_at(&self, t: &[f64], index: usize) -> f64 {
        let (Some(smooth), true) = (self.y.get(index), self.raw.len() == t.len()) else {
            return self.u_level;
        };
        let finer = local_linear_at(t, &self.raw, 0.5 * self.half_width_s, index);
        // At the very end a one-sided line rests on half the readings and extrapolates: its variance
        // is eight times that of the middle (least squares; derived).
        let room = (t[index] - t[0]).min(t[t.len() - 1] - t[index]);
        let inside = (room / self.half_width_s.max(f64::MIN_POSITIVE)).min(1.0);
        let edge = 1.0 + (8.0_f64.sqrt() - 1.0) * (1.0 - inside);
        (edge * self.u_level).hypot((smooth - finer) * (4.0 / 3.0))
    }
}

impl Contours {
    /// Returns both contours, or why they are not known.
    pub fn pair(&self) -> Result<(&Contour, &Contour), &str> {
        match self {
            Contours::Read { upper, lower, .. } | Contours::Supplied { upper, lower } => {
                Ok((upper, lower))
            }
            Contours::Unknown(reason) => Err(reason),
        }
    }
}

/// Returns the smoothed line through `raw`, with its noise.
///
/// `memory_s` is how long the raw line remembers a reading: within it, errors are not independent.
pub fn smooth_line(t: &[f64], raw: Vec<f64>, settings: &Settings, memory_s: f64) -> Contour {
    let half = settings.smoothing_half_width_s;
    let y = local_linear(t, &raw, half);
    with_noise(y, raw, half, memory_s)
}

/// Returns the mean of two smoothed lines: smoothing is linear, so this is the smoothed mean of the
/// lines themselves, without smoothing a third time.
fn mean_line(a: &Contour, b: &Contour, memory_s: f64) -> Contour {
    let mean = |a: &[f64], b: &[f64]| -> Vec<f64> {
        a.iter().zip(b).map(|(a, b)| 0.5 * (a + b)).collect()
    };
    with_noise(
        mean(&a.y, &b.y),
        mean(&a.raw, &b.raw),
        a.half_width_s,
        memory_s,
    )
}

fn with_noise(y: Vec<f64>, raw: Vec<f64>, half: f64, memory_s: f64) -> Contour {
    let residuals: Vec<f64> = raw.iter().zip(&y).map(|(a, b)| a - b).collect();
    let noise = crate::numerics::scatter_of_some(&residuals).unwrap_or(0.0);
    // A window of independent errors averages them down by the square root of their number.
    let independent = if half > 0.0 {
        (2.0 * half / memory_s.max(1e-9)).max(1.0)
    } else {
        1.0
    };
    Contour {
        y,
        noise,
        u_level: noise / independent.sqrt(),
        height_unknown: None,
        raw,
        half_width_s: half,
    }
}

/// The blades: three turns of the fast one in a joint period.
const BLADES: Ripple = Ripple {
    period_s: BLADE_PERIOD_S,
    fastest: 3.0,
};

/// Returns the largest part of a ripple of the blades that survives averaging over two windows, in
/// s, when sampled every `dt`: sampling folds a frequency to its distance from the nearest multiple
/// of the sampling rate, and a flat window of width W passes sin(πfW)/(πfW) of it (Nyquist–Shannon;
/// from memory).
pub fn surviving_ripple(dt: f64, first_window_s: f64, second_window_s: f64) -> f64 {
    // The slow blade turns twice, the fast one three times in a joint period.
    [2.0, 3.0]
        .iter()
        .map(|turns| {
            let cycles = turns / BLADE_PERIOD_S * dt;
            let folded = (cycles - cycles.round()).abs() / dt;
            let passes = |window: f64| {
                let phase = std::f64::consts::PI * folded * window;
                if phase < 1e-9 {
                    1.0
                } else {
                    (libm::sin(phase) / phase).abs()
                }
            };
            passes(first_window_s) * passes(second_window_s)
        })
        .fold(0.0, f64::max)
}

/// Returns the number of blade periods over which contours can be read at sampling `dt`, with the
/// share they may miss; `None` when even the most periods leave too much unseen.
pub fn periods_for(dt: f64, settings: &Settings) -> Option<(u32, f64)> {
    let range = settings.contour_periods..=settings.most_contour_periods;
    BLADES.periods_for(dt, range, settings.tolerated_miss)
}

/// Returns the contours of the signal `y` sampled every `dt` seconds.
///
/// The extremes are taken of the residual from a mean over whole blade periods, so that a steep
/// rise does not widen the band. A record that shows no blade ripple at all is a smoothed trace:
/// its band is not known, and none is guessed.
pub fn read_contours(t: &[f64], y: &[f64], dt: f64, settings: &Settings) -> (Contours, Contour) {
    let Some((periods, missed)) = periods_for(dt, settings) else {
        let reason = format!(
            "sampled every {dt:.2} s, too slow for the blade period of {BLADE_PERIOD_S:.3} s: the \
             contours of the band cannot be known; record at 4 readings per second or faster"
        );
        // The ripple cannot be told from noise here: average over as many blade periods as allowed
        // before anything is called noise of the centre.
        let window = f64::from(settings.most_contour_periods) * BLADE_PERIOD_S;
        let averaged = rolling_mean(t, y, 0.5 * window);
        let mut centre = smooth_line(t, averaged, settings, window);
        let survives = surviving_ripple(dt, window, 2.0 * settings.smoothing_half_width_s);
        let highest = centre.y.iter().copied().fold(0.0_f64, f64::max);
        let offset = settings.assumed_half_band_share * highest * survives;
        // A ripple that survives shifts the centre by an unknown part of the band: a rectangle.
        centre.u_level = centre.u_level.hypot(offset / 3.0_f64.sqrt());
        if survives > settings.tolerated_alias {
            centre.height_unknown = Some(format!(
                "sampled every {dt:.2} s, in step with the blades: readings fall on the same part \
                 of the band again and again, and may lie {offset:.0} off its middle"
            ));
        }
        return (Contours::Unknown(reason), centre);
    };
    let half = 0.5 * f64::from(periods) * BLADE_PERIOD_S;
    let (raw_upper, raw_lower) = raw_contours(t, y, half);
    let widths: Vec<f64> = raw_upper
        .iter()
        .zip(&raw_lower)
        .map(|(a, b)| a - b)
        .collect();
    let width = crate::numerics::median_of_some(&widths).unwrap_or(0.0);
    let height = y.iter().copied().fold(0.0_f64, f64::max);
    if width < settings.least_band_share * height {
        let reason = "the record holds one smoothed trace without the ripple of the blades: the \
                      contours of the band are not in it"
            .to_owned();
        return (
            Contours::Unknown(reason),
            smooth_line(t, y.to_vec(), settings, dt),
        );
    }
    let memory = 2.0 * half;
    let mut upper = smooth_line(t, raw_upper, settings, memory);
    let mut lower = smooth_line(t, raw_lower, settings, memory);
    let centre = mean_line(&upper, &lower, memory);
    // Readings fall at any distance from the ripple's crest up to half the largest gap, so that on
    // average a third of the worst share is missed (mean of x² against its maximum): a rectangle.
    let u_missed = 0.5 * width * missed / 3.0 / 3.0_f64.sqrt();
    upper.u_level = upper.u_level.hypot(u_missed);
    lower.u_level = lower.u_level.hypot(u_missed);
    (
        Contours::Read {
            upper,
            lower,
            periods,
            missed_share: missed,
        },
        centre,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fast_sampling_needs_two_periods_and_slow_sampling_more_or_none() {
        let s = Settings::default();
        assert_eq!(periods_for(0.1, &s).map(|p| p.0), Some(2));
        assert_eq!(periods_for(0.25, &s).map(|p| p.0), Some(2));
        assert!(periods_for(0.5, &s).is_some_and(|p| p.0 > 2 && p.0 <= 6));
        // At 1 Hz the phases creep through the period; at 2 s they creep too slowly.
        assert!(periods_for(1.0, &s).is_some_and(|p| p.0 >= 9));
        assert_eq!(periods_for(2.0, &s), None);
    }

    #[test]
    fn missed_share_is_nothing_for_dense_and_everything_for_one_phase() {
        assert!(BLADES.missed_share(0.01, 2.0 * BLADE_PERIOD_S) < 0.002);
        assert!((BLADES.missed_share(BLADE_PERIOD_S, 5.0 * BLADE_PERIOD_S) - 2.0).abs() < 1e-9);
    }
}
