//! The figure of one mixing run.

use super::words;
use crate::chart::{Bound, Mark, MarkShape, Palette, Reference, RunCurve};
use crate::numerics::value_at;
use crate::record::{MetricResult, ReadCurve, RunRecord};
use std::collections::BTreeMap;

/// Returns the figure of one mixing run.
pub(in crate::pipeline) fn mixing_curve(
    run: &RunRecord,
    curve: &ReadCurve,
    palette: &Palette,
) -> RunCurve {
    let subtitle = [
        Some(run.file.name.clone()),
        run.conditions
            .sample_id
            .as_ref()
            .map(|id| format!("flour {id}")),
        run.conditions.treatment.clone(),
        run.conditions
            .block
            .as_ref()
            .map(|block| format!("block {block}")),
    ];
    let ids: Vec<&str> = run
        .results
        .first()
        .map(|result| &result.id.as_str()[..8])
        .into_iter()
        .collect();
    RunCurve {
        title: run.id.to_string(),
        subtitle: subtitle
            .into_iter()
            .flatten()
            .collect::<Vec<_>>()
            .join(" · "),
        treatment: run.conditions.treatment.clone(),
        palette: palette.clone(),
        x_label: "time from water contact / min".into(),
        y_label: format!("consistency / {}", run.unit),
        time_min: curve.x.clone(),
        signal: curve.signal.clone(),
        excluded: run.facts.spikes.iter().map(|spike| spike.index).collect(),
        centre: curve.centre.clone(),
        lower: curve.lower.clone().unwrap_or_default(),
        upper: curve.upper.clone().unwrap_or_default(),
        reference: curve.line.map(|value| Reference {
            value,
            label: format!("{value:.0} {}", run.unit),
        }),
        marks: mixing_marks(run, curve),
        notes: mixing_notes(run),
        caption: format!(
            "{} readings, every {:.2} s · raw {} · first result {}",
            run.facts.points,
            run.facts.sampling_s,
            &run.file.sha256.as_str()[..12],
            ids.join(" ")
        ),
    }
}

fn mixing_marks(run: &RunRecord, curve: &ReadCurve) -> Vec<Mark> {
    let mut marks = Vec::new();
    let bounded = |id: &str| -> Option<(&MetricResult, f64, Bound)> {
        let result = run.result(id)?;
        Some((
            result,
            result.outcome.value_or_bound()?,
            Bound::of(result.outcome.status())?,
        ))
    };
    let centre = |x: f64| value_at(&curve.x, &curve.centre, x);
    let development = bounded("mixing.development_time");
    if let Some((result, x_min, bound)) = development
        && let Some(y) = centre(x_min)
    {
        marks.push(Mark {
            shape: MarkShape::Time { x_min, y },
            label: words(result),
            bound,
        });
    }
    if let Some((result, length, bound)) = bounded("mixing.stability")
        && let Some(from_min) = run
            .result("mixing.arrival_time")
            .and_then(|r| r.outcome.value_or_bound())
        && let Some(y) = curve.line
    {
        let shape = MarkShape::Span {
            from_min,
            to_min: from_min + length,
            y,
        };
        marks.push(Mark {
            shape,
            label: words(result),
            bound,
        });
    }
    let peak = development.map(|(_, minutes, _)| minutes);
    if let (Some(peak), Some(upper)) = (peak, &curve.upper) {
        push_drop(
            &mut marks,
            bounded("mixing.tolerance_index"),
            peak + 5.0,
            &curve.x,
            upper,
        );
    }
    if let Some(peak) = peak {
        push_drop(
            &mut marks,
            bounded("mixing.softening_12min"),
            peak + 12.0,
            &curve.x,
            &curve.centre,
        );
    }
    marks
}

/// Adds a difference of heights at `x_min`; its upper end lies the value above the line there.
fn push_drop(
    marks: &mut Vec<Mark>,
    found: Option<(&MetricResult, f64, Bound)>,
    x_min: f64,
    x: &[f64],
    y: &[f64],
) {
    if let (Some((result, drop, bound)), Some(to)) = (found, value_at(x, y, x_min)) {
        let shape = MarkShape::Drop {
            x_min,
            from: to + drop,
            to,
        };
        marks.push(Mark {
            shape,
            label: words(result),
            bound,
        });
    }
}

fn mixing_notes(run: &RunRecord) -> Vec<String> {
    let mut notes = Vec::new();
    for id in ["mixing.water_absorption", "mixing.consistency"] {
        if let Some(result) = run
            .result(id)
            .filter(|r| r.outcome.value_or_bound().is_some())
        {
            notes.push(words(result));
        }
    }
    let mut reasons: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for result in &run.results {
        if let Some(reason) = result.outcome.reason() {
            let names = reasons.entry(reason).or_default();
            if !names.contains(&result.metric.name) {
                names.push(result.metric.name);
            }
        }
    }
    for (reason, names) in reasons {
        notes.push(format!("no value for {}: {reason}", names.join(", ")));
    }
    notes
}
