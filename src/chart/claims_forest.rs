//! Claims as a forest: one row each with its sentence, the estimate and its interval against the
//! margin, and the verdict in words.

use super::axis::{Axis, range};
use super::canvas::{Blank, Canvas, Fill, Pen};
use super::figure::Paint;
use super::frame::{Block, Panel, footing, heading, tick};
use super::key::{Key, Swatch};
use super::label::{Area, LabelKind};
use super::picture::ChartError;
use super::text::{Hang, Text, shortened, width, wrapped};
use super::theme::{AGREED, AGREED_OPACITY, AXIS, Dash, GRID, MARGIN, Marker, Rgb, Type, VERDICTS};
use super::words::Words;

/// What became of a claim.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Verdict {
    /// The data support the claim.
    Supported,
    /// The data contradict the claim.
    Contradicted,
    /// The data do not decide.
    #[default]
    Undecided,
}

/// Scale of a panel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ForestScale {
    /// Differences: linear, no effect at zero.
    #[default]
    Difference,
    /// Ratios: logarithmic, no effect at one.
    Ratio,
}

/// One claim.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ForestClaim {
    /// The claim in one sentence.
    pub sentence: String,
    /// Estimate; a claim without one has a row without a mark.
    pub estimate: Option<f64>,
    /// Interval of the estimate.
    pub interval: Option<(f64, f64)>,
    /// Values at which the claim holds: lower and upper margin, either may be open.
    pub margin: (Option<f64>, Option<f64>),
    /// What the data say.
    pub verdict: Verdict,
    /// Verdict as the report words it, such as `supported`.
    pub verdict_words: String,
    /// Estimate and interval as text, with the unit.
    pub value_words: String,
    /// Number of doughs and blocks, or why there is no estimate.
    pub note: String,
    /// Whether this is the study's main claim.
    pub primary: bool,
}

/// Claims on one scale.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ForestPanel {
    /// Abscissa with its unit, such as `difference to spiral / min` or `ratio to spiral`.
    pub x_label: String,
    /// Scale.
    pub scale: ForestScale,
    /// Claims from top to bottom.
    pub claims: Vec<ForestClaim>,
}

/// The claims of a study.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ClaimsForest {
    /// Texts around the figure.
    pub words: Words,
    /// Panels, one for each scale and unit.
    pub panels: Vec<ForestPanel>,
}

impl Paint for ClaimsForest {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let claims = self.panels.iter().flat_map(|p| &p.claims);
        let told = claims.map(|claim| {
            let sentence = claim.sentence.trim_end_matches('.');
            format!(
                "{sentence}: {} ({})",
                claim.verdict_words, claim.value_words
            )
        });
        self.words.alt(told)
    }

    fn check(&self) -> Result<(), ChartError> {
        if self.panels.iter().all(|p| p.claims.is_empty()) {
            return Err(ChartError::NoData(self.words.title.clone()));
        }
        for panel in &self.panels {
            if let Some(index) = panel.values().position(|v| !v.is_finite()) {
                return Err(ChartError::NotFinite {
                    series: panel.x_label.clone(),
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
        for panel in &plan.panels {
            panel.draw(&mut canvas, &plan)?;
        }
        plan.footing.draw(&mut canvas, MARGIN, plan.footing_top)?;
        Ok(canvas)
    }
}

impl Verdict {
    fn colour(self) -> Rgb {
        match self {
            Verdict::Supported => VERDICTS.0,
            Verdict::Contradicted => VERDICTS.1,
            Verdict::Undecided => VERDICTS.2,
        }
    }

    fn marker(self) -> (Marker, Fill) {
        match self {
            Verdict::Supported => (Marker::Circle, Fill::Solid),
            Verdict::Contradicted => (Marker::Diamond, Fill::Solid),
            Verdict::Undecided => (Marker::Circle, Fill::Open),
        }
    }
}

impl ForestPanel {
    fn no_effect(&self) -> f64 {
        match self.scale {
            ForestScale::Difference => 0.0,
            ForestScale::Ratio => 1.0,
        }
    }

    fn values(&self) -> impl Iterator<Item = f64> {
        self.claims.iter().flat_map(|claim| {
            let interval = claim.interval.map(|i| [i.0, i.1]);
            let margin = [claim.margin.0, claim.margin.1];
            let values = margin.into_iter().chain([claim.estimate]).flatten();
            values.chain(interval.into_iter().flatten())
        })
    }

    fn axis(&self) -> Axis {
        let (low, high) = range(self.values().chain([self.no_effect()]));
        match self.scale {
            ForestScale::Ratio => Axis::ratio(low, high, 5),
            ForestScale::Difference => {
                let room = (high - low) * 0.06;
                Axis::tight(low - room, high + room, 5)
            }
        }
    }
}

/// Least height of a row, logical pixels.
const ROW: f64 = 46.0;
/// Room between the columns, logical pixels.
const GAP: f64 = 18.0;
/// Room below a panel's axis, logical pixels.
const FOOT: f64 = 62.0;

struct Plan<'a> {
    heading: Block,
    key: Key,
    key_top: f64,
    panels: Vec<Placed<'a>>,
    /// Left and right edge of the estimates' column.
    middle: (f64, f64),
    right: f64,
    footing: Block,
    footing_top: f64,
    height: f64,
}

struct Placed<'a> {
    panel: &'a ForestPanel,
    area: Panel,
    rows: Vec<RowTexts<'a>>,
}

struct RowTexts<'a> {
    claim: &'a ForestClaim,
    top: f64,
    height: f64,
    left: Vec<(String, Type)>,
    right: Vec<(String, Type)>,
}

impl RowTexts<'_> {
    /// Returns upper and lower end of the margin's shade.
    fn shade(&self) -> (f64, f64) {
        (self.top + 5.0, self.top + self.height - 5.0)
    }
}

fn tall(lines: &[(String, Type)]) -> f64 {
    lines.iter().map(|l| l.1.line_height()).sum()
}

impl<'a> Plan<'a> {
    fn new(figure: &'a ClaimsForest, blank: Blank) -> Result<Plan<'a>, ChartError> {
        let wide = blank.width();
        let words = &figure.words;
        let heading = heading(&words.title, &words.subtitle, wide)?;
        let lines = words.notes.iter().map(String::as_str);
        let footing = footing(lines.chain([words.caption.as_str()]), wide)?;
        let key = Key::new("", key(), MARGIN, wide - MARGIN)?;
        let key_top = MARGIN + heading.height() + 8.0;
        let room = wide - 2.0 * MARGIN;
        let middle = (MARGIN + room * 0.36, MARGIN + room * 0.74);
        let mut top = key_top + key.height() + 10.0;
        let mut panels = Vec::with_capacity(figure.panels.len());
        for panel in figure.panels.iter().filter(|p| !p.claims.is_empty()) {
            let from = top;
            let mut rows = Vec::with_capacity(panel.claims.len());
            for claim in &panel.claims {
                let left = left_words(claim, middle.0 - MARGIN - GAP)?;
                let right = right_words(claim, wide - MARGIN - middle.1 - GAP)?;
                let height = (tall(&left).max(tall(&right)) + 14.0).max(ROW);
                rows.push(RowTexts {
                    claim,
                    top,
                    height,
                    left,
                    right,
                });
                top += height;
            }
            panels.push(Placed {
                panel,
                area: Panel {
                    area: Area::new(middle.0, from, middle.1, top),
                    x: panel.axis(),
                    y: Axis::tight(0.0, 1.0, 1),
                },
                rows,
            });
            top += FOOT;
        }
        Ok(Plan {
            heading,
            key,
            key_top,
            panels,
            middle,
            right: wide - MARGIN,
            footing_top: top,
            height: top + footing.height() + MARGIN * 0.7,
            footing,
        })
    }
}

fn key() -> Vec<(Swatch, String)> {
    vec![
        (Swatch::Agreed, "the claim holds here".to_owned()),
        (
            Swatch::Solid(Marker::Circle, VERDICTS.0),
            "supported".to_owned(),
        ),
        (
            Swatch::Symbol(Marker::Circle, VERDICTS.2),
            "undecided".to_owned(),
        ),
        (
            Swatch::Solid(Marker::Diamond, VERDICTS.1),
            "contradicted".to_owned(),
        ),
    ]
}

fn left_words(claim: &ForestClaim, room: f64) -> Result<Vec<(String, Type)>, ChartError> {
    let style = match claim.primary {
        true => Type::STRONG,
        false => Type::LABEL,
    };
    let mut lines: Vec<(String, Type)> = wrapped(&claim.sentence, style, room)?
        .into_iter()
        .map(|line| (line, style))
        .collect();
    let note = wrapped(&claim.note, Type::CAPTION, room)?;
    lines.extend(note.into_iter().map(|line| (line, Type::CAPTION)));
    Ok(lines)
}

fn right_words(claim: &ForestClaim, room: f64) -> Result<Vec<(String, Type)>, ChartError> {
    let verdict = Type::STRONG.in_colour(claim.verdict.colour());
    let mut lines = Vec::new();
    for (words, style) in [
        (&claim.verdict_words, verdict),
        (&claim.value_words, Type::TICK),
    ] {
        let broken = wrapped(words, style, room)?;
        lines.extend(broken.into_iter().map(|line| (line, style)));
    }
    Ok(lines)
}

impl Placed<'_> {
    fn draw(&self, canvas: &mut Canvas, plan: &Plan<'_>) -> Result<(), ChartError> {
        let area = self.area.area;
        let upright = |canvas: &mut Canvas, value: f64, pen: Pen| {
            let x = self.area.x(value);
            canvas.line(&[(x, area.y0), (x, area.y1)], pen)
        };
        for row in &self.rows {
            self.draw_margin(canvas, row)?;
        }
        for (value, _) in self.area.x.ticks() {
            upright(canvas, value, Pen::solid(GRID, 2))?;
        }
        for row in &self.rows {
            self.draw_margin_edges(canvas, row)?;
        }
        let pen = Pen::dashed(AXIS, 2, Dash::Long);
        upright(canvas, self.panel.no_effect(), pen)?;
        for (index, row) in self.rows.iter().enumerate() {
            if index > 0 {
                let edge = [(MARGIN, row.top), (plan.right, row.top)];
                canvas.line(&edge, Pen::solid(GRID, 2))?;
            }
            draw_lines(canvas, &row.left, MARGIN, (row.top, row.height))?;
            let right = plan.middle.1 + GAP;
            draw_lines(canvas, &row.right, right, (row.top, row.height))?;
            self.draw_estimate(canvas, row)?;
        }
        let base = area.y1;
        canvas.line(&[(area.x0, base), (area.x1, base)], Pen::solid(AXIS, 2))?;
        let mut end = f64::NEG_INFINITY;
        for (value, words) in self.area.x.ticks() {
            let (x, half) = (self.area.x(value), width(&words, Type::TICK)? / 2.0);
            if x - half < end + 6.0 {
                continue;
            }
            end = x + half;
            canvas.line(&[(x, base), (x, base + 5.0)], Pen::solid(AXIS, 2))?;
            canvas.text(tick(&words, Hang::Centre), x, base + 16.0)?;
        }
        let name = shortened(&self.panel.x_label, Type::AXIS, plan.right - area.x0)?;
        let text = Text {
            words: &name,
            style: Type::AXIS,
            kind: LabelKind::Axis,
            hang: Hang::Left,
        };
        canvas.text(text, area.x0, base + 37.0)?;
        Ok(())
    }

    /// Shades where the claim of `row` holds.
    fn draw_margin(&self, canvas: &mut Canvas, row: &RowTexts<'_>) -> Result<(), ChartError> {
        let (low, high) = row.claim.margin;
        if low.is_none() && high.is_none() {
            return Ok(());
        }
        let area = self.area.area;
        let x0 = low.map_or(area.x0, |v| self.area.x(v));
        let x1 = high.map_or(area.x1, |v| self.area.x(v));
        let (top, bottom) = row.shade();
        canvas.fill(Area::new(x0, top, x1, bottom), AGREED, AGREED_OPACITY)
    }

    /// Draws the edges of the margin over the grid.
    fn draw_margin_edges(&self, canvas: &mut Canvas, row: &RowTexts<'_>) -> Result<(), ChartError> {
        let (top, bottom) = row.shade();
        let (low, high) = row.claim.margin;
        for value in [low, high].into_iter().flatten() {
            let x = self.area.x(value);
            canvas.line(&[(x, top), (x, bottom)], Pen::solid(AGREED, 2))?;
        }
        Ok(())
    }

    fn draw_estimate(&self, canvas: &mut Canvas, row: &RowTexts<'_>) -> Result<(), ChartError> {
        let y = row.top + row.height / 2.0;
        let colour = row.claim.verdict.colour();
        if let Some((low, high)) = row.claim.interval {
            let pen = Pen::solid(colour, 4);
            let (a, b) = (self.area.x(low), self.area.x(high));
            canvas.line(&[(a, y), (b, y)], pen)?;
            for x in [a, b] {
                canvas.line(&[(x, y - 5.0), (x, y + 5.0)], pen)?;
            }
        }
        let Some(estimate) = row.claim.estimate else {
            return Ok(());
        };
        let (marker, fill) = row.claim.verdict.marker();
        let at = (self.area.x(estimate), y);
        canvas.symbol(marker, at, 6.0, (colour, fill))
    }
}

/// Draws lines of text centred on a row.
fn draw_lines(
    canvas: &mut Canvas,
    lines: &[(String, Type)],
    x: f64,
    (top, height): (f64, f64),
) -> Result<(), ChartError> {
    let mut y = top + (height - tall(lines)) / 2.0;
    for (words, style) in lines {
        let text = Text {
            words,
            style: *style,
            kind: LabelKind::Series,
            hang: Hang::Left,
        };
        canvas.text(text, x, y + style.line_height() / 2.0)?;
        y += style.line_height();
    }
    Ok(())
}
