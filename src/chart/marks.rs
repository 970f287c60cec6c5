//! Marks of a run curve: symbols on the curve, labels beside them, and the strip of times below.

use super::Bound;
use super::canvas::{Canvas, Fill, Pen};
use super::frame::{Panel, tick};
use super::label::{Area, LabelKind};
use super::mark::{Mark, MarkShape};
use super::picture::ChartError;
use super::place::{Ground, Place};
use super::run_curve::RunCurve;
use super::text::{Hang, Text, width};
use super::theme::{AXIS, Dash, INK, MUTED, Marker, PAPER, Type};

/// Height of one row of the strip, logical pixels.
pub(super) const STRIP_ROW: f64 = 24.0;
/// Radius of a mark, logical pixels.
const RADIUS: f64 = 4.5;
/// Length of the arrow of a value that lies beyond, logical pixels.
const ARROW: f64 = 20.0;

/// Labels of a figure with their places.
pub(super) struct Placed {
    /// Mark and place.
    pub places: Vec<(usize, Place)>,
    /// Marks whose label found no room.
    pub homeless: Vec<usize>,
}

/// A row of the strip.
pub(super) struct Row<'a> {
    /// Position among the figure's marks.
    index: usize,
    mark: &'a Mark,
    from_min: Option<f64>,
    to_min: f64,
    y: f64,
}

impl Row<'_> {
    /// Returns where the bar begins on the page.
    fn start(&self, panel: &Panel) -> f64 {
        self.from_min.map_or(panel.area.x0, |x| panel.x(x))
    }
}

/// Returns the strip's rows, latest end first, so that no drop line crosses a label right of a row.
pub(super) fn strip_rows(figure: &RunCurve) -> Vec<Row<'_>> {
    let mut rows: Vec<Row<'_>> = figure
        .marks
        .iter()
        .enumerate()
        .filter_map(|(index, mark)| match mark.shape {
            MarkShape::Time { x_min, y } => Some(Row {
                index,
                mark,
                from_min: None,
                to_min: x_min,
                y,
            }),
            MarkShape::Span {
                from_min,
                to_min,
                y,
            } => Some(Row {
                index,
                mark,
                from_min: Some(from_min),
                to_min,
                y,
            }),
            MarkShape::Point { .. }
            | MarkShape::Drop { .. }
            | MarkShape::Width { .. }
            | MarkShape::Slope { .. } => None,
        })
        .collect();
    rows.sort_by(|a, b| b.to_min.total_cmp(&a.to_min));
    rows
}

/// Returns where the lines begin that drop from the curve to the strip.
pub(super) fn drop_lines(figure: &RunCurve, panel: &Panel) -> Vec<(f64, f64)> {
    let starts = |row: &Row<'_>| {
        let y = panel.y(row.y);
        let times = row.from_min.into_iter().chain([row.to_min]);
        times.map(|x| (panel.x(x), y)).collect::<Vec<_>>()
    };
    strip_rows(figure).iter().flat_map(starts).collect()
}

/// Draws the strip whose upper end is `top`.
pub(super) fn draw_strip(
    canvas: &mut Canvas,
    figure: &RunCurve,
    (panel, top): (&Panel, f64),
    listed: &[usize],
) -> Result<(), ChartError> {
    let rows = strip_rows(figure);
    if rows.is_empty() {
        return Ok(());
    }
    let (left, right) = (panel.area.x0, panel.area.x1);
    canvas.line(&[(left, top), (right, top)], Pen::solid(AXIS, 2))?;
    let middle = |index: usize| top + 8.0 + (index as f64 + 0.5) * STRIP_ROW;
    let dotted = Pen {
        colour: MUTED,
        width: 1,
        dash: Dash::Dotted,
    };
    for (index, row) in rows.iter().enumerate() {
        for x_min in row.from_min.into_iter().chain([row.to_min]) {
            let x = panel.x(x_min);
            canvas.line(&[(x, panel.y(row.y)), (x, middle(index))], dotted)?;
        }
    }
    for (index, row) in rows.iter().enumerate() {
        let y = middle(index);
        let tip = draw_row(canvas, panel, row, y)?;
        if !listed.contains(&row.index) {
            draw_row_label(canvas, panel, row, (tip, y))?;
        }
    }
    Ok(())
}

/// Draws the bar of a row; returns how far right it reaches.
fn draw_row(canvas: &mut Canvas, panel: &Panel, row: &Row<'_>, y: f64) -> Result<f64, ChartError> {
    let start = row.start(panel);
    let end = panel.x(row.to_min);
    canvas.line(&[(start, y), (end, y)], Pen::solid(INK, 2))?;
    let stop = |canvas: &mut Canvas, x: f64| {
        canvas.line(&[(x, y - 5.0), (x, y + 5.0)], Pen::solid(INK, 2))
    };
    stop(canvas, start)?;
    match row.mark.bound {
        Bound::Exact => stop(canvas, end).map(|()| end),
        Bound::Above => beyond(canvas, (end, y), (1.0, 0.0)),
        Bound::Below => beyond(canvas, (end, y), (-1.0, 0.0)),
    }
}

/// Draws the label of a row: right of its bar, else left of it, else on it.
fn draw_row_label(
    canvas: &mut Canvas,
    panel: &Panel,
    row: &Row<'_>,
    (tip, y): (f64, f64),
) -> Result<(), ChartError> {
    let (left, right) = (panel.area.x0, panel.area.x1);
    let (start, end) = (row.start(panel), panel.x(row.to_min));
    let words = &row.mark.label;
    let room = width(words, Type::LABEL)?;
    let text = |hang| Text {
        words,
        style: Type::LABEL,
        kind: LabelKind::Mark,
        hang,
    };
    let (x, hang) = if tip + 10.0 + room <= right {
        (tip + 10.0, Hang::Left)
    } else if start - 10.0 - room >= left {
        (start - 10.0, Hang::Right)
    } else {
        let half = room / 2.0 + 6.0;
        let centre = ((start + end) / 2.0).min(right - half).max(left + half);
        (centre, Hang::Centre)
    };
    let area = text(hang).area(x, y)?;
    canvas.fill(area.grown(3.0), PAPER, 1.0)?;
    canvas.text(text(hang), x, y)?;
    Ok(())
}

/// Draws the open end of a value that lies beyond `at`; returns how far right the arrow reaches.
fn beyond(canvas: &mut Canvas, at: (f64, f64), (dx, dy): (f64, f64)) -> Result<f64, ChartError> {
    let tip = (at.0 + dx * ARROW, at.1 + dy * ARROW);
    canvas.arrow(at, tip, INK)?;
    canvas.symbol(Marker::Circle, at, RADIUS, (INK, Fill::Open))?;
    Ok(tip.0.max(at.0))
}

/// Returns where the labels of points and drops go, but for those `listed` below the figure.
pub(super) fn place(
    figure: &RunCurve,
    panel: &Panel,
    mut ground: Ground,
    listed: &[usize],
) -> Result<Placed, ChartError> {
    for mark in &figure.marks {
        for area in symbols(mark, panel) {
            ground.take(area);
        }
    }
    let mut placed = Placed {
        places: Vec::new(),
        homeless: Vec::new(),
    };
    for (index, mark) in figure.marks.iter().enumerate() {
        if listed.contains(&index) {
            continue;
        }
        let size = (width(&mark.label, Type::LABEL)?, Type::LABEL.size * 1.06);
        let Some(anchor) = anchor(mark, panel) else {
            if size.0 > panel.area.x1 - panel.area.x0 - 24.0 {
                placed.homeless.push(index);
            }
            continue;
        };
        match ground.find(anchor, size) {
            Some(place) => {
                ground.take(place.area);
                placed.places.push((index, place));
            }
            None => placed.homeless.push(index),
        }
    }
    Ok(placed)
}

/// Returns where a label of the panel is tied to, or `None` for a mark labelled in the strip.
fn anchor(mark: &Mark, panel: &Panel) -> Option<(f64, f64)> {
    match mark.shape {
        MarkShape::Point { x_min, y } => Some((panel.x(x_min), panel.y(y))),
        MarkShape::Drop { x_min, from, to } => Some((panel.x(x_min), panel.y((from + to) / 2.0))),
        MarkShape::Width {
            x_min,
            lower,
            upper,
        } => Some((panel.x(x_min), panel.y(lower.min(upper)))),
        MarkShape::Slope {
            x_min,
            y,
            per_min,
            half_min,
        } => {
            // The lower end: below a rising or falling line there is more room than on its crest.
            let (run, fall) = (half_min.copysign(per_min), per_min.abs() * half_min);
            Some((panel.x(x_min - run), panel.y(y - fall)))
        }
        MarkShape::Time { .. } | MarkShape::Span { .. } => None,
    }
}

/// Returns the ground that a mark's symbols cover.
fn symbols(mark: &Mark, panel: &Panel) -> Vec<Area> {
    let around = |x: f64, y: f64| {
        let (x, y) = (panel.x(x), panel.y(y));
        Area::new(x, y, x, y).grown(RADIUS + 2.0)
    };
    match mark.shape {
        MarkShape::Point { x_min, y } | MarkShape::Time { x_min, y } => vec![around(x_min, y)],
        MarkShape::Span {
            from_min,
            to_min,
            y,
        } => vec![around(from_min, y), around(to_min, y)],
        MarkShape::Slope { .. } => Vec::new(),
        MarkShape::Drop { x_min, from, to }
        | MarkShape::Width {
            x_min,
            lower: from,
            upper: to,
        } => {
            let (a, b) = (around(x_min, from), around(x_min, to));
            vec![Area::new(a.x0, a.y0.min(b.y0), a.x1, a.y1.max(b.y1))]
        }
    }
}

/// Draws symbols and labels of the panel.
pub(super) fn draw_in_panel(
    canvas: &mut Canvas,
    figure: &RunCurve,
    panel: &Panel,
    places: &[(usize, Place)],
) -> Result<(), ChartError> {
    for (index, place) in places {
        if let (Some(end), Some(mark)) = (place.leader, figure.marks.get(*index))
            && let Some(from) = anchor(mark, panel)
        {
            canvas.line(&[from, end], Pen::solid(MUTED, 1))?;
        }
    }
    for mark in &figure.marks {
        draw_symbols(canvas, mark, panel)?;
    }
    for (index, place) in places {
        let Some(mark) = figure.marks.get(*index) else {
            continue;
        };
        canvas.fill(place.area.grown(1.0), PAPER, 1.0)?;
        let text = Text {
            words: &mark.label,
            style: Type::LABEL,
            kind: LabelKind::Mark,
            hang: Hang::Left,
        };
        // The label's middle by capitals lies a little above the middle of its box.
        let middle = (place.area.y0 + place.area.y1) / 2.0 - 0.06 * Type::LABEL.size;
        canvas.text(text, place.area.x0, middle)?;
    }
    Ok(())
}

fn draw_symbols(canvas: &mut Canvas, mark: &Mark, panel: &Panel) -> Result<(), ChartError> {
    let circle = |canvas: &mut Canvas, x: f64, y: f64| {
        canvas.symbol(
            Marker::Circle,
            (panel.x(x), panel.y(y)),
            RADIUS,
            (INK, Fill::Solid),
        )
    };
    match (mark.shape, mark.bound) {
        (MarkShape::Point { x_min, y } | MarkShape::Time { x_min, y }, Bound::Exact) => {
            circle(canvas, x_min, y)
        }
        (MarkShape::Point { x_min, y }, bound) => {
            let up = if bound == Bound::Above { -1.0 } else { 1.0 };
            beyond(canvas, (panel.x(x_min), panel.y(y)), (0.0, up)).map(|_| ())
        }
        (MarkShape::Time { x_min, y }, bound) => {
            let way = if bound == Bound::Above { 1.0 } else { -1.0 };
            beyond(canvas, (panel.x(x_min), panel.y(y)), (way, 0.0)).map(|_| ())
        }
        (
            MarkShape::Span {
                from_min,
                to_min,
                y,
            },
            bound,
        ) => {
            circle(canvas, from_min, y)?;
            match bound {
                Bound::Exact => circle(canvas, to_min, y),
                Bound::Above => {
                    beyond(canvas, (panel.x(to_min), panel.y(y)), (1.0, 0.0)).map(|_| ())
                }
                Bound::Below => {
                    beyond(canvas, (panel.x(to_min), panel.y(y)), (-1.0, 0.0)).map(|_| ())
                }
            }
        }
        (
            MarkShape::Slope {
                x_min,
                y,
                per_min,
                half_min,
            },
            _,
        ) => {
            let end = |way: f64| {
                let x = x_min + way * half_min;
                (panel.x(x), panel.y(y + way * per_min * half_min))
            };
            // A paper rim keeps the line apart from the curve that it touches.
            canvas.line(&[end(-1.0), end(1.0)], Pen::solid(PAPER, 9))?;
            canvas.line(&[end(-1.0), end(1.0)], Pen::solid(INK, 4))
        }
        (
            MarkShape::Drop { x_min, from, to }
            | MarkShape::Width {
                x_min,
                lower: from,
                upper: to,
            },
            bound,
        ) => {
            let x = panel.x(x_min);
            let (top, end) = (panel.y(from), panel.y(to));
            let pen = Pen::solid(INK, 2);
            canvas.line(&[(x, top), (x, end)], pen)?;
            canvas.line(&[(x - 6.0, top), (x + 6.0, top)], pen)?;
            let away = if end >= top { 1.0 } else { -1.0 };
            match bound {
                Bound::Exact => canvas.line(&[(x - 6.0, end), (x + 6.0, end)], pen),
                Bound::Above => beyond(canvas, (x, end), (0.0, away)).map(|_| ()),
                Bound::Below => beyond(canvas, (x, end), (0.0, -away)).map(|_| ()),
            }
        }
    }
}

/// Draws the line to compare with and its words in the right margin, if any.
pub(super) fn draw_reference(
    canvas: &mut Canvas,
    panel: &Panel,
    value: f64,
    words: &str,
) -> Result<(), ChartError> {
    let y = panel.y(value);
    let pen = Pen {
        colour: AXIS,
        width: 2,
        dash: Dash::Long,
    };
    canvas.line(&[(panel.area.x0, y), (panel.area.x1, y)], pen)?;
    if !words.is_empty() {
        canvas.text(tick(words, Hang::Left), panel.area.x1 + 8.0, y)?;
    }
    Ok(())
}
