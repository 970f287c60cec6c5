//! Runs over each other by treatment: thin runs, mean with its band, names at the curves' ends.

use super::axis::{Axis, number, range};
use super::canvas::{Blank, Canvas, Pen};
use super::curve;
use super::figure::Paint;
use super::frame::{Block, Panel, X_AXIS_ROOM, footing, heading, tick_room};
use super::key::{Key, Swatch};
use super::label::{LabelKind, spread};
use super::mark::Reference;
use super::marks::draw_reference;
use super::picture::ChartError;
use super::text::{Hang, Text, width, wrapped};
use super::theme::{Dash, MARGIN, MUTED, PAPER, Palette, Type};

/// One curve.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Series {
    /// Name, such as the run.
    pub name: String,
    /// Positions, unit of the abscissa.
    pub x: Vec<f64>,
    /// Values, unit of the ordinate.
    pub y: Vec<f64>,
}

/// The runs of one treatment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Group {
    /// Treatment; decides colour and dash.
    pub treatment: String,
    /// Number of doughs, printed at the curve's end.
    pub doughs: usize,
    /// Smoothed centre of each run.
    pub runs: Vec<Series>,
    /// Mean curve, computed elsewhere.
    pub mean: Series,
    /// Least value of the runs at each position of the mean, or empty.
    pub lower: Vec<f64>,
    /// Greatest value of the runs at each position of the mean, or empty.
    pub upper: Vec<f64>,
}

/// Curves of several treatments on one panel.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Overlay {
    /// Title.
    pub title: String,
    /// What was compared: flour, water, block.
    pub subtitle: String,
    /// Palette of the day or study.
    pub palette: Palette,
    /// Abscissa with its unit, such as `time / min`.
    pub x_label: String,
    /// Ordinate with its unit, such as `consistency / FU`.
    pub y_label: String,
    /// Treatments.
    pub groups: Vec<Group>,
    /// Line to compare with.
    pub reference: Option<Reference>,
    /// Metrics without value, findings.
    pub notes: Vec<String>,
    /// Doughs, blocks, ids.
    pub caption: String,
}

impl Paint for Overlay {
    fn title(&self) -> &str {
        &self.title
    }

    fn alt(&self) -> String {
        let mut words = format!(
            "{}. {}. Mean curves of {}.",
            self.title, self.subtitle, self.y_label
        );
        for group in &self.groups {
            let (low, high) = range(group.mean.y.iter().copied());
            if low.is_finite() {
                words.push_str(&format!(
                    " {}: mean between {} and {}.",
                    group.words(),
                    number(low, 0),
                    number(high, 0)
                ));
            }
        }
        words.push(' ');
        words.push_str(&self.caption);
        words.trim_end().to_owned()
    }

    fn check(&self) -> Result<(), ChartError> {
        if self.groups.iter().all(|g| g.mean.x.is_empty()) {
            return Err(ChartError::NoData(self.title.clone()));
        }
        for group in &self.groups {
            for series in group.runs.iter().chain([&group.mean]) {
                curve::check(&series.name, &series.x, &series.y)?;
            }
            if group.has_band() {
                curve::check(&group.treatment, &group.mean.x, &group.lower)?;
                curve::check(&group.treatment, &group.mean.x, &group.upper)?;
            }
        }
        Ok(())
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let plan = Plan::new(self, blank)?;
        let mut canvas = blank.open(plan.height);
        plan.draw(self, &mut canvas)?;
        Ok(canvas)
    }
}

impl Group {
    fn words(&self) -> String {
        let noun = if self.doughs == 1 { "dough" } else { "doughs" };
        format!("{} (n = {} {noun})", self.treatment, self.doughs)
    }

    fn has_band(&self) -> bool {
        !self.lower.is_empty() && !self.upper.is_empty()
    }
}

impl Overlay {
    fn heights(&self) -> impl Iterator<Item = f64> {
        self.groups
            .iter()
            .flat_map(|g| {
                let runs = g.runs.iter().chain([&g.mean]).flat_map(|s| &s.y);
                runs.chain(&g.lower).chain(&g.upper)
            })
            .copied()
            .chain(self.reference.iter().map(|r| r.value))
    }

    fn positions(&self) -> impl Iterator<Item = f64> {
        self.groups
            .iter()
            .flat_map(|g| g.runs.iter().chain([&g.mean]).flat_map(|s| &s.x))
            .copied()
    }
}

/// Distance between a curve's end and its name, logical pixels.
const LEADER: f64 = 22.0;
/// Least height of the panel, logical pixels.
const LEAST_PANEL: f64 = 300.0;

struct Plan {
    heading: Block,
    footing: Block,
    key: Key,
    key_top: f64,
    panel: Panel,
    names: Vec<Name>,
    footing_top: f64,
    height: f64,
}

impl Plan {
    fn new(figure: &Overlay, blank: Blank) -> Result<Plan, ChartError> {
        let page_width = blank.width();
        let heading = heading(&figure.title, &figure.subtitle, page_width)?;
        let lines = figure.notes.iter().map(String::as_str);
        let footing = footing(lines.chain([figure.caption.as_str()]), page_width)?;
        let (low, high) = range(figure.heights());
        let y = Axis::for_values(low, high, 6);
        let (first, last) = range(figure.positions());
        let from = if first > 0.0 && first < 0.3 * last {
            0.0
        } else {
            first
        };
        let x = Axis::tight(from, last, 12);
        let names = names(figure, page_width * 0.3)?;
        let mut right: f64 = 8.0;
        for name in &names {
            for line in &name.lines {
                right = right.max(LEADER + width(line, name.style)? + 4.0);
            }
        }
        let left = MARGIN + tick_room(&y)?;
        let key = Key::new(&figure.y_label, figure.key(), left, page_width - MARGIN)?;
        let key_top = MARGIN + heading.height() + 8.0;
        let top = key_top + key.height() + 8.0;
        let below = X_AXIS_ROOM + 8.0 + footing.height() + MARGIN * 0.7;
        let least = LEAST_PANEL.max(names.iter().map(Name::height).sum());
        let bottom = (blank.height() - below).max(top + least);
        let right_edge = page_width - MARGIN - right;
        Ok(Plan {
            panel: Panel {
                area: super::label::Area::new(left, top, right_edge, bottom),
                x,
                y,
            },
            key_top,
            footing_top: bottom + X_AXIS_ROOM + 8.0,
            height: bottom + below,
            heading,
            footing,
            key,
            names,
        })
    }

    fn draw(&self, figure: &Overlay, canvas: &mut Canvas) -> Result<(), ChartError> {
        self.heading.draw(canvas, MARGIN, MARGIN)?;
        self.key.draw(canvas, self.key_top)?;
        self.panel.draw_y_axis(canvas)?;
        let base = self.panel.area.y1;
        self.panel.draw_x_axis(canvas, &figure.x_label, base)?;
        for group in figure.groups.iter().filter(|g| g.has_band()) {
            let band = (group.lower.as_slice(), group.upper.as_slice());
            let colour = figure.palette.look(&group.treatment).colour;
            curve::fill_band(canvas, &self.panel, &group.mean.x, band, colour)?;
        }
        for group in &figure.groups {
            let faint = figure
                .palette
                .look(&group.treatment)
                .colour
                .mixed(PAPER, 0.35);
            for run in &group.runs {
                let points = (run.x.as_slice(), run.y.as_slice());
                curve::draw(canvas, &self.panel, points, Pen::solid(faint, 1))?;
            }
        }
        for group in &figure.groups {
            let look = figure.palette.look(&group.treatment);
            let pen = Pen {
                colour: look.ink,
                width: 5,
                dash: look.dash,
            };
            let points = (group.mean.x.as_slice(), group.mean.y.as_slice());
            curve::draw(canvas, &self.panel, points, pen)?;
        }
        if let Some(line) = &figure.reference {
            draw_reference(canvas, &self.panel, line.value, "")?;
        }
        self.draw_names(canvas)?;
        self.footing.draw(canvas, MARGIN, self.footing_top)?;
        Ok(())
    }

    /// Draws names at the curves' ends, apart from each other.
    fn draw_names(&self, canvas: &mut Canvas) -> Result<(), ChartError> {
        let end_of = |name: &Name| match name.end {
            (Some(x), y) => (self.panel.x(x), self.panel.y(y)),
            (None, y) => (self.panel.area.x1, self.panel.y(y)),
        };
        let centres: Vec<f64> = self.names.iter().map(|n| end_of(n).1).collect();
        let heights: Vec<f64> = self.names.iter().map(Name::height).collect();
        let (low, high) = (self.panel.area.y0 - 8.0, self.panel.area.y1 + 8.0);
        let placed = spread(&centres, &heights, low, high);
        let left = self.panel.area.x1 + LEADER;
        for (name, middle) in self.names.iter().zip(&placed) {
            let end = end_of(name);
            let pen = Pen::solid(name.style.colour.mixed(MUTED, 0.3), 1);
            let path = [end, (left - 14.0, end.1), (left - 4.0, *middle)];
            canvas.line(&path, pen)?;
            let mut y = middle - (name.height() - name.style.line_height()) / 2.0;
            for words in &name.lines {
                let text = Text {
                    words,
                    style: name.style,
                    kind: LabelKind::Series,
                    hang: Hang::Left,
                };
                canvas.text(text, left, y)?;
                y += name.style.line_height();
            }
        }
        Ok(())
    }
}

/// What is written at the right end of a curve.
struct Name {
    /// Where the curve ends; a reference line ends with the panel.
    end: (Option<f64>, f64),
    lines: Vec<String>,
    style: Type,
}

impl Name {
    fn height(&self) -> f64 {
        self.lines.len() as f64 * self.style.line_height()
    }
}

/// Returns the names of the curves, broken to `room`.
fn names(figure: &Overlay, room: f64) -> Result<Vec<Name>, ChartError> {
    let mut names = Vec::new();
    for group in &figure.groups {
        let (Some(x), Some(y)) = (group.mean.x.last(), group.mean.y.last()) else {
            continue;
        };
        let ink = figure.palette.look(&group.treatment).ink;
        let style = Type::LABEL.in_colour(ink);
        names.push(Name {
            end: (Some(*x), *y),
            lines: wrapped(&group.words(), style, room)?,
            style,
        });
    }
    if let Some(line) = &figure.reference {
        names.push(Name {
            end: (None, line.value),
            lines: wrapped(&line.label, Type::TICK, room)?,
            style: Type::TICK,
        });
    }
    Ok(names)
}

impl Overlay {
    fn key(&self) -> Vec<(Swatch, String)> {
        let mut items = vec![(Swatch::Dashed(MUTED, Dash::Solid), "mean".to_owned())];
        if self.groups.iter().any(|g| !g.runs.is_empty()) {
            items.push((
                Swatch::Line(MUTED.mixed(PAPER, 0.35)),
                "each run".to_owned(),
            ));
        }
        if self.groups.iter().any(Group::has_band) {
            items.push((Swatch::Band(MUTED), "least to greatest run".to_owned()));
        }
        items
    }
}
