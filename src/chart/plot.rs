//! What one panel shows: layers of lines, bands, bars and marks in data units, and the labels that
//! want a place beside them.

use super::Bound;
use super::axis::Axis;
use super::canvas::Pen;
use super::curve;
use super::layer::{Along, Dot, Layer, RADIUS, points_of};
use super::picture::ChartError;
use super::theme::{Dash, INK, Look, Marker, Rgb};

/// A text that wants a place beside a point.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Label {
    pub at: (f64, f64),
    pub words: String,
    pub colour: Rgb,
    /// Direction (right, down) tried first.
    pub towards: (f64, f64),
}

/// A text right of the panel at the end of a line.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct End {
    /// Where the line ends; `None` means the right edge.
    pub x: Option<f64>,
    pub y: f64,
    pub words: String,
    pub colour: Rgb,
}

/// A text above the panel at a position.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Top {
    pub x: f64,
    pub words: String,
    pub colour: Rgb,
}

/// One panel.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Plot {
    pub title: String,
    pub ink: Rgb,
    pub x: Axis,
    pub x_name: String,
    pub y: Axis,
    pub y_name: String,
    /// A second ordinate at the right; its values are drawn through [`Plot::on_left`].
    pub right: Option<(Axis, String)>,
    pub layers: Vec<Layer>,
    pub labels: Vec<Label>,
    pub ends: Vec<End>,
    pub tops: Vec<Top>,
    /// Whether the abscissa has its values below this panel.
    pub x_ticks: bool,
    /// Whether the ordinate has its values left of this panel.
    pub y_ticks: bool,
    /// What stands below the title.
    pub note: String,
    /// One of many: a small title.
    pub small: bool,
    /// No grid across: the height says nothing.
    pub bare: bool,
    /// Keeps a place in a row and draws nothing.
    pub blank: bool,
}

impl Plot {
    /// Returns an empty panel.
    pub fn new((x, x_name): (Axis, &str), (y, y_name): (Axis, &str)) -> Plot {
        Plot {
            title: String::new(),
            ink: INK,
            x,
            x_name: x_name.to_owned(),
            y,
            y_name: y_name.to_owned(),
            right: None,
            layers: Vec::new(),
            labels: Vec::new(),
            ends: Vec::new(),
            tops: Vec::new(),
            x_ticks: true,
            y_ticks: true,
            note: String::new(),
            small: false,
            bare: false,
            blank: false,
        }
    }

    /// Returns a panel that only keeps its place.
    pub fn nothing() -> Plot {
        Plot {
            x_ticks: false,
            y_ticks: false,
            blank: true,
            ..Plot::new(
                (Axis::tight(0.0, 1.0, 1), ""),
                (Axis::tight(0.0, 1.0, 1), ""),
            )
        }
    }

    /// Returns the height on the left ordinate of `value` on the right one.
    pub fn on_left(&self, value: f64) -> f64 {
        match &self.right {
            Some((axis, _)) => self.y.low() + axis.share(value) * (self.y.high() - self.y.low()),
            None => value,
        }
    }

    /// Adds a line.
    pub fn line(&mut self, name: &str, x: &[f64], y: &[f64], pen: Pen) {
        self.layers.push(Layer::Line {
            name: name.to_owned(),
            x: x.to_vec(),
            y: y.to_vec(),
            pen,
        });
    }

    /// Adds a band, unless it is empty.
    pub fn band(&mut self, name: &str, x: &[f64], (lower, upper): (&[f64], &[f64]), colour: Rgb) {
        if lower.is_empty() || upper.is_empty() {
            return;
        }
        self.layers.push(Layer::Band {
            name: name.to_owned(),
            x: x.to_vec(),
            lower: lower.to_vec(),
            upper: upper.to_vec(),
            colour,
        });
    }

    /// Adds a line across the panel with its words at the right end.
    pub fn level(&mut self, y: f64, words: &str, colour: Rgb) {
        let pen = Pen::dashed(colour, 2, Dash::Long);
        self.layers.push(Layer::Level { y, pen });
        self.end(None, y, words, colour);
    }

    /// Adds a line up the panel with its words above.
    pub fn upright(&mut self, x: f64, words: &str, colour: Rgb) {
        let pen = Pen::dashed(colour, 2, Dash::Dotted);
        self.layers.push(Layer::Upright { x, pen });
        self.top(x, words, colour);
    }

    /// Adds a shaded part of the panel.
    pub fn zone(
        &mut self,
        x: Option<(f64, f64)>,
        y: Option<(f64, f64)>,
        colour: Rgb,
        opacity: f64,
    ) {
        self.layers.push(Layer::Zone {
            x,
            y,
            colour,
            opacity,
        });
    }

    /// Adds a mark that looks like a treatment.
    pub fn dot(&mut self, at: (f64, f64), look: &Look, bound: Bound, aside: bool) {
        self.layers.push(Layer::Dot(Dot {
            at,
            marker: look.marker,
            colour: look.ink,
            radius: RADIUS,
            along: Along::Y,
            bound,
            aside,
        }));
    }

    /// Adds a round mark where a value was read.
    pub fn mark(&mut self, at: (f64, f64), along: Along, bound: Bound) {
        self.layers.push(Layer::Dot(Dot {
            at,
            marker: Marker::Circle,
            colour: INK,
            radius: RADIUS,
            along,
            bound,
            aside: false,
        }));
    }

    /// Adds an interval.
    pub fn interval(&mut self, from: (f64, f64), to: (f64, f64), colour: Rgb) {
        self.layers.push(Layer::Interval {
            from,
            to,
            pen: Pen::solid(colour, 3),
        });
    }

    /// Adds a text beside a point.
    pub fn label(&mut self, at: (f64, f64), words: &str, colour: Rgb) {
        self.label_towards(at, words, colour, (0.7, -0.7));
    }

    /// Adds a text above a point.
    pub fn label_above(&mut self, at: (f64, f64), words: &str, colour: Rgb) {
        self.label_towards(at, words, colour, (0.0, -1.0));
    }

    /// Adds a text beside a point, `towards` (right, down) where there is room.
    pub fn label_towards(&mut self, at: (f64, f64), words: &str, colour: Rgb, towards: (f64, f64)) {
        if !words.is_empty() {
            self.labels.push(Label {
                at,
                words: words.to_owned(),
                colour,
                towards,
            });
        }
    }

    /// Adds a text at the end of a line.
    pub fn end(&mut self, x: Option<f64>, y: f64, words: &str, colour: Rgb) {
        if !words.is_empty() {
            self.ends.push(End {
                x,
                y,
                words: words.to_owned(),
                colour,
            });
        }
    }

    /// Adds a text above the panel.
    pub fn top(&mut self, x: f64, words: &str, colour: Rgb) {
        if !words.is_empty() {
            self.tops.push(Top {
                x,
                words: words.to_owned(),
                colour,
            });
        }
    }

    /// Checks that everything can be drawn.
    pub fn check(&self) -> Result<(), ChartError> {
        for layer in &self.layers {
            match layer {
                Layer::Line { name, x, y, .. } => curve::check(name, x, y)?,
                Layer::Band {
                    name,
                    x,
                    lower,
                    upper,
                    ..
                } => {
                    curve::check(name, x, lower)?;
                    curve::check(name, x, upper)?;
                }
                _ => self.check_points(&points_of(layer))?,
            }
        }
        let labels = self.labels.iter().map(|l| l.at);
        let ends = self.ends.iter().map(|e| (e.x.unwrap_or(0.0), e.y));
        let tops = self.tops.iter().map(|t| (t.x, 0.0));
        self.check_points(&labels.chain(ends).chain(tops).collect::<Vec<_>>())
    }

    fn check_points(&self, points: &[(f64, f64)]) -> Result<(), ChartError> {
        let name = if self.title.is_empty() {
            &self.y_name
        } else {
            &self.title
        };
        let bad = points
            .iter()
            .position(|(x, y)| !x.is_finite() || !y.is_finite());
        match bad {
            Some(index) => Err(ChartError::NotFinite {
                series: name.clone(),
                index,
            }),
            None => Ok(()),
        }
    }
}
