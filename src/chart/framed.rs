//! One panel on the page: labels placed, everything drawn.

use super::axis::Axis;
use super::canvas::{Canvas, Pen};
use super::frame::{Block, Panel, tick};
use super::label::{Area, LabelKind, spread};
use super::layer::Layer;
use super::panel::{BESIDE, EndText, LEADER, Measured, NAME_ROW, TOP_ROW, TopText};
use super::picture::ChartError;
use super::place::{Ground, Place};
use super::plot::Plot;
use super::text::{Hang, Text, shortened, width};
use super::theme::{AXIS, GRID, MUTED, PAPER, Type};

/// A panel with its place.
pub(super) struct Frame<'a> {
    plot: &'a Plot,
    panel: Panel,
    slot: (f64, f64),
    top: f64,
    title: Block,
    names: Vec<(String, Hang)>,
    ends: Vec<EndText>,
    tops: Vec<TopText>,
    x_ticks: Vec<(f64, Vec<String>)>,
    foot_of_ticks: f64,
}

impl<'a> Frame<'a> {
    /// Returns `plot` with its texts from `top` and its panel from `upper` to `lower`.
    pub fn new(plot: &'a Plot, m: &Measured, (top, upper, lower): (f64, f64, f64)) -> Frame<'a> {
        let (x0, x1) = m.edges();
        let lines = m.x_ticks.iter().map(|t| t.1.len()).max().unwrap_or(0);
        Frame {
            plot,
            panel: Panel {
                area: Area::new(x0, upper, x1, lower),
                x: plot.x.clone(),
                y: plot.y.clone(),
            },
            slot: m.slot,
            top,
            title: m.title.clone(),
            names: m.names.clone(),
            ends: m.ends.clone(),
            tops: m.tops.clone(),
            x_ticks: m.x_ticks.clone(),
            foot_of_ticks: match lines {
                0 => 0.0,
                n => 8.0 + n as f64 * Type::TICK.line_height(),
            },
        }
    }

    /// Returns the place of each label but those `listed` elsewhere.
    pub fn place(&self, listed: &[usize]) -> Result<Vec<Option<Place>>, ChartError> {
        let mut ground = Ground::new(self.panel.area.grown(-2.0));
        for layer in &self.plot.layers {
            layer.stand_on(&mut ground, &self.panel);
        }
        let mut places = Vec::with_capacity(self.plot.labels.len());
        for (index, label) in self.plot.labels.iter().enumerate() {
            if listed.contains(&index) {
                places.push(None);
                continue;
            }
            let size = (width(&label.words, Type::LABEL)?, Type::LABEL.size * 1.06);
            let from = self.page(label.at);
            let place = ground.find_towards(from, size, label.towards);
            if let Some(place) = &place {
                ground.take(place.area);
                if let Some(end) = place.leader {
                    ground.ink_line(from, end);
                }
            }
            places.push(place);
        }
        Ok(places)
    }

    fn page(&self, at: (f64, f64)) -> (f64, f64) {
        (self.panel.x(at.0), self.panel.y(at.1))
    }

    /// Draws the panel with its labels at `places`.
    pub fn draw(&self, canvas: &mut Canvas, places: &[Option<Place>]) -> Result<(), ChartError> {
        if self.plot.blank {
            return Ok(());
        }
        let below = self.title.draw(canvas, self.slot.0, self.top)?;
        self.draw_names(canvas, below)?;
        let shading = |layer: &&Layer| matches!(layer, Layer::Zone { .. });
        for layer in self.plot.layers.iter().filter(shading) {
            layer.draw(canvas, &self.panel)?;
        }
        self.draw_axes(canvas)?;
        for layer in self.plot.layers.iter().filter(|l| !shading(l)) {
            layer.draw(canvas, &self.panel)?;
        }
        self.draw_tops(canvas)?;
        self.draw_ends(canvas)?;
        self.draw_labels(canvas, places)
    }

    fn draw_names(&self, canvas: &mut Canvas, top: f64) -> Result<(), ChartError> {
        let mut y = top + NAME_ROW / 2.0;
        for (words, hang) in &self.names {
            let x = match hang {
                Hang::Right => {
                    // It faces the name on the line before.
                    y -= NAME_ROW;
                    self.slot.1
                }
                _ => self.slot.0,
            };
            let text = Text {
                words,
                style: Type::AXIS,
                kind: LabelKind::Axis,
                hang: *hang,
            };
            canvas.text(text, x, y)?;
            y += NAME_ROW;
        }
        Ok(())
    }

    fn draw_axes(&self, canvas: &mut Canvas) -> Result<(), ChartError> {
        let area = self.panel.area;
        let rows = thinned_rows(&self.plot.y, area.y1 - area.y0);
        for (value, words) in rows.into_iter().filter(|_| !self.plot.bare) {
            let y = self.panel.y(value);
            canvas.line(&[(area.x0, y), (area.x1, y)], Pen::solid(GRID, 2))?;
            if self.plot.y_ticks {
                let words = shortened(&words, Type::TICK, area.x0 - self.slot.0 - 8.0)?;
                canvas.text(tick(&words, Hang::Right), area.x0 - 8.0, y)?;
            }
        }
        if let Some((axis, _)) = &self.plot.right {
            for (value, words) in thinned_rows(axis, area.y1 - area.y0) {
                let y = area.y1 - axis.share(value) * (area.y1 - area.y0);
                canvas.line(&[(area.x1, y), (area.x1 + 4.0, y)], Pen::solid(AXIS, 2))?;
                canvas.text(tick(&words, Hang::Left), area.x1 + 8.0, y)?;
            }
        }
        let base = area.y1;
        canvas.line(&[(area.x0, base), (area.x1, base)], Pen::solid(AXIS, 2))?;
        for (value, lines) in &self.x_ticks {
            let x = self.panel.x(*value);
            if !self.plot.x.is_named() {
                canvas.line(&[(x, base), (x, base + 5.0)], Pen::solid(AXIS, 2))?;
            }
            let mut y = base + 16.0;
            for words in lines {
                canvas.text(tick(words, Hang::Centre), x, y)?;
                y += Type::TICK.line_height();
            }
        }
        if !self.plot.x_name.is_empty() {
            let room = area.x1 - self.slot.0;
            let words = shortened(&self.plot.x_name, Type::AXIS, room)?;
            let text = Text {
                words: &words,
                style: Type::AXIS,
                kind: LabelKind::Axis,
                hang: Hang::Right,
            };
            canvas.text(text, area.x1, base + self.foot_of_ticks + 13.0)?;
        }
        Ok(())
    }

    fn draw_tops(&self, canvas: &mut Canvas) -> Result<(), ChartError> {
        let top = self.panel.area.y0;
        for text in &self.tops {
            let y = top - 11.0 - text.row as f64 * TOP_ROW;
            if text.row > 0 {
                // Its line would run through the words below it: it ends at the panel instead.
                let style = BESIDE.in_colour(text.colour);
                let clear = self.tops.iter().all(|other| {
                    let half = width(&other.words, style).unwrap_or(0.0) / 2.0 + 3.0;
                    other.row >= text.row || (other.centre - text.x).abs() > half
                });
                if clear {
                    let path = [(text.x, y + 9.0), (text.x, top)];
                    canvas.line(&path, Pen::solid(GRID, 2))?;
                }
            }
            let words = Text {
                words: &text.words,
                style: BESIDE.in_colour(text.colour),
                kind: LabelKind::Mark,
                hang: Hang::Centre,
            };
            canvas.text(words, text.centre, y)?;
        }
        Ok(())
    }

    /// Draws the words at the lines' ends, apart from each other.
    fn draw_ends(&self, canvas: &mut Canvas) -> Result<(), ChartError> {
        let area = self.panel.area;
        let end_of = |text: &EndText| {
            let x = text.end.x.map_or(area.x1, |x| self.panel.x(x));
            (
                x.min(area.x1),
                self.panel.y(text.end.y).max(area.y0).min(area.y1),
            )
        };
        let centres: Vec<f64> = self.ends.iter().map(|e| end_of(e).1).collect();
        let heights: Vec<f64> = self.ends.iter().map(EndText::room).collect();
        let placed = spread(&centres, &heights, area.y0 - 8.0, area.y1 + 8.0);
        let left = area.x1 + LEADER;
        for (text, middle) in self.ends.iter().zip(&placed) {
            let end = end_of(text);
            let pen = Pen::solid(text.end.colour.mixed(PAPER, 0.35), 1);
            if !self.plot.bare {
                let path = [end, (left - 14.0, end.1), (left - 4.0, *middle)];
                canvas.line(&path, pen)?;
            }
            let mut y = middle - (text.height() - BESIDE.line_height()) / 2.0;
            for words in &text.lines {
                let line = Text {
                    words,
                    style: BESIDE.in_colour(text.end.colour),
                    kind: LabelKind::Series,
                    hang: Hang::Left,
                };
                canvas.text(line, left, y)?;
                y += BESIDE.line_height();
            }
        }
        Ok(())
    }

    fn draw_labels(&self, canvas: &mut Canvas, places: &[Option<Place>]) -> Result<(), ChartError> {
        let placed = || self.plot.labels.iter().zip(places);
        for (label, place) in placed() {
            if let Some(end) = place.and_then(|p| p.leader) {
                let from = self.page(label.at);
                canvas.line(&[from, end], Pen::solid(MUTED, 1))?;
            }
        }
        for (label, place) in placed() {
            let Some(place) = place else { continue };
            let style = Type::LABEL.in_colour(label.colour);
            // The grid shall not run through the words; on a tinted ground paper would be a patch.
            let mut tinted = self
                .plot
                .layers
                .iter()
                .filter_map(|l| l.tinted(&self.panel));
            if !tinted.any(|area| area.overlaps(&place.area)) {
                canvas.fill(place.area.grown(1.0), PAPER, 1.0)?;
            }
            let text = Text {
                words: &label.words,
                style,
                kind: LabelKind::Mark,
                hang: Hang::Left,
            };
            // The label's middle by capitals lies a little above the middle of its box.
            let middle = (place.area.y0 + place.area.y1) / 2.0 - 0.06 * style.size;
            canvas.text(text, place.area.x0, middle)?;
        }
        Ok(())
    }
}

/// Returns the ticks of an ordinate `tall` pixels high, so many that their texts stay apart.
fn thinned_rows(axis: &Axis, tall: f64) -> Vec<(f64, String)> {
    let ticks = axis.ticks();
    let apart = match (ticks.first(), ticks.get(1)) {
        (Some(a), Some(b)) => (axis.share(b.0) - axis.share(a.0)) * tall,
        _ => tall,
    };
    let every = (Type::TICK.line_height() / apart.max(0.1)).ceil().max(1.0) as usize;
    ticks.into_iter().step_by(every).collect()
}
