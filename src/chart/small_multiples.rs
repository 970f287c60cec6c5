//! Many runs as a grid of small panels with shared axes: each is seen, none hides another.

use super::axis::{Axis, range};
use super::canvas::{Blank, Canvas, Pen};
use super::figure::Paint;
use super::key::Swatch;
use super::layer::{Along, Dot, Layer};
use super::overlay::Series;
use super::picture::ChartError;
use super::plot::Plot;
use super::sheet::{GUTTER, Row, Sheet, columns};
use super::theme::{ASIDE, Dash, INK, MUTED, Marker, PAPER, dash};
use super::{Bound, words::Words};

/// One run.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Multiple {
    /// Name of the run.
    pub name: String,
    /// Treatment; decides colour and dash.
    pub treatment: String,
    /// Curve.
    pub curve: Series,
    /// Where the metric was read, when it was.
    pub mark: Option<(f64, f64, Bound)>,
    /// What is printed below the name, such as the metric or the finding; may be empty.
    pub note: String,
    /// Rejected by a quality rule: drawn pale and named so.
    pub rejected: bool,
}

/// A grid of runs.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SmallMultiples {
    /// Texts around the figure.
    pub words: Words,
    /// Abscissa with its unit.
    pub x_label: String,
    /// Ordinate with its unit.
    pub y_label: String,
    /// Curve drawn faintly in each panel to compare with, such as the mean of all runs.
    pub common: Series,
    /// Runs in the order drawn.
    pub runs: Vec<Multiple>,
}

impl Paint for SmallMultiples {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let told = self.runs.iter().map(|run| {
            let rejected = if run.rejected { ", rejected" } else { "" };
            format!("{} ({}){rejected} {}", run.name, run.treatment, run.note)
        });
        self.words.alt(told)
    }

    fn check(&self) -> Result<(), ChartError> {
        match self.runs.iter().all(|run| run.curve.x.is_empty()) {
            true => Err(ChartError::NoData(self.words.title.clone())),
            false => Ok(()),
        }
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let across = across(self.runs.len(), (blank.width(), blank.height()));
        let mut rows = Vec::new();
        let last = self.runs.len().div_ceil(across).saturating_sub(1);
        let slot = (blank.width() / across as f64 - GUTTER).max(1.0);
        for (index, line) in self.runs.chunks(across).enumerate() {
            let mut plots: Vec<(f64, Plot)> = Vec::with_capacity(across);
            for (column, run) in line.iter().enumerate() {
                let mut plot = self.plot(run);
                plot.y_ticks = column == 0;
                // A panel with nothing below it carries the values of its column.
                let lowest = index == last || (index + 1) * across + column >= self.runs.len();
                plot.x_ticks = lowest;
                if index != 0 || column != 0 {
                    plot.y_name.clear();
                }
                if index != last || column + 1 != line.len() {
                    plot.x_name.clear();
                }
                // The first of a row also holds the values of the ordinate.
                let share = if column == 0 { 1.0 + TICKS / slot } else { 1.0 };
                plots.push((share, plot));
            }
            let missing = across - plots.len();
            rows.push(Row {
                plots,
                weight: 1.0,
                least: LEAST,
            });
            if let Some(row) = rows.last_mut() {
                row.fill_up(missing);
            }
        }
        Sheet::new(&self.words, self.key(), rows).paint(blank)
    }
}

/// Width to height that a curve reads best at (common practice, no source).
const SHAPE: f64 = 1.6;
/// Height that a panel's texts take, logical pixels.
const TEXTS: f64 = 56.0;
/// Height that the texts of the page take, logical pixels.
const AROUND: f64 = 170.0;

/// Returns how many of `count` panels stand in a row of a page of `size`: as many as bring the panels
/// nearest to their best shape with few places left empty.
fn across(count: usize, size: (f64, f64)) -> usize {
    let most = columns(count, size.0, NARROWEST);
    let off = |across: usize| {
        let rows = count.div_ceil(across).max(1);
        let wide = size.0 / across as f64 - GUTTER;
        let tall = ((size.1 - AROUND) / rows as f64 - TEXTS).max(LEAST);
        let empty = (rows * across - count) as f64 / count.max(1) as f64;
        libm::log(wide / tall / SHAPE).abs() + empty
    };
    let choices = (1..=most.max(1)).min_by(|a, b| off(*a).total_cmp(&off(*b)));
    choices.unwrap_or(1)
}

/// Least height of a panel, logical pixels.
const LEAST: f64 = 92.0;
/// Room for the values of the ordinate, logical pixels.
const TICKS: f64 = 34.0;
/// Least width of a panel, logical pixels.
const NARROWEST: f64 = 104.0;

impl SmallMultiples {
    fn key(&self) -> Vec<(Swatch, String)> {
        let mut names: Vec<&str> = self.runs.iter().map(|r| r.treatment.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        let named = names.into_iter().filter(|n| !n.is_empty());
        let mut key: Vec<(Swatch, String)> = named
            .map(|name| {
                let look = self.words.palette.look(name);
                (Swatch::Dashed(look.ink, look.dash), name.to_owned())
            })
            .collect();
        if !self.common.x.is_empty() {
            let words = match self.common.name.is_empty() {
                true => "mean of all".to_owned(),
                false => self.common.name.clone(),
            };
            key.push((Swatch::Line(MUTED.mixed(PAPER, 0.4)), words));
        }
        if self.runs.iter().any(|run| run.rejected) {
            key.push((
                Swatch::Dashed(ASIDE.mixed(PAPER, 0.3), dash(3)),
                "rejected".to_owned(),
            ));
        }
        key
    }

    fn plot(&self, run: &Multiple) -> Plot {
        let curves = || self.runs.iter().map(|r| &r.curve).chain([&self.common]);
        let (left, right) = range(curves().flat_map(|s| &s.x).copied());
        let heights = curves().flat_map(|s| &s.y).copied();
        let mut plot = Plot::new(
            (Axis::tight(left, right, 4), &self.x_label),
            (Axis::over(heights, 3), &self.y_label),
        );
        let look = self.words.palette.look(&run.treatment);
        plot.ink = look.ink;
        plot.small = true;
        plot.title.clone_from(&run.name);
        plot.note = match (run.rejected, run.note.is_empty()) {
            (true, true) => "rejected".to_owned(),
            (true, false) => format!("rejected: {}", run.note),
            (false, _) => run.note.clone(),
        };
        let faint = Pen::solid(MUTED.mixed(PAPER, 0.55), 2);
        plot.line("common", &self.common.x, &self.common.y, faint);
        let pen = match run.rejected {
            true => Pen::dashed(ASIDE.mixed(PAPER, 0.3), 3, Dash::Dotted),
            false => Pen::dashed(look.ink, 4, look.dash),
        };
        plot.line(&run.name, &run.curve.x, &run.curve.y, pen);
        if let Some((x, y, bound)) = run.mark {
            plot.layers.push(Layer::Dot(Dot {
                at: (x, y),
                marker: Marker::Circle,
                colour: INK,
                radius: 3.2,
                along: Along::X,
                bound,
                aside: false,
            }));
        }
        plot
    }
}
