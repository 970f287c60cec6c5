//! Curves by treatment: each run, the mean, and the band from least to greatest.

use super::multiples::MOST_OVERLAID;
use super::{Sketch, is_series, planned_rest_min, sketch_step, state_of};
use crate::chart::{DotState, Group, Overlay, Palette, Reference, Series};
use crate::record::{Day, Finding, RunRecord};
use crate::schema::{Axis, Test};
use std::collections::{BTreeMap, BTreeSet};

/// What makes curves comparable: one test, flour, unit, abscissa and rest.
type Kind = (Test, String, String, String, bool);

/// Returns one overlay for each kind of curve that more than one run shows.
pub(in crate::pipeline) fn overlays(
    day: &Day,
    findings: &[Finding],
    sketches: &[Sketch],
    palette: &Palette,
) -> Vec<Overlay> {
    let mut kinds: BTreeMap<Kind, Vec<usize>> = BTreeMap::new();
    for (index, run) in day.runs.iter().enumerate() {
        // A rejected run has no place in a mean, nor has one of another water level.
        let drawn = names_of(run.test).is_some()
            && run.conditions.treatment.is_some()
            && !is_series(run)
            && state_of(run, findings) != DotState::Rejected;
        if drawn && sketches.get(index).is_some_and(|sketch| sketch.x.len() > 1) {
            kinds.entry(kind_of(run)).or_default().push(index);
        }
    }
    kinds
        .iter()
        .filter(|(_, runs)| runs.len() > 1)
        .map(|(kind, runs)| overlay(day, sketches, palette, kind, runs))
        .collect()
}

/// Returns what the curves of a test, their abscissa and their ordinate are called; `None` for a test
/// whose runs have figures of another kind.
fn names_of(test: Test) -> Option<(&'static str, &'static str, &'static str)> {
    Some(match test {
        Test::Mixing => (
            "Mixing curves",
            "time from water contact / min",
            "consistency",
        ),
        Test::PinMixing => (
            "Pin-mixer curves",
            "time from water contact / min",
            "height",
        ),
        Test::Heating => ("Mixing and heating curves", "time / min", "torque"),
        Test::Extension => ("Extension curves", "", "resistance"),
        Test::Strip => ("Force on the hook", "hook travel / mm", "force"),
        _ => return None,
    })
}

fn kind_of(run: &RunRecord) -> Kind {
    let sample = run.conditions.sample_id.as_ref().map(ToString::to_string);
    let rest = match run.test {
        Test::Extension => planned_rest_min(run).map(|rest| format!("{rest:.0}")),
        _ => None,
    };
    let hook = run.facts.axis == Some(Axis::HookTravelMm);
    (
        run.test,
        sample.unwrap_or_default(),
        run.unit.to_string(),
        rest.unwrap_or_default(),
        hook,
    )
}

fn overlay(
    day: &Day,
    sketches: &[Sketch],
    palette: &Palette,
    (test, sample, unit, rest, hook): &Kind,
    runs: &[usize],
) -> Overlay {
    let mut by_treatment: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for &index in runs {
        if let Some(treatment) = &day.runs[index].conditions.treatment {
            by_treatment.entry(treatment).or_default().push(index);
        }
    }
    let groups: Vec<Group> = by_treatment
        .iter()
        .map(|(treatment, members)| group(day, sketches, treatment, members))
        .collect();
    let subtitle = match groups.iter().all(|group| group.runs.is_empty()) {
        true => "thick: mean · band: least to greatest",
        false => "thin: each run · thick: mean · band: least to greatest",
    };
    let flour = if sample.is_empty() {
        "flour not stated".to_owned()
    } else {
        format!("flour {sample}")
    };
    let blocks: BTreeSet<&String> = runs
        .iter()
        .filter_map(|&i| day.runs[i].conditions.block.as_ref())
        .collect();
    let mixing = *test == Test::Mixing;
    let (title, x_label, y_name) = names_of(*test).unwrap_or_default();
    let after = if rest.is_empty() {
        String::new()
    } else {
        format!(", {rest} min rest")
    };
    Overlay {
        title: format!("{title} by treatment, {flour}{after}"),
        subtitle: subtitle.into(),
        palette: palette.clone(),
        x_label: match test {
            Test::Extension => extension_label(*hook).into(),
            _ => x_label.into(),
        },
        y_label: format!("{y_name} / {unit}"),
        groups,
        reference: (mixing && unit == "FU").then(|| Reference {
            value: 500.0,
            label: "500 FU".into(),
        }),
        notes: Vec::new(),
        caption: format!(
            "{}, {}",
            counted(runs.len(), "run", "runs"),
            counted(blocks.len(), "block", "blocks")
        ),
    }
}

fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// Returns what the abscissa of an extension curve is called.
pub(super) fn extension_label(hook: bool) -> &'static str {
    if hook {
        "hook travel / mm"
    } else {
        "extension on the chart / mm"
    }
}

/// Returns where the curve of a run ends for a mean: after a piece has torn there is no dough.
fn end_of(run: &RunRecord, sketch: &Sketch) -> f64 {
    let last = sketch.x.last().copied().unwrap_or(0.0);
    match (run.facts.rupture_mm, run.facts.contact_mm) {
        (Some(rupture), Some(contact)) => last.min(rupture - contact),
        _ => last,
    }
}

fn group(day: &Day, sketches: &[Sketch], treatment: &str, members: &[usize]) -> Group {
    // The mean is drawn where every member has a value: a mean that changes its members half way
    // would show steps that no dough made.
    let first = members
        .iter()
        .filter_map(|&i| sketches[i].x.first())
        .copied()
        .fold(f64::MIN, f64::max);
    let last = members
        .iter()
        .map(|&i| end_of(&day.runs[i], &sketches[i]))
        .fold(f64::MAX, f64::min);
    let mut group = Group {
        treatment: treatment.to_owned(),
        ..Group::default()
    };
    let mut doughs = BTreeSet::new();
    for &index in members {
        let run = &day.runs[index];
        let dough = run.conditions.batch_id.as_ref().map(ToString::to_string);
        doughs.insert(dough.unwrap_or_else(|| run.id.to_string()));
        // More runs than these hide each other: they have small panels of their own.
        if run.test != Test::Mixing || members.len() <= MOST_OVERLAID {
            group.runs.push(Series {
                name: run.id.to_string(),
                x: sketches[index].x.clone(),
                y: sketches[index].centre.clone(),
            });
        }
    }
    group.doughs = doughs.len();
    group.mean.name = treatment.to_owned();
    let step = members
        .first()
        .map_or(1.0, |&i| sketch_step(day.runs[i].test));
    let steps = ((last - first) / step).floor();
    if !(steps.is_finite() && steps >= 1.0) {
        return group;
    }
    for i in 0..=(steps as usize) {
        let x = first + i as f64 * step;
        let values: Vec<f64> = members.iter().filter_map(|&i| sketches[i].at(x)).collect();
        if values.len() < members.len() {
            continue;
        }
        group.mean.x.push(x);
        group
            .mean
            .y
            .push(values.iter().sum::<f64>() / values.len() as f64);
        group
            .lower
            .push(values.iter().copied().fold(f64::MAX, f64::min));
        group
            .upper
            .push(values.iter().copied().fold(f64::MIN, f64::max));
    }
    group
}
