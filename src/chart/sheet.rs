//! Panels in rows under one heading: measures every text, then places, then draws.

use super::canvas::{Blank, Canvas};
use super::frame::{Block, footing, heading};
use super::framed::Frame;
use super::key::{Key, Swatch};
use super::panel::Measured;
use super::picture::ChartError;
use super::place::Place;
use super::plot::Plot;
use super::theme::MARGIN;
use super::words::Words;

/// Panels side by side.
pub(super) struct Row {
    /// Panels with their share of the width.
    pub plots: Vec<(f64, Plot)>,
    /// Share of the page's free height.
    pub weight: f64,
    /// Least height of the panels, logical pixels.
    pub least: f64,
}

impl Row {
    /// Returns a row of one panel.
    pub fn of(plot: Plot) -> Row {
        Row {
            plots: vec![(1.0, plot)],
            weight: 1.0,
            least: LEAST_PANEL,
        }
    }

    /// Adds places that stay empty, so that the panels keep the width of a full row.
    pub fn fill_up(&mut self, missing: usize) {
        let nothing = std::iter::repeat_with(|| (1.0, Plot::nothing()));
        self.plots.extend(nothing.take(missing));
    }

    /// Returns a row of panels of equal width.
    pub fn equal(plots: impl IntoIterator<Item = Plot>, least: f64) -> Row {
        Row {
            plots: plots.into_iter().map(|plot| (1.0, plot)).collect(),
            weight: 1.0,
            least,
        }
    }
}

/// Returns how many of `count` panels stand in a row, each at least `narrowest` wide: rows of even
/// length rather than full ones and a rest.
pub(super) fn columns(count: usize, width: f64, narrowest: f64) -> usize {
    let fits = ((width - 2.0 * MARGIN + GUTTER) / (narrowest + GUTTER)).floor() as usize;
    let columns = fits.max(1).min(count.max(1));
    let lines = count.div_ceil(columns).max(1);
    count.div_ceil(lines).max(1)
}

/// Returns panels in rows of as many as leave each at least `narrowest` wide, `least` tall.
pub(super) fn grid(plots: Vec<Plot>, width: f64, narrowest: f64, least: f64) -> Vec<Row> {
    let columns = columns(plots.len(), width, narrowest);
    let mut rows: Vec<Row> = Vec::new();
    let mut plots = plots.into_iter().peekable();
    while plots.peek().is_some() {
        rows.push(Row::equal(plots.by_ref().take(columns), least));
    }
    rows
}

/// Least height of a panel that is read closely, logical pixels.
pub(super) const LEAST_PANEL: f64 = 300.0;
/// Distance between panels side by side, logical pixels.
pub(super) const GUTTER: f64 = 30.0;
/// Distance between rows, logical pixels.
const BETWEEN: f64 = 12.0;

/// A whole figure.
pub(super) struct Sheet<'a> {
    pub words: &'a Words,
    pub key: Vec<(Swatch, String)>,
    pub rows: Vec<Row>,
}

/// A label: row, panel, position among the panel's labels.
type Mark = (usize, usize, usize);

impl<'a> Sheet<'a> {
    /// Returns a figure of `rows`.
    pub fn new(words: &'a Words, key: Vec<(Swatch, String)>, rows: Vec<Row>) -> Sheet<'a> {
        Sheet { words, key, rows }
    }

    /// Returns a figure of one panel.
    pub fn single(words: &'a Words, key: Vec<(Swatch, String)>, plot: Plot) -> Sheet<'a> {
        Sheet::new(words, key, vec![Row::of(plot)])
    }

    /// Draws the figure. Labels that find no room beside their mark are listed below it; listing
    /// costs room, so the rest are placed anew until all have theirs.
    pub fn paint(mut self, blank: Blank) -> Result<Canvas, ChartError> {
        for (_, plot) in self.rows.iter().flat_map(|row| &row.plots) {
            plot.check()?;
        }
        // One panel without title: its ordinate is named in the key's line.
        let alone = self.rows.iter().map(|r| r.plots.len()).sum::<usize>() == 1;
        let mut name = String::new();
        if let Some((_, plot)) = self.rows.first_mut().and_then(|r| r.plots.first_mut())
            && alone
            && plot.title.is_empty()
            && plot.right.is_none()
        {
            name = std::mem::take(&mut plot.y_name);
        }
        let mut listed: Vec<Mark> = Vec::new();
        loop {
            let plan = Plan::new(&self, &name, blank, &listed)?;
            let places = plan.place(&listed)?;
            let homeless = plan.homeless(&places, &listed);
            if homeless.is_empty() {
                return plan.draw(blank, &places);
            }
            listed.extend(homeless);
            listed.sort_unstable();
        }
    }

    /// Returns the labels listed below the figure as one line.
    fn list(&self, listed: &[Mark]) -> Option<String> {
        let words: Vec<String> = listed
            .iter()
            .filter_map(|&(row, plot, label)| {
                let plot = &self.rows.get(row)?.plots.get(plot)?.1;
                Some(plot.labels.get(label)?.words.replace(' ', "\u{a0}"))
            })
            .collect();
        (!words.is_empty()).then(|| format!("also marked: {}", words.join("; ")))
    }
}

/// Where everything goes.
struct Plan<'a> {
    heading: Block,
    key: Key,
    key_top: f64,
    frames: Vec<(usize, usize, Frame<'a>)>,
    footing: Block,
    footing_top: f64,
    height: f64,
}

impl<'a> Plan<'a> {
    fn new(
        sheet: &'a Sheet<'_>,
        name: &str,
        blank: Blank,
        listed: &[Mark],
    ) -> Result<Plan<'a>, ChartError> {
        let width = blank.width();
        let heading = heading(&sheet.words.title, &sheet.words.subtitle, width)?;
        let list = sheet.list(listed);
        let lines = list.iter().chain(&sheet.words.notes).map(String::as_str);
        let footing = footing(lines.chain([sheet.words.caption.as_str()]), width)?;
        let measured = measure(sheet, width)?;
        let left = match name.is_empty() {
            true => MARGIN,
            false => measured
                .first()
                .and_then(|row| row.first())
                .map_or(MARGIN, |m| m.slot.0 + m.left),
        };
        let key = Key::new(name, sheet.key.clone(), left, width - MARGIN)?;
        let key_top = MARGIN + heading.height() + 8.0;
        let mut top = key_top + key.height() + 8.0;
        if sheet.key.is_empty() && name.is_empty() {
            top = key_top;
        }
        let end = footing.height() + MARGIN * 0.7;
        let texts: f64 = measured
            .iter()
            .map(|row| head(row) + foot(row) + BETWEEN)
            .sum();
        let free = blank.height() - top - texts - end;
        let shares: f64 = sheet.rows.iter().map(|row| row.weight).sum();
        let mut frames = Vec::new();
        for (index, (row, line)) in sheet.rows.iter().zip(&measured).enumerate() {
            let least = line.iter().map(|m| m.least).fold(row.least, f64::max);
            let tall = (free * row.weight / shares.max(1e-9)).max(least).floor();
            let upper = top + head(line);
            for (column, ((_, plot), m)) in row.plots.iter().zip(line).enumerate() {
                let frame = Frame::new(plot, m, (top, upper, upper + tall));
                frames.push((index, column, frame));
            }
            top = upper + tall + foot(line) + BETWEEN;
        }
        Ok(Plan {
            heading,
            key,
            key_top,
            frames,
            footing,
            footing_top: top,
            height: top + end,
        })
    }

    /// Returns the place of each label of each panel.
    fn place(&self, listed: &[Mark]) -> Result<Vec<Vec<Option<Place>>>, ChartError> {
        let placed = self
            .frames
            .iter()
            .map(|(row, column, frame)| frame.place(&on_panel(listed, *row, *column)));
        placed.collect()
    }

    /// Returns the labels that found no room and are not listed yet.
    fn homeless(&self, places: &[Vec<Option<Place>>], listed: &[Mark]) -> Vec<Mark> {
        let mut homeless = Vec::new();
        for ((row, column, _), places) in self.frames.iter().zip(places) {
            let without = places.iter().enumerate().filter(|(_, p)| p.is_none());
            let marks = without.map(|(label, _)| (*row, *column, label));
            homeless.extend(marks.filter(|mark| !listed.contains(mark)));
        }
        homeless
    }

    fn draw(&self, blank: Blank, places: &[Vec<Option<Place>>]) -> Result<Canvas, ChartError> {
        let mut canvas = blank.open(self.height);
        self.heading.draw(&mut canvas, MARGIN, MARGIN)?;
        self.key.draw(&mut canvas, self.key_top)?;
        for ((_, _, frame), places) in self.frames.iter().zip(places) {
            frame.draw(&mut canvas, places)?;
        }
        self.footing.draw(&mut canvas, MARGIN, self.footing_top)?;
        Ok(canvas)
    }
}

fn on_panel(listed: &[Mark], row: usize, column: usize) -> Vec<usize> {
    let here = listed.iter().filter(|m| m.0 == row && m.1 == column);
    here.map(|m| m.2).collect()
}

fn head(row: &[Measured]) -> f64 {
    row.iter().map(|m| m.head).fold(0.0, f64::max)
}

fn foot(row: &[Measured]) -> f64 {
    row.iter().map(|m| m.foot).fold(0.0, f64::max)
}

/// Measures the panels; those above each other share their left and right edges.
fn measure(sheet: &Sheet<'_>, width: f64) -> Result<Vec<Vec<Measured>>, ChartError> {
    let mut measured = Vec::with_capacity(sheet.rows.len());
    for row in &sheet.rows {
        let shares: f64 = row.plots.iter().map(|p| p.0).sum();
        let room = width - 2.0 * MARGIN - GUTTER * row.plots.len().saturating_sub(1) as f64;
        let mut left = MARGIN;
        let mut line = Vec::with_capacity(row.plots.len());
        for (share, plot) in &row.plots {
            let wide = room * share / shares.max(1e-9);
            line.push(Measured::new(plot, (left, left + wide))?);
            left += wide + GUTTER;
        }
        measured.push(line);
    }
    let columns = measured.iter().map(Vec::len).max().unwrap_or(0);
    for column in 0..columns {
        let edge = |side: fn(&Measured) -> f64, measured: &[Vec<Measured>], last: bool| {
            let rows = measured.iter();
            let picked = rows.filter_map(|row| match last {
                true => row.len().checked_sub(1 + column).and_then(|i| row.get(i)),
                false => row.get(column),
            });
            picked.map(side).fold(0.0, f64::max)
        };
        let left = edge(|m| m.left, &measured, false);
        let right = edge(|m| m.right, &measured, true);
        for row in &mut measured {
            if let Some(m) = row.get_mut(column) {
                m.left = left;
            }
            if let Some(m) = row
                .len()
                .checked_sub(1 + column)
                .and_then(|i| row.get_mut(i))
            {
                m.right = right;
            }
        }
    }
    for (row, line) in sheet.rows.iter().zip(&mut measured) {
        for ((_, plot), m) in row.plots.iter().zip(line) {
            m.measure_texts(plot)?;
        }
    }
    Ok(measured)
}
