//! The two laws of strain hardening, fitted as straight lines through logarithms.
//!
//! Their exponents are different quantities under one name and are never averaged
//! (HANDBOOK §5, D8).

use crate::numerics::{LineFit, regress_line};

/// A law of strain hardening.
#[derive(Debug, Clone, PartialEq)]
pub struct HardeningLaw {
    /// The line through the logarithms: its slope is the exponent, with its standard error.
    pub line: LineFit,
    /// `K`, in the unit of the stresses: the stress at strain nought (exponential law) or at
    /// strain one (power law).
    pub k: f64,
    /// Standard error of `K`, by propagation from that of its logarithm.
    pub k_standard_error: f64,
    /// Smallest strain used.
    pub from: f64,
    /// Largest strain used.
    pub to: f64,
}

/// Returns the exponential law `sigma = K exp(n eps)` fitted to `ln sigma` against `eps` (as van
/// Vliet and Dunnewind use it; HANDBOOK §5). Points whose stress is not positive are left out.
/// `None` for fewer than three strains.
pub fn fit_exponential_law(strain: &[f64], stress: &[f64]) -> Option<HardeningLaw> {
    fit_law(strain, stress, Some)
}

/// Returns the power law `sigma = K eps^n` fitted to `ln sigma` against `ln eps` (as Dobraszczyk
/// uses it; HANDBOOK §5). Points whose stress or strain is not positive are left out. `None` for
/// fewer than three strains.
pub fn fit_power_law(strain: &[f64], stress: &[f64]) -> Option<HardeningLaw> {
    fit_law(strain, stress, |eps| (eps > 0.0).then(|| libm::log(eps)))
}

fn fit_law(
    strain: &[f64],
    stress: &[f64],
    abscissa: impl Fn(f64) -> Option<f64>,
) -> Option<HardeningLaw> {
    let (mut x, mut y) = (Vec::new(), Vec::new());
    let (mut from, mut to) = (f64::INFINITY, f64::NEG_INFINITY);
    for (&eps, &sigma) in strain.iter().zip(stress) {
        if sigma <= 0.0 {
            continue;
        }
        let Some(at) = abscissa(eps) else { continue };
        x.push(at);
        y.push(libm::log(sigma));
        (from, to) = (from.min(eps), to.max(eps));
    }
    let line = regress_line(&x, &y)?;
    let k = libm::exp(line.intercept());
    Some(HardeningLaw {
        k,
        k_standard_error: k * line.error_at(0.0),
        line,
        from,
        to,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_laws_give_two_exponents() {
        // HANDBOOK V-E4: sigma = 2 exp(1.8 eps), 25 equidistant strains from 0.3 to 1.5.
        let strain: Vec<f64> = (0..25).map(|i| 0.3 + 0.05 * f64::from(i)).collect();
        let stress: Vec<f64> = strain.iter().map(|e| 2.0 * libm::exp(1.8 * e)).collect();
        let exponential = fit_exponential_law(&strain, &stress);
        assert!(exponential.as_ref().is_some_and(|law| {
            (law.line.slope - 1.8).abs() < 1e-12
                && (law.k - 2.0).abs() < 1e-12
                && law.line.explained > 1.0 - 1e-12
                && law.line.points == 25
        }));
        let power = fit_power_law(&strain, &stress);
        assert!(power.as_ref().is_some_and(|law| {
            (law.line.slope - 1.380).abs() < 5e-4 && (law.k - 13.33).abs() < 5e-3
        }));
    }

    #[test]
    fn points_without_a_logarithm_are_left_out() {
        let law = fit_power_law(&[0.0, 0.5, 1.0, 1.5, 2.0], &[1.0, 2.0, 4.0, 6.0, -1.0]);
        assert!(law.is_some_and(|law| {
            law.line.points == 3 && (law.from - 0.5).abs() < 1e-12 && (law.to - 1.5).abs() < 1e-12
        }));
        assert_eq!(fit_exponential_law(&[1.0, 2.0], &[1.0, 2.0]), None);
    }
}
