//! The parts every figure shares: heading, caption, and the panel with grid and axes.

use super::axis::Axis;
use super::canvas::{Canvas, Pen};
use super::label::{Area, LabelKind};
use super::picture::ChartError;
use super::text::{Hang, Text, width, wrapped};
use super::theme::{AXIS, GRID, MARGIN, Type};

/// Lines of text that were measured before they are drawn.
#[derive(Debug, Clone)]
pub(super) struct Block {
    lines: Vec<(String, Type, LabelKind)>,
}

impl Block {
    /// Returns an empty block.
    pub fn new() -> Block {
        Block { lines: Vec::new() }
    }

    /// Adds `words`, broken to `room`.
    pub fn add(
        &mut self,
        words: &str,
        style: Type,
        kind: LabelKind,
        room: f64,
    ) -> Result<(), ChartError> {
        for line in wrapped(words, style, room)? {
            self.lines.push((line, style, kind));
        }
        Ok(())
    }

    /// Returns the height of the block.
    pub fn height(&self) -> f64 {
        self.lines.iter().map(|l| l.1.line_height()).sum()
    }

    /// Draws the block with its top left at (`x`, `y`); returns its lower end.
    pub fn draw(&self, canvas: &mut Canvas, x: f64, y: f64) -> Result<f64, ChartError> {
        let mut top = y;
        for (words, style, kind) in &self.lines {
            let text = Text {
                words,
                style: *style,
                kind: *kind,
                hang: Hang::Left,
            };
            canvas.text(text, x, top + style.line_height() / 2.0)?;
            top += style.line_height();
        }
        Ok(top)
    }
}

/// Returns title and subtitle as a block of the page's width.
pub(super) fn heading(title: &str, subtitle: &str, page_width: f64) -> Result<Block, ChartError> {
    let room = page_width - 2.0 * MARGIN;
    let mut block = Block::new();
    block.add(title, Type::TITLE, LabelKind::Title, room)?;
    block.add(subtitle, Type::SUBTITLE, LabelKind::Title, room)?;
    Ok(block)
}

/// Returns notes and caption as a block of the page's width.
pub(super) fn footing<'a>(
    lines: impl IntoIterator<Item = &'a str>,
    page_width: f64,
) -> Result<Block, ChartError> {
    let mut block = Block::new();
    for line in lines {
        block.add(
            line,
            Type::CAPTION,
            LabelKind::Caption,
            page_width - 2.0 * MARGIN,
        )?;
    }
    Ok(block)
}

/// A rectangle of the page with two axes.
#[derive(Debug, Clone)]
pub(super) struct Panel {
    pub area: Area,
    pub x: Axis,
    pub y: Axis,
}

impl Panel {
    /// Returns the page position of `value` on the horizontal axis.
    pub fn x(&self, value: f64) -> f64 {
        self.area.x0 + self.x.share(value) * (self.area.x1 - self.area.x0)
    }

    /// Returns the page position of `value` on the vertical axis.
    pub fn y(&self, value: f64) -> f64 {
        self.area.y1 - self.y.share(value) * (self.area.y1 - self.area.y0)
    }

    /// Draws horizontal grid lines with their values left of the panel.
    pub fn draw_y_axis(&self, canvas: &mut Canvas) -> Result<(), ChartError> {
        for (value, words) in self.y.ticks() {
            let y = self.y(value);
            canvas.line(&[(self.area.x0, y), (self.area.x1, y)], Pen::solid(GRID, 2))?;
            let text = tick(&words, Hang::Right);
            canvas.text(text, self.area.x0 - 8.0, y)?;
        }
        Ok(())
    }

    /// Draws the horizontal axis with its values below `base`, and its name at the right end.
    pub fn draw_x_axis(
        &self,
        canvas: &mut Canvas,
        name: &str,
        base: f64,
    ) -> Result<(), ChartError> {
        canvas.line(
            &[(self.area.x0, base), (self.area.x1, base)],
            Pen::solid(AXIS, 2),
        )?;
        for (value, words) in self.x.ticks() {
            let x = self.x(value);
            canvas.line(&[(x, base), (x, base + 5.0)], Pen::solid(AXIS, 2))?;
            canvas.text(tick(&words, Hang::Centre), x, base + 16.0)?;
        }
        let text = Text {
            words: name,
            style: Type::AXIS,
            kind: LabelKind::Axis,
            hang: Hang::Right,
        };
        canvas.text(text, self.area.x1, base + X_AXIS_NAME)?;
        Ok(())
    }
}

/// Distance of the horizontal axis' name below the axis.
const X_AXIS_NAME: f64 = 37.0;
/// Room that ticks and name of a horizontal axis need below it.
pub(super) const X_AXIS_ROOM: f64 = 50.0;

/// Returns a tick value as text.
pub(super) fn tick(words: &str, hang: Hang) -> Text<'_> {
    Text {
        words,
        style: Type::TICK,
        kind: LabelKind::Tick,
        hang,
    }
}

/// Returns the room left of a panel for the tick values of `axis`.
pub(super) fn tick_room(axis: &Axis) -> Result<f64, ChartError> {
    let mut room: f64 = 0.0;
    for (_, words) in axis.ticks() {
        room = room.max(width(&words, Type::TICK)?);
    }
    Ok(room + 12.0)
}
