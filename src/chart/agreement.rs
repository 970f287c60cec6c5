//! Agreement of two instruments or graders for the same quantity: difference against mean, and one
//! method against the other with its fitted line.

use super::Bound;
use super::axis::{Axis, range};
use super::canvas::{Blank, Canvas, Pen};
use super::figure::Paint;
use super::key::Swatch;
use super::layer::Layer;
use super::overlay::Series;
use super::picture::ChartError;
use super::plot::Plot;
use super::sheet::{Sheet, grid};
use super::theme::{AGREED, AGREED_OPACITY, Dash, INK, MUTED};
use super::words::Words;

/// One sample measured both ways.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Pair {
    /// Treatment or material; decides colour and marker.
    pub group: String,
    /// Value by the first method.
    pub first: f64,
    /// Value by the second method.
    pub second: f64,
    /// Set aside: drawn pale and crossed.
    pub aside: bool,
}

/// A level with its interval, such as a limit of agreement.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct AgreementLevel {
    /// Value.
    pub value: f64,
    /// Interval, when known.
    pub interval: Option<(f64, f64)>,
    /// What is printed at its right end.
    pub label: String,
}

/// A fitted line between two methods.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MethodLine {
    /// What is printed, such as `slope 1.02 (0.98 to 1.07), intercept −0.4 (−2.1 to 1.2)`.
    pub label: String,
    /// Fitted line.
    pub line: Series,
    /// Lower edge of its band at each position, or empty.
    pub lower: Vec<f64>,
    /// Upper edge of its band at each position, or empty.
    pub upper: Vec<f64>,
}

/// Agreement of two methods.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Agreement {
    /// Texts around the figure.
    pub words: Words,
    /// First method with the unit, such as `instrument 1 / FU`.
    pub first_label: String,
    /// Second method with the unit.
    pub second_label: String,
    /// Mean of both with the unit.
    pub mean_label: String,
    /// Difference second − first with the unit.
    pub difference_label: String,
    /// Samples.
    pub pairs: Vec<Pair>,
    /// Bias and limits of agreement; empty leaves the difference panel out.
    pub levels: Vec<AgreementLevel>,
    /// Difference that is accepted: half the band around zero.
    pub margin: Option<f64>,
    /// Fitted line; `None` leaves the panel of methods out.
    pub fit: Option<MethodLine>,
}

impl Paint for Agreement {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let head = format!("{} samples measured both ways", self.pairs.len());
        let levels = self.levels.iter().map(|l| l.label.clone());
        let fit = self.fit.iter().map(|f| f.label.clone());
        self.words.alt([head].into_iter().chain(levels).chain(fit))
    }

    fn check(&self) -> Result<(), ChartError> {
        match self.pairs.is_empty() || (self.levels.is_empty() && self.fit.is_none()) {
            true => Err(ChartError::NoData(self.words.title.clone())),
            false => Ok(()),
        }
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let mut plots = Vec::new();
        if !self.levels.is_empty() {
            plots.push(self.differences());
        }
        plots.extend(self.fit.iter().map(|fit| self.methods(fit)));
        let rows = grid(plots, blank.width(), 360.0, 280.0);
        Sheet::new(&self.words, self.key(), rows).paint(blank)
    }
}

impl Agreement {
    fn key(&self) -> Vec<(Swatch, String)> {
        let mut names: Vec<&str> = self.pairs.iter().map(|p| p.group.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        let named = names.into_iter().filter(|n| !n.is_empty());
        let mut key: Vec<(Swatch, String)> = named
            .map(|name| {
                let look = self.words.palette.look(name);
                (Swatch::Solid(look.marker, look.ink), name.to_owned())
            })
            .collect();
        if self.margin.is_some() {
            key.push((Swatch::Agreed, "accepted difference".to_owned()));
        }
        if self.levels.iter().any(|l| l.interval.is_some()) {
            key.push((Swatch::Band(MUTED), "95 % interval".to_owned()));
        }
        if self.pairs.iter().any(|p| p.aside) {
            key.push((Swatch::Aside, "set aside".to_owned()));
        }
        key
    }

    fn differences(&self) -> Plot {
        let (left, right) = range(self.pairs.iter().map(|p| (p.first + p.second) / 2.0));
        let levels = self.levels.iter().flat_map(|l| {
            let (low, high) = l.interval.unwrap_or((l.value, l.value));
            [l.value, low, high]
        });
        let margins = self.margin.iter().flat_map(|m| [-m, *m]);
        let differences = self.pairs.iter().map(|p| p.second - p.first);
        let (low, high) = range(differences.chain(levels).chain(margins).chain([0.0]));
        let (aside, above) = ((right - left) * 0.04, (high - low) * 0.06);
        let mut plot = Plot::new(
            (
                Axis::tight(left - aside, right + aside, 6),
                &self.mean_label,
            ),
            (
                Axis::round(low - above, high + above, 6),
                &self.difference_label,
            ),
        );
        "Difference against mean".clone_into(&mut plot.title);
        if let Some(margin) = self.margin {
            let band = (-margin, margin);
            plot.zone(None, Some(band), AGREED, AGREED_OPACITY);
        }
        let zero = Pen::dashed(MUTED, 2, Dash::Dotted);
        plot.layers.push(Layer::Level { y: 0.0, pen: zero });
        for level in &self.levels {
            if let Some(interval) = level.interval {
                plot.zone(None, Some(interval), MUTED, 0.18);
            }
            plot.level(level.value, &level.label, INK);
        }
        for pair in &self.pairs {
            let look = self.words.palette.look(&pair.group);
            let at = ((pair.first + pair.second) / 2.0, pair.second - pair.first);
            plot.dot(at, &look, Bound::Exact, pair.aside);
        }
        plot
    }

    fn methods(&self, fit: &MethodLine) -> Plot {
        let both = self.pairs.iter().flat_map(|p| [p.first, p.second]);
        let (low, high) = range(both);
        let room = (high - low) * 0.05;
        let axis = Axis::tight(low - room, high + room, 6);
        let mut plot = Plot::new(
            (axis.clone(), &self.first_label),
            (axis, &self.second_label),
        );
        "One method against the other".clone_into(&mut plot.title);
        let ends = [plot.x.low(), plot.x.high()];
        plot.line("equal", &ends, &ends, Pen::dashed(MUTED, 2, Dash::Dotted));
        let near = ends[0] + (ends[1] - ends[0]) * 0.08;
        plot.label((near, near), "equal", MUTED);
        let edges = (fit.lower.as_slice(), fit.upper.as_slice());
        plot.band(&fit.label, &fit.line.x, edges, MUTED);
        plot.line(&fit.label, &fit.line.x, &fit.line.y, Pen::solid(INK, 4));
        for pair in &self.pairs {
            let look = self.words.palette.look(&pair.group);
            let at = (pair.first, pair.second);
            plot.dot(at, &look, Bound::Exact, pair.aside);
        }
        let at = fit.line.x.len() / 4;
        for (index, part) in fit.label.split(", ").enumerate() {
            let at = (at + index).min(fit.line.x.len().saturating_sub(1));
            if let (Some(x), Some(y)) = (fit.line.x.get(at), fit.line.y.get(at)) {
                plot.label_towards((*x, *y), part, INK, (-0.7, -0.7));
            }
        }
        plot
    }
}
