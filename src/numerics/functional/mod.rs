//! Whole curves compared: timing told from shape, a band for the difference of two treatments, and
//! how well curves tell classes apart.
//!
//! A curve is a list of values on times that all curves share. Timing is taken out first
//! ([`register_landmarks`], or [`register_continuously`] where there is no landmark), and compared
//! as a number of its own; what is left is shape, compared by [`difference_band`].

mod band;
mod components;
mod landmarks;
mod separation;
mod warp;

pub use band::{BandFault, BandSettings, DifferenceBand, Region, difference_band};
pub use components::{Components, principal_components};
pub use landmarks::{Landmarks, Registered, register_landmarks};
pub use separation::{Separation, SeparationSettings, area_under_roc, cross_validated_separation};
pub use warp::{Warp, Warped, register_continuously};

/// Returns the mean curve; every curve as long as the first.
fn mean_curve(curves: &[Vec<f64>]) -> Vec<f64> {
    let mut mean = vec![0.0; curves.first().map_or(0, Vec::len)];
    for curve in curves {
        mean.iter_mut().zip(curve).for_each(|(m, v)| *m += v);
    }
    mean.iter_mut().for_each(|m| *m /= curves.len() as f64);
    mean
}

/// Returns the weight of each time in an integral over all (trapezoidal rule).
fn trapezoid(times: &[f64]) -> Vec<f64> {
    let last = times.len().saturating_sub(1);
    (0..times.len())
        .map(|i| 0.5 * (times[(i + 1).min(last)] - times[i.saturating_sub(1)]))
        .collect()
}

/// Returns whether there are curves, all as long as `times`, which rise, and all finite.
fn fit_together(times: &[f64], curves: &[Vec<f64>]) -> bool {
    let finite = |values: &[f64]| values.iter().all(|v| v.is_finite());
    times.len() > 1
        && times.windows(2).all(|w| w[1] > w[0])
        && finite(times)
        && !curves.is_empty()
        && curves.iter().all(|c| c.len() == times.len() && finite(c))
}
