//! Residuals of the model behind a claim.

use super::{Easel, Subject};
use crate::chart::{ResidualPoint, Residuals};
use crate::compare::Residual;
use crate::numerics::distribution::normal_quantile;
use crate::study::Scale;

/// With fewer values a picture of residuals shows nothing.
const LEAST_POINTS: usize = 4;

/// Standardised residuals beyond this are named.
const FAR: f64 = 3.0;

/// Returns the residuals of `subject`, where the model has enough of them and they scatter.
pub(super) fn figure(easel: &Easel<'_>, subject: &Subject<'_>) -> Option<Residuals> {
    let residuals = &subject.picture.residuals;
    let n = residuals.len();
    if n < LEAST_POINTS {
        return None;
    }
    let all = n as f64 - 1.0;
    let df = subject.contrast.df.filter(|df| *df >= 1.0).unwrap_or(all);
    let square: f64 = residuals.iter().map(|r| r.residual * r.residual).sum();
    let scale = (square / df.min(all)).sqrt();
    if !(scale.is_finite() && scale > 0.0) {
        return None;
    }
    let metric = easel.axis_name(&subject.picture.metric, subject.picture.unit);
    Some(Residuals {
        words: easel.words(subject, "Residuals of the model".to_owned(), Vec::new()),
        fitted_label: match subject.scale() {
            Scale::Linear => format!("fitted {metric}"),
            Scale::Log => format!("fitted, logarithm of {metric}"),
        },
        points: points(residuals, scale),
        findings: String::new(),
    })
}

/// Returns the residuals over `scale`, with their normal scores: the quantile of
/// (rank − 3/8)/(n + 1/4), G. Blom, "Statistical Estimates and Transformed Beta-Variables" (1958),
/// from memory.
fn points(residuals: &[Residual], scale: f64) -> Vec<ResidualPoint> {
    let mut order: Vec<&Residual> = residuals.iter().collect();
    order.sort_by(|a, b| a.residual.total_cmp(&b.residual));
    let n = order.len() as f64;
    let ranked = order.into_iter().enumerate();
    ranked
        .filter_map(|(rank, of)| {
            let residual = of.residual / scale;
            Some(ResidualPoint {
                treatment: of.treatment.clone(),
                fitted: of.fitted,
                residual,
                quantile: normal_quantile((rank as f64 + 0.625) / (n + 0.25))?,
                name: match residual.abs() > FAR {
                    true => of.block.clone(),
                    false => String::new(),
                },
            })
        })
        .collect()
}
