//! The mean curve of the discs of a dough.

use super::numbers::energy;
use super::settings::SHAPE_STEP_MM;

/// Curve of a disc up to rupture: chart length, mm, at even steps and then at rupture, and
/// overpressure, mm H2O ([`crate::record::SignalFacts::shape`]).
pub type Shape = [(f64, f64)];

/// Returns the overpressure of a disc at chart length `x`; `None` after its rupture.
pub(super) fn pressure_at(shape: &Shape, x: f64) -> Option<f64> {
    let (rupture, at_rupture) = *shape.last()?;
    if !(0.0..=rupture).contains(&x) {
        return None;
    }
    let below = (x / SHAPE_STEP_MM).floor() as usize;
    let (x0, y0) = *shape.get(below)?;
    let (x1, y1) = shape
        .get(below + 1)
        .copied()
        .unwrap_or((rupture, at_rupture));
    let width = x1 - x0;
    Some(if width > 0.0 {
        y0 + (y1 - y0) * (x - x0) / width
    } else {
        y0
    })
}

/// Returns the mean curve of `discs`: at each chart length the mean of those that are still whole,
/// up to their mean length to rupture (ISO 27971, from memory; that burst discs drop out of the
/// mean is a choice of this project). Empty without discs.
pub fn mean_curve(discs: &[&Shape]) -> Vec<(f64, f64)> {
    let ends: Vec<f64> = discs.iter().filter_map(|d| Some(d.last()?.0)).collect();
    if ends.is_empty() {
        return Vec::new();
    }
    let length = ends.iter().sum::<f64>() / ends.len() as f64;
    let steps = (length / SHAPE_STEP_MM).floor().clamp(0.0, 1e5) as usize;
    let even = (0..=steps).map(|k| SHAPE_STEP_MM * k as f64);
    even.chain([length])
        .filter_map(|x| Some((x, mean_at(discs, x)?)))
        .collect()
}

/// Returns the mean overpressure of the discs that are still whole at chart length `x`.
pub(super) fn mean_at(discs: &[&Shape], x: f64) -> Option<f64> {
    let (mut sum, mut whole) = (0.0, 0.0);
    for y in discs.iter().filter_map(|disc| pressure_at(disc, x)) {
        sum += y;
        whole += 1.0;
    }
    (whole > 0.0).then(|| sum / whole)
}

/// Returns the energy below a mean curve, 10⁻⁴ J.
pub(super) fn energy_of(curve: &[(f64, f64)]) -> f64 {
    let trapezia = curve.windows(2);
    energy(
        trapezia
            .map(|w| 0.5 * (w[0].1 + w[1].1) * (w[1].0 - w[0].0))
            .sum(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A disc of constant pressure up to `end`.
    fn flat(pressure: f64, end: f64) -> Vec<(f64, f64)> {
        let steps = (end / SHAPE_STEP_MM).floor() as usize;
        let mut shape: Vec<(f64, f64)> = (0..=steps)
            .map(|k| (SHAPE_STEP_MM * k as f64, pressure))
            .collect();
        shape.push((end, pressure));
        shape
    }

    #[test]
    fn burst_discs_drop_out_of_the_mean_which_ends_at_the_mean_length() {
        // Analytic: 60 up to 80.2 mm and 40 up to 120.4 mm: mean 50 to 80.2, then 40 to 100.3.
        let (a, b) = (flat(60.0, 80.2), flat(40.0, 120.4));
        let mean = mean_curve(&[&a, &b]);
        let last = mean.last().copied().unwrap_or_default();
        assert!((last.0 - 100.3).abs() < 1e-9 && (last.1 - 40.0).abs() < 1e-9);
        let at = |x: f64| mean_at(&[&a, &b], x).unwrap_or(0.0);
        assert!((at(80.2) - 50.0).abs() < 1e-9 && (at(80.3) - 40.0).abs() < 1e-9);
        assert_eq!(mean_at(&[&a, &b], 121.0), None);
        assert!(mean_curve(&[]).is_empty());
        assert_eq!(pressure_at(&a, 80.3), None);
    }
}
