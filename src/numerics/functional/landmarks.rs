//! Timing taken out of curves by two landmarks.

use super::{fit_together, mean_curve};
use crate::numerics::value_at;

/// Two times by which a curve's clock is set, such as the start of mixing and the development time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Landmarks {
    /// The earlier.
    pub start: f64,
    /// The later.
    pub peak: f64,
}

/// Curves on a common clock.
#[derive(Debug, Clone, PartialEq)]
pub struct Registered {
    /// Times of the common clock at which every curve is known, in the unit given.
    pub times: Vec<f64>,
    /// The curves there: their shape, timing taken out.
    pub curves: Vec<Vec<f64>>,
    /// The common landmarks: the means of the curves'.
    pub reference: Landmarks,
    /// Logarithm of each curve's time from start to peak over the common one: its timing, to be
    /// compared between treatments as a number of its own.
    pub log_stretch: Vec<f64>,
    /// Each curve's start less the common one.
    pub delay: Vec<f64>,
    /// Share of the squares about the mean curve that timing explained, over the times kept. It can
    /// be below 0, when the landmarks make the curves less alike.
    pub explained: f64,
}

/// Returns the curves with each clock shifted and stretched so that its landmarks fall on the means
/// of all (landmark registration with two landmarks, linear between and beyond; Kneip and Gasser
/// 1992, Ann. Stat. 20:1266; Ramsay and Silverman 2005, ch. 7; from memory). Values between samples
/// lie on the line between them; no curve is extended beyond its record.
///
/// A curve whose landmark is only a bound (development time above the end of the record) cannot be
/// registered and must be left out and said so. `None` when lists differ in length, times do not
/// rise, a peak does not come after its start, or fewer than three times are common to all.
pub fn register_landmarks(
    times: &[f64],
    curves: &[Vec<f64>],
    landmarks: &[Landmarks],
) -> Option<Registered> {
    let ordered = |m: &Landmarks| m.peak > m.start && m.start.is_finite() && m.peak.is_finite();
    if !fit_together(times, curves)
        || landmarks.len() != curves.len()
        || !landmarks.iter().all(ordered)
    {
        return None;
    }
    let count = landmarks.len() as f64;
    let reference = Landmarks {
        start: landmarks.iter().map(|m| m.start).sum::<f64>() / count,
        peak: landmarks.iter().map(|m| m.peak).sum::<f64>() / count,
    };
    let length = reference.peak - reference.start;
    let own_time =
        |m: &Landmarks, time: f64| m.start + (time - reference.start) * (m.peak - m.start) / length;
    let (mut kept, mut columns, mut before) = (Vec::new(), Vec::new(), Vec::new());
    for (index, time) in times.iter().enumerate() {
        let at: Option<Vec<f64>> = curves
            .iter()
            .zip(landmarks)
            .map(|(curve, m)| value_at(times, curve, own_time(m, *time)))
            .collect();
        if let Some(values) = at {
            kept.push(*time);
            columns.push(values);
            before.push(curves.iter().map(|c| c[index]).collect::<Vec<f64>>());
        }
    }
    if kept.len() < 3 {
        return None;
    }
    let turned = |columns: &[Vec<f64>]| -> Vec<Vec<f64>> {
        (0..curves.len())
            .map(|k| columns.iter().map(|c| c[k]).collect())
            .collect()
    };
    let registered = turned(&columns);
    let explained = 1.0 - squares_about_mean(&registered) / squares_about_mean(&turned(&before));
    Some(Registered {
        times: kept,
        explained,
        curves: registered,
        reference,
        log_stretch: landmarks
            .iter()
            .map(|m| libm::log((m.peak - m.start) / length))
            .collect(),
        delay: landmarks
            .iter()
            .map(|m| m.start - reference.start)
            .collect(),
    })
}

/// Returns the sum of squares of all curves about their mean.
pub(super) fn squares_about_mean(curves: &[Vec<f64>]) -> f64 {
    let mean = mean_curve(curves);
    let of_curve = |curve: &Vec<f64>| -> f64 {
        let square = |(v, m): (&f64, &f64)| (v - m) * (v - m);
        curve.iter().zip(&mean).map(square).sum()
    };
    curves.iter().map(of_curve).sum()
}
