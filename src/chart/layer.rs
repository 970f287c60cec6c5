//! The layers of a panel, in data units: what each covers and how it is drawn.

use super::Bound;
use super::axis::range;
use super::canvas::{Canvas, Fill, Pen};
use super::clip;
use super::curve;
use super::frame::Panel;
use super::hatch::{Hatch, SPAN, TICK, draw_bar, draw_span, draw_tick};
use super::label::{Area, LabelKind};
use super::picture::ChartError;
use super::place::Ground;
use super::text::{Hang, Text};
use super::theme::{GAP, MUTED, Marker, PAPER, Rgb, Type};

/// Radius of a mark, logical pixels.
pub(super) const RADIUS: f64 = 4.5;
/// Length of the arrow of a value that lies beyond, logical pixels.
const ARROW: f64 = 19.0;

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
    /// An open mark: neither accepted nor rejected.
    Ring(Dot),
    /// An upright tick on a curve, where something was last seen.
    Tick { at: (f64, f64), colour: Rgb },
    /// A flat interval, drawn as a bar of fixed height.
    Span { x: (f64, f64), y: f64, colour: Rgb },
    /// A count written into a bar where it fits.
    Count {
        at: (f64, f64),
        room: ((f64, f64), (f64, f64)),
        words: String,
        colour: Rgb,
    },
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

/// Returns the points at which a layer other than a line or band stands.
pub(super) fn points_of(layer: &Layer) -> Vec<(f64, f64)> {
    match layer {
        Layer::Line { .. } | Layer::Band { .. } => Vec::new(),
        Layer::Zone { x, y, .. } => {
            let (x, y) = (x.unwrap_or((0.0, 0.0)), y.unwrap_or((0.0, 0.0)));
            vec![(x.0, y.0), (x.1, y.1)]
        }
        Layer::Level { y, .. } => vec![(0.0, *y)],
        Layer::Upright { x, .. } => vec![(*x, 0.0)],
        Layer::Bar { x, y, .. } => vec![(x.0, y.0), (x.1, y.1)],
        Layer::Dot(dot) | Layer::Ring(dot) => vec![dot.at],
        Layer::Tick { at, .. } => vec![*at],
        Layer::Span { x, y, .. } => vec![(x.0, *y), (x.1, *y)],
        Layer::Count { at, room, .. } => vec![*at, room.0, room.1],
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
            Layer::Tick { at, .. } => {
                let (x, y) = page(at);
                ground.take(Area::new(x - 2.0, y - TICK, x + 2.0, y + TICK));
            }
            Layer::Span { x, y, .. } => {
                let area = cut(panel, *x, (*y, *y));
                ground.take(area.grown(SPAN));
            }
            Layer::Count { .. } => {}
            Layer::Dot(dot) | Layer::Ring(dot) => {
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
            Layer::Ring(dot) => {
                let look = (dot.colour, Fill::Open);
                canvas.symbol(dot.marker, page(&dot.at), dot.radius, look)
            }
            Layer::Tick { at, colour } => draw_tick(canvas, page(at), *colour),
            Layer::Span { x, y, colour } => {
                let area = cut(panel, *x, (*y, *y));
                draw_span(canvas, (area.x0, area.x1), area.y0, *colour)
            }
            Layer::Count {
                at,
                room,
                words,
                colour,
            } => {
                let room = cut(panel, (room.0.0, room.1.0), (room.0.1, room.1.1));
                let (x, y) = page(at);
                let text = Text {
                    words,
                    style: Type::CAPTION.in_colour(*colour),
                    kind: LabelKind::Mark,
                    hang: Hang::Centre,
                };
                match room.contains(&text.area(x, y)?) {
                    true => canvas.text(text, x, y).map(|_| ()),
                    false => Ok(()),
                }
            }
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
