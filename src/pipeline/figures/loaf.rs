//! Specific volume of the bread by block and treatment.

use super::day_words;
use super::doughs::DoughFigure;
use crate::chart::{Bound, PairedBlock, PairedDots, Palette, RatePoint};
use crate::record::{Day, MetricResult};
use std::collections::BTreeMap;

/// Metric that is drawn: the mean of a dough's loaves.
const METRIC: &str = "loaf.dough_specific_volume";

/// Returns the figure of the day's loaves; `None` where no dough has a volume. A block with several
/// doughs of one treatment shows them one below the other.
pub(in crate::pipeline) fn loaf_figure<'d>(
    day: &'d Day,
    palette: &Palette,
) -> Option<DoughFigure<'d>> {
    let of_loaves = day.grading.results.iter();
    let results: Vec<&MetricResult> = of_loaves
        .filter(|result| result.metric.id == METRIC)
        .filter(|result| result.outcome.value_or_bound().is_some())
        .collect();
    let mut treatments: Vec<String> = Vec::new();
    let mut blocks: BTreeMap<String, Vec<(String, RatePoint)>> = BTreeMap::new();
    for result in &results {
        let treatment = result.conditions.treatment.clone().unwrap_or_default();
        if !treatments.contains(&treatment) {
            treatments.push(treatment.clone());
        }
        let block = result.conditions.block.clone().unwrap_or_default();
        let point = RatePoint {
            y: result.outcome.value_or_bound()?,
            interval: result.outcome.estimate().map(|e| (e.low(), e.high())),
            bound: Bound::of(result.outcome.status())?,
            ..RatePoint::default()
        };
        blocks.entry(block).or_default().push((treatment, point));
    }
    let title = "Specific volume of the bread by block";
    let unit = results.first()?.unit;
    let figure = PairedDots {
        words: day_words(title, palette, (0, results.len()), results.iter().copied()),
        y_label: format!("specific volume / ({unit})"),
        blocks: blocks
            .into_iter()
            .flat_map(|(name, points)| rows(&name, &points, &treatments))
            .collect(),
        treatments,
        ..PairedDots::default()
    };
    Some(DoughFigure {
        name: "loaf-volume".into(),
        title: title.into(),
        figure: Box::new(figure),
        runs: Vec::new(),
        results: results.iter().map(|result| result.id.clone()).collect(),
    })
}

/// Returns the doughs of a block, the first of each treatment joined, then the second, ….
fn rows(name: &str, points: &[(String, RatePoint)], treatments: &[String]) -> Vec<PairedBlock> {
    let of = |treatment: &String| -> Vec<RatePoint> {
        let own = points.iter().filter(|(t, _)| t == treatment);
        own.map(|(_, point)| *point).collect()
    };
    let columns: Vec<Vec<RatePoint>> = treatments.iter().map(of).collect();
    let most = columns.iter().map(Vec::len).max().unwrap_or(0);
    (0..most)
        .map(|row| PairedBlock {
            name: match row {
                0 => name.to_owned(),
                row => format!("{name}, dough {}", row + 1),
            },
            values: columns
                .iter()
                .map(|column| column.get(row).copied())
                .collect(),
        })
        .collect()
}
