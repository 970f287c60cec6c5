//! The few curves of which all others are nearly sums.

use super::{fit_together, mean_curve, trapezoid};
use nalgebra::{DMatrix, DVector};

/// Mean curve and principal component curves.
#[derive(Debug, Clone, PartialEq)]
pub struct Components {
    /// Mean curve.
    pub mean: Vec<f64>,
    /// Component curves, of unit length in the integral over time, the most variable first; the
    /// sign makes the largest value positive.
    pub functions: Vec<Vec<f64>>,
    /// Variance of the scores on each.
    pub variances: Vec<f64>,
    /// Variance of the curves in all, integrated over time.
    pub total: f64,
    /// Scores of the curves given, one list a curve.
    pub scores: Vec<Vec<f64>>,
    weights: Vec<f64>,
}

impl Components {
    /// Returns the scores of another curve on the same times: what it holds of each component.
    /// Empty when the curve has another length.
    pub fn scores_of(&self, curve: &[f64]) -> Vec<f64> {
        if curve.len() != self.mean.len() {
            return Vec::new();
        }
        let score = |function: &Vec<f64>| {
            let terms = curve
                .iter()
                .zip(&self.mean)
                .zip(function)
                .zip(&self.weights);
            terms.map(|(((v, m), f), w)| w * (v - m) * f).sum()
        };
        self.functions.iter().map(score).collect()
    }
}

/// Returns up to `count` functional principal components of curves on common `times` (Ramsay and
/// Silverman 2005, ch. 8; from memory), with the trapezoidal rule as the integral, so that unevenly
/// spaced times do no harm. Fewer when the curves vary in fewer ways.
///
/// `None` for fewer than two curves, curves of another length than times, times that do not rise,
/// or curves that are all the same.
pub fn principal_components(
    times: &[f64],
    curves: &[Vec<f64>],
    count: usize,
) -> Option<Components> {
    let n = curves.len();
    if !fit_together(times, curves) || n < 2 {
        return None;
    }
    let mean = mean_curve(curves);
    let weights = trapezoid(times);
    let roots: Vec<f64> = weights.iter().map(|w| w.sqrt()).collect();
    let centred: Vec<Vec<f64>> = curves
        .iter()
        .map(|curve| {
            let terms = curve.iter().zip(&mean).zip(&roots);
            terms.map(|((v, m), r)| (v - m) * r).collect()
        })
        .collect();
    // Curves are fewer than times, as a rule: the products of curves hold all there is.
    let scale = n as f64 - 1.0;
    let mut gram = DMatrix::zeros(n, n);
    for i in 0..n {
        for j in 0..=i {
            let product: f64 = centred[i].iter().zip(&centred[j]).map(|(a, b)| a * b).sum();
            gram[(i, j)] = product / scale;
            gram[(j, i)] = product / scale;
        }
    }
    let total = gram.trace();
    if total.is_nan() || total <= 0.0 {
        return None;
    }
    let eigen = gram.symmetric_eigen();
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|a, b| eigen.eigenvalues[*b].total_cmp(&eigen.eigenvalues[*a]));
    let kept: Vec<usize> = order
        .into_iter()
        .take(count)
        .filter(|k| eigen.eigenvalues[*k] > 1e-12 * total)
        .collect();
    let functions: Vec<Vec<f64>> = kept
        .iter()
        .map(|k| {
            let vector: DVector<f64> = eigen.eigenvectors.column(*k).into_owned();
            component(&vector, eigen.eigenvalues[*k] * scale, &centred, &roots)
        })
        .collect();
    let mut components = Components {
        mean,
        functions,
        variances: kept.iter().map(|k| eigen.eigenvalues[*k]).collect(),
        total,
        scores: Vec::new(),
        weights,
    };
    components.scores = curves.iter().map(|c| components.scores_of(c)).collect();
    Some(components)
}

/// Returns the component curve that belongs to an eigenvector of the products of curves.
fn component(vector: &DVector<f64>, square: f64, centred: &[Vec<f64>], roots: &[f64]) -> Vec<f64> {
    let mut function = vec![0.0; roots.len()];
    for (share, curve) in vector.iter().zip(centred) {
        for (f, v) in function.iter_mut().zip(curve) {
            *f += share * v / square.sqrt();
        }
    }
    function.iter_mut().zip(roots).for_each(|(f, r)| *f /= r);
    let largest = function
        .iter()
        .fold(0.0_f64, |top, f| if f.abs() > top.abs() { *f } else { top });
    function.iter_mut().for_each(|f| *f *= largest.signum());
    function
}
