//! Two instruments on the same doughs: difference against mean.

use super::{Easel, Subject};
use crate::chart::{Agreement, AgreementLevel, Pair};
use crate::report::contrast_words;
use crate::schema::Unit;

/// Returns the pairs of `subject`, where it has any.
pub(super) fn figure(easel: &Easel<'_>, subject: &Subject<'_>) -> Option<Agreement> {
    let (picture, contrast) = (subject.picture, subject.contrast);
    if picture.agreement.is_empty() {
        return None;
    }
    let words = contrast_words(contrast);
    let unit = match picture.unit {
        None | Some(Unit::One) => String::new(),
        Some(unit) => format!(" / {unit}"),
    };
    let (own, other) = (&picture.treatment, &picture.reference);
    let limit = |value: Option<f64>, side: &str| {
        value.map(|value| AgreementLevel {
            value,
            interval: None,
            label: format!("{side} limit, {}", words.confidence),
        })
    };
    let bias = AgreementLevel {
        value: contrast.estimate,
        interval: None,
        label: format!("bias {}", words.estimate),
    };
    let limits = [
        Some(bias),
        limit(contrast.low, "lower"),
        limit(contrast.high, "upper"),
    ];
    Some(Agreement {
        words: easel.words(
            subject,
            format!("{own} against {other}"),
            vec![format!(
                "Limits hold 95 % of doughs with {} confidence.",
                words.confidence
            )],
        ),
        first_label: format!("{other}{unit}"),
        second_label: format!("{own}{unit}"),
        mean_label: format!("mean of both{unit}"),
        difference_label: format!("{own} − {other}{unit}"),
        // The chart measures second less first, the claim its own instrument less the other.
        pairs: picture
            .agreement
            .iter()
            .map(|pair| Pair {
                group: String::new(),
                first: pair.second,
                second: pair.first,
                aside: false,
            })
            .collect(),
        levels: limits.into_iter().flatten().collect(),
        margin: contrast.margin_high,
        fit: None,
    })
}
