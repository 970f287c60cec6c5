//! What the texts around a panel need, measured before anything is placed.

use super::axis::Axis;
use super::frame::{Block, tick_room};
use super::label::LabelKind;
use super::picture::ChartError;
use super::plot::{End, Plot};
use super::text::{Hang, shortened, width, wrapped};
use super::theme::{Rgb, Type};

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
    pub ends: Vec<EndText>,
    pub tops: Vec<TopText>,
    pub title: Block,
    pub names: Vec<(String, Hang)>,
    pub x_ticks: Vec<(f64, Vec<String>)>,
}

/// What is written at the right end of a line.
#[derive(Debug, Clone)]
pub(super) struct EndText {
    pub end: End,
    pub lines: Vec<String>,
}

/// What is written above the panel.
#[derive(Debug, Clone)]
pub(super) struct TopText {
    pub x: f64,
    /// Middle of the words, logical pixels.
    pub centre: f64,
    pub row: usize,
    pub words: String,
    pub colour: Rgb,
}

/// Distance between a line's end and its words, logical pixels.
pub(super) const LEADER: f64 = 22.0;
/// Greatest width of the words at a line's end, logical pixels.
const WIDEST_END: f64 = 230.0;
/// Height of a row of words above a panel, logical pixels.
pub(super) const TOP_ROW: f64 = 19.0;
/// Height of a line with the ordinates' names, logical pixels.
pub(super) const NAME_ROW: f64 = 22.0;
/// Style of the words above and at the right of a panel.
pub(super) const BESIDE: Type = Type::TICK;

impl EndText {
    pub fn height(&self) -> f64 {
        self.lines.len() as f64 * BESIDE.line_height()
    }

    /// Returns the height with the room to its neighbours: several lines need more than one.
    pub fn room(&self) -> f64 {
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
            let lines = wrapped(&end.words, BESIDE, (wide * 0.3).min(WIDEST_END))?;
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

    /// Returns left and right edge of the panel.
    pub fn edges(&self) -> (f64, f64) {
        let left = self.slot.0 + self.left;
        (left, (self.slot.1 - self.right).max(left + 20.0))
    }

    /// Measures what stands above and below, once left and right are settled.
    pub fn measure_texts(&mut self, plot: &Plot) -> Result<(), ChartError> {
        let wide = self.slot.1 - self.slot.0;
        let style = match plot.small {
            true => Type::SMALL.in_colour(plot.ink),
            false => Type::PANEL.in_colour(plot.ink),
        };
        self.title.add(&plot.title, style, LabelKind::Title, wide)?;
        self.title
            .add(&plot.note, Type::CAPTION, LabelKind::Title, wide)?;
        let right_name = plot.right.as_ref().map_or("", |r| r.1.as_str());
        self.names = names(&plot.y_name, right_name, wide)?;
        let rows = match self.names.as_slice() {
            [(_, Hang::Left), (_, Hang::Right)] => 1,
            names => names.len(),
        };
        self.tops = self.tops_of(plot)?;
        let top_rows = self.tops.iter().map(|t| t.row + 1).max().unwrap_or(0);
        self.head = self.title.height()
            + rows as f64 * NAME_ROW
            + top_rows as f64 * TOP_ROW
            + if plot.small { 10.0 } else { 12.0 };
        let (x0, x1) = self.edges();
        self.x_ticks = match plot.x_ticks {
            true => x_ticks(&plot.x, x1 - x0, (self.left, self.right))?,
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

/// Returns the texts below a panel `room` wide, with `left` and `right` beside it, thinned or broken
/// until none touches its neighbour.
fn x_ticks(
    axis: &Axis,
    room: f64,
    (left, right): (f64, f64),
) -> Result<Vec<(f64, Vec<String>)>, ChartError> {
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
        // Centred on its tick, a text must stay within the panel's place.
        let share = axis.share(at);
        let half = (share * room + left).min((1.0 - share) * room + right);
        let words = shortened(
            &words.replace('\n', " "),
            Type::TICK,
            (2.0 * half).min(room / 2.0),
        )?;
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
