//! Extension curves by rest time, a panel for each dough, a figure for each treatment.

use super::overlay::extension_label;
use super::{Sketch, planned_rest_min};
use crate::chart::extension_curves::Reading;
use crate::chart::{Bound, ExtensionCurve, ExtensionCurves, ExtensionPanel, Palette};
use crate::record::{Day, MetricResult, RunRecord};
use crate::report;
use crate::schema::{Axis, Field, Test};
use std::collections::BTreeMap;

/// Most panels of one figure; more doughs of a treatment go on to the next.
const MOST_PANELS: usize = 4;

/// Name of a dough, and the indices of its runs in the day.
type Dough<'a> = (&'a str, &'a [usize]);

/// Returns the figures of the day's extension curves, with the runs each shows.
pub(in crate::pipeline) fn extension_figures<'d>(
    day: &'d Day,
    sketches: &[Sketch],
    palette: &Palette,
) -> Vec<(ExtensionCurves, Vec<&'d RunRecord>)> {
    let mut doughs: BTreeMap<(bool, String, String), Vec<usize>> = BTreeMap::new();
    for (index, run) in day
        .runs
        .iter()
        .enumerate()
        .filter(|(_, r)| r.test == Test::Extension)
    {
        if sketches.get(index).is_some_and(|sketch| sketch.x.len() > 1) {
            let hook = run.facts.axis == Some(Axis::HookTravelMm);
            let treatment = run.conditions.treatment.clone().unwrap_or_default();
            let dough = run.conditions.batch_id.as_ref().map(ToString::to_string);
            doughs
                .entry((hook, treatment, dough.unwrap_or_default()))
                .or_default()
                .push(index);
        }
    }
    // Chart millimetres and hook travel are different abscissae: never in one figure.
    let mut by_treatment: BTreeMap<(bool, &str), Vec<Dough<'_>>> = BTreeMap::new();
    for ((hook, treatment, dough), runs) in &doughs {
        by_treatment
            .entry((*hook, treatment))
            .or_default()
            .push((dough, runs));
    }
    let mut figures = Vec::new();
    for ((hook, treatment), doughs) in by_treatment {
        for part in doughs.chunks(MOST_PANELS) {
            figures.push(figure(day, sketches, palette, (hook, treatment), part));
        }
    }
    figures
}

fn figure<'d>(
    day: &'d Day,
    sketches: &[Sketch],
    palette: &Palette,
    (hook, treatment): (bool, &str),
    doughs: &[Dough<'_>],
) -> (ExtensionCurves, Vec<&'d RunRecord>) {
    let runs: Vec<&RunRecord> = doughs
        .iter()
        .flat_map(|(_, runs)| runs.iter().map(|&i| &day.runs[i]))
        .collect();
    let panels = doughs
        .iter()
        .map(|(dough, runs)| ExtensionPanel {
            title: if dough.is_empty() {
                "dough not stated".into()
            } else {
                format!("dough {dough}")
            },
            treatment: treatment.to_owned(),
            curves: runs
                .iter()
                .map(|&i| curve(&day.runs[i], &sketches[i]))
                .collect(),
        })
        .collect();
    let notes = runs
        .iter()
        .filter_map(|run| {
            let reason = run.results.first()?.outcome.reason()?;
            Some(format!("{}: {reason}", run.id))
        })
        .collect();
    let unit = runs
        .first()
        .map_or_else(|| "EU".to_owned(), |run| run.unit.to_string());
    let method = if treatment.is_empty() {
        "treatment not stated"
    } else {
        treatment
    };
    let figure = ExtensionCurves {
        title: format!("Extension by rest time, {method}"),
        subtitle: "rests of one piece are repeated measures on the same piece".into(),
        palette: palette.clone(),
        x_label: extension_label(hook).into(),
        y_label: format!("resistance / {unit}"),
        panels,
        notes,
        caption: format!("{} curves of {} doughs", runs.len(), doughs.len()),
    };
    (figure, runs)
}

fn curve(run: &RunRecord, sketch: &Sketch) -> ExtensionCurve {
    let rest = planned_rest_min(run);
    let at = |x: f64| sketch.at(x);
    let reading = |id: &str, place: &dyn Fn(f64) -> Option<(f64, f64)>| -> Option<Reading> {
        let result = run.result(id)?;
        let value = result.outcome.value_or_bound()?;
        let (x, y) = place(value)?;
        Some(Reading {
            x,
            y,
            label: label(result)?,
            bound: Bound::of(result.outcome.status())?,
        })
    };
    let top = sketch
        .x
        .iter()
        .zip(&sketch.centre)
        .max_by(|a, b| a.1.total_cmp(b.1))
        .map(|(x, _)| *x);
    // The sketch counts from first contact, as the metrics do.
    ExtensionCurve {
        rest_min: rest.unwrap_or(0.0),
        piece: run.metadata.text(Field::Piece).unwrap_or_default(),
        x: sketch.x.clone(),
        y: sketch.centre.clone(),
        r50: reading("extension.resistance_50mm", &|r| Some((50.0, r))),
        rm: reading("extension.maximum_resistance", &|r| Some((top?, r))),
        e: reading("extension.extensibility", &|e| Some((e, at(e)?))),
    }
}

/// Value with unit and spread; the metric is told by its place.
fn label(result: &MetricResult) -> Option<String> {
    result.outcome.value_or_bound()?;
    let (value, spread) = report::words_of(&result.metric, &result.outcome);
    Some(
        format!("{value} {} {spread}", result.unit)
            .trim_end()
            .to_owned(),
    )
}
