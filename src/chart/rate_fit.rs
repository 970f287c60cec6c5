//! Measured values over time with the fit of a rate law: water uptake, firmness, softening.

use super::Bound;
use super::axis::{Axis, range};
use super::canvas::{Blank, Canvas, Pen};
use super::extension_curves::Reading;
use super::figure::Paint;
use super::key::Swatch;
use super::layer::{Along, Dot, Layer, RADIUS};
use super::overlay::Series;
use super::picture::ChartError;
use super::plot::Plot;
use super::sheet::{Sheet, grid};
use super::theme::{Dash, INK, MUTED, Marker, dash};
use super::words::Words;

/// One measured value.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct RatePoint {
    /// Time, unit of the abscissa.
    pub x: f64,
    /// Value, unit of the ordinate.
    pub y: f64,
    /// Interval, when known.
    pub interval: Option<(f64, f64)>,
    /// Whether the true value lies beyond.
    pub bound: Bound,
    /// Set aside: drawn pale and crossed.
    pub aside: bool,
}

/// A fitted law.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RateLaw {
    /// What is printed at the line's end, such as `Peleg, k₁ 0.42 ± 0.03`.
    pub label: String,
    /// Fitted line.
    pub line: Series,
    /// Lower edge of the band at each position, or empty.
    pub lower: Vec<f64>,
    /// Upper edge of the band at each position, or empty.
    pub upper: Vec<f64>,
}

/// The values of one treatment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RateGroup {
    /// Treatment; decides colour, dash and marker.
    pub treatment: String,
    /// Measured values.
    pub points: Vec<RatePoint>,
    /// Fitted laws; the first has the treatment's dash.
    pub laws: Vec<RateLaw>,
    /// Values read off the fit, such as the half time: marked, with lines to both axes.
    pub readings: Vec<Reading>,
}

/// Values over time with fitted rate laws.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RateFit {
    /// Texts around the figure.
    pub words: Words,
    /// Abscissa with its unit, such as `storage / d`.
    pub x_label: String,
    /// Ordinate with its unit, such as `firmness / N`.
    pub y_label: String,
    /// Treatments.
    pub groups: Vec<RateGroup>,
    /// Level to compare with, such as a target moisture.
    pub level: Option<(f64, String)>,
    /// Whether each treatment has a panel of its own; several laws on one panel crowd.
    pub apart: bool,
}

impl Paint for RateFit {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let told = self.groups.iter().map(|group| {
            let laws = group.laws.iter().map(|law| law.label.clone());
            let readings = group
                .readings
                .iter()
                .map(|r| format!("{}{}", r.bound.words(), r.label));
            let all: Vec<String> = laws.chain(readings).collect();
            format!(
                "{}: {} values; {}",
                group.treatment,
                group.points.len(),
                all.join("; ")
            )
        });
        self.words.alt(told)
    }

    fn check(&self) -> Result<(), ChartError> {
        match self.groups.iter().all(|g| g.points.is_empty()) {
            true => Err(ChartError::NoData(self.words.title.clone())),
            false => Ok(()),
        }
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let key = point_key(&self.groups, "measured");
        if !self.apart {
            return Sheet::single(&self.words, key, self.plot(&self.groups)).paint(blank);
        }
        let panels = self.groups.iter().map(|group| {
            let mut plot = self.plot(std::slice::from_ref(group));
            plot.title = group.treatment.clone();
            plot.ink = self.words.palette.look(&group.treatment).ink;
            plot
        });
        let rows = grid(panels.collect(), blank.width(), 340.0, 260.0);
        Sheet::new(&self.words, key, rows).paint(blank)
    }
}

/// Returns the key of points with fitted laws; a point is `what`.
pub(super) fn point_key(groups: &[RateGroup], what: &str) -> Vec<(Swatch, String)> {
    let points = || groups.iter().flat_map(|g| &g.points);
    let mut key = vec![
        (Swatch::Solid(Marker::Circle, MUTED), what.to_owned()),
        (Swatch::Thick(MUTED), "fitted".to_owned()),
    ];
    let mut laws = groups.iter().flat_map(|g| &g.laws);
    if laws.any(|law| !law.lower.is_empty()) {
        key.push((Swatch::Band(MUTED), "95 % band of the fit".to_owned()));
    }
    if points().any(|p| p.bound != Bound::Exact) {
        key.push((Swatch::Censored, "true value lies beyond".to_owned()));
    }
    if points().any(|p| p.aside) {
        key.push((Swatch::Aside, "set aside".to_owned()));
    }
    key
}

impl RateFit {
    fn plot(&self, groups: &[RateGroup]) -> Plot {
        let points = || self.groups.iter().flat_map(|g| &g.points);
        let laws = || self.groups.iter().flat_map(|g| &g.laws);
        let xs = points().map(|p| p.x);
        let xs = xs.chain(laws().flat_map(|l| &l.line.x).copied());
        let (left, right) = range(xs);
        let ys = points().flat_map(|p| {
            let (low, high) = p.interval.unwrap_or((p.y, p.y));
            [p.y, low, high]
        });
        let ys = ys.chain(laws().flat_map(|l| &l.line.y).copied());
        let levels = self.level.iter().map(|l| l.0);
        let from = if left > 0.0 && left < 0.3 * right {
            0.0
        } else {
            left
        };
        let mut plot = Plot::new(
            (
                Axis::tight(from, right + (right - from) * 0.02, 10),
                &self.x_label,
            ),
            (Axis::over(ys.chain(levels), 6), &self.y_label),
        );
        if let Some((value, words)) = &self.level {
            plot.level(*value, words, MUTED);
        }
        // Values of several treatments at one time step aside, so that no interval hides another.
        let reach = plot.x.high() - plot.x.low();
        for (index, group) in groups.iter().enumerate() {
            let aside = (index as f64 - (groups.len() as f64 - 1.0) / 2.0) * 0.009 * reach;
            self.draw_group(&mut plot, group, groups.len() > 1, aside);
            self.draw_readings(&mut plot, group, index);
        }
        plot
    }

    fn draw_group(&self, plot: &mut Plot, group: &RateGroup, several: bool, aside: f64) {
        let look = self.words.palette.look(&group.treatment);
        for law in &group.laws {
            let edges = (law.lower.as_slice(), law.upper.as_slice());
            plot.band(&law.label, &law.line.x, edges, look.colour);
        }
        for (index, law) in group.laws.iter().enumerate() {
            let pattern = match (several, index) {
                (true, 0) => look.dash,
                _ => dash(index),
            };
            let pen = Pen::dashed(look.ink, 5, pattern);
            plot.line(&law.label, &law.line.x, &law.line.y, pen);
            let words = match (several, law.label.is_empty()) {
                (true, true) => group.treatment.clone(),
                (true, false) => format!("{}: {}", group.treatment, law.label),
                (false, _) => law.label.clone(),
            };
            if let (Some(x), Some(y)) = (law.line.x.last(), law.line.y.last()) {
                plot.end(Some(*x), *y, &words, look.ink);
            }
        }
        for point in &group.points {
            let x = point.x + aside;
            if let Some((low, high)) = point.interval
                && !point.aside
            {
                plot.interval((x, low), (x, high), look.ink);
            }
            plot.dot((x, point.y), &look, point.bound, point.aside);
        }
    }

    /// Marks what was read off the fit of group `index`, with lines to both axes.
    fn draw_readings(&self, plot: &mut Plot, group: &RateGroup, index: usize) {
        let look = self.words.palette.look(&group.treatment);
        for reading in &group.readings {
            let foot = plot.y.low();
            let pen = Pen::dashed(look.ink, 2, Dash::Dotted);
            plot.layers.push(Layer::Line {
                name: reading.label.clone(),
                x: vec![plot.x.low(), reading.x, reading.x],
                y: vec![reading.y, reading.y, foot],
                pen,
            });
            plot.layers.push(Layer::Dot(Dot {
                at: (reading.x, reading.y),
                marker: Marker::Diamond,
                colour: INK,
                radius: RADIUS,
                along: Along::X,
                bound: reading.bound,
                aside: false,
            }));
            // Each treatment's words at a height of their own.
            let share = 0.22 + 0.18 * (index % 4) as f64;
            let at = (reading.x, foot + (reading.y - foot) * share);
            plot.label_towards(at, &reading.label, look.ink, (1.0, 0.0));
        }
    }
}
