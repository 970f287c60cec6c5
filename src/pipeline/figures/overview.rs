//! The day at a glance: main metrics of every test by treatment.

use crate::chart::{Bound, Cell, DayOverview, Dot, DotGroup, DotState, MetricRow, Palette};
use crate::record::{Day, Finding, Outcome, RunRecord};
use crate::schema::{Level, Test};
use std::collections::BTreeSet;

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
    let samples: BTreeSet<String> = day
        .runs
        .iter()
        .filter(|run| run.conditions.treatment.is_some())
        .filter_map(|run| run.conditions.sample_id.as_ref().map(ToString::to_string))
        .collect();
    let facets: Vec<Option<String>> = if samples.len() <= MOST_FACETS {
        samples.into_iter().map(Some).collect()
    } else {
        vec![None]
    };
    let facets = if facets.is_empty() {
        vec![None]
    } else {
        facets
    };
    let mut rows = Vec::new();
    for (test, metrics) in OVERVIEW {
        for id in *metrics {
            let runs: Vec<&RunRecord> = day.runs.iter().filter(|run| run.test == *test).collect();
            if let Some(row) = metric_row(&runs, findings, palette, &facets, id) {
                rows.push(row);
            }
        }
    }
    (!rows.is_empty()).then(|| DayOverview {
        title: title.to_owned(),
        subtitle: "each dot one run · bar: mean of the exact values that no rule rejects".into(),
        palette: palette.clone(),
        centre_name: "mean".into(),
        rows,
        notes: Vec::new(),
        caption: format!("{} runs", day.runs.len()),
    })
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
    group.centre = (count > 0.0).then(|| sum / count);
    group
}

fn state_of(run: &RunRecord, findings: &[Finding]) -> DotState {
    let worst = findings
        .iter()
        .filter(|f| f.run_id.as_ref() == Some(&run.id))
        .map(|f| f.level)
        .max();
    match worst {
        Some(Level::Reject) => DotState::Rejected,
        Some(Level::Warn) => DotState::Flagged,
        _ => DotState::Kept,
    }
}
