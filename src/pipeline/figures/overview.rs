//! The day at a glance: main metrics of every test by treatment.

use super::{is_series, planned_rest_min, state_of};
use crate::chart::{Bound, Cell, DayOverview, Dot, DotGroup, DotState, MetricRow, Palette};
use crate::record::{Day, Finding, Outcome, RunRecord};
use crate::schema::{Axis, Test};
use std::collections::{BTreeMap, BTreeSet};

/// Metrics of the overview, by test.
const OVERVIEW: &[(Test, &[&str])] = &[
    (
        Test::Mixing,
        &[
            "mixing.water_absorption",
            "mixing.development_time",
            "mixing.stability",
            "mixing.tolerance_index",
            "mixing.softening_12min",
        ],
    ),
    (
        Test::Extension,
        &[
            "extension.maximum_resistance",
            "extension.extensibility",
            "extension.ratio_rm_e",
        ],
    ),
];

/// Most flours that get a panel of their own.
const MOST_FACETS: usize = 3;

/// Returns the overview of the day; `None` when no run has a treatment.
pub(in crate::pipeline) fn day_overview(
    day: &Day,
    findings: &[Finding],
    palette: &Palette,
    title: &str,
) -> Option<DayOverview> {
    if palette.names().is_empty() {
        return None;
    }
    let mut rows = Vec::new();
    let (mut shown, mut left_out) = (0, 0);
    for (test, metrics) in OVERVIEW {
        let of_test: Vec<&RunRecord> = day
            .runs
            .iter()
            .filter(|run| run.test == *test && run.conditions.treatment.is_some())
            .collect();
        let kinds = comparable(&of_test);
        let compared: usize = kinds.iter().map(|(_, runs)| runs.len()).sum();
        shown += compared;
        left_out += of_test.len() - compared;
        for (kind, runs) in &kinds {
            let facets = facets_of(runs);
            for id in *metrics {
                if let Some(mut row) = metric_row(runs, findings, palette, &facets, id) {
                    row.title.push_str(kind);
                    rows.push(row);
                }
            }
        }
    }
    let notes = match left_out {
        0 => Vec::new(),
        n => vec![format!(
            "{n} runs of a planned series, a titration or a shorter rest are not shown: they answer another question"
        )],
    };
    (!rows.is_empty()).then(|| DayOverview {
        title: title.to_owned(),
        subtitle: "each dot one run · bar: mean of the exact values that no rule rejects".into(),
        palette: palette.clone(),
        centre_name: "mean".into(),
        rows,
        notes,
        caption: format!("{shown} of {} runs", day.runs.len()),
    })
}

/// Returns the runs that may stand side by side, with what tells their kind from others: no
/// hydration series and no titration among final runs, one abscissa, the longest rest.
fn comparable<'r>(runs: &[&'r RunRecord]) -> Vec<(String, Vec<&'r RunRecord>)> {
    let mut kinds: BTreeMap<String, Vec<&RunRecord>> = BTreeMap::new();
    for run in runs.iter().filter(|run| !is_series(run)) {
        let kind = match run.facts.axis {
            Some(Axis::HookTravelMm) => " (hook travel)",
            Some(Axis::ChartMm) => " (chart)",
            _ => "",
        };
        kinds.entry(kind.to_owned()).or_default().push(run);
    }
    kinds
        .into_iter()
        .map(|(kind, mut runs)| {
            let longest = runs
                .iter()
                .filter_map(|run| planned_rest_min(run))
                .fold(0.0, f64::max);
            runs.retain(|run| planned_rest_min(run).is_none_or(|rest| rest >= longest - 1.0));
            let after = if longest > 0.0 {
                format!(", {longest:.0} min rest")
            } else {
                String::new()
            };
            (format!("{kind}{after}"), runs)
        })
        .collect()
}

fn facets_of(runs: &[&RunRecord]) -> Vec<Option<String>> {
    let samples: BTreeSet<String> = runs
        .iter()
        .filter_map(|run| run.conditions.sample_id.as_ref().map(ToString::to_string))
        .collect();
    if samples.is_empty() || samples.len() > MOST_FACETS {
        return vec![None];
    }
    samples.into_iter().map(Some).collect()
}

fn metric_row(
    runs: &[&RunRecord],
    findings: &[Finding],
    palette: &Palette,
    facets: &[Option<String>],
    id: &str,
) -> Option<MetricRow> {
    let card = runs
        .iter()
        .find_map(|run| run.result(id))
        .map(|r| (r.metric, r.unit))?;
    let cells: Vec<Cell> = facets
        .iter()
        .map(|facet| Cell {
            facet: facet.clone().unwrap_or_default(),
            groups: palette
                .names()
                .iter()
                .map(|treatment| {
                    let members = runs.iter().filter(|run| {
                        run.conditions.treatment.as_ref() == Some(treatment)
                            && facet.as_ref().is_none_or(|wanted| {
                                run.conditions
                                    .sample_id
                                    .as_ref()
                                    .is_some_and(|s| s.as_str() == wanted)
                            })
                    });
                    dots(members.copied(), findings, treatment, id)
                })
                .collect(),
        })
        .collect();
    let any = cells
        .iter()
        .any(|cell| cell.groups.iter().any(|g| !g.dots.is_empty()));
    any.then(|| MetricRow {
        title: format!("{} / {}", card.0.name, card.1),
        cells,
    })
}

fn dots<'r>(
    runs: impl Iterator<Item = &'r RunRecord>,
    findings: &[Finding],
    treatment: &str,
    id: &str,
) -> DotGroup {
    let mut group = DotGroup {
        treatment: treatment.to_owned(),
        ..DotGroup::default()
    };
    let (mut sum, mut count) = (0.0, 0.0);
    for run in runs {
        let outcome = run.result(id).map(|r| &r.outcome);
        let place = outcome.and_then(|o| o.value_or_bound().zip(Bound::of(o.status())));
        let Some((value, bound)) = place else {
            group.no_value += 1;
            continue;
        };
        let state = state_of(run, findings);
        if bound == Bound::Exact && state != DotState::Rejected {
            sum += value;
            count += 1.0;
        }
        let interval = outcome
            .and_then(Outcome::estimate)
            .map(|e| (e.low(), e.high()));
        group.dots.push(Dot {
            value,
            interval,
            bound,
            state,
        });
    }
    // One value is its own mean: a bar through it would say nothing.
    group.centre = (count > 1.0).then(|| sum / count);
    group
}
