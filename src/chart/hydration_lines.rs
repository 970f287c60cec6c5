//! Consistency against water for each treatment, and the horizontal shift between the lines: how many
//! points of water more one treatment takes at equal consistency.

use super::axis::{Axis, range};
use super::canvas::{Blank, Canvas, Pen};
use super::figure::Paint;
use super::key::Swatch;
use super::layer::Layer;
use super::picture::ChartError;
use super::plot::Plot;
use super::rate_fit::{RateGroup, point_key};
use super::sheet::Sheet;
use super::theme::{AGREED, AGREED_OPACITY, INK, MUTED};
use super::words::{Words, confidence_or_usual};

/// The horizontal distance of two lines.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shift {
    /// Water at which the reference reaches the level.
    pub from: f64,
    /// Water at which the other treatment reaches the level.
    pub to: f64,
    /// Interval of the end: `from` plus the interval of the shift.
    pub interval: (f64, f64),
    /// What is printed, such as `two-arm takes 2.1 % more water (1.6 to 2.6)`.
    pub label: String,
}

/// Hydration lines with their shift.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HydrationLines {
    /// Texts around the figure.
    pub words: Words,
    /// Abscissa with its unit and basis, such as `water, 14 % basis / %`.
    pub x_label: String,
    /// Ordinate with its unit, such as `consistency / FU`.
    pub y_label: String,
    /// Treatments: doughs and fitted lines.
    pub groups: Vec<RateGroup>,
    /// Consistency at which the shift is read, with its words.
    pub level: (f64, String),
    /// Shifts to the reference treatment.
    pub shifts: Vec<Shift>,
    /// Least shift that was claimed, as the water that must be passed.
    pub margin: Option<f64>,
    /// Confidence of the intervals, such as `90 %`; empty for 95 %.
    pub confidence: String,
}

impl Paint for HydrationLines {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let groups = self
            .groups
            .iter()
            .map(|g| format!("{}: {} doughs", g.treatment, g.points.len()));
        let shifts = self.shifts.iter().map(|s| s.label.clone());
        self.words.alt(groups.chain(shifts))
    }

    fn check(&self) -> Result<(), ChartError> {
        match self.groups.iter().all(|g| g.points.is_empty()) {
            true => Err(ChartError::NoData(self.words.title.clone())),
            false => Ok(()),
        }
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let mut key = point_key(&self.groups, "dough");
        if self.margin.is_some() {
            key.push((Swatch::Agreed, "the claimed shift is reached".to_owned()));
        }
        if !self.shifts.is_empty() {
            key.push((
                Swatch::Span,
                format!(
                    "{} interval of the shift",
                    confidence_or_usual(&self.confidence)
                ),
            ));
        }
        Sheet::single(&self.words, key, self.plot()).paint(blank)
    }
}

impl HydrationLines {
    fn plot(&self) -> Plot {
        let points = || self.groups.iter().flat_map(|g| &g.points);
        let laws = || self.groups.iter().flat_map(|g| &g.laws);
        let xs = points().map(|p| p.x);
        let xs = xs.chain(laws().flat_map(|l| &l.line.x).copied());
        let ends = self
            .shifts
            .iter()
            .flat_map(|s| [s.interval.0, s.interval.1]);
        let (left, right) = range(xs.chain(ends));
        let ys = points().map(|p| p.y);
        let ys = ys.chain(laws().flat_map(|l| &l.line.y).copied());
        let (low, high) = range(ys.chain([self.level.0]));
        let reach = (high - low).max(1.0);
        let mut plot = Plot::new(
            (Axis::tight(left, right, 10), &self.x_label),
            (
                Axis::round(low - 0.25 * reach, high + 0.05 * reach, 7),
                &self.y_label,
            ),
        );
        if let Some(margin) = self.margin {
            let beyond = (margin, plot.x.high());
            plot.zone(Some(beyond), None, AGREED, AGREED_OPACITY * 0.7);
        }
        plot.level(self.level.0, &self.level.1, MUTED);
        for group in &self.groups {
            let look = self.words.palette.look(&group.treatment);
            for law in &group.laws {
                let edges = (law.lower.as_slice(), law.upper.as_slice());
                plot.band(&law.label, &law.line.x, edges, look.colour);
            }
            for law in &group.laws {
                let pen = Pen::dashed(look.ink, 5, look.dash);
                plot.line(&law.label, &law.line.x, &law.line.y, pen);
                if let (Some(x), Some(y)) = (law.line.x.last(), law.line.y.last()) {
                    let words = match law.label.is_empty() {
                        true => group.treatment.clone(),
                        false => format!("{}: {}", group.treatment, law.label),
                    };
                    plot.end(Some(*x), *y, &words, look.ink);
                }
            }
            for point in &group.points {
                plot.dot((point.x, point.y), &look, point.bound, point.aside);
            }
        }
        // Shifts below the level, each at a height of its own.
        let bottom = plot.y.low();
        let step = (low.min(self.level.0) - bottom) / (self.shifts.len() as f64 + 1.0);
        for (index, shift) in self.shifts.iter().enumerate() {
            let y = bottom + step * (index as f64 + 0.9);
            draw_shift(&mut plot, shift, (self.level.0, y));
        }
        plot
    }
}

/// Draws a shift as arrow with its interval at height `y`, dropped from the level.
fn draw_shift(plot: &mut Plot, shift: &Shift, (level, y): (f64, f64)) {
    for x in [shift.from, shift.to] {
        plot.layers.push(Layer::Line {
            name: shift.label.clone(),
            x: vec![x, x],
            y: vec![level, y],
            pen: Pen::dashed(MUTED, 2, super::theme::Dash::Dotted),
        });
        plot.mark((x, level), super::layer::Along::X, super::Bound::Exact);
    }
    let (low, high) = shift.interval;
    plot.layers.push(Layer::Span {
        x: (low, high),
        y,
        colour: MUTED,
    });
    plot.layers.push(Layer::Arrow {
        from: (shift.from, y),
        to: (shift.to, y),
        colour: INK,
    });
    plot.label_towards((high.max(shift.to), y), &shift.label, INK, (1.0, 0.0));
}
