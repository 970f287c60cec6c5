//! Figures from records: plain data put where a chart expects it. No metric is computed here.

use crate::chart::{
    Bound, Cell, DayOverview, Dot, DotGroup, DotState, Group, Mark, MarkShape, MetricRow, Overlay,
    Palette, Provenance, Reference, RunCurve, Series,
};
use crate::numerics::value_at;
use crate::record::{Day, Finding, MetricResult, Outcome, ReadCurve, RunRecord};
use crate::schema::{Level, Test};
use std::collections::{BTreeMap, BTreeSet};

/// A run's centre line on a coarse grid, kept for the figures of the day.
#[derive(Debug, Clone, Default)]
pub(super) struct Sketch {
    /// Abscissa, min.
    x: Vec<f64>,
    /// Centre.
    centre: Vec<f64>,
}

/// Grid of sketches, min: fine enough for a chart 1,000 pixels wide and 20 min long.
const SKETCH_STEP_MIN: f64 = 0.05;

impl Sketch {
    /// Returns the sketch of `curve`.
    pub(super) fn of(curve: &ReadCurve) -> Sketch {
        let (Some(first), Some(last), true) = (
            curve.x.first(),
            curve.x.last(),
            curve.x.len() == curve.centre.len(),
        ) else {
            return Sketch::default();
        };
        // What lies before water contact is no dough.
        let from = (first.max(0.0) / SKETCH_STEP_MIN).ceil() as i64;
        let to = (last / SKETCH_STEP_MIN).floor() as i64;
        let x: Vec<f64> = (from..=to.min(from + 20_000))
            .map(|i| i as f64 * SKETCH_STEP_MIN)
            .collect();
        let mut next = 1;
        let centre = x
            .iter()
            .map(|at| {
                while next + 1 < curve.x.len() && curve.x[next] < *at {
                    next += 1;
                }
                let near = next - 1..(next + 1).min(curve.x.len());
                value_at(&curve.x[near.clone()], &curve.centre[near], *at).unwrap_or(0.0)
            })
            .collect();
        Sketch { x, centre }
    }

    fn at(&self, x: f64) -> Option<f64> {
        value_at(&self.x, &self.centre, x)
    }
}

/// Returns the palette of the day's treatments.
pub(super) fn palette(day: &Day) -> Palette {
    let of_runs = day
        .runs
        .iter()
        .filter_map(|run| run.conditions.treatment.clone());
    let of_grades = day
        .observations
        .iter()
        .filter_map(|seen| seen.treatment.clone());
    Palette::new(of_runs.chain(of_grades).collect::<BTreeSet<_>>())
}

/// Returns where a figure of `runs` comes from.
pub(super) fn provenance<'r>(runs: impl IntoIterator<Item = &'r RunRecord>) -> Provenance {
    let mut from = Provenance {
        software: super::plan::software(),
        ..Provenance::default()
    };
    for run in runs {
        from.runs.push(run.id.clone());
        from.results
            .extend(run.results.iter().map(|result| result.id.clone()));
        from.raw.push(run.file.sha256.clone());
    }
    from.raw.sort();
    from.raw.dedup();
    from
}

/// Returns a result as words: value, unit, expanded uncertainty, or what stands for them.
fn words(result: &MetricResult) -> String {
    let card = &result.metric;
    match &result.outcome {
        Outcome::Exact(e) => format!(
            "{} {} {} ± {}",
            card.name,
            card.format(e.value()),
            result.unit,
            card.format(2.0 * e.std_uncertainty())
        ),
        Outcome::Above(bound) => format!("{} > {} {}", card.name, card.format(*bound), result.unit),
        Outcome::Below(bound) => format!("{} < {} {}", card.name, card.format(*bound), result.unit),
        other => format!("{}: {}", card.name, other.status()),
    }
}

/// Returns the figure of one mixing run.
pub(super) fn mixing_curve(run: &RunRecord, curve: &ReadCurve, palette: &Palette) -> RunCurve {
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
    let (peak, _) = (development.map(|d| d.1), ());
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

/// Returns one overlay for each flour that more than one mixing run was made of.
pub(super) fn mixing_overlays(day: &Day, sketches: &[Sketch], palette: &Palette) -> Vec<Overlay> {
    let mut by_sample: BTreeMap<(String, String), Vec<usize>> = BTreeMap::new();
    for (index, run) in day.runs.iter().enumerate() {
        let drawn = run.test == Test::Mixing && run.conditions.treatment.is_some();
        if drawn && sketches.get(index).is_some_and(|s| s.x.len() > 1) {
            let sample = run.conditions.sample_id.as_ref().map(ToString::to_string);
            let key = (sample.unwrap_or_default(), run.unit.to_string());
            by_sample.entry(key).or_default().push(index);
        }
    }
    by_sample
        .into_iter()
        .filter(|(_, runs)| runs.len() > 1)
        .map(|((sample, unit), runs)| overlay(day, sketches, palette, (&sample, &unit), &runs))
        .collect()
}

fn overlay(
    day: &Day,
    sketches: &[Sketch],
    palette: &Palette,
    (sample, unit): (&str, &str),
    runs: &[usize],
) -> Overlay {
    let mut by_treatment: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for &index in runs {
        if let Some(treatment) = &day.runs[index].conditions.treatment {
            by_treatment.entry(treatment).or_default().push(index);
        }
    }
    let groups = by_treatment
        .iter()
        .map(|(treatment, members)| group(day, sketches, treatment, members))
        .collect();
    let flour = if sample.is_empty() {
        "flour not stated".to_owned()
    } else {
        format!("flour {sample}")
    };
    let blocks: BTreeSet<&String> = runs
        .iter()
        .filter_map(|&i| day.runs[i].conditions.block.as_ref())
        .collect();
    Overlay {
        title: format!("Mixing curves by treatment, {flour}"),
        subtitle: "thin: smoothed centre of each run · thick: mean · band: least to greatest"
            .into(),
        palette: palette.clone(),
        x_label: "time from water contact / min".into(),
        y_label: format!("consistency / {unit}"),
        groups,
        reference: (unit == "FU").then(|| Reference {
            value: 500.0,
            label: "500 FU".into(),
        }),
        notes: Vec::new(),
        caption: format!("{} runs, {} blocks", runs.len(), blocks.len()),
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
        .filter_map(|&i| sketches[i].x.last())
        .copied()
        .fold(f64::MAX, f64::min);
    let mut group = Group {
        treatment: treatment.to_owned(),
        ..Group::default()
    };
    let mut doughs = BTreeSet::new();
    for &index in members {
        let run = &day.runs[index];
        doughs.insert(
            run.conditions
                .batch_id
                .as_ref()
                .map_or(run.id.to_string(), ToString::to_string),
        );
        group.runs.push(Series {
            name: run.id.to_string(),
            x: sketches[index].x.clone(),
            y: sketches[index].centre.clone(),
        });
    }
    group.doughs = doughs.len();
    let steps = ((last - first) / SKETCH_STEP_MIN).floor();
    if steps.is_finite() && steps >= 1.0 {
        for step in 0..=(steps as usize) {
            let x = first + step as f64 * SKETCH_STEP_MIN;
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
    }
    group.mean.name = treatment.to_owned();
    group
}

/// Metrics of the overview, by test.
const OVERVIEW: &[(Test, &[&str])] = &[(
    Test::Mixing,
    &[
        "mixing.water_absorption",
        "mixing.development_time",
        "mixing.stability",
        "mixing.tolerance_index",
        "mixing.softening_12min",
    ],
)];

/// Most flours that get a panel of their own.
const MOST_FACETS: usize = 3;

/// Returns the overview of the day; `None` when no run has a treatment.
pub(super) fn day_overview(
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
