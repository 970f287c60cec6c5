//! Figures from records: plain data put where a chart expects it. No metric is computed here.

mod control;
mod doughs;
mod extension;
mod loaf;
mod membrane;
mod mixing;
mod multiples;
mod overlay;
mod overview;
mod single;
mod stress;

pub(super) use control::{control_chart, provenance_of_results};
pub(super) use doughs::dough_figures;
pub(super) use extension::extension_figures;
pub(super) use membrane::membrane_figures;
pub(super) use multiples::small_multiples;
pub(super) use overlay::overlays;
pub(super) use overview::day_overview;
pub(super) use single::run_figure;

use crate::chart::{Counts, DotState, Palette, Provenance, Words, caption};
use crate::numerics::value_at;
use crate::record::{Day, Finding, MetricResult, ReadCurve, RunRecord};
use crate::report;
use crate::schema::{Field, Level, Purpose, ResultId, Test};
use std::collections::BTreeSet;

/// A run's centre line on a coarse grid, kept for the figures of the day.
#[derive(Debug, Clone, Default)]
pub(super) struct Sketch {
    /// Abscissa, min or mm.
    x: Vec<f64>,
    /// Centre.
    centre: Vec<f64>,
}

/// Grid of sketches: fine enough for a chart 1,000 pixels wide and 20 min or 200 mm long.
fn sketch_step(test: Test) -> f64 {
    match test {
        Test::Extension => 0.5,
        _ => 0.05,
    }
}

impl Sketch {
    /// Returns the sketch of `curve`.
    pub(super) fn of(curve: &ReadCurve, test: Test) -> Sketch {
        let step = sketch_step(test);
        let (Some(first), Some(last), true) = (
            curve.x.first(),
            curve.x.last(),
            curve.x.len() == curve.centre.len(),
        ) else {
            return Sketch::default();
        };
        // What lies before water contact is no dough.
        let from = (first.max(0.0) / step).ceil() as i64;
        let to = (last / step).floor() as i64;
        let x: Vec<f64> = (from..=to.min(from + 20_000))
            .map(|i| i as f64 * step)
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

/// Returns a result as words: name, then value and spread as the report prints them.
fn words(result: &MetricResult) -> String {
    let card = &result.metric;
    match result.outcome.value_or_bound() {
        Some(_) => format!("{} {}", card.name, value_words(result)),
        None => format!("{}: {}", card.name, result.outcome.status()),
    }
}

/// Returns a result's value with unit and spread.
fn value_words(result: &MetricResult) -> String {
    let (value, spread) = report::words_of(&result.metric, &result.outcome);
    let unit = match result.unit.to_string() {
        // A unit that begins with a power of ten would run into the value.
        unit if unit.starts_with("10") => format!("× {unit}"),
        unit => unit,
    };
    let text = format!("{} {unit} {spread}", value.replace('-', "−"));
    text.trim_end().to_owned()
}

/// Returns the texts around the figure of one run.
fn words_around(run: &RunRecord, palette: &Palette, notes: Vec<String>) -> Words {
    let stated = [
        Some(run.file.name.clone()),
        run.conditions
            .sample_id
            .as_ref()
            .map(|id| format!("flour {id}")),
        run.conditions
            .batch_id
            .as_ref()
            .map(|id| format!("dough {id}")),
        run.conditions.treatment.clone(),
    ];
    let ids: Vec<ResultId> = run.results.iter().map(|result| result.id.clone()).collect();
    let counts = Counts {
        runs: 1,
        ..Counts::default()
    };
    Words {
        title: run.id.to_string(),
        subtitle: stated.into_iter().flatten().collect::<Vec<_>>().join(" · "),
        palette: palette.clone(),
        notes,
        caption: caption(counts, &format!("{} readings", run.facts.points), &ids),
    }
}

/// Returns the texts around a figure of several runs and doughs.
fn day_words<'r>(
    title: &str,
    palette: &Palette,
    (runs, doughs): (usize, usize),
    results: impl Iterator<Item = &'r MetricResult>,
) -> Words {
    let ids: Vec<ResultId> = results.map(|result| result.id.clone()).collect();
    let counts = Counts {
        runs,
        doughs,
        blocks: 0,
    };
    Words {
        title: title.to_owned(),
        palette: palette.clone(),
        caption: caption(counts, "", &ids),
        ..Words::default()
    }
}

/// Whether a mixing run belongs to a planned series or a titration: its water level is no result.
fn is_series(run: &RunRecord) -> bool {
    let series = matches!(
        run.conditions.purpose,
        Some(Purpose::Study | Purpose::Titration)
    );
    run.test == Test::Mixing && series
}

/// Rest before stretching, as planned where a plan is stated, min.
fn planned_rest_min(run: &RunRecord) -> Option<f64> {
    run.metadata
        .number(Field::RestTargetMin)
        .or(run.metadata.number(Field::RestMin))
}

/// What the rules said about a run, for drawing.
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
