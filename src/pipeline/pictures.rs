//! The day's pictures: drawn in a second pass over the raw files, so that memory never holds the
//! curves of a whole day.

use super::chart_options::Shown;
use super::figures::{self, Sketch};
use super::output::Staging;
use super::process::Progress;
use super::{Discovered, FoundFile, Plan, ProcessError, import_file, link};
use crate::chart::{Page, Paint, Palette, Provenance};
use crate::derive;
use crate::intake::Records;
use crate::record::{Day, Finding, Run, RunRecord};
use crate::report::{ChartSet, Picture};
use crate::trend::Trend;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Most run charts that travel inside the report; beyond it they lie beside it.
const MOST_EMBEDDED: usize = 60;

/// Most run charts that travel inside the report in double resolution; more are carried in single
/// resolution, so that a page stays below some 5 MB. The files beside it are always double.
const MOST_EMBEDDED_DOUBLE: usize = 12;

/// Most pages of small panels that travel inside the report; more of them lie beside it.
const MOST_MULTIPLES: usize = 4;

/// Draws every chart, writes them to the output and returns the pictures of the report.
pub(super) fn draw(
    plan: &Plan,
    found: &Discovered,
    (day, findings): (&Day, &[Finding]),
    (sketches, trends): (&[Sketch], &[Trend]),
    (staging, progress): (&Staging, &dyn Progress),
) -> Result<ChartSet, ProcessError> {
    let palette = figures::palette(day);
    let mut set = ChartSet {
        overview: day_pictures(plan, day, findings, sketches, &palette, staging)?,
        runs: Vec::new(),
    };
    set.overview.extend(control_charts(plan, trends, staging)?);
    let names = chart_names(day);
    let runs: BTreeMap<(&str, &str), usize> = day
        .runs
        .iter()
        .enumerate()
        .map(|(index, run)| ((run.file.name.as_str(), run.selector.as_str()), index))
        .collect();
    let with_runs: BTreeSet<&str> = day.runs.iter().map(|run| run.file.name.as_str()).collect();
    let files: Vec<&FoundFile> = found
        .files
        .iter()
        .filter(|file| with_runs.contains(file.name.as_str()))
        .collect();
    let shown = match day.runs.len() {
        n if n <= MOST_EMBEDDED_DOUBLE => Shown::Inside,
        n if n <= MOST_EMBEDDED => Shown::InsideSmall,
        _ => Shown::Beside,
    };
    let sheets = link::Sheets {
        list: day.sheets.clone(),
    };
    let drawn: Vec<Result<Vec<(usize, Picture)>, ProcessError>> = files
        .par_iter()
        .map(|file| {
            let lookup = (&runs, names.as_slice(), &palette, &sheets);
            let work = draw_file(plan, file, day, lookup, (staging, shown));
            progress.chart();
            work
        })
        .collect();
    let mut pictures: Vec<(usize, Picture)> = Vec::new();
    for result in drawn {
        pictures.extend(result?);
    }
    pictures.sort_by_key(|(index, _)| *index);
    set.runs = pictures.into_iter().map(|(_, picture)| picture).collect();
    Ok(set)
}

type Lookup<'a> = (
    &'a BTreeMap<(&'a str, &'a str), usize>,
    &'a [String],
    &'a Palette,
    &'a link::Sheets,
);

fn draw_file(
    plan: &Plan,
    file: &FoundFile,
    day: &Day,
    (runs, names, palette, sheets): Lookup<'_>,
    (staging, shown): (&Staging, Shown),
) -> Result<Vec<(usize, Picture)>, ProcessError> {
    let wanted = link::profile_named_for(&file.name, sheets);
    // The first pass read this file; if it changed since, its charts are left out, not guessed.
    let Ok(intake) = import_file(plan, file, wanted) else {
        return Ok(Vec::new());
    };
    let Records::Curves(read) = intake.records else {
        return Ok(Vec::new());
    };
    let mut pictures = Vec::new();
    for run in &read {
        let key = (run.file.name.as_str(), run.selector.as_str());
        let Some(&index) = runs.get(&key) else {
            continue;
        };
        let record = &day.runs[index];
        if record.file.sha256 != run.file.sha256 {
            continue;
        }
        let Some(figure) = figure_of(run, record, palette) else {
            continue;
        };
        let from = figures::provenance([record]);
        let title = format!("Run {}", record.id);
        let picture = plan.chart_options.put(
            (figure.as_ref(), Page::default()),
            &from,
            (&title, &names[index], shown),
            staging,
        )?;
        pictures.push((index, picture.of_run(&record.id)));
    }
    Ok(pictures)
}

/// Returns the figure of a run, derived anew; `None` for a run that cannot be drawn.
fn figure_of(run: &Run, record: &RunRecord, palette: &Palette) -> Option<Box<dyn Paint>> {
    let derived = derive::derive_run(run, std::sync::Arc::clone(&record.conditions))?;
    figures::run_figure(run, record, &derived.curve, palette)
}

fn day_pictures(
    plan: &Plan,
    day: &Day,
    findings: &[Finding],
    sketches: &[Sketch],
    palette: &Palette,
    staging: &Staging,
) -> Result<Vec<Picture>, ProcessError> {
    let mut pictures = Vec::new();
    let mut put = |figure: &dyn Paint, from: &Provenance, told: (&str, &str, Shown)| {
        let page = (figure, Page::default());
        pictures.push(plan.chart_options.put(page, from, told, staging)?);
        Ok::<(), ProcessError>(())
    };
    let from = figures::provenance(&day.runs);
    if let Some(figure) = figures::day_overview(day, findings, palette, &plan.title) {
        put(
            &figure,
            &from,
            ("The day at a glance", "day-overview", Shown::Inside),
        )?;
    }
    let overlays = figures::overlays(day, findings, sketches, palette);
    for (number, figure) in overlays.iter().enumerate() {
        let name = format!("curves-by-treatment-{}", number + 1);
        put(figure, &from, (&figure.title, &name, Shown::Inside))?;
    }
    let multiples = figures::small_multiples(day, findings, sketches, palette);
    let shown = match multiples.len() {
        0..=MOST_MULTIPLES => Shown::InsideSmall,
        _ => Shown::Beside,
    };
    for (number, (figure, runs)) in multiples.iter().enumerate() {
        let from = figures::provenance(runs.iter().copied());
        let name = format!("runs-by-treatment-{}", number + 1);
        put(figure, &from, (&figure.words.title, &name, shown))?;
    }
    let extensions = figures::extension_figures(day, sketches, palette);
    for (number, (figure, runs)) in extensions.iter().enumerate() {
        let from = figures::provenance(runs.iter().copied());
        let name = format!("extension-by-rest-{}", number + 1);
        put(figure, &from, (&figure.title, &name, Shown::Inside))?;
    }
    for of_doughs in figures::dough_figures(day, palette) {
        let mut from = figures::provenance(of_doughs.runs);
        from.results.extend(of_doughs.results);
        let figure = of_doughs.figure.as_ref();
        put(
            figure,
            &from,
            (&of_doughs.title, &of_doughs.name, Shown::Inside),
        )?;
    }
    for figure in figures::membrane_figures(day, palette) {
        put(
            &figure,
            &from,
            (&figure.title, "membrane-grades", Shown::Inside),
        )?;
    }
    Ok(pictures)
}

/// Draws the control charts of the reference flour: those out of control, and one of each
/// instrument that is in control.
fn control_charts(
    plan: &Plan,
    trends: &[Trend],
    staging: &Staging,
) -> Result<Vec<Picture>, ProcessError> {
    let mut pictures = Vec::new();
    let mut instruments: BTreeSet<&str> = BTreeSet::new();
    for trend in trends {
        let first = instruments.insert(&trend.series.instrument);
        if !trend.out_now && !first {
            continue;
        }
        let figure = figures::control_chart(trend);
        let from = figures::provenance_of_results(&trend.series);
        let name = format!("control-{}", pictures.len() + 1);
        let told = (figure.words.title.as_str(), name.as_str(), Shown::Inside);
        let page = (&figure as &dyn Paint, Page::default());
        pictures.push(plan.chart_options.put(page, &from, told, staging)?);
    }
    Ok(pictures)
}

/// Returns a file name for each run's chart: the run's name with everything but letters, digits
/// and `.-_` replaced, and a number behind where two would be the same.
fn chart_names(day: &Day) -> Vec<String> {
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    day.runs
        .iter()
        .map(|run| {
            let safe = safe_name(run.id.as_str());
            // Names that differ only in case are one file on some disks.
            let count = seen.entry(safe.to_ascii_lowercase()).or_insert(0);
            *count += 1;
            let base = format!("run-{safe}");
            if *count == 1 {
                base
            } else {
                format!("{base}-{count}")
            }
        })
        .collect()
}

/// Returns `name` as part of a file name: everything but letters, digits and `.-_` replaced, and no
/// dot in front.
pub(super) fn safe_name(name: &str) -> String {
    let safe: String = name
        .chars()
        .map(|c| {
            if c.is_ascii_alphanumeric() || "-_.".contains(c) {
                c
            } else {
                '_'
            }
        })
        .collect();
    safe.trim_start_matches('.').to_owned()
}
