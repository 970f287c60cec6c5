//! Energy by source, stacked for each treatment, beside the total energy against the development that
//! it bought.

use super::axis::{Axis, number, range};
use super::canvas::{Blank, Canvas, Pen};
use super::figure::Paint;
use super::hatch::Hatch;
use super::key::Swatch;
use super::layer::Layer;
use super::overlay::Series;
use super::picture::ChartError;
use super::plot::Plot;
use super::rate_fit::RatePoint;
use super::sheet::{LEAST_PANEL, Row, Sheet};
use super::theme::{INK, MUTED, PAPER, Rgb};
use super::words::Words;

/// The energy of one treatment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct EnergyGroup {
    /// Treatment; decides colour and marker.
    pub treatment: String,
    /// Mean energy of each source in the order of [`EnergyBySource::sources`], kJ/kg.
    pub parts_kj_per_kg: Vec<f64>,
    /// Interval of the total, kJ/kg, when known.
    pub total_interval: Option<(f64, f64)>,
    /// What stands below the name, such as `n = 4 doughs`.
    pub note: String,
    /// Doughs: development reached and total energy, kJ/kg.
    pub doughs: Vec<RatePoint>,
    /// Fitted energy against development, or empty.
    pub line: Series,
}

/// Energy by source and against development.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct EnergyBySource {
    /// Texts around the figure.
    pub words: Words,
    /// Sources from the bottom of the stack, such as hydraulic, electric, after-mix.
    pub sources: Vec<String>,
    /// Treatments.
    pub groups: Vec<EnergyGroup>,
    /// Development with its unit, such as `development time / min`; empty leaves the panel out.
    pub development_label: String,
    /// Development at which treatments are compared, with its words.
    pub equal_development: Option<(f64, String)>,
}

const PATTERNS: [Hatch; 4] = [Hatch::None, Hatch::Up, Hatch::Cross, Hatch::Down];

impl Paint for EnergyBySource {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let told = self.groups.iter().map(|group| {
            let parts = self.sources.iter().zip(&group.parts_kj_per_kg);
            let parts: Vec<String> = parts
                .map(|(name, part)| format!("{name} {}", number(*part, 1)))
                .collect();
            format!(
                "{}: total {} kJ/kg ({})",
                group.treatment,
                number(group.total(), 1),
                parts.join(", ")
            )
        });
        self.words.alt(told)
    }

    fn check(&self) -> Result<(), ChartError> {
        match self.groups.is_empty() {
            true => Err(ChartError::NoData(self.words.title.clone())),
            false => Ok(()),
        }
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let mut plots = vec![(1.0, self.stacks())];
        if !self.development_label.is_empty() {
            plots.push((1.25, self.development()));
        }
        let rows = match blank.width() < 760.0 {
            true => plots.into_iter().map(|(_, plot)| Row::of(plot)).collect(),
            false => vec![Row {
                plots,
                weight: 1.0,
                least: LEAST_PANEL,
            }],
        };
        let sources = self.sources.iter().enumerate();
        let mut key: Vec<(Swatch, String)> = sources
            .map(|(index, name)| {
                let swatch = Swatch::Block(tint(MUTED, index), hatch(index));
                (swatch, name.clone())
            })
            .collect();
        if self.groups.iter().any(|g| g.total_interval.is_some()) {
            key.push((Swatch::Interval, "95 % interval of the total".to_owned()));
        }
        Sheet::new(&self.words, key, rows).paint(blank)
    }
}

impl EnergyGroup {
    fn total(&self) -> f64 {
        self.parts_kj_per_kg.iter().sum()
    }
}

/// Returns the shade of source `index`: the treatment's own colour, paler upwards.
fn tint(ink: Rgb, index: usize) -> Rgb {
    ink.mixed(PAPER, (0.22 * index as f64).min(0.7))
}

fn hatch(index: usize) -> Hatch {
    PATTERNS
        .get(index % PATTERNS.len())
        .copied()
        .unwrap_or(Hatch::None)
}

impl EnergyBySource {
    fn stacks(&self) -> Plot {
        let tops = self.groups.iter().map(|g| {
            let (_, high) = g.total_interval.unwrap_or((0.0, 0.0));
            g.total().max(high) * 1.08
        });
        let names = self.groups.iter().map(|g| match g.note.is_empty() {
            true => g.treatment.clone(),
            false => format!("{}\n{}", g.treatment, g.note),
        });
        let mut plot = Plot::new(
            (Axis::named(names), ""),
            (
                Axis::over(tops.chain([0.0]), 6),
                "energy by source / (kJ/kg)",
            ),
        );
        for (index, group) in self.groups.iter().enumerate() {
            let place = index as f64 + 0.5;
            let ink = self.words.palette.look(&group.treatment).ink;
            let mut base = 0.0;
            let parts = group.parts_kj_per_kg.iter().enumerate();
            // A part of nothing would leave its edge on the part below.
            for (source, part) in parts.filter(|(_, part)| **part > 0.0) {
                plot.layers.push(Layer::Bar {
                    x: (place - 0.3, place + 0.3),
                    y: (base, base + part),
                    colour: tint(ink, source),
                    hatch: hatch(source),
                });
                base += part;
            }
            let mut top = base;
            if let Some((low, high)) = group.total_interval {
                plot.interval((place, low), (place, high), INK);
                top = top.max(high);
            }
            plot.label_above((place, top), &number(base, 1), INK);
        }
        plot
    }

    fn development(&self) -> Plot {
        let doughs = || self.groups.iter().flat_map(|g| &g.doughs);
        let lines = || self.groups.iter().map(|g| &g.line);
        let xs = doughs().map(|p| p.x);
        let xs = xs.chain(lines().flat_map(|l| &l.x).copied());
        let (left, right) = range(xs);
        let room = (right - left) * 0.06;
        let ys = doughs().map(|p| p.y);
        let ys = ys.chain(lines().flat_map(|l| &l.y).copied());
        let mut plot = Plot::new(
            (
                Axis::tight(left - room, right + room, 6),
                &self.development_label,
            ),
            (Axis::over(ys.chain([0.0]), 6), "total energy / (kJ/kg)"),
        );
        if let Some((at, words)) = &self.equal_development {
            plot.upright(*at, words, MUTED);
        }
        for group in &self.groups {
            let look = self.words.palette.look(&group.treatment);
            let pen = Pen::dashed(look.ink, 4, look.dash);
            plot.line(&group.treatment, &group.line.x, &group.line.y, pen);
            for dough in &group.doughs {
                plot.dot((dough.x, dough.y), &look, dough.bound, dough.aside);
            }
            let last = group.line.x.last().zip(group.line.y.last());
            let ends = last.map(|(x, y)| (*x, *y));
            let ends = ends.or_else(|| group.doughs.last().map(|d| (d.x, d.y)));
            if let Some((x, y)) = ends {
                plot.end(Some(x), y, &group.treatment, look.ink);
            }
        }
        plot
    }
}
