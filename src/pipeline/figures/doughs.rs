//! The figures of doughs: what several runs of one dough, or all doughs of a treatment, show
//! together.

use super::loaf::loaf_figure;
use super::{day_words, value_words, words};
use crate::chart::extension_curves::Reading;
use crate::chart::{
    Bound, EnergyBySource, EnergyGroup, Inflation, Paint, Palette, RateFit, RateGroup, RateLaw,
    RatePoint, Series,
};
use crate::derive::inflation::{Shape, mean_curve};
use crate::record::{Day, MetricResult, RunGroup, RunRecord};
use crate::schema::{ResultId, Test, Unit};
use std::collections::BTreeMap;

/// A figure of doughs with its file name and the runs it shows.
pub(in crate::pipeline) struct DoughFigure<'d> {
    pub name: String,
    pub title: String,
    pub figure: Box<dyn Paint>,
    pub runs: Vec<&'d RunRecord>,
    /// Results that are of no run, such as those of a sheet.
    pub results: Vec<ResultId>,
}

/// Returns every figure of the day's doughs.
pub(in crate::pipeline) fn dough_figures<'d>(
    day: &'d Day,
    palette: &Palette,
) -> Vec<DoughFigure<'d>> {
    let mut figures = inflation_figures(day, palette);
    figures.extend(firming_figure(day, palette));
    figures.extend(energy_figure(day, palette));
    figures.extend(loaf_figure(day, palette));
    figures
}

fn of_group<'g>(group: &'g RunGroup, id: &str) -> Option<&'g MetricResult> {
    group.results.iter().find(|result| {
        let default = result.metric.variants.first();
        result.metric.id == id && default.is_none_or(|v| v.id == result.variant)
    })
}

fn treatment_of(group: &RunGroup) -> String {
    let first = group.results.first();
    let stated = first.and_then(|r| r.conditions.treatment.clone());
    stated.unwrap_or_default()
}

/// Returns the runs of one test by their key.
fn runs_by_key(day: &Day, test: Test) -> BTreeMap<String, &RunRecord> {
    let of_test = day.runs.iter().filter(|run| run.test == test);
    of_test.map(|run| (run.key(), run)).collect()
}

fn series_of(name: String, shape: &Shape) -> Series {
    Series {
        name,
        x: shape.iter().map(|(x, _)| *x).collect(),
        y: shape.iter().map(|(_, y)| *y).collect(),
    }
}

/// Discs with their mean, a figure a dough.
fn inflation_figures<'d>(day: &'d Day, palette: &Palette) -> Vec<DoughFigure<'d>> {
    let groups = day.groups.iter();
    let runs = runs_by_key(day, Test::Inflation);
    let mut figures = Vec::new();
    for group in groups.filter(|group| group.test == Test::Inflation) {
        let members = group.members.iter();
        let kept: Vec<&RunRecord> = members.filter_map(|key| runs.get(key).copied()).collect();
        let aside = group.left_out.iter();
        let aside = aside.filter_map(|(key, why)| Some((*runs.get(key)?, why)));
        let with_shape = |run: &&&RunRecord| run.facts.shape.len() > 1;
        let shown: Vec<&RunRecord> = kept.iter().filter(with_shape).copied().collect();
        if shown.is_empty() {
            continue;
        }
        let shapes: Vec<&Shape> = shown.iter().map(|run| run.facts.shape.as_slice()).collect();
        let told = |id: &str| of_group(group, id);
        let reading = |at: Option<f64>, y: Option<f64>, id: &str| {
            let result = told(id)?;
            Some(Reading {
                x: at?,
                y: y?,
                label: words(result),
                bound: Bound::of(result.outcome.status())?,
            })
        };
        let mean = series_of("mean".into(), &mean_curve(&shapes));
        let top = mean
            .x
            .iter()
            .zip(&mean.y)
            .max_by(|a, b| a.1.total_cmp(b.1))
            .map(|(x, y)| (*x, *y));
        let end = mean.x.last().copied().zip(mean.y.last().copied());
        let figure = Inflation {
            words: day_words(
                &inflation_title(group),
                palette,
                (kept.len(), 1),
                group.results.iter(),
            ),
            treatment: Some(treatment_of(group)).filter(|t| !t.is_empty()),
            x_label: "length / mm".into(),
            y_label: format!("overpressure / {}", Unit::MillimetreWater),
            discs: shown
                .iter()
                .map(|run| series_of(run.id.to_string(), &run.facts.shape))
                .collect(),
            excluded: aside
                .map(|(run, why)| series_of(why.clone(), &run.facts.shape))
                .collect(),
            p: reading(top.map(|t| t.0), top.map(|t| t.1), "inflation.overpressure"),
            l: reading(
                end.map(|t| t.0),
                end.map(|t| t.1),
                "inflation.extensibility",
            ),
            w_label: told("inflation.deformation_energy").map_or_else(String::new, words),
            mean,
            nominal: None,
        };
        figures.push(DoughFigure {
            name: format!("inflation-{}", figures.len() + 1),
            title: figure.words.title.clone(),
            figure: Box::new(figure),
            runs: kept,
            results: Vec::new(),
        });
    }
    figures
}

/// Returns the title of a dough's bubbles: its name ends with that of the test.
fn inflation_title(group: &RunGroup) -> String {
    let name = group.name.trim_end_matches("inflation");
    format!("Inflation, {}", name.trim_end_matches([',', ' ']))
}

/// Firmness over the days, with each dough's law of firming.
fn firming_figure<'d>(day: &'d Day, palette: &Palette) -> Option<DoughFigure<'d>> {
    let firmness: Vec<&RunGroup> = day
        .groups
        .iter()
        .filter(|group| group.test == Test::Firmness)
        .collect();
    let by_key = runs_by_key(day, Test::Firmness);
    let mut groups: BTreeMap<String, RateGroup> = BTreeMap::new();
    let mut oldest: f64 = 0.0;
    let (mut doughs, mut runs) = (0, Vec::new());
    for group in &firmness {
        let treatment = treatment_of(group);
        let own = groups.entry(treatment.clone()).or_default();
        own.treatment = treatment;
        let members = group.members.iter();
        let kept: Vec<&RunRecord> = members.filter_map(|key| by_key.get(key).copied()).collect();
        let age = kept
            .first()
            .and_then(|run| run.metadata.number(crate::schema::Field::AgeD));
        if let (Some(mean), Some(age)) = (of_group(group, "firmness.mean_force_25"), age) {
            oldest = oldest.max(age);
            own.points.extend(point(mean, age));
            runs.extend(kept);
        }
    }
    for group in firmness {
        let Some(law) = firming_law(group, oldest) else {
            continue;
        };
        doughs += 1;
        if let Some(own) = groups.get_mut(&treatment_of(group)) {
            own.laws.push(law);
        }
    }
    let groups: Vec<RateGroup> = groups
        .into_values()
        .filter(|group| !group.points.is_empty())
        .collect();
    if groups.is_empty() {
        return None;
    }
    let apart = groups.len() > 1;
    let title = "Firming of the crumb over the days";
    let results = day
        .groups
        .iter()
        .filter(|group| group.test == Test::Firmness);
    let results = results.flat_map(|group| &group.results);
    let figure = RateFit {
        words: day_words(title, palette, (runs.len(), doughs), results),
        x_label: "age / d".into(),
        y_label: "force at 25 % compression / N".into(),
        groups,
        level: None,
        apart,
    };
    Some(DoughFigure {
        name: "firmness".into(),
        title: title.into(),
        figure: Box::new(figure),
        runs,
        results: Vec::new(),
    })
}

fn point(result: &MetricResult, x: f64) -> Option<RatePoint> {
    let estimate = result.outcome.estimate();
    Some(RatePoint {
        x,
        y: result.outcome.value_or_bound()?,
        interval: estimate.map(|e| (e.low(), e.high())),
        bound: Bound::of(result.outcome.status())?,
        aside: false,
    })
}

/// Returns the law of one dough: F∞ − (F∞ − F0) exp(−k t), the default reading of its group.
fn firming_law(group: &RunGroup, oldest: f64) -> Option<RateLaw> {
    let value = |id: &str| of_group(group, id)?.outcome.value();
    let initial = value("firmness.initial")?;
    let (last, rate) = (value("firmness.final")?, value("firmness.rate_constant")?);
    const POINTS: usize = 60;
    let x: Vec<f64> = (0..=POINTS)
        .map(|i| oldest * i as f64 / POINTS as f64)
        .collect();
    let y = x
        .iter()
        .map(|t| last - (last - initial) * libm::exp(-rate * t))
        .collect();
    let half = of_group(group, "firmness.half_time");
    Some(RateLaw {
        label: half.map_or_else(String::new, |result| {
            format!("half time {}", value_words(result))
        }),
        line: Series {
            name: String::new(),
            x,
            y,
        },
        ..RateLaw::default()
    })
}

/// Parts of a dough's energy from the bottom of the stack, with their metrics.
const PARTS: &[(&str, &str)] = &[
    ("jet, hydraulic", "mixer-log.dough_hydraulic_energy"),
    ("after-mix", "mixer-log.dough_after_mix_energy"),
];

/// Energy by source, a bar a treatment.
fn energy_figure<'d>(day: &'d Day, palette: &Palette) -> Option<DoughFigure<'d>> {
    let logs: Vec<&RunGroup> = day
        .groups
        .iter()
        .filter(|group| group.test == Test::MixerLog)
        .collect();
    let mut by_treatment: BTreeMap<String, Vec<&RunGroup>> = BTreeMap::new();
    for group in &logs {
        let total = of_group(group, "mixer-log.dough_total_energy");
        if total.is_some_and(|result| result.outcome.value().is_some()) {
            by_treatment
                .entry(treatment_of(group))
                .or_default()
                .push(group);
        }
    }
    if by_treatment.is_empty() {
        return None;
    }
    let mean = |groups: &[&RunGroup], id: &str| -> f64 {
        let values = groups
            .iter()
            .filter_map(|g| of_group(g, id)?.outcome.value());
        let values: Vec<f64> = values.collect();
        match values.len() {
            0 => 0.0,
            n => values.iter().sum::<f64>() / n as f64,
        }
    };
    let doughs: usize = by_treatment.values().map(Vec::len).sum();
    let groups = by_treatment.iter().map(|(treatment, groups)| {
        let total = mean(groups, "mixer-log.dough_total_energy");
        let parts: Vec<f64> = PARTS.iter().map(|(_, id)| mean(groups, id)).collect();
        // What is not told apart is work of the mixer itself.
        let rest = (total - parts.iter().sum::<f64>()).max(0.0);
        EnergyGroup {
            treatment: treatment.clone(),
            parts_kj_per_kg: std::iter::once(rest).chain(parts).collect(),
            note: match groups.len() {
                1 => "1 dough".to_owned(),
                n => format!("{n} doughs"),
            },
            ..EnergyGroup::default()
        }
    });
    let sources = std::iter::once("mixing").chain(PARTS.iter().map(|(name, _)| *name));
    let title = "Energy of a dough by source";
    let results = logs.iter().flat_map(|group| &group.results);
    let figure = EnergyBySource {
        words: day_words(title, palette, (0, doughs), results),
        sources: sources.map(str::to_owned).collect(),
        groups: groups.collect(),
        development_label: String::new(),
        equal_development: None,
    };
    let runs = day.runs.iter().filter(|run| run.test == Test::MixerLog);
    Some(DoughFigure {
        name: "energy".into(),
        title: title.into(),
        figure: Box::new(figure),
        runs: runs.collect(),
        results: Vec::new(),
    })
}
