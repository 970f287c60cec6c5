//! Response against water for both methods, and the horizontal shift between their lines.

use super::{Easel, Subject};
use crate::chart::{self, RateGroup, RateLaw, RatePoint, Series, Shift};
use crate::compare::HydrationLine;
use crate::report::contrast_words;

/// Returns the lines of `subject`, where it has any.
pub(super) fn figure(easel: &Easel<'_>, subject: &Subject<'_>) -> Option<chart::HydrationLines> {
    let lines = subject.picture.lines.as_ref()?;
    let words = contrast_words(subject.contrast);
    let from = water_at(&lines.reference, lines.level);
    let mut notes = Vec::new();
    let bounds = lines.shift_low.zip(lines.shift_high);
    let shifts = match (from, bounds) {
        (Some(from), Some((low, high))) => vec![Shift {
            from,
            to: from + lines.shift,
            interval: (from + low, from + high),
            label: format!(
                "{} points more water [{}], {}",
                words.estimate, words.interval, words.confidence
            ),
        }],
        _ => {
            notes.push(format!("Shift: {}, {}.", words.value(), words.confidence));
            Vec::new()
        }
    };
    let y_label = easel.axis_name(&subject.picture.metric, Some(lines.unit));
    let level = format!("compared at {:.0} {}", lines.level, lines.unit.symbol());
    Some(chart::HydrationLines {
        words: easel.words(
            subject,
            format!(
                "Water at equal {}",
                easel.metric_name(&subject.picture.metric).to_lowercase()
            ),
            notes,
        ),
        x_label: "water / % of flour mass".to_owned(),
        y_label,
        groups: [&lines.reference, &lines.treatment].map(group).into(),
        level: (lines.level, level),
        margin: match shifts.is_empty() {
            true => None,
            false => from.zip(subject.contrast.margin_low).map(|(a, b)| a + b),
        },
        shifts,
        confidence: words.confidence,
    })
}

/// Returns the water at which `line` reaches `level`; `None` for a level line.
fn water_at(line: &HydrationLine, level: f64) -> Option<f64> {
    let slope = (line.response.1 - line.response.0) / (line.range.1 - line.range.0);
    let water = line.range.0 + (level - line.response.0) / slope;
    water.is_finite().then_some(water)
}

fn group(line: &HydrationLine) -> RateGroup {
    RateGroup {
        treatment: line.treatment.clone(),
        points: line
            .points
            .iter()
            .map(|(x, y)| RatePoint {
                x: *x,
                y: *y,
                ..RatePoint::default()
            })
            .collect(),
        laws: vec![RateLaw {
            line: Series {
                name: line.treatment.clone(),
                x: vec![line.range.0, line.range.1],
                y: vec![line.response.0, line.response.1],
            },
            ..RateLaw::default()
        }],
        readings: Vec::new(),
    }
}
