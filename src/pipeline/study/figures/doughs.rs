//! The doughs of both methods, block by block, beside their difference and its margin.

use super::{Easel, Subject};
use crate::chart::{Bound, MeanInterval, PairedBlock, PairedDots, RatePoint};
use crate::compare::Dot;
use crate::record::{ClaimContrast, ContrastUnit};
use crate::report::contrast_words;
use crate::study::Scale;
use std::collections::BTreeMap;

/// Returns the doughs of `subject`; `None` where there is none.
pub(super) fn figure(easel: &Easel<'_>, subject: &Subject<'_>) -> Option<PairedDots> {
    let picture = subject.picture;
    if picture.dots.is_empty() {
        return None;
    }
    let shown = as_difference(subject);
    let words = contrast_words(&shown);
    let interval = shown.low.zip(shown.high);
    let (blocks, joined) = blocks(&picture.dots, &picture.treatment);
    let mut notes = Vec::new();
    if !joined {
        notes.push("A block with several doughs of one method has no line.".to_owned());
    }
    if interval.is_none() {
        notes.push(format!("Difference: {}.", words.value()));
    }
    let unit = if words.unit.is_empty() { "" } else { " / " };
    Some(PairedDots {
        words: easel.words(subject, title(easel, subject), notes),
        y_label: easel.axis_name(&picture.metric, picture.unit),
        treatments: vec![picture.reference.clone(), picture.treatment.clone()],
        blocks,
        means: Vec::new(),
        difference_label: match subject.scale() {
            Scale::Linear => format!(
                "{} − {}{unit}{}",
                picture.treatment, picture.reference, words.unit
            ),
            Scale::Log => format!("{} against {} / %", picture.treatment, picture.reference),
        },
        differences: interval
            .map(|interval| MeanInterval {
                name: "difference".to_owned(),
                mean: shown.estimate,
                interval,
                label: format!("{}, {}", words.estimate, words.confidence),
            })
            .into_iter()
            .collect(),
        margin: match interval {
            Some(_) => (shown.margin_low, shown.margin_high),
            None => (None, None),
        },
        confidence: words.confidence,
    })
}

fn title(easel: &Easel<'_>, subject: &Subject<'_>) -> String {
    let name = easel.metric_name(&subject.picture.metric);
    format!("Dough by dough: {name}")
}

/// Returns the contrast as a difference: a ratio as percent above or below the reference, since the
/// figure measures from zero.
fn as_difference(subject: &Subject<'_>) -> ClaimContrast {
    let contrast = *subject.contrast;
    let percent = |ratio: f64| 100.0 * (ratio - 1.0);
    match contrast.unit {
        ContrastUnit::Ratio => ClaimContrast {
            estimate: percent(contrast.estimate),
            low: contrast.low.map(percent),
            high: contrast.high.map(percent),
            margin_low: contrast.margin_low.map(percent),
            margin_high: contrast.margin_high.map(percent),
            ..contrast
        },
        _ => contrast,
    }
}

/// Returns the blocks, and whether each is one line. A block with several doughs of one method has
/// no pairs: its doughs stand by themselves, the first under the name of the block.
fn blocks(dots: &[Dot], treatment: &str) -> (Vec<PairedBlock>, bool) {
    let mut doughs: BTreeMap<&str, (Vec<&Dot>, Vec<&Dot>)> = BTreeMap::new();
    for dot in dots {
        let block = doughs.entry(&dot.block).or_default();
        match dot.treatment == treatment {
            true => block.1.push(dot),
            false => block.0.push(dot),
        }
    }
    let mut joined = true;
    let mut blocks = Vec::new();
    for (name, (references, treated)) in doughs {
        let paired = references.len() <= 1 && treated.len() <= 1;
        joined &= paired;
        if paired {
            blocks.push(PairedBlock {
                name: name.to_owned(),
                values: vec![references.first().map(point), treated.first().map(point)],
            });
            continue;
        }
        let alone = references.iter().map(|dot| vec![Some(point(dot)), None]);
        let alone = alone.chain(treated.iter().map(|dot| vec![None, Some(point(dot))]));
        blocks.extend(alone.enumerate().map(|(i, values)| PairedBlock {
            name: if i == 0 {
                name.to_owned()
            } else {
                String::new()
            },
            values,
        }));
    }
    (blocks, joined)
}

fn point(dot: &&Dot) -> RatePoint {
    RatePoint {
        x: 0.0,
        y: dot.value,
        interval: None,
        bound: Bound::Exact,
        aside: false,
    }
}
