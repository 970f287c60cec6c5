//! What one panel shows: layers of lines, bands, bars and marks in data units, and the labels that
//! want a place beside them.

use super::Bound;
use super::axis::{Axis, range};
use super::canvas::{Canvas, Fill, Pen};
use super::clip;
use super::curve;
use super::frame::Panel;
use super::label::Area;
use super::picture::ChartError;
use super::place::Ground;
use super::theme::{Dash, GAP, INK, Look, MUTED, Marker, PAPER, Rgb};

/// Radius of a mark, logical pixels.
pub(super) const RADIUS: f64 = 4.5;
/// Length of the arrow of a value that lies beyond, logical pixels.
const ARROW: f64 = 19.0;

/// Pattern over a bar: the second carrier beside colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Hatch {
    None,
    Up,
    Down,
    Cross,
}

/// Which way the value of a mark runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Along {
    X,
    Y,
}

/// A mark at one point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Dot {
    pub at: (f64, f64),
    pub marker: Marker,
    pub colour: Rgb,
    pub radius: f64,
    pub along: Along,
    pub bound: Bound,
    /// Set aside or excluded: pale, with a cross over it.
    pub aside: bool,
}

/// A layer, in data units.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Layer {
    /// A line through points.
    Line {
        name: String,
        x: Vec<f64>,
        y: Vec<f64>,
        pen: Pen,
    },
    /// A band between two lines.
    Band {
        name: String,
        x: Vec<f64>,
        lower: Vec<f64>,
        upper: Vec<f64>,
        colour: Rgb,
    },
    /// A shaded rectangle; a missing range means the whole panel.
    Zone {
        x: Option<(f64, f64)>,
        y: Option<(f64, f64)>,
        colour: Rgb,
        opacity: f64,
    },
    /// A line across the panel at a height.
    Level { y: f64, pen: Pen },
    /// A line up the panel at a position.
    Upright { x: f64, pen: Pen },
    /// A filled bar.
    Bar {
        x: (f64, f64),
        y: (f64, f64),
        colour: Rgb,
        hatch: Hatch,
    },
    /// A mark.
    Dot(Dot),
    /// A cross.
    Cross((f64, f64), Rgb),
    /// A part of the abscissa without data.
    Gap((f64, f64)),
    /// An interval with small stops at its ends.
    Interval {
        from: (f64, f64),
        to: (f64, f64),
        pen: Pen,
    },
    /// An arrow.
    Arrow {
        from: (f64, f64),
        to: (f64, f64),
        colour: Rgb,
    },
}

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
    /// A second ordinate at the right; its values are drawn through [`Plot::from_right`].
    pub right: Option<(Axis, String)>,
    pub layers: Vec<Layer>,
    pub labels: Vec<Label>,
    pub ends: Vec<End>,
    pub tops: Vec<Top>,
    /// Whether the abscissa has its values below this panel.
    pub x_ticks: bool,
    /// Whether the ordinate has its values left of this panel.
    pub y_ticks: bool,
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
        }
    }

    /// Returns the height on the left ordinate of `value` on the right one.
    pub fn from_right(&self, value: f64) -> f64 {
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

fn points_of(layer: &Layer) -> Vec<(f64, f64)> {
    match layer {
        Layer::Line { .. } | Layer::Band { .. } => Vec::new(),
        Layer::Zone { x, y, .. } => {
            let (x, y) = (x.unwrap_or((0.0, 0.0)), y.unwrap_or((0.0, 0.0)));
            vec![(x.0, y.0), (x.1, y.1)]
        }
        Layer::Level { y, .. } => vec![(0.0, *y)],
        Layer::Upright { x, .. } => vec![(*x, 0.0)],
        Layer::Bar { x, y, .. } => vec![(x.0, y.0), (x.1, y.1)],
        Layer::Dot(dot) => vec![dot.at],
        Layer::Cross(at, _) => vec![*at],
        Layer::Gap(gap) => vec![*gap],
        Layer::Interval { from, to, .. } | Layer::Arrow { from, to, .. } => vec![*from, *to],
    }
}

/// Returns the page rectangle between two data points, cut to the panel.
fn cut(panel: &Panel, x: (f64, f64), y: (f64, f64)) -> Area {
    let (a, b) = (panel.x(x.0), panel.x(x.1));
    let (c, d) = (panel.y(y.0), panel.y(y.1));
    let area = panel.area;
    let across = |v: f64| v.max(area.x0).min(area.x1);
    let down = |v: f64| v.max(area.y0).min(area.y1);
    Area::new(
        across(a.min(b)),
        down(c.min(d)),
        across(a.max(b)),
        down(c.max(d)),
    )
}

impl Layer {
    /// Notes on `ground` what the layer covers.
    pub fn stand_on(&self, ground: &mut Ground, panel: &Panel) {
        let page = |p: &(f64, f64)| (panel.x(p.0), panel.y(p.1));
        match self {
            Layer::Line { x, y, .. } => ink(ground, panel, x, y),
            Layer::Band {
                x, lower, upper, ..
            } => {
                ink(ground, panel, x, lower);
                ink(ground, panel, x, upper);
            }
            Layer::Zone { .. } => {}
            Layer::Gap(gap) => {
                let whole = (panel.y.low(), panel.y.high());
                ground.keep_off(cut(panel, *gap, whole));
            }
            Layer::Level { y, .. } => {
                let y = panel.y(*y);
                let (left, right) = (panel.area.x0, panel.area.x1);
                ground.keep_off(Area::new(left, y - 1.0, right, y + 1.0));
            }
            Layer::Upright { x, .. } => {
                let x = panel.x(*x);
                let (top, bottom) = (panel.area.y0, panel.area.y1);
                ground.keep_off(Area::new(x - 1.0, top, x + 1.0, bottom));
            }
            Layer::Bar { x, y, .. } => ground.keep_off(cut(panel, *x, *y).grown(1.0)),
            Layer::Dot(dot) => {
                let (x, y) = page(&dot.at);
                let mut area = Area::new(x, y, x, y).grown(dot.radius + 2.0);
                if dot.bound != Bound::Exact {
                    let (tip_x, tip_y) = dot.tip((x, y));
                    let tip = Area::new(tip_x, tip_y, tip_x, tip_y).grown(5.0);
                    area = Area::new(
                        area.x0.min(tip.x0),
                        area.y0.min(tip.y0),
                        area.x1.max(tip.x1),
                        area.y1.max(tip.y1),
                    );
                }
                ground.take(area);
            }
            Layer::Cross(at, _) => {
                let (x, y) = page(at);
                ground.take(Area::new(x, y, x, y).grown(RADIUS + 2.0));
            }
            Layer::Interval { from, to, .. } | Layer::Arrow { from, to, .. } => {
                let (a, b) = (page(from), page(to));
                ground.ink_line(a, b);
                if (a.0 - b.0).abs() < 1.0 || (a.1 - b.1).abs() < 1.0 {
                    let area = Area::new(a.0.min(b.0), a.1.min(b.1), a.0.max(b.0), a.1.max(b.1));
                    ground.keep_off(area.grown(4.0));
                }
            }
        }
    }

    /// Returns the ground that the layer tints, if it does.
    pub fn tinted(&self, panel: &Panel) -> Option<Area> {
        let whole_x = (panel.x.low(), panel.x.high());
        let whole_y = (panel.y.low(), panel.y.high());
        match self {
            Layer::Zone { x, y, .. } => {
                Some(cut(panel, x.unwrap_or(whole_x), y.unwrap_or(whole_y)))
            }
            Layer::Band {
                x, lower, upper, ..
            } => {
                let (left, right) = range(x.iter().copied());
                let (low, _) = range(lower.iter().copied());
                let (_, high) = range(upper.iter().copied());
                Some(cut(panel, (left, right), (low, high)))
            }
            _ => None,
        }
    }

    /// Draws the layer, cut to the panel.
    pub fn draw(&self, canvas: &mut Canvas, panel: &Panel) -> Result<(), ChartError> {
        let page = |p: &(f64, f64)| (panel.x(p.0), panel.y(p.1));
        let area = panel.area;
        match self {
            Layer::Line { x, y, pen, .. } => {
                for (x, y) in clip::pieces(x, y, panel) {
                    curve::draw(canvas, panel, (&x, &y), *pen)?;
                }
                Ok(())
            }
            Layer::Band {
                x,
                lower,
                upper,
                colour,
                ..
            } => {
                let (x, lower, upper) = clip::band(x, lower, upper, panel);
                curve::fill_band(canvas, panel, &x, (&lower, &upper), *colour)
            }
            Layer::Zone {
                x,
                y,
                colour,
                opacity,
            } => {
                let x = x.unwrap_or((panel.x.low(), panel.x.high()));
                let y = y.unwrap_or((panel.y.low(), panel.y.high()));
                canvas.fill(cut(panel, x, y), *colour, *opacity)
            }
            Layer::Level { y, pen } => {
                let y = panel.y(*y);
                let inside = y >= area.y0 - 0.5 && y <= area.y1 + 0.5;
                match inside {
                    true => canvas.line(&[(area.x0, y), (area.x1, y)], *pen),
                    false => Ok(()),
                }
            }
            Layer::Upright { x, pen } => {
                let x = panel.x(*x);
                let inside = x >= area.x0 - 0.5 && x <= area.x1 + 0.5;
                match inside {
                    true => canvas.line(&[(x, area.y0), (x, area.y1)], *pen),
                    false => Ok(()),
                }
            }
            Layer::Bar {
                x,
                y,
                colour,
                hatch,
            } => draw_bar(canvas, cut(panel, *x, *y), *colour, *hatch),
            Layer::Dot(dot) => dot.draw(canvas, page(&dot.at)),
            Layer::Cross(at, colour) => canvas.cross(page(at), RADIUS, *colour),
            Layer::Gap(gap) => {
                let whole = (panel.y.low(), panel.y.high());
                draw_bar(canvas, cut(panel, *gap, whole), GAP, Hatch::Up)
            }
            Layer::Interval { from, to, pen } => {
                let (a, b) = (page(from), page(to));
                canvas.line(&[a, b], *pen)?;
                let (dx, dy) = if (a.0 - b.0).abs() > (a.1 - b.1).abs() {
                    (0.0, 4.0)
                } else {
                    (4.0, 0.0)
                };
                for (x, y) in [a, b] {
                    canvas.line(&[(x - dx, y - dy), (x + dx, y + dy)], *pen)?;
                }
                Ok(())
            }
            Layer::Arrow { from, to, colour } => canvas.arrow(page(from), page(to), *colour),
        }
    }
}

/// Notes a curve as ink, but for what lies beyond the panel.
fn ink(ground: &mut Ground, panel: &Panel, x: &[f64], y: &[f64]) {
    let mut before: Option<(f64, f64)> = None;
    for (&x, &y) in x.iter().zip(y) {
        let here = (panel.x(x), panel.y(y));
        ground.ink_line(before.unwrap_or(here), here);
        before = Some(here);
    }
}

impl Dot {
    /// Returns where the arrow of a value that lies beyond ends.
    fn tip(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let way = match self.bound {
            Bound::Exact => 0.0,
            Bound::Above => ARROW,
            Bound::Below => -ARROW,
        };
        match self.along {
            Along::X => (x + way, y),
            Along::Y => (x, y - way),
        }
    }

    fn draw(&self, canvas: &mut Canvas, at: (f64, f64)) -> Result<(), ChartError> {
        let colour = match self.aside {
            true => self.colour.mixed(PAPER, 0.62),
            false => self.colour,
        };
        let fill = if self.bound == Bound::Exact {
            Fill::Solid
        } else {
            canvas.arrow(at, self.tip(at), colour)?;
            Fill::Open
        };
        canvas.symbol(self.marker, at, self.radius, (colour, fill))?;
        if self.aside {
            canvas.cross(at, self.radius, MUTED)?;
        }
        Ok(())
    }
}

/// Distance between the lines of a hatch, logical pixels.
const HATCH: f64 = 6.0;

/// Draws a bar with its pattern, and a rim of paper between neighbours.
pub(super) fn draw_bar(
    canvas: &mut Canvas,
    area: Area,
    colour: Rgb,
    hatch: Hatch,
) -> Result<(), ChartError> {
    canvas.fill(area, colour, 1.0)?;
    // Paper lines on a dark bar, ink lines on a pale one.
    if hatch == Hatch::None {
        return Ok(());
    }
    let pen = match colour.contrast_to_paper() > 2.2 {
        true => Pen::solid(PAPER, 2),
        false => Pen::solid(MUTED.mixed(PAPER, 0.35), 1),
    };
    let (wide, tall) = (area.x1 - area.x0, area.y1 - area.y0);
    let steps = ((wide + tall) / HATCH).floor() as usize;
    for step in 1..=steps {
        // The diagonal that meets the lower edge `along` from the left, cut to the bar.
        let along = step as f64 * HATCH;
        let (x0, y0) = (along.min(wide), (along - wide).max(0.0));
        let (x1, y1) = ((along - tall).max(0.0), along.min(tall));
        if matches!(hatch, Hatch::Down | Hatch::Cross) {
            let down = [(area.x0 + x0, area.y1 - y0), (area.x0 + x1, area.y1 - y1)];
            canvas.line(&down, pen)?;
        }
        if matches!(hatch, Hatch::Up | Hatch::Cross) {
            let up = [(area.x0 + x0, area.y0 + y0), (area.x0 + x1, area.y0 + y1)];
            canvas.line(&up, pen)?;
        }
    }
    Ok(())
}
