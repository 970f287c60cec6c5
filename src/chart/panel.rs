//! One panel on the page: its texts measured, its labels placed, everything drawn.

use super::axis::Axis;
use super::canvas::{Canvas, Pen};
use super::frame::{Block, Panel, tick, tick_room};
use super::label::{Area, LabelKind, spread};
use super::picture::ChartError;
use super::place::{Ground, Place};
use super::plot::{End, Layer, Plot};
use super::text::{Hang, Text, shortened, width, wrapped};
use super::theme::{AXIS, GRID, MUTED, PAPER, Rgb, Type};

/// What the texts of a panel need.
pub(super) struct Measured {
    /// Left and right edge of the panel's place.
    pub slot: (f64, f64),
    /// Room left of the panel.
    pub left: f64,
    /// Room right of the panel.
    pub right: f64,
    /// Room above the panel.
    pub head: f64,
    /// Room below the panel.
    pub foot: f64,
    /// Least height of the panel.
    pub least: f64,
    ends: Vec<EndText>,
    tops: Vec<TopText>,
    title: Block,
    names: Vec<(String, Hang)>,
    x_ticks: Vec<(f64, Vec<String>)>,
}

/// What is written at the right end of a line.
#[derive(Debug, Clone)]
struct EndText {
    end: End,
    lines: Vec<String>,
}

/// What is written above the panel.
#[derive(Debug, Clone)]
struct TopText {
    x: f64,
    /// Middle of the words, logical pixels.
    centre: f64,
    row: usize,
    words: String,
    colour: Rgb,
}

/// Distance between a line's end and its words, logical pixels.
const LEADER: f64 = 22.0;
/// Height of a row of words above a panel, logical pixels.
const TOP_ROW: f64 = 19.0;
/// Height of a line with the ordinates' names, logical pixels.
const NAME_ROW: f64 = 22.0;
/// Style of the words above and at the right of a panel.
const BESIDE: Type = Type::TICK;

impl EndText {
    fn height(&self) -> f64 {
        self.lines.len() as f64 * BESIDE.line_height()
    }

    /// Returns the height with the room to its neighbours: several lines need more than one.
    fn room(&self) -> f64 {
        self.height() + if self.lines.len() > 1 { 6.0 } else { 0.0 }
    }
}

impl Measured {
    /// Measures what stands left and right of `plot` in the place `slot`.
    pub fn new(plot: &Plot, slot: (f64, f64)) -> Result<Measured, ChartError> {
        let wide = slot.1 - slot.0;
        let left = match plot.y_ticks {
            true => tick_room(&plot.y)?.min(wide * 0.34),
            false => 4.0,
        };
        let mut right: f64 = match &plot.right {
            Some((axis, _)) => tick_room(axis)?,
            None => 8.0,
        };
        let mut ends = Vec::new();
        for end in &plot.ends {
            let lines = wrapped(&end.words, BESIDE, wide * 0.3)?;
            for line in &lines {
                right = right.max(LEADER + width(line, BESIDE)? + 4.0);
            }
            ends.push(EndText {
                end: end.clone(),
                lines,
            });
        }
        Ok(Measured {
            slot,
            left,
            right,
            head: 0.0,
            foot: 0.0,
            least: ends.iter().map(EndText::room).sum(),
            ends,
            tops: Vec::new(),
            title: Block::new(),
            names: Vec::new(),
            x_ticks: Vec::new(),
        })
    }

    fn edges(&self) -> (f64, f64) {
        let left = self.slot.0 + self.left;
        (left, (self.slot.1 - self.right).max(left + 20.0))
    }

    /// Measures what stands above and below, once left and right are settled.
    pub fn measure_texts(&mut self, plot: &Plot) -> Result<(), ChartError> {
        let wide = self.slot.1 - self.slot.0;
        let style = Type::PANEL.in_colour(plot.ink);
        self.title.add(&plot.title, style, LabelKind::Title, wide)?;
        let right_name = plot.right.as_ref().map_or("", |r| r.1.as_str());
        self.names = names(&plot.y_name, right_name, wide)?;
        let rows = match self.names.as_slice() {
            [(_, Hang::Left), (_, Hang::Right)] => 1,
            names => names.len(),
        };
        self.tops = self.tops_of(plot)?;
        let top_rows = self.tops.iter().map(|t| t.row + 1).max().unwrap_or(0);
        self.head = self.title.height() + rows as f64 * NAME_ROW + top_rows as f64 * TOP_ROW + 9.0;
        let (x0, x1) = self.edges();
        self.x_ticks = match plot.x_ticks {
            true => x_ticks(&plot.x, x1 - x0)?,
            false => Vec::new(),
        };
        let lines = self.x_ticks.iter().map(|t| t.1.len()).max().unwrap_or(0);
        let ticks = match lines {
            0 => 0.0,
            n => 10.0 + n as f64 * Type::TICK.line_height(),
        };
        let name = if plot.x_name.is_empty() { 0.0 } else { 22.0 };
        self.foot = ticks + name + 4.0;
        Ok(())
    }

    /// Puts the words above the panel into as few rows as keep them apart.
    fn tops_of(&self, plot: &Plot) -> Result<Vec<TopText>, ChartError> {
        let (x0, x1) = self.edges();
        let mut order: Vec<_> = plot.tops.iter().collect();
        order.sort_by(|a, b| a.x.total_cmp(&b.x));
        let mut rows: Vec<f64> = Vec::new();
        let mut tops = Vec::with_capacity(order.len());
        for top in order {
            let words = shortened(&top.words, BESIDE, x1 - x0)?;
            let half = width(&words, BESIDE)? / 2.0;
            let x = x0 + plot.x.share(top.x) * (x1 - x0);
            let centre = x.min(x1 - half).max(x0 + half);
            let row = rows.iter().position(|end| centre - half >= end + 8.0);
            let row = row.unwrap_or_else(|| {
                rows.push(f64::NEG_INFINITY);
                rows.len() - 1
            });
            if let Some(end) = rows.get_mut(row) {
                *end = centre + half;
            }
            tops.push(TopText {
                x,
                centre,
                row,
                words,
                colour: top.colour,
            });
        }
        Ok(tops)
    }
}

/// Returns the names of the two ordinates on one line, or on a line each where they do not fit.
fn names(left: &str, right: &str, room: f64) -> Result<Vec<(String, Hang)>, ChartError> {
    let mut names = Vec::new();
    let both = width(left, Type::AXIS)? + width(right, Type::AXIS)? + 16.0 <= room;
    if !left.is_empty() {
        for line in wrapped(left, Type::AXIS, room)? {
            names.push((line, Hang::Left));
        }
    }
    if !right.is_empty() {
        // A second line hangs left too: only a pair on one line faces each other.
        let hang = if both && !left.is_empty() {
            Hang::Right
        } else {
            Hang::Left
        };
        let words = match hang {
            Hang::Right => right.to_owned(),
            _ => format!("right: {right}"),
        };
        for line in wrapped(&words, Type::AXIS, room)? {
            names.push((line, hang));
        }
    }
    Ok(names)
}

/// Lines that a name on the abscissa may take.
const NAME_LINES: usize = 3;

/// Returns the texts below the panel, thinned or broken until none touches its neighbour.
fn x_ticks(axis: &Axis, room: f64) -> Result<Vec<(f64, Vec<String>)>, ChartError> {
    let ticks = axis.ticks();
    let apart = |a: f64, b: f64| (axis.share(b) - axis.share(a)) * room;
    if axis.is_named() {
        let slot = room / (axis.high() - axis.low()).max(1.0) - 6.0;
        if slot >= 30.0 {
            let mut broken = Vec::with_capacity(ticks.len());
            for (at, words) in ticks {
                let mut lines = Vec::new();
                for part in words.split('\n') {
                    lines.extend(wrapped(part, Type::TICK, slot)?);
                }
                if lines.len() > NAME_LINES {
                    lines.truncate(NAME_LINES);
                    if let Some(last) = lines.last_mut() {
                        // Wide enough to be cut, so that the cut is seen.
                        *last = shortened(&format!("{last} {words}"), Type::TICK, slot)?;
                    }
                }
                broken.push((at, lines));
            }
            return Ok(broken);
        }
    }
    let mut sized = Vec::with_capacity(ticks.len());
    for (at, words) in ticks {
        let words = shortened(&words.replace('\n', " "), Type::TICK, room / 2.0)?;
        sized.push((at, width(&words, Type::TICK)? / 2.0, words));
    }
    let fits = |every: usize| {
        let kept: Vec<_> = sized.iter().step_by(every).collect();
        kept.iter()
            .zip(kept.iter().skip(1))
            .all(|(a, b)| apart(a.0, b.0) >= a.1 + b.1 + 8.0)
    };
    let every = (1..=sized.len().max(1)).find(|n| fits(*n)).unwrap_or(1);
    let kept = sized.into_iter().step_by(every);
    Ok(kept.map(|(at, _, words)| (at, vec![words])).collect())
}

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
        for (value, words) in thinned_rows(&self.plot.y, area.y1 - area.y0) {
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
            let path = [end, (left - 14.0, end.1), (left - 4.0, *middle)];
            canvas.line(&path, pen)?;
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
