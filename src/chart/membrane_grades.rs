//! Membrane grades by mixing time and treatment: every piece a dot, graders told apart.
//!
//! Grades are an ordered scale without arithmetic, so there is no mean on this figure. Overmixed is
//! no grade: its row stands below the scale, behind a rule of its own.

use super::axis::number;
use super::canvas::{Blank, Canvas, Fill, Pen};
use super::figure::Paint;
use super::frame::{Block, footing, heading};
use super::key::{Key, Swatch};
use super::label::{Area, LabelKind};
use super::picture::ChartError;
use super::text::{Hang, Text, shortened, width};
use super::theme::{AXIS, GRID, INK, MARGIN, Marker, Palette, Type};
use crate::record::Grade;

/// One piece graded by one grader.
#[derive(Debug, Clone, PartialEq)]
pub struct GradedPiece {
    /// Mixing time, min.
    pub mix_time_min: f64,
    /// Grade; when overmixed, the grade is not drawn.
    pub grade: Option<Grade>,
    /// Sticky, flowing, no recovery.
    pub overmixed: bool,
    /// Person who graded.
    pub grader: String,
}

/// The pieces of one treatment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MembranePanel {
    /// Treatment; decides the colour.
    pub treatment: String,
    /// Pieces.
    pub pieces: Vec<GradedPiece>,
}

/// Membrane grades by mixing time and treatment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MembraneGrades {
    /// Title.
    pub title: String,
    /// Flour, rest, codebook.
    pub subtitle: String,
    /// Palette of the day.
    pub palette: Palette,
    /// Abscissa with its unit; empty means `mixing time / min`.
    pub x_label: String,
    /// Treatments.
    pub panels: Vec<MembranePanel>,
    /// Agreement of the graders, findings.
    pub notes: Vec<String>,
    /// Pieces, doughs, graders, ids.
    pub caption: String,
}

impl Paint for MembraneGrades {
    fn title(&self) -> &str {
        &self.title
    }

    fn alt(&self) -> String {
        let mut words = format!("{}. {}.", self.title, self.subtitle);
        for panel in &self.panels {
            for time in self.times() {
                let at = |p: &&GradedPiece| (p.mix_time_min - time).abs() < 1e-9;
                let here: Vec<&GradedPiece> = panel.pieces.iter().filter(at).collect();
                if here.is_empty() {
                    continue;
                }
                let counts: Vec<String> = (0..ROWS)
                    .filter_map(|row| {
                        let n = here.iter().filter(|p| p.row() == Some(row)).count();
                        (n > 0).then(|| format!("{n} × {}", row_words(row)))
                    })
                    .collect();
                words.push_str(&format!(
                    " {}, {}: {}.",
                    panel.treatment,
                    minutes(time),
                    counts.join(", ")
                ));
            }
        }
        for note in &self.notes {
            words.push_str(&format!(" {}.", note.trim_end_matches('.')));
        }
        words
    }

    fn check(&self) -> Result<(), ChartError> {
        if self.pieces().all(|p| p.row().is_none()) {
            return Err(ChartError::NoData(self.title.clone()));
        }
        match self.pieces().position(|p| !p.mix_time_min.is_finite()) {
            Some(index) => Err(ChartError::NotFinite {
                series: "mixing time".to_owned(),
                index,
            }),
            None => Ok(()),
        }
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let plan = Plan::new(self, blank)?;
        let mut canvas = blank.open(plan.height);
        plan.heading.draw(&mut canvas, MARGIN, MARGIN)?;
        plan.key.draw(&mut canvas, plan.key_top)?;
        for placed in &plan.panels {
            placed.draw(self, &plan, &mut canvas)?;
        }
        plan.footing.draw(&mut canvas, MARGIN, plan.footing_top)?;
        Ok(canvas)
    }
}

const ROWS: usize = Grade::ALL.len() + 1;

impl GradedPiece {
    /// Returns the row that the piece is drawn in; `None` without grade and flag.
    fn row(&self) -> Option<usize> {
        if self.overmixed {
            return Some(ROWS - 1);
        }
        let rank = Grade::ALL.iter().position(|g| Some(*g) == self.grade)?;
        Some(Grade::ALL.len() - 1 - rank)
    }
}

/// Returns the words of a row.
fn row_words(row: usize) -> String {
    match Grade::ALL.iter().rev().nth(row) {
        Some(grade) => format!("{} {}", grade.digit(), grade.words()),
        None => "× overmixed".to_owned(),
    }
}

impl MembraneGrades {
    fn pieces(&self) -> impl Iterator<Item = &GradedPiece> {
        self.panels.iter().flat_map(|p| &p.pieces)
    }

    /// Returns the mixing times, shortest first.
    fn times(&self) -> Vec<f64> {
        let mut times: Vec<f64> = self.pieces().map(|p| p.mix_time_min).collect();
        times.sort_by(f64::total_cmp);
        times.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        times
    }

    /// Returns the graders, sorted.
    fn graders(&self) -> Vec<&str> {
        let mut graders: Vec<&str> = self.pieces().map(|p| p.grader.as_str()).collect();
        graders.sort_unstable();
        graders.dedup();
        graders
    }

    /// Returns the number of pieces in the fullest cell.
    fn fullest_cell(&self) -> usize {
        let mut fullest = 0;
        for panel in &self.panels {
            for piece in &panel.pieces {
                let alike = |p: &&GradedPiece| {
                    p.row() == piece.row()
                        && p.grader == piece.grader
                        && (p.mix_time_min - piece.mix_time_min).abs() < 1e-9
                };
                fullest = fullest.max(panel.pieces.iter().filter(alike).count());
            }
        }
        fullest
    }
}

fn minutes(time: f64) -> String {
    let decimals = usize::from((time - time.round()).abs() > 1e-9);
    format!("{} min", number(time, decimals))
}

/// Returns the marker of grader `index`.
fn marker(index: usize) -> Marker {
    let count = Marker::ALL.len();
    Marker::ALL
        .get(index % count)
        .copied()
        .unwrap_or(Marker::Circle)
}

/// Height of one grade's row, logical pixels.
const ROW: f64 = 50.0;
/// Room between the scale and the overmixed row, logical pixels.
const RULE: f64 = 12.0;
/// Distance between panels, logical pixels.
const GUTTER: f64 = 28.0;
/// Share of a mixing time's column that its lanes take.
const LANES_OF_COLUMN: f64 = 0.92;
/// Greatest distance between two dots, logical pixels.
const WIDEST: f64 = 12.5;
/// Distance between two dots below which panels are rather put below each other, logical pixels.
const COMFORTABLE: f64 = 8.0;

/// Returns the distance between dots at which `count` of them fit into a cell: one for the whole
/// figure, so that no size says anything.
fn spacing(lane: f64, row: f64, count: usize) -> f64 {
    let fits = |apart: f64| {
        let across = ((lane - 2.0) / apart).floor();
        let down = ((row - 6.0) / apart).floor();
        across * down >= count as f64
    };
    let steps = (0..20).map(|i| WIDEST - 0.5 * f64::from(i));
    steps.into_iter().find(|apart| fits(*apart)).unwrap_or(2.5)
}

struct Plan {
    heading: Block,
    footing: Block,
    key: Key,
    key_top: f64,
    panels: Vec<Placed>,
    footing_top: f64,
    height: f64,
    times: Vec<f64>,
    graders: Vec<String>,
    row: f64,
    /// Distance between dots.
    apart: f64,
    /// Whether the graders' names fit under their lanes.
    named: bool,
}

/// One panel with its place.
struct Placed {
    index: usize,
    area: Area,
    /// Whether the rows are named left of the panel.
    first: bool,
}

impl Plan {
    fn new(figure: &MembraneGrades, blank: Blank) -> Result<Plan, ChartError> {
        let page_width = blank.width();
        let heading = heading(&figure.title, &figure.subtitle, page_width)?;
        let lines = figure.notes.iter().map(String::as_str);
        let footing = footing(lines.chain([figure.caption.as_str()]), page_width)?;
        let graders: Vec<String> = figure.graders().into_iter().map(str::to_owned).collect();
        let signs = graders.iter().enumerate().map(|(index, name)| {
            let words = format!("piece graded by {name}");
            (Swatch::Solid(marker(index), INK), words)
        });
        let key = Key::new(
            "membrane grade",
            signs.collect(),
            MARGIN,
            page_width - MARGIN,
        )?;
        let key_top = MARGIN + heading.height() + 8.0;
        let times = figure.times();
        let mut names: f64 = 0.0;
        for row in 0..ROWS {
            names = names.max(width(&row_words(row), Type::TICK)?);
        }
        let left = MARGIN + names + 14.0;
        let room = page_width - MARGIN - left;
        let lanes = (times.len() * graders.len()).max(1) as f64;
        let fullest = figure.fullest_cell();
        let lane_of =
            |columns: usize| ((room + GUTTER) / columns as f64 - GUTTER) / lanes * LANES_OF_COLUMN;
        let columns = (1..=figure.panels.len().max(1))
            .rev()
            .find(|n| spacing(lane_of(*n), ROW, fullest) >= COMFORTABLE)
            .unwrap_or(1);
        let slot = (room + GUTTER) / columns as f64 - GUTTER;
        let rows = figure.panels.len().div_ceil(columns).max(1);
        let mut named = true;
        for grader in &graders {
            named &= width(grader, Type::CAPTION)? + 4.0 <= lane_of(columns);
        }
        let foot = FOOT + if named { NAMES } else { 0.0 };
        let title = Type::PANEL.line_height() + 6.0;
        let start = key_top + key.height() + 10.0;
        let end = footing.height() + MARGIN * 0.7;
        let fixed = rows as f64 * (title + RULE + foot) + start + end;
        let row = ((blank.height() - fixed) / (rows * ROWS) as f64).max(ROW);
        let tall = row * ROWS as f64 + RULE;
        let panels = (0..figure.panels.len())
            .map(|index| {
                let (line, column) = (index / columns, index % columns);
                let x = left + column as f64 * (slot + GUTTER);
                let y = start + line as f64 * (title + tall + foot) + title;
                Placed {
                    index,
                    area: Area::new(x, y, x + slot, y + tall),
                    first: column == 0,
                }
            })
            .collect();
        let footing_top = start + rows as f64 * (title + tall + foot);
        Ok(Plan {
            heading,
            key,
            key_top,
            panels,
            footing_top,
            height: footing_top + end,
            footing,
            times,
            apart: spacing(lane_of(columns), row, fullest),
            named,
            graders,
            row,
        })
    }

    /// Returns top and bottom of `row` in a panel that begins at `top`.
    fn row_span(&self, top: f64, row: usize) -> (f64, f64) {
        let gap = if row == ROWS - 1 { RULE } else { 0.0 };
        let y = top + row as f64 * self.row + gap;
        (y, y + self.row)
    }
}

/// Room below a panel for times and the axis' name, logical pixels.
const FOOT: f64 = 74.0;
/// Room below a panel for the graders' names, logical pixels.
const NAMES: f64 = 18.0;

impl Placed {
    fn draw(
        &self,
        figure: &MembraneGrades,
        plan: &Plan,
        canvas: &mut Canvas,
    ) -> Result<(), ChartError> {
        let Some(panel) = figure.panels.get(self.index) else {
            return Ok(());
        };
        let ink = figure.palette.look(&panel.treatment).ink;
        let room = self.area.x1 - self.area.x0;
        let name = shortened(&panel.treatment, Type::PANEL, room)?;
        let title = Text {
            words: &name,
            style: Type::PANEL.in_colour(ink),
            kind: LabelKind::Title,
            hang: Hang::Left,
        };
        canvas.text(title, self.area.x0, self.area.y0 - 16.0)?;
        self.draw_rows(plan, canvas)?;
        self.draw_columns(figure, plan, canvas)?;
        let column = (self.area.x1 - self.area.x0) / plan.times.len().max(1) as f64;
        let lane = column * LANES_OF_COLUMN / plan.graders.len().max(1) as f64;
        for (t, time) in plan.times.iter().enumerate() {
            for (g, grader) in plan.graders.iter().enumerate() {
                let left = self.area.x0 + column * (t as f64 + 0.04) + lane * g as f64;
                for row in 0..ROWS {
                    let count = panel
                        .pieces
                        .iter()
                        .filter(|p| (p.mix_time_min - time).abs() < 1e-9)
                        .filter(|p| p.grader == *grader && p.row() == Some(row))
                        .count();
                    let (top, bottom) = plan.row_span(self.area.y0, row);
                    let cell = Area::new(left, top, left + lane, bottom);
                    let colour = figure.palette.look(&panel.treatment).ink;
                    let fill = if row == ROWS - 1 {
                        Fill::Open
                    } else {
                        Fill::Solid
                    };
                    draw_cell(canvas, cell, (count, plan.apart), marker(g), (colour, fill))?;
                }
            }
        }
        Ok(())
    }

    /// Draws the rows of the scale, named left of the first panel.
    fn draw_rows(&self, plan: &Plan, canvas: &mut Canvas) -> Result<(), ChartError> {
        for row in 0..ROWS {
            let (top, bottom) = plan.row_span(self.area.y0, row);
            let edge = [(self.area.x0, bottom), (self.area.x1, bottom)];
            canvas.line(&edge, Pen::solid(GRID, 2))?;
            if self.first {
                let words = row_words(row);
                let text = Text {
                    words: &words,
                    style: Type::TICK,
                    kind: LabelKind::Tick,
                    hang: Hang::Right,
                };
                canvas.text(text, self.area.x0 - 10.0, (top + bottom) / 2.0)?;
            }
        }
        // The scale ends here; what follows is no grade.
        let (top, _) = plan.row_span(self.area.y0, ROWS - 1);
        let rule = [(self.area.x0, top - RULE), (self.area.x1, top - RULE)];
        canvas.line(&rule, Pen::solid(AXIS, 2))?;
        let base = [(self.area.x0, self.area.y1), (self.area.x1, self.area.y1)];
        canvas.line(&base, Pen::solid(AXIS, 2))
    }

    /// Draws what stands below the panel: graders under their lanes where they fit, times, counts.
    fn draw_columns(
        &self,
        figure: &MembraneGrades,
        plan: &Plan,
        canvas: &mut Canvas,
    ) -> Result<(), ChartError> {
        let column = (self.area.x1 - self.area.x0) / plan.times.len().max(1) as f64;
        let lane = column * LANES_OF_COLUMN / plan.graders.len().max(1) as f64;
        let base = self.area.y1;
        let aside = if plan.named { NAMES } else { 0.0 };
        let text = |words: &str, style, x: f64, y: f64, canvas: &mut Canvas| {
            let text = Text {
                words,
                style,
                kind: LabelKind::Tick,
                hang: Hang::Centre,
            };
            canvas.text(text, x, y).map(|_| ())
        };
        for (t, time) in plan.times.iter().enumerate() {
            let left = self.area.x0 + column * t as f64;
            if t > 0 {
                let edge = [(left, self.area.y0), (left, base)];
                canvas.line(&edge, Pen::solid(GRID, 2))?;
            }
            if plan.named {
                for (g, grader) in plan.graders.iter().enumerate() {
                    let x = left + column * 0.04 + lane * (g as f64 + 0.5);
                    text(grader, Type::CAPTION, x, base + 12.0, canvas)?;
                }
            }
            let decimals = usize::from((time - time.round()).abs() > 1e-9);
            let middle = left + column / 2.0;
            text(
                &number(*time, decimals),
                Type::TICK,
                middle,
                base + 16.0 + aside,
                canvas,
            )?;
        }
        let name = if figure.x_label.is_empty() {
            "mixing time / min"
        } else {
            &figure.x_label
        };
        let axis = Text {
            words: name,
            style: Type::AXIS,
            kind: LabelKind::Axis,
            hang: Hang::Right,
        };
        canvas.text(axis, self.area.x1, base + 38.0 + aside)?;
        Ok(())
    }
}

/// Draws `count` dots packed in `cell`, `apart` from each other: no piece hides another.
fn draw_cell(
    canvas: &mut Canvas,
    cell: Area,
    (count, apart): (usize, f64),
    marker: Marker,
    look: (super::theme::Rgb, Fill),
) -> Result<(), ChartError> {
    let across = (((cell.x1 - cell.x0 - 2.0) / apart).floor().max(1.0) as usize).min(count.max(1));
    let lines = count.div_ceil(across);
    for index in 0..count {
        let (line, place) = (index / across, index % across);
        let on_line = across.min(count - line * across);
        let x = (cell.x0 + cell.x1) / 2.0 + (place as f64 - (on_line as f64 - 1.0) / 2.0) * apart;
        let y = (cell.y0 + cell.y1) / 2.0 + (line as f64 - (lines as f64 - 1.0) / 2.0) * apart;
        canvas.symbol(marker, (x, y), (apart / 2.0 - 1.5).max(1.0), look)?;
    }
    Ok(())
}
