//! Scores of a laboratory in a proficiency test (ISO 13528, ISO/IEC 17043), and the robust mean
//! they are measured against.
//!
//! Clauses of ISO 13528:2015 are given from memory.

use crate::numerics::robust::{median, normal_scatter};

/// Factor that makes the scatter of values drawn in to 1.5 robust standard deviations estimate
/// that of normal data, as ISO 13528 Annex C prints it.
pub const PRINTED_FACTOR: f64 = 1.134;

/// The same factor unrounded: 1/√β with β = θ + 2.25(1 − θ) − 3φ(1.5), θ = 2Φ(1.5) − 1 (Huber 1981,
/// proposal 2).
pub const EXACT_FACTOR: f64 = 1.133_392_655_462_487;

/// Robust mean and standard deviation of the results of several laboratories.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RobustMean {
    /// Robust mean x*.
    pub mean: f64,
    /// Robust standard deviation s*.
    pub sd: f64,
    /// Results.
    pub count: usize,
}

impl RobustMean {
    /// Returns the standard uncertainty of the robust mean as an assigned value, 1.25 s*/√p
    /// (ISO 13528, 7.7).
    pub fn uncertainty(&self) -> f64 {
        1.25 * self.sd / (self.count as f64).sqrt()
    }
}

/// Returns robust mean and standard deviation by Algorithm A of ISO 13528, Annex C.3 (Analytical
/// Methods Committee 1989, Analyst 114:1693): values are drawn in to x* ± 1.5 s*, mean and scatter
/// taken again, until neither moves. `factor` is [`PRINTED_FACTOR`] or [`EXACT_FACTOR`].
///
/// `None` for fewer than three results, or results that are all the same.
pub fn robust_mean(values: &[f64], factor: f64) -> Option<RobustMean> {
    let count = values.len();
    if count < 3 || values.iter().any(|v| !v.is_finite()) {
        return None;
    }
    let n = count as f64;
    let mut centre = median(values)?;
    let mut scatter = normal_scatter(values)?;
    if scatter <= 0.0 {
        // More than half of the results are the same: start from the plain standard deviation.
        let mean = values.iter().sum::<f64>() / n;
        let squares: f64 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
        scatter = (squares / (n - 1.0)).sqrt();
    }
    for _ in 0..10_000 {
        let reach = 1.5 * scatter;
        let drawn = |v: &f64| v.clamp(centre - reach, centre + reach);
        let mean = values.iter().map(drawn).sum::<f64>() / n;
        let square = |v: &f64| (drawn(v) - mean) * (drawn(v) - mean);
        let squares: f64 = values.iter().map(square).sum();
        let next = factor * (squares / (n - 1.0)).sqrt();
        let moved = (mean - centre).abs() + (next - scatter).abs();
        centre = mean;
        scatter = next;
        if moved <= 1e-13 * (scatter + centre.abs()) {
            break;
        }
    }
    (scatter > 0.0).then_some(RobustMean {
        mean: centre,
        sd: scatter,
        count,
    })
}

/// A value with its standard uncertainty, both in the unit of the quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stated {
    /// The value.
    pub value: f64,
    /// Its standard uncertainty.
    pub uncertainty: f64,
}

/// Returns (x − x_pt)/σ, the quotient on which all scores rest; `None` unless σ is above 0.
fn over(difference: f64, scale: f64) -> Option<f64> {
    (scale > 0.0 && difference.is_finite()).then(|| difference / scale)
}

/// Returns z = (x − x_pt)/σ_pt (ISO 13528, 9.4), for an assigned value whose uncertainty may be
/// neglected; `None` unless σ_pt is above 0.
pub fn z_score(result: f64, assigned: f64, sigma: f64) -> Option<f64> {
    over(result - assigned, sigma)
}

/// Returns whether the uncertainty of the assigned value may be neglected: u ≤ 0.3 σ_pt
/// (ISO 13528, 9.2.1). If not, use [`z_prime_score`].
pub fn assigned_value_suffices(assigned: Stated, sigma: f64) -> bool {
    assigned.uncertainty <= 0.3 * sigma
}

/// Returns z′ = (x − x_pt)/√(σ_pt² + u²(x_pt)) (ISO 13528, 9.5).
pub fn z_prime_score(result: f64, assigned: Stated, sigma: f64) -> Option<f64> {
    let scale = (sigma * sigma + assigned.uncertainty * assigned.uncertainty).sqrt();
    over(result - assigned.value, scale)
}

/// Returns ζ = (x − x_pt)/√(u²(x) + u²(x_pt)) (ISO 13528, 9.6).
pub fn zeta_score(result: Stated, assigned: Stated) -> Option<f64> {
    let u = result.uncertainty * result.uncertainty + assigned.uncertainty * assigned.uncertainty;
    over(result.value - assigned.value, u.sqrt())
}

/// Returns E_n = (x − x_pt)/√(U²(x) + U²(x_pt)) with expanded uncertainties U = 2u (ISO 13528,
/// 9.7), from the standard ones.
pub fn e_n_score(result: Stated, assigned: Stated) -> Option<f64> {
    zeta_score(result, assigned).map(|zeta| 0.5 * zeta)
}

/// What a score says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Judgement {
    /// |z| ≤ 2, or |E_n| < 1.
    Acceptable,
    /// 2 < |z| < 3.
    Warning,
    /// |z| ≥ 3, or |E_n| ≥ 1.
    Action,
}

/// Returns what a z, z′ or ζ score says (ISO 13528, 9.4.2).
pub fn judge_score(score: f64) -> Judgement {
    match score.abs() {
        size if size <= 2.0 => Judgement::Acceptable,
        size if size < 3.0 => Judgement::Warning,
        _ => Judgement::Action,
    }
}

/// Returns what an E_n score says (ISO 13528, 9.7).
pub fn judge_e_n(score: f64) -> Judgement {
    if score.abs() < 1.0 {
        Judgement::Acceptable
    } else {
        Judgement::Action
    }
}
