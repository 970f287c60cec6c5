//! The line above a panel: what the ordinate shows, and what the signs mean.

use super::canvas::{Canvas, Fill, Pen};
use super::hatch::{Hatch, draw_bar, draw_span, draw_tick};
use super::label::{Area, LabelKind};
use super::picture::ChartError;
use super::text::{Hang, Text, shortened, width};
use super::theme::{
    AGREED, AGREED_OPACITY, Dash, GAP as GROUND, INK, MUTED, Marker, PAPER, Rgb, Type,
};

/// A sign in the key.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Swatch {
    /// Thin line.
    Line(Rgb),
    /// Thick line.
    Thick(Rgb),
    /// Thick line with a pattern.
    Dashed(Rgb, Dash),
    /// Filled band.
    Band(Rgb),
    /// Open symbol.
    Symbol(Marker, Rgb),
    /// Solid symbol.
    Solid(Marker, Rgb),
    /// Cross.
    Cross(Rgb),
    /// Upright line.
    Interval,
    /// Dot within a ring.
    Ring,
    /// Open circle with an arrow.
    Censored,
    /// Pale dot with a cross over it.
    Aside,
    /// Filled block with a pattern.
    Block(Rgb, Hatch),
    /// Hatched part without data.
    Gap,
    /// Thin bar at the foot of a panel.
    Bar(Rgb),
    /// Interval that lies flat.
    Span,
    /// Upright tick on a step curve.
    Censor,
    /// Shaded range that was agreed, such as a margin.
    Agreed,
}

/// A key that was measured before it is drawn.
pub(super) struct Key {
    name: String,
    left: f64,
    /// Line, left edge, sign, words.
    items: Vec<(usize, f64, Swatch, String)>,
    lines: usize,
}

const SWATCH: f64 = 26.0;
const GAP: f64 = 24.0;
const LINE: f64 = 22.0;

impl Key {
    /// Returns the key between `left` and `right`: the ordinate's name first, the items after it,
    /// on as many lines as they need.
    pub fn new(
        name: &str,
        items: Vec<(Swatch, String)>,
        left: f64,
        right: f64,
    ) -> Result<Key, ChartError> {
        let mut items = items;
        let mut widths = Vec::with_capacity(items.len());
        for (_, words) in &mut items {
            *words = shortened(words, Type::TICK, right - left - SWATCH - 6.0)?;
            widths.push(SWATCH + 6.0 + width(words, Type::TICK)?);
        }
        let name = shortened(name, Type::AXIS, right - left)?;
        let total: f64 = widths.iter().map(|w| w + GAP).sum::<f64>() - GAP;
        let name_end = left + width(&name, Type::AXIS)? + GAP;
        let one_line = name_end + total <= right;
        let (mut line, mut x) = if one_line {
            (0, right - total)
        } else {
            (usize::from(!name.is_empty()), left)
        };
        let mut placed = Vec::with_capacity(items.len());
        for ((swatch, words), width) in items.into_iter().zip(widths) {
            if x > left && x + width > right + 0.5 {
                line += 1;
                x = left;
            }
            placed.push((line, x, swatch, words));
            x += width + GAP;
        }
        Ok(Key {
            name,
            left,
            items: placed,
            lines: line + 1,
        })
    }

    /// Returns the height of the key.
    pub fn height(&self) -> f64 {
        self.lines as f64 * LINE
    }

    /// Draws the key with its top at `top`.
    pub fn draw(&self, canvas: &mut Canvas, top: f64) -> Result<(), ChartError> {
        let name = Text {
            words: &self.name,
            style: Type::AXIS,
            kind: LabelKind::Axis,
            hang: Hang::Left,
        };
        if !self.name.is_empty() {
            canvas.text(name, self.left, top + LINE / 2.0)?;
        }
        for (line, x, swatch, words) in &self.items {
            let y = top + (*line as f64 + 0.5) * LINE;
            swatch.draw(canvas, *x, y)?;
            let text = Text {
                words,
                style: Type::TICK,
                kind: LabelKind::Series,
                hang: Hang::Left,
            };
            canvas.text(text, x + SWATCH + 6.0, y)?;
        }
        Ok(())
    }
}

impl Swatch {
    fn draw(self, canvas: &mut Canvas, x: f64, y: f64) -> Result<(), ChartError> {
        let line = [(x, y), (x + SWATCH, y)];
        let middle = (x + SWATCH / 2.0, y);
        match self {
            Swatch::Line(colour) => canvas.line(&line, Pen::solid(colour, 2)),
            Swatch::Thick(colour) => canvas.line(&line, Pen::solid(colour, 3)),
            Swatch::Dashed(colour, dash) => canvas.line(
                &line,
                Pen {
                    colour,
                    width: 3,
                    dash,
                },
            ),
            Swatch::Band(colour) => {
                canvas.fill(Area::new(x, y - 6.0, x + SWATCH, y + 6.0), colour, 0.22)
            }
            Swatch::Symbol(marker, colour) => {
                canvas.symbol(marker, middle, 4.5, (colour, Fill::Open))
            }
            Swatch::Solid(marker, colour) => {
                canvas.symbol(marker, middle, 4.5, (colour, Fill::Solid))
            }
            Swatch::Cross(colour) => canvas.cross(middle, 4.5, colour),
            Swatch::Interval => {
                let ends = [(middle.0, y - 8.0), (middle.0, y + 8.0)];
                canvas.line(&ends, Pen::solid(INK, 2))
            }
            Swatch::Ring => {
                canvas.symbol(Marker::Circle, middle, 8.0, (MUTED, Fill::Open))?;
                canvas.symbol(Marker::Circle, middle, 3.6, (INK, Fill::Solid))
            }
            Swatch::Aside => {
                let pale = MUTED.mixed(PAPER, 0.62);
                canvas.symbol(Marker::Circle, middle, 4.5, (pale, Fill::Solid))?;
                canvas.cross(middle, 4.5, MUTED)
            }
            Swatch::Block(colour, hatch) => {
                let area = Area::new(x, y - 7.0, x + SWATCH, y + 7.0);
                draw_bar(canvas, area, colour, hatch)
            }
            Swatch::Gap => {
                let area = Area::new(x, y - 7.0, x + SWATCH, y + 7.0);
                draw_bar(canvas, area, GROUND, Hatch::Up)
            }
            Swatch::Bar(colour) => {
                canvas.fill(Area::new(x, y - 2.5, x + SWATCH, y + 2.5), colour, 1.0)
            }
            Swatch::Span => draw_span(canvas, (x, x + SWATCH), y, MUTED),
            Swatch::Censor => {
                canvas.line(&line, Pen::solid(MUTED, 3))?;
                draw_tick(canvas, middle, INK)
            }
            Swatch::Agreed => canvas.fill(
                Area::new(x, y - 7.0, x + SWATCH, y + 7.0),
                AGREED,
                AGREED_OPACITY,
            ),
            Swatch::Censored => {
                canvas.arrow((x + 9.0, y), (x + SWATCH, y), INK)?;
                canvas.symbol(Marker::Circle, (x + 6.0, y), 4.5, (INK, Fill::Open))
            }
        }
    }
}
