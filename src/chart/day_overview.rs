//! The day at a glance: one strip of dots for each metric, by treatment, each run a dot.

use super::Bound;
use super::axis::{Axis, number, range};
use super::canvas::{Blank, Canvas, Fill, Pen};
use super::figure::Paint;
use super::frame::{Block, Panel, footing, heading, tick_room};
use super::key::{Key, Swatch};
use super::label::{Area, LabelKind};
use super::picture::ChartError;
use super::swarm::offsets;
use super::text::{Hang, Text, shortened, wrapped};
use super::theme::{AXIS, INK, MARGIN, MUTED, Marker, PAPER, Palette, Type};

/// What the quality rules said about a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DotState {
    /// Nothing against it: the treatment's marker.
    #[default]
    Kept,
    /// A warning: the marker within a ring.
    Flagged,
    /// Rejected: the marker pale, with a cross over it.
    Rejected,
}

/// The value of one run.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Dot {
    /// Value or bound, unit of the metric.
    pub value: f64,
    /// Interval, when known.
    pub interval: Option<(f64, f64)>,
    /// Whether the true value lies beyond.
    pub bound: Bound,
    /// What the quality rules said.
    pub state: DotState,
}

/// The runs of one treatment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DotGroup {
    /// Treatment; decides colour and marker.
    pub treatment: String,
    /// Runs with a value or bound.
    pub dots: Vec<Dot>,
    /// Mean or median, computed elsewhere; drawn as a short bar.
    pub centre: Option<f64>,
    /// Runs without a value, listed below.
    pub no_value: usize,
}

/// One panel of a row: the treatments of one flour, block or other facet.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cell {
    /// Facet, such as the flour; empty when there is only one.
    pub facet: String,
    /// Treatments, in the order drawn.
    pub groups: Vec<DotGroup>,
}

/// One metric: a row of panels with a common scale.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MetricRow {
    /// Metric with its unit, such as `development time / min`.
    pub title: String,
    /// Panels, one for each facet.
    pub cells: Vec<Cell>,
}

/// All metrics of a day by treatment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DayOverview {
    /// Title.
    pub title: String,
    /// Day, flour, number of runs.
    pub subtitle: String,
    /// Palette of the day.
    pub palette: Palette,
    /// What `centre` is, such as `mean`; empty when no group has one.
    pub centre_name: String,
    /// Metrics.
    pub rows: Vec<MetricRow>,
    /// Notes.
    pub notes: Vec<String>,
    /// Doughs, blocks, ids.
    pub caption: String,
}

impl Paint for DayOverview {
    fn title(&self) -> &str {
        &self.title
    }

    fn alt(&self) -> String {
        let mut words = format!("{}. {}.", self.title, self.subtitle);
        for row in &self.rows {
            words.push_str(&format!(" {}:", row.title));
            for cell in &row.cells {
                for group in &cell.groups {
                    words.push_str(&format!(" {}", group.treatment));
                    if !cell.facet.is_empty() {
                        words.push_str(&format!(" ({})", cell.facet));
                    }
                    let (low, high) = range(group.dots.iter().map(|d| d.value));
                    if low.is_finite() {
                        words.push_str(&format!(
                            " {} to {}, {} runs",
                            number(low, 1),
                            number(high, 1),
                            group.dots.len()
                        ));
                    }
                    if group.no_value > 0 {
                        words.push_str(&format!(", no value: {}", group.no_value));
                    }
                    words.push(';');
                }
            }
        }
        words.trim_end_matches(';').to_owned() + "."
    }

    fn check(&self) -> Result<(), ChartError> {
        if self.rows.iter().all(|row| row.cells.is_empty()) {
            return Err(ChartError::NoData(self.title.clone()));
        }
        for row in &self.rows {
            if let Some(index) = row.values().position(|v| !v.is_finite()) {
                return Err(ChartError::NotFinite {
                    series: row.title.clone(),
                    index,
                });
            }
        }
        Ok(())
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let plan = Plan::new(self, blank)?;
        let mut canvas = blank.open(plan.height);
        plan.heading.draw(&mut canvas, MARGIN, MARGIN)?;
        plan.key.draw(&mut canvas, plan.key_top)?;
        for placed in &plan.panels {
            placed.draw(self, &mut canvas)?;
        }
        plan.footing.draw(&mut canvas, MARGIN, plan.footing_top)?;
        Ok(canvas)
    }
}

impl Dot {
    fn values(&self) -> impl Iterator<Item = f64> {
        let (low, high) = self.interval.unwrap_or((self.value, self.value));
        [self.value, low, high].into_iter()
    }
}

impl MetricRow {
    fn values(&self) -> impl Iterator<Item = f64> {
        self.cells.iter().flat_map(|c| &c.groups).flat_map(|g| {
            let dots = g.dots.iter().flat_map(Dot::values);
            dots.chain(g.centre)
        })
    }
}

impl DayOverview {
    fn dots(&self) -> impl Iterator<Item = &Dot> {
        let cells = self.rows.iter().flat_map(|r| &r.cells);
        cells.flat_map(|c| &c.groups).flat_map(|g| &g.dots)
    }

    fn key(&self) -> Vec<(Swatch, String)> {
        let mut items = Vec::new();
        let any = |test: fn(&Dot) -> bool| self.dots().any(test);
        if !self.centre_name.is_empty() {
            items.push((Swatch::Thick(INK), self.centre_name.clone()));
        }
        if any(|d| d.interval.is_some()) {
            items.push((Swatch::Interval, "interval of one run".to_owned()));
        }
        if any(|d| d.bound != Bound::Exact) {
            items.push((Swatch::Censored, "true value lies beyond".to_owned()));
        }
        if any(|d| d.state == DotState::Flagged) {
            items.push((Swatch::Ring, "has a warning".to_owned()));
        }
        if any(|d| d.state == DotState::Rejected) {
            items.push((Swatch::Aside, "rejected".to_owned()));
        }
        items
    }
}

/// Height of a panel without its texts, logical pixels.
const PANEL: f64 = 176.0;
/// Least width of a panel, logical pixels.
const LEAST_WIDTH: f64 = 250.0;
/// Least width of one treatment, logical pixels.
const LEAST_GROUP: f64 = 62.0;
/// Lines that a treatment's name may take.
const NAME_LINES: usize = 3;
/// Distance between panels, logical pixels.
const GUTTER: f64 = 30.0;

struct Plan {
    heading: Block,
    footing: Block,
    key: Key,
    key_top: f64,
    panels: Vec<PlacedCell>,
    footing_top: f64,
    height: f64,
}

/// One cell with its place.
struct PlacedCell {
    row: usize,
    cell: usize,
    panel: Panel,
    /// Title and its middle; the metric for a row's first panel or the facet.
    titles: Vec<(String, Type, f64)>,
    left: f64,
}

impl Plan {
    fn new(figure: &DayOverview, blank: Blank) -> Result<Plan, ChartError> {
        let width = blank.width();
        let heading = heading(&figure.title, &figure.subtitle, width)?;
        let lines = figure.notes.iter().map(String::as_str);
        let footing = footing(lines.chain([figure.caption.as_str()]), width)?;
        let key = Key::new("", figure.key(), MARGIN, width - MARGIN)?;
        let key_top = MARGIN + heading.height() + 6.0;
        let mut top = key_top + key.height() + 10.0;
        let facets = figure.rows.iter().map(|r| r.cells.len()).max().unwrap_or(1);
        let room = width - 2.0 * MARGIN;
        let groups = figure.rows.iter().flat_map(|r| &r.cells);
        let groups = groups.map(|c| c.groups.len()).max().unwrap_or(1);
        let least = LEAST_WIDTH.max(60.0 + LEAST_GROUP * groups as f64);
        let fits = (((room + GUTTER) / (least + GUTTER)).floor() as usize).max(1);
        let columns = if facets > 1 {
            facets.min(fits)
        } else {
            fits.min(figure.rows.len()).max(1)
        };
        let slot = (room + GUTTER) / columns as f64 - GUTTER;
        let mut panels = Vec::new();
        let mut line: Vec<PlacedCell> = Vec::new();
        for (row, metric) in figure.rows.iter().enumerate() {
            for cell in 0..metric.cells.len() {
                if line.len() == columns || (facets > 1 && cell == 0 && !line.is_empty()) {
                    top = close_line(figure, &mut line, top)?;
                    panels.append(&mut line);
                }
                let left = MARGIN + line.len() as f64 * (slot + GUTTER);
                let placed = PlacedCell::new(figure, (row, cell), (left, top, slot), facets > 1)?;
                line.push(placed);
            }
        }
        top = close_line(figure, &mut line, top)?;
        panels.append(&mut line);
        Ok(Plan {
            heading,
            key,
            key_top,
            panels,
            footing_top: top,
            height: top + footing.height() + MARGIN * 0.7,
            footing,
        })
    }
}

/// Returns where the next line of panels begins below `line`.
fn close_line(figure: &DayOverview, line: &mut [PlacedCell], top: f64) -> Result<f64, ChartError> {
    // Panels of one line share their base, whatever their titles need.
    let head = line.iter().map(|p| p.panel.area.y0).fold(top, f64::max);
    let mut below: f64 = 0.0;
    for placed in line.iter_mut() {
        placed.panel.area.y0 = head;
        placed.panel.area.y1 = head + PANEL;
        below = below.max(placed.foot(figure)?);
    }
    Ok(head + PANEL + below + 22.0)
}

impl PlacedCell {
    fn new(
        figure: &DayOverview,
        (row, cell): (usize, usize),
        (left, top, slot): (f64, f64, f64),
        faceted: bool,
    ) -> Result<PlacedCell, ChartError> {
        let metric = figure.rows.get(row).cloned().unwrap_or_default();
        let (low, high) = range(metric.values());
        let y = if low.is_finite() {
            Axis::for_values(low, high, 4)
        } else {
            Axis::round(0.0, 1.0, 1)
        };
        let groups = metric.cells.get(cell).map_or(1, |c| c.groups.len()).max(1);
        let mut titles = Vec::new();
        let mut at = top;
        let facet = metric.cells.get(cell).map(|c| c.facet.clone());
        let words = [
            (metric.title.clone(), Type::PANEL, !faceted || cell == 0),
            (facet.unwrap_or_default(), Type::SUBTITLE, faceted),
        ];
        for (words, style, wanted) in words {
            if faceted && !wanted {
                at += style.line_height();
            }
            let lines = if wanted {
                wrapped(&words, style, slot)?
            } else {
                Vec::new()
            };
            for line in lines {
                titles.push((line, style, at + style.line_height() / 2.0));
                at += style.line_height();
            }
        }
        let area = Area::new(
            left + tick_room(&y)?,
            at + 10.0,
            left + slot,
            at + 10.0 + PANEL,
        );
        Ok(PlacedCell {
            row,
            cell,
            panel: Panel {
                area,
                x: Axis::tight(0.0, groups as f64, 1),
                y,
            },
            titles,
            left,
        })
    }

    fn groups<'a>(&self, figure: &'a DayOverview) -> &'a [DotGroup] {
        let cell = figure
            .rows
            .get(self.row)
            .and_then(|r| r.cells.get(self.cell));
        cell.map_or(&[], |c| &c.groups)
    }

    /// Returns the texts below each group.
    fn captions(&self, figure: &DayOverview) -> Result<Vec<Vec<(String, Type)>>, ChartError> {
        let groups = self.groups(figure);
        let room = (self.panel.area.x1 - self.panel.area.x0) / groups.len().max(1) as f64 - 6.0;
        let mut captions = Vec::with_capacity(groups.len());
        for group in groups {
            let ink = figure.palette.look(&group.treatment).ink;
            let mut lines = Vec::new();
            let mut add = |words: &str, style: Type| -> Result<(), ChartError> {
                let mut name = wrapped(words, style, room)?;
                if name.len() > NAME_LINES {
                    name.truncate(NAME_LINES);
                    if let Some(last) = name.last_mut() {
                        // Wide enough to be cut, so that the cut is seen.
                        *last = shortened(&format!("{last} {words}"), style, room)?;
                    }
                }
                lines.extend(name.into_iter().map(|line| (line, style)));
                Ok(())
            };
            add(&group.treatment, Type::TICK.in_colour(ink))?;
            // Rejected runs are drawn, but they are not among those that count.
            let rejected = group
                .dots
                .iter()
                .filter(|dot| dot.state == DotState::Rejected)
                .count();
            add(
                &format!("n = {}", group.dots.len() - rejected),
                Type::CAPTION,
            )?;
            if rejected > 0 {
                add(
                    &format!("rejected: {rejected}"),
                    Type::CAPTION.in_colour(INK),
                )?;
            }
            if group.no_value > 0 {
                add(
                    &format!("no value: {}", group.no_value),
                    Type::CAPTION.in_colour(INK),
                )?;
            }
            captions.push(lines);
        }
        Ok(captions)
    }

    /// Returns the room that the texts below the panel need.
    fn foot(&self, figure: &DayOverview) -> Result<f64, ChartError> {
        let heights = self.captions(figure)?.into_iter().map(|lines| {
            let height: f64 = lines.iter().map(|l| l.1.line_height()).sum();
            height + 8.0
        });
        Ok(heights.fold(0.0, f64::max))
    }

    fn draw(&self, figure: &DayOverview, canvas: &mut Canvas) -> Result<(), ChartError> {
        for (words, style, middle) in &self.titles {
            let text = Text {
                words,
                style: *style,
                kind: LabelKind::Title,
                hang: Hang::Left,
            };
            canvas.text(text, self.left, *middle)?;
        }
        self.panel.draw_y_axis(canvas)?;
        let (left, right, base) = (self.panel.area.x0, self.panel.area.x1, self.panel.area.y1);
        canvas.line(&[(left, base), (right, base)], Pen::solid(AXIS, 2))?;
        let captions = self.captions(figure)?;
        for (index, (group, lines)) in self.groups(figure).iter().zip(&captions).enumerate() {
            let centre = self.panel.x(index as f64 + 0.5);
            let half = (self.panel.x(1.0) - self.panel.x(0.0)) / 2.0;
            self.draw_group(figure, group, (centre, half), canvas)?;
            let mut top = base + 8.0;
            for (words, style) in lines {
                let text = Text {
                    words,
                    style: *style,
                    kind: LabelKind::Tick,
                    hang: Hang::Centre,
                };
                canvas.text(text, centre, top + style.line_height() / 2.0)?;
                top += style.line_height();
            }
        }
        Ok(())
    }

    fn draw_group(
        &self,
        figure: &DayOverview,
        group: &DotGroup,
        (centre, half): (f64, f64),
        canvas: &mut Canvas,
    ) -> Result<(), ChartError> {
        let look = figure.palette.look(&group.treatment);
        if let Some(value) = group.centre {
            let (y, reach) = (self.panel.y(value), (half * 0.6).min(34.0));
            let pen = Pen::solid(INK, 3);
            canvas.line(&[(centre - reach, y), (centre + reach, y)], pen)?;
        }
        let heights: Vec<f64> = group.dots.iter().map(|d| self.panel.y(d.value)).collect();
        let aside = offsets(&heights, 4.5, half - 4.0);
        // Rings first: they are wider than the room between dots and must cover none.
        for ((dot, y), dx) in group.dots.iter().zip(&heights).zip(&aside) {
            if dot.state == DotState::Flagged {
                let at = (centre + dx, *y);
                canvas.symbol(Marker::Circle, at, 8.0, (MUTED, Fill::Open))?;
            }
        }
        for ((dot, y), dx) in group.dots.iter().zip(&heights).zip(aside) {
            let at = (centre + dx, *y);
            if let Some((low, high)) = dot.interval {
                let ends = [(at.0, self.panel.y(low)), (at.0, self.panel.y(high))];
                canvas.line(&ends, Pen::solid(look.ink, 2))?;
            }
            let up = match dot.bound {
                Bound::Exact => 0.0,
                Bound::Above => -1.0,
                Bound::Below => 1.0,
            };
            if dot.bound != Bound::Exact {
                canvas.arrow(at, (at.0, at.1 + up * 17.0), look.ink)?;
            }
            let fill = if dot.bound == Bound::Exact {
                Fill::Solid
            } else {
                Fill::Open
            };
            match dot.state {
                DotState::Rejected => {
                    let pale = look.ink.mixed(PAPER, 0.62);
                    canvas.symbol(look.marker, at, 4.5, (pale, fill))?;
                    canvas.cross(at, 4.5, MUTED)?;
                }
                DotState::Kept => canvas.symbol(look.marker, at, 4.5, (look.ink, fill))?,
                DotState::Flagged => canvas.symbol(look.marker, at, 3.6, (look.ink, fill))?,
            }
        }
        Ok(())
    }
}
