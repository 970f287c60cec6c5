//! Grades by treatment and mixing time as stacked bars: the grades in their order from pale to dark,
//! overmixed apart and hatched. There is no mean of grades.

use super::axis::{Axis, number};
use super::canvas::{Blank, Canvas};
use super::figure::Paint;
use super::hatch::Hatch;
use super::key::Swatch;
use super::layer::Layer;
use super::picture::ChartError;
use super::plot::Plot;
use super::sheet::{Sheet, grid};
use super::theme::{ASIDE, PAPER, Rgb, sequential};
use super::words::Words;

/// The pieces of one bar.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GradeBar {
    /// What stands below the bar, such as the mixing time or the dough.
    pub name: String,
    /// Number of pieces of each grade in the order of [`GradeDistribution::grades`].
    pub counts: Vec<usize>,
    /// Pieces that were overmixed: no grade, a failure.
    pub overmixed: usize,
}

/// The bars of one treatment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GradePanel {
    /// Treatment; decides the colour of the title.
    pub treatment: String,
    /// Bars.
    pub bars: Vec<GradeBar>,
    /// What the model says of the treatment, such as `odds ratio 2.1 (1.2 to 3.7)`.
    pub note: String,
}

/// Distribution of grades.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GradeDistribution {
    /// Texts around the figure.
    pub words: Words,
    /// Abscissa with its unit, such as `mixing time / min`.
    pub x_label: String,
    /// Grades from the lowest to the highest.
    pub grades: Vec<String>,
    /// Treatments.
    pub panels: Vec<GradePanel>,
}

/// Ground of overmixed pieces: pale vermillion below a hatch.
fn overmixed() -> Rgb {
    ASIDE.mixed(PAPER, 0.35)
}

impl Paint for GradeDistribution {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let told = self.panels.iter().flat_map(|panel| {
            panel.bars.iter().map(move |bar| {
                let grades = self.grades.iter().zip(&bar.counts);
                let counted = grades.filter(|(_, n)| **n > 0);
                let mut parts: Vec<String> = counted.map(|(g, n)| format!("{n} × {g}")).collect();
                if bar.overmixed > 0 {
                    parts.push(format!("{} × overmixed", bar.overmixed));
                }
                format!("{}, {}: {}", panel.treatment, bar.name, parts.join(", "))
            })
        });
        let notes = self.panels.iter().filter(|p| !p.note.is_empty());
        let notes = notes.map(|p| format!("{}: {}", p.treatment, p.note));
        self.words.alt(told.chain(notes))
    }

    fn check(&self) -> Result<(), ChartError> {
        let mut bars = self.panels.iter().flat_map(|p| &p.bars);
        match bars.all(|bar| bar.total() == 0) {
            true => Err(ChartError::NoData(self.words.title.clone())),
            false => Ok(()),
        }
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let steps = self.grades.len();
        let grades = self.grades.iter().enumerate();
        let mut key: Vec<(Swatch, String)> = grades
            .map(|(rank, name)| {
                let swatch = Swatch::Block(sequential(rank, steps), Hatch::None);
                (swatch, name.clone())
            })
            .collect();
        let over = Swatch::Block(overmixed(), Hatch::Cross);
        key.push((over, "overmixed".to_owned()));
        let plots = self.panels.iter().map(|panel| self.plot(panel)).collect();
        let rows = grid(plots, blank.width(), 300.0, 240.0);
        Sheet::new(&self.words, key, rows).paint(blank)
    }
}

impl GradeBar {
    fn total(&self) -> usize {
        self.counts.iter().sum::<usize>() + self.overmixed
    }
}

impl GradeDistribution {
    fn plot(&self, panel: &GradePanel) -> Plot {
        let names = panel.bars.iter();
        let names = names.map(|bar| format!("{}\nn = {}", bar.name, bar.total()));
        let mut plot = Plot::new(
            (Axis::named(names), &self.x_label),
            (Axis::tight(0.0, 100.0, 4), "share of the pieces / %"),
        );
        plot.title = match panel.note.is_empty() {
            true => panel.treatment.clone(),
            false => format!("{}: {}", panel.treatment, panel.note),
        };
        plot.ink = self.words.palette.look(&panel.treatment).ink;
        for (index, bar) in panel.bars.iter().enumerate() {
            let place = index as f64 + 0.5;
            let total = bar.total().max(1) as f64;
            let mut base = 0.0;
            let mut stack = |count: usize, colour: Rgb, hatch: Hatch| {
                if count == 0 {
                    return;
                }
                let share = 100.0 * count as f64 / total;
                plot.layers.push(Layer::Bar {
                    x: (place - 0.4, place + 0.4),
                    y: (base, base + share),
                    colour,
                    hatch,
                });
                let middle = (place, base + share / 2.0);
                let ink = if colour.contrast_to_paper() > 3.0 {
                    PAPER
                } else {
                    super::theme::INK
                };
                if hatch == Hatch::None {
                    plot.layers.push(Layer::Count {
                        at: middle,
                        room: ((place - 0.4, base), (place + 0.4, base + share)),
                        words: number(count as f64, 0),
                        colour: ink,
                    });
                }
                base += share;
            };
            // Failures stand at the foot, the best grade at the top.
            stack(bar.overmixed, overmixed(), Hatch::Cross);
            for (rank, count) in bar.counts.iter().enumerate() {
                stack(*count, sequential(rank, self.grades.len()), Hatch::None);
            }
        }
        plot
    }
}
