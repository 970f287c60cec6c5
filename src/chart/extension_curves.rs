//! Extension curves by rest time, one panel for each treatment or dough, with R50, Rm and E marked.

use super::Bound;
use super::axis::{Axis, number, range};
use super::canvas::{Blank, Canvas, Fill, Pen};
use super::curve;
use super::figure::Paint;
use super::frame::{Block, Panel, X_AXIS_ROOM, footing, heading, tick_room};
use super::key::{Key, Swatch};
use super::label::{Area, LabelKind, spread};
use super::picture::ChartError;
use super::text::{Hang, Text, shortened, width};
use super::theme::{Dash, INK, MARGIN, MUTED, Marker, PAPER, Palette, Rgb, Type};

/// A value read on an extension curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Extension, unit of the abscissa.
    pub x: f64,
    /// Resistance, unit of the ordinate.
    pub y: f64,
    /// Value with unit and uncertainty, such as `312 EU ± 6`.
    pub label: String,
    /// Whether the true value lies beyond.
    pub bound: Bound,
}

/// The curve of one piece.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ExtensionCurve {
    /// Rest before stretching, min; decides dash and shade.
    pub rest_min: f64,
    /// Name of the piece when a rest time has several, or empty.
    pub piece: String,
    /// Extensions.
    pub x: Vec<f64>,
    /// Resistances.
    pub y: Vec<f64>,
    /// Resistance at 50 mm.
    pub r50: Option<Reading>,
    /// Greatest resistance.
    pub rm: Option<Reading>,
    /// Extensibility.
    pub e: Option<Reading>,
}

/// The curves of one treatment or dough.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ExtensionPanel {
    /// Title, such as the treatment and dough.
    pub title: String,
    /// Treatment; decides the colour.
    pub treatment: String,
    /// Curves.
    pub curves: Vec<ExtensionCurve>,
}

/// Extension curves by rest time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ExtensionCurves {
    /// Title.
    pub title: String,
    /// Flour, day.
    pub subtitle: String,
    /// Palette of the day.
    pub palette: Palette,
    /// Abscissa with its unit, such as `extension / mm`.
    pub x_label: String,
    /// Ordinate with its unit, such as `resistance / EU`.
    pub y_label: String,
    /// Panels with common scales.
    pub panels: Vec<ExtensionPanel>,
    /// Slipped or missing pieces, findings.
    pub notes: Vec<String>,
    /// Pieces, doughs, ids.
    pub caption: String,
}

impl Paint for ExtensionCurves {
    fn title(&self) -> &str {
        &self.title
    }

    fn alt(&self) -> String {
        let mut words = format!("{}. {}.", self.title, self.subtitle);
        for panel in &self.panels {
            for curve in &panel.curves {
                words.push_str(&format!(" {}, {}.", panel.title, curve.line()));
            }
        }
        for note in &self.notes {
            words.push_str(&format!(" {}.", note.trim_end_matches('.')));
        }
        words.replace('\u{a0}', " ")
    }

    fn check(&self) -> Result<(), ChartError> {
        if self.curves().all(|c| c.x.is_empty()) {
            return Err(ChartError::NoData(self.title.clone()));
        }
        for curve in self.curves() {
            curve::check(&curve.name(), &curve.x, &curve.y)?;
            for (index, (_, reading)) in curve.readings().enumerate() {
                if !reading.x.is_finite() || !reading.y.is_finite() {
                    return Err(ChartError::NotFinite {
                        series: reading.label.clone(),
                        index,
                    });
                }
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

impl ExtensionCurve {
    /// Returns the rest time in words, with the piece.
    fn name(&self) -> String {
        let decimals = usize::from((self.rest_min - self.rest_min.round()).abs() > 1e-9);
        let rest = format!("{} min", number(self.rest_min, decimals));
        if self.piece.is_empty() {
            rest
        } else {
            format!("{rest}, {}", self.piece)
        }
    }

    /// Returns the readings with their symbols, as listed below the panel.
    fn readings(&self) -> impl Iterator<Item = (&'static str, &Reading)> {
        [("R50", &self.r50), ("Rm", &self.rm), ("E", &self.e)]
            .into_iter()
            .filter_map(|(name, reading)| Some((name, reading.as_ref()?)))
    }

    /// Returns the line below the panel.
    fn line(&self) -> String {
        let mut parts: Vec<String> = self
            .readings()
            .map(|(name, reading)| format!("{name} {}{}", reading.bound.words(), reading.label))
            .collect();
        if parts.is_empty() {
            parts.push("no value".to_owned());
        }
        // Each reading stays on one line.
        let parts: Vec<String> = parts.iter().map(|p| p.replace(' ', "\u{a0}")).collect();
        format!(
            "{}: {}",
            self.name().replace(' ', "\u{a0}"),
            parts.join(" · ")
        )
    }
}

/// Returns the marker of a reading.
fn marker(name: &str) -> Marker {
    match name {
        "R50" => Marker::Circle,
        "Rm" => Marker::Triangle,
        _ => Marker::Diamond,
    }
}

impl ExtensionCurves {
    fn curves(&self) -> impl Iterator<Item = &ExtensionCurve> {
        self.panels.iter().flat_map(|p| &p.curves)
    }

    /// Returns the rest times, shortest first.
    fn rests(&self) -> Vec<f64> {
        let mut rests: Vec<f64> = self.curves().map(|c| c.rest_min).collect();
        rests.sort_by(f64::total_cmp);
        rests.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        rests
    }

    /// Returns shade and dash of a rest time: the longest rest is darkest and unbroken.
    fn pen(&self, treatment: &str, rest_min: f64) -> Pen {
        let rests = self.rests();
        let rank = rests.iter().filter(|r| **r > rest_min + 1e-9).count();
        let ink = self.palette.look(treatment).ink;
        let (share, dash) = match rank {
            0 => (0.0, Dash::Solid),
            1 => (0.25, Dash::Long),
            2 => (0.4, Dash::Dotted),
            _ => (0.5, Dash::DashDot),
        };
        Pen {
            colour: ink.mixed(PAPER, share),
            width: 4,
            dash,
        }
    }

    fn key(&self) -> Vec<(Swatch, String)> {
        let mut items = Vec::new();
        let words = [
            ("R50", "R50, resistance at 50 mm"),
            ("Rm", "Rm, greatest resistance"),
            ("E", "E, extensibility"),
        ];
        for (name, words) in words {
            if self
                .curves()
                .flat_map(|c| c.readings())
                .any(|r| r.0 == name)
            {
                items.push((Swatch::Solid(marker(name), INK), words.to_owned()));
            }
        }
        let open = |r: (&str, &Reading)| r.1.bound != Bound::Exact;
        if self.curves().flat_map(|c| c.readings()).any(open) {
            items.push((Swatch::Censored, "true value lies beyond".to_owned()));
        }
        items
    }

    fn axes(&self) -> (Axis, Axis) {
        let readings = || self.curves().flat_map(|c| c.readings()).map(|r| r.1);
        let xs = self.curves().flat_map(|c| &c.x).copied();
        let ys = self.curves().flat_map(|c| &c.y).copied();
        let (x_low, x_high) = range(xs.chain(readings().map(|r| r.x)));
        let (y_low, y_high) = range(ys.chain(readings().map(|r| r.y)));
        let columns = self.panels.len().clamp(1, 3);
        let from = if x_low > 0.0 { 0.0 } else { x_low };
        (
            Axis::tight(from, x_high + (x_high - from) * 0.03, 12 / columns),
            Axis::for_values(y_low, y_high * 1.04, 6),
        )
    }
}

/// Distance between panels, logical pixels.
const GUTTER: f64 = 34.0;
/// Least height of a panel, logical pixels.
const LEAST_PANEL: f64 = 240.0;

struct Plan {
    heading: Block,
    footing: Block,
    key: Key,
    key_top: f64,
    panels: Vec<Placed>,
    footing_top: f64,
    height: f64,
}

/// One panel with its place.
struct Placed {
    index: usize,
    panel: Panel,
    left: f64,
    /// Room for the names right of the panel.
    names: f64,
    title_top: f64,
    title: Block,
    table: Block,
}

impl Plan {
    fn new(figure: &ExtensionCurves, blank: Blank) -> Result<Plan, ChartError> {
        let page_width = blank.width();
        let heading = heading(&figure.title, &figure.subtitle, page_width)?;
        let lines = figure.notes.iter().map(String::as_str);
        let footing = footing(lines.chain([figure.caption.as_str()]), page_width)?;
        let key = Key::new(&figure.y_label, figure.key(), MARGIN, page_width - MARGIN)?;
        let key_top = MARGIN + heading.height() + 8.0;
        let (x, y) = figure.axes();
        let fits = ((page_width / 340.0).floor() as usize).clamp(1, 3);
        let columns = figure.panels.len().clamp(1, fits);
        let slot = (page_width - 2.0 * MARGIN + GUTTER) / columns as f64 - GUTTER;
        let ticks = tick_room(&y)?;
        let names = name_room(figure, slot)?;
        let mut blocks = Vec::new();
        for panel in &figure.panels {
            let mut title = Block::new();
            title.add(&panel.title, Type::PANEL, LabelKind::Title, slot)?;
            let mut table = Block::new();
            for curve in &panel.curves {
                table.add(
                    &curve.line(),
                    Type::CAPTION.in_colour(INK),
                    LabelKind::Mark,
                    slot,
                )?;
            }
            blocks.push((title, table));
        }
        let rows = figure.panels.len().div_ceil(columns);
        let texts: f64 = blocks
            .chunks(columns)
            .map(|row| tallest(row.iter().map(|b| &b.0)) + tallest(row.iter().map(|b| &b.1)))
            .sum();
        let start = key_top + key.height() + 10.0;
        let fixed = texts + rows as f64 * (X_AXIS_ROOM + 42.0);
        let end = footing.height() + MARGIN * 0.7;
        let share = (blank.height() - start - fixed - end) / rows as f64;
        let tall = share.max(LEAST_PANEL);
        let mut top = start;
        let mut panels = Vec::new();
        for (row, line) in blocks.chunks(columns).enumerate() {
            let titles = tallest(line.iter().map(|b| &b.0));
            let tables = tallest(line.iter().map(|b| &b.1));
            let upper = top + titles + 14.0;
            for (column, (title, table)) in line.iter().enumerate() {
                let left = MARGIN + column as f64 * (slot + GUTTER);
                panels.push(Placed {
                    index: row * columns + column,
                    panel: Panel {
                        area: Area::new(
                            left + ticks,
                            upper,
                            left + slot - names - LEADER,
                            upper + tall,
                        ),
                        x: x.clone(),
                        y: y.clone(),
                    },
                    left,
                    names,
                    title_top: top,
                    title: title.clone(),
                    table: table.clone(),
                });
            }
            top = upper + tall + X_AXIS_ROOM + 8.0 + tables + 20.0;
        }
        Ok(Plan {
            heading,
            key,
            key_top,
            panels,
            footing_top: top,
            height: top + end,
            footing,
        })
    }
}

fn tallest<'a>(blocks: impl Iterator<Item = &'a Block>) -> f64 {
    blocks.map(Block::height).fold(0.0, f64::max)
}

impl Placed {
    fn draw(&self, figure: &ExtensionCurves, canvas: &mut Canvas) -> Result<(), ChartError> {
        let Some(panel) = figure.panels.get(self.index) else {
            return Ok(());
        };
        self.title.draw(canvas, self.left, self.title_top)?;
        self.panel.draw_y_axis(canvas)?;
        let base = self.panel.area.y1;
        self.panel.draw_x_axis(canvas, &figure.x_label, base)?;
        let r50s = panel.curves.iter().filter_map(|c| c.r50.as_ref());
        if let Some(tallest) = r50s.max_by(|a, b| a.y.total_cmp(&b.y)) {
            let x = self.panel.x(tallest.x);
            let pen = Pen {
                colour: MUTED,
                width: 1,
                dash: Dash::Dotted,
            };
            canvas.line(&[(x, self.panel.y(tallest.y)), (x, base)], pen)?;
        }
        for curve in &panel.curves {
            let pen = figure.pen(&panel.treatment, curve.rest_min);
            curve::draw(canvas, &self.panel, (&curve.x, &curve.y), pen)?;
        }
        let ink = figure.palette.look(&panel.treatment).ink;
        for (name, reading) in panel.curves.iter().flat_map(|c| c.readings()) {
            self.draw_reading(canvas, name, reading, ink)?;
        }
        self.draw_names(panel, ink, canvas)?;
        self.table
            .draw(canvas, self.left, base + X_AXIS_ROOM + 8.0)?;
        Ok(())
    }

    fn draw_reading(
        &self,
        canvas: &mut Canvas,
        name: &str,
        reading: &Reading,
        ink: Rgb,
    ) -> Result<(), ChartError> {
        let at = (self.panel.x(reading.x), self.panel.y(reading.y));
        let way = match reading.bound {
            Bound::Exact => 0.0,
            Bound::Above => 1.0,
            Bound::Below => -1.0,
        };
        let fill = if reading.bound == Bound::Exact {
            Fill::Solid
        } else {
            // Extensibility grows to the right, resistance upwards.
            let (dx, dy) = if name == "E" { (way, 0.0) } else { (0.0, -way) };
            canvas.arrow(at, (at.0 + 18.0 * dx, at.1 + 18.0 * dy), ink)?;
            Fill::Open
        };
        canvas.symbol(marker(name), at, 4.5, (ink, fill))
    }

    /// Writes each rest time right of the panel, joined to the end of its curve: pieces that tear
    /// close together have their names below each other in the order of their ends.
    fn draw_names(
        &self,
        panel: &ExtensionPanel,
        ink: Rgb,
        canvas: &mut Canvas,
    ) -> Result<(), ChartError> {
        let style = name_style(ink);
        let mut names: Vec<(String, (f64, f64))> = Vec::new();
        for curve in &panel.curves {
            let (Some(x), Some(y)) = (curve.x.last(), curve.y.last()) else {
                continue;
            };
            let words = shortened(&curve.name(), style, self.names)?;
            // A name starts behind the arrow of a piece that slipped.
            let slipped = curve.e.as_ref().is_some_and(|e| e.bound != Bound::Exact);
            let from = self.panel.x(*x) + if slipped { 22.0 } else { 8.0 };
            names.push((words, (from, self.panel.y(*y))));
        }
        let heights = vec![style.line_height(); names.len()];
        let (top, bottom) = (self.panel.area.y0, self.panel.area.y1);
        if heights.iter().sum::<f64>() > bottom - top {
            // Nothing is hidden: the table below names each piece with its values.
            return Ok(());
        }
        let centres: Vec<f64> = names.iter().map(|n| n.1.1).collect();
        let left = self.panel.area.x1 + LEADER;
        for ((words, end), middle) in names.iter().zip(spread(&centres, &heights, top, bottom)) {
            let pen = Pen::solid(ink.mixed(PAPER, 0.45), 1);
            canvas.line(&[*end, (left - 4.0, middle)], pen)?;
            let text = Text {
                words,
                style,
                kind: LabelKind::Series,
                hang: Hang::Left,
            };
            canvas.text(text, left, middle)?;
        }
        Ok(())
    }
}

/// Distance between a panel and the names right of it, logical pixels.
const LEADER: f64 = 12.0;

fn name_style(ink: Rgb) -> Type {
    Type::TICK.in_colour(ink)
}

/// Returns the room that the longest name of a curve needs, at most a third of `slot`.
fn name_room(figure: &ExtensionCurves, slot: f64) -> Result<f64, ChartError> {
    let mut room: f64 = 0.0;
    for curve in figure.curves() {
        room = room.max(width(&curve.name(), name_style(INK))?);
    }
    Ok((room + 2.0).min(slot / 3.0))
}
