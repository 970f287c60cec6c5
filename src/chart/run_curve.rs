//! One run: raw signal, smoothed band, and marks where each metric was read. Recording mixers and
//! pin mixers draw the same figure; a pin mixer's adds slopes and widths.
//!
//! Values read on the ordinate are labelled beside their mark; times and durations have a row each
//! in a strip below the curve, dimensioned like a drawing, so that no label can cover another.

use super::axis::{Axis, number, range};
use super::canvas::{Blank, Canvas, Fill, Pen};
use super::curve;
use super::figure::Paint;
use super::frame::{Block, Panel, X_AXIS_ROOM, footing, heading, tick_room};
use super::key::{Key, Swatch};
use super::label::Area;
use super::mark::{Mark, Reference};
use super::marks::{self, STRIP_ROW};
use super::picture::ChartError;
use super::theme::{ASIDE, Look, MARGIN, Marker, Palette, Rgb, SIGNAL, Type};
use super::{Bound, text};

/// The curve of one run with its marks.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RunCurve {
    /// Title, such as the run's name.
    pub title: String,
    /// File, sample, treatment.
    pub subtitle: String,
    /// Treatment; decides the colour of the centre line.
    pub treatment: Option<String>,
    /// Palette of the day.
    pub palette: Palette,
    /// Abscissa with its unit; empty means `time / min`.
    pub x_label: String,
    /// Ordinate with its unit, such as `consistency / FU`.
    pub y_label: String,
    /// Times of the points, min.
    pub time_min: Vec<f64>,
    /// Raw values, all of them.
    pub signal: Vec<f64>,
    /// Positions in `signal` set aside as spikes or drop-outs: drawn open, off the line.
    pub excluded: Vec<usize>,
    /// Smoothed centre at each time, or empty.
    pub centre: Vec<f64>,
    /// Lower envelope at each time, or empty.
    pub lower: Vec<f64>,
    /// Upper envelope at each time, or empty.
    pub upper: Vec<f64>,
    /// Line to compare with.
    pub reference: Option<Reference>,
    /// Metrics shown where they were read.
    pub marks: Vec<Mark>,
    /// Metrics without a place on the axis, with the reason; findings.
    pub notes: Vec<String>,
    /// Points, sampling, ids.
    pub caption: String,
}

impl Paint for RunCurve {
    fn title(&self) -> &str {
        &self.title
    }

    fn alt(&self) -> String {
        let (low, high) = range(self.heights());
        let first = self.time_min.first().copied().unwrap_or_default();
        let last = self.time_min.last().copied().unwrap_or_default();
        let mut words = format!(
            "{}. {}. Curve of {} points from {} to {} min; {} between {} and {}.",
            self.title,
            self.subtitle,
            self.signal.len(),
            number(first, 1),
            number(last, 1),
            self.y_label,
            number(low, 0),
            number(high, 0),
        );
        for mark in &self.marks {
            let side = match mark.bound {
                Bound::Exact => "",
                Bound::Above => " (true value above)",
                Bound::Below => " (true value below)",
            };
            words.push_str(&format!(" {}{side}.", mark.label));
        }
        for note in &self.notes {
            words.push_str(&format!(" {}.", note.trim_end_matches('.')));
        }
        words
    }

    fn check(&self) -> Result<(), ChartError> {
        if self.time_min.is_empty() {
            return Err(ChartError::NoData(self.title.clone()));
        }
        curve::check("signal", &self.time_min, &self.signal)?;
        let smoothed = [
            ("centre", &self.centre),
            ("lower", &self.lower),
            ("upper", &self.upper),
        ];
        for (name, values) in smoothed {
            if !values.is_empty() {
                curve::check(name, &self.time_min, values)?;
            }
        }
        for (index, mark) in self.marks.iter().enumerate() {
            let (xs, ys) = mark.extent();
            if xs.iter().chain(&ys).any(|v| !v.is_finite()) {
                return Err(ChartError::NotFinite {
                    series: mark.label.clone(),
                    index,
                });
            }
        }
        Ok(())
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let look = self
            .palette
            .look(self.treatment.as_deref().unwrap_or_default());
        // Marks that find no room beside the curve are listed below it; listing costs room, so the
        // rest are placed anew until all have theirs.
        let mut listed: Vec<usize> = Vec::new();
        loop {
            let plan = Plan::new(self, blank, &listed)?;
            let placed = marks::place(self, &plan.panel, plan.ground(self), &listed)?;
            if placed.homeless.is_empty() {
                let mut canvas = blank.open(plan.height);
                plan.draw(self, &look, &mut canvas)?;
                marks::draw_strip(&mut canvas, self, (&plan.panel, plan.strip_top), &listed)?;
                marks::draw_in_panel(&mut canvas, self, &plan.panel, &placed.places)?;
                return Ok(canvas);
            }
            listed.extend(placed.homeless);
            listed.sort_unstable();
        }
    }
}

impl RunCurve {
    /// Returns the runs of points that were not set aside, as ranges of positions.
    fn kept(&self) -> Vec<std::ops::Range<usize>> {
        let mut aside = self.excluded.clone();
        aside.sort_unstable();
        aside.dedup();
        let mut kept = Vec::new();
        let mut from = 0;
        for index in aside.into_iter().filter(|i| *i < self.signal.len()) {
            if index > from {
                kept.push(from..index);
            }
            from = index + 1;
        }
        if from < self.signal.len() {
            kept.push(from..self.signal.len());
        }
        kept
    }

    /// Returns the values that the ordinate must cover.
    fn heights(&self) -> impl Iterator<Item = f64> {
        let kept = self.kept();
        let signal: Vec<f64> = kept
            .into_iter()
            .filter_map(|range| self.signal.get(range))
            .flatten()
            .copied()
            .collect();
        let smoothed = [&self.centre, &self.lower, &self.upper];
        signal
            .into_iter()
            .chain(smoothed.into_iter().flatten().copied())
            .chain(self.reference.iter().map(|r| r.value))
            .chain(self.marks.iter().flat_map(|m| m.extent().1))
    }
}

/// Where everything goes.
struct Plan {
    heading: Block,
    footing: Block,
    key: Key,
    key_top: f64,
    panel: Panel,
    strip_top: f64,
    base: f64,
    footing_top: f64,
    height: f64,
    /// Height and words of the line to compare with.
    reference: Option<(f64, String)>,
    /// Points set aside that lie beyond the ordinate.
    beyond: Vec<usize>,
}

/// Least height of the curve's panel, logical pixels.
const LEAST_PANEL: f64 = 300.0;

impl Plan {
    fn new(figure: &RunCurve, blank: Blank, listed: &[usize]) -> Result<Plan, ChartError> {
        let width = blank.width();
        let heading = heading(&figure.title, &figure.subtitle, width)?;
        let list: Vec<String> = listed
            .iter()
            .filter_map(|i| figure.marks.get(*i))
            .map(|mark| mark.label.replace(' ', "\u{a0}"))
            .collect();
        let list = match list.is_empty() {
            true => None,
            false => Some(format!("also marked: {}", list.join("; "))),
        };
        let lines = list.iter().chain(&figure.notes).map(String::as_str);
        let footing = footing(lines.chain([figure.caption.as_str()]), width)?;
        let (low, high) = range(figure.heights());
        let y = Axis::for_values(low, high, 6);
        let beyond: Vec<usize> = figure
            .excluded
            .iter()
            .copied()
            .filter(|i| {
                let value = figure.signal.get(*i).copied().unwrap_or(low);
                value < y.low() || value > y.high()
            })
            .collect();
        let x = figure.time_axis();
        let left = MARGIN + tick_room(&y)?;
        let (reference, right) = match &figure.reference {
            Some(line) => {
                let words = text::shortened(&line.label, Type::TICK, width / 4.0)?;
                let room = text::width(&words, Type::TICK)? + 12.0;
                (Some((line.value, words)), room)
            }
            None => (None, 0.0),
        };
        let key = Key::new(&figure.y_label, figure.key(&beyond), left, width - MARGIN)?;
        let key_top = MARGIN + heading.height() + 8.0;
        let top = key_top + key.height() + 8.0;
        let rows = marks::strip_rows(figure).len() as f64;
        let strip = if rows > 0.0 {
            rows * STRIP_ROW + 14.0
        } else {
            0.0
        };
        let below = strip + X_AXIS_ROOM + 8.0 + footing.height() + MARGIN * 0.7;
        let bottom = (blank.height() - below).max(top + LEAST_PANEL);
        Ok(Plan {
            panel: Panel {
                area: Area::new(left, top, width - MARGIN - right.max(8.0), bottom),
                x,
                y,
            },
            key_top,
            strip_top: bottom,
            base: bottom + strip,
            footing_top: bottom + strip + X_AXIS_ROOM + 8.0,
            height: bottom + below,
            heading,
            footing,
            key,
            reference,
            beyond,
        })
    }

    /// Returns what stands in the panel before labels are placed.
    fn ground(&self, figure: &RunCurve) -> super::place::Ground {
        let mut ground = super::place::Ground::new(self.panel.area.grown(-2.0));
        let kept = figure.kept();
        let whole = 0..figure.time_min.len();
        let signal = kept.iter().map(|range| (range, &figure.signal));
        let band = [&figure.upper, &figure.lower].map(|values| (&whole, values));
        for (range, values) in signal.chain(band) {
            let points = figure.time_min.iter().zip(values.iter());
            let mut before: Option<(f64, f64)> = None;
            for (&x, &y) in points.take(range.end).skip(range.start) {
                let here = (self.panel.x(x), self.panel.y(y));
                ground.ink_line(before.unwrap_or(here), here);
                before = Some(here);
            }
        }
        for (_, (x, y)) in self.aside(figure) {
            ground.take(Area::new(x, y, x, y).grown(7.0));
        }
        for (x, y) in marks::drop_lines(figure, &self.panel) {
            ground.keep_off(Area::new(x - 1.0, y, x + 1.0, self.panel.area.y1));
        }
        if let Some(line) = &figure.reference {
            let y = self.panel.y(line.value);
            ground.keep_off(Area::new(
                self.panel.area.x0,
                y - 1.0,
                self.panel.area.x1,
                y + 1.0,
            ));
        }
        ground
    }

    fn draw(&self, figure: &RunCurve, look: &Look, canvas: &mut Canvas) -> Result<(), ChartError> {
        self.heading.draw(canvas, MARGIN, MARGIN)?;
        self.key.draw(canvas, self.key_top)?;
        self.panel.draw_y_axis(canvas)?;
        let name = if figure.x_label.is_empty() {
            "time / min"
        } else {
            &figure.x_label
        };
        self.panel.draw_x_axis(canvas, name, self.base)?;
        if let Some((value, words)) = &self.reference {
            marks::draw_reference(canvas, &self.panel, *value, words)?;
        }
        let time = figure.time_min.as_slice();
        for range in figure.kept() {
            if let (Some(x), Some(y)) = (time.get(range.clone()), figure.signal.get(range)) {
                curve::draw(canvas, &self.panel, (x, y), Pen::solid(SIGNAL, 1))?;
            }
        }
        if !figure.lower.is_empty() && !figure.upper.is_empty() {
            let band = (figure.lower.as_slice(), figure.upper.as_slice());
            curve::fill_band(canvas, &self.panel, time, band, look.colour)?;
        }
        if !figure.centre.is_empty() {
            let pen = Pen::solid(look.ink, 5);
            curve::draw(canvas, &self.panel, (time, &figure.centre), pen)?;
        }
        self.draw_aside(figure, canvas)?;
        self.footing.draw(canvas, MARGIN, self.footing_top)?;
        Ok(())
    }

    /// Returns marker and place of each point set aside.
    fn aside(&self, figure: &RunCurve) -> Vec<(Marker, (f64, f64))> {
        let place = |index: &usize| {
            let x = self.panel.x(*figure.time_min.get(*index)?);
            let value = *figure.signal.get(*index)?;
            Some(if !self.beyond.contains(index) {
                (Marker::Diamond, (x, self.panel.y(value)))
            } else if value > self.panel.y.high() {
                (Marker::Triangle, (x, self.panel.area.y0 + 6.0))
            } else {
                (Marker::TriangleDown, (x, self.panel.area.y1 - 6.0))
            })
        };
        figure.excluded.iter().filter_map(place).collect()
    }

    fn draw_aside(&self, figure: &RunCurve, canvas: &mut Canvas) -> Result<(), ChartError> {
        for (marker, (at, y)) in self.aside(figure) {
            canvas.symbol(marker, (at, y), 4.5, (ASIDE, Fill::Open))?;
        }
        Ok(())
    }
}

impl RunCurve {
    fn time_axis(&self) -> Axis {
        let marked = self.marks.iter().flat_map(|m| m.extent().0);
        let (low, high) = range(self.time_min.iter().copied().chain(marked));
        let from = if low > 0.0 && low < 0.3 * high {
            0.0
        } else {
            low
        };
        // A little paper behind the end: room for the arrow of what lies beyond the record.
        Axis::tight(from, high + (high - from) * 0.025, 12)
    }

    fn key(&self, beyond: &[usize]) -> Vec<(Swatch, String)> {
        let ink: Rgb = self
            .palette
            .look(self.treatment.as_deref().unwrap_or_default())
            .ink;
        let mut items = vec![(Swatch::Line(SIGNAL), "raw signal".to_owned())];
        if !self.lower.is_empty() && !self.upper.is_empty() {
            items.push((Swatch::Band(ink), "lower to upper".to_owned()));
        }
        if !self.centre.is_empty() {
            let words = match &self.treatment {
                Some(name) => format!("centre ({name})"),
                None => "centre".to_owned(),
            };
            items.push((Swatch::Thick(ink), words));
        }
        if !self.excluded.is_empty() {
            let mut words = format!("spike or drop-out, set aside ({})", self.excluded.len());
            if !beyond.is_empty() {
                let values = beyond.iter().filter_map(|i| self.signal.get(*i)).copied();
                let (low, high) = range(values);
                words = format!(
                    "{words}; {} beyond the axis, {} to {}",
                    beyond.len(),
                    number(low, 0),
                    number(high, 0)
                );
            }
            items.push((Swatch::Symbol(Marker::Diamond, ASIDE), words));
        }
        if self.marks.iter().any(|m| m.bound != Bound::Exact) {
            items.push((Swatch::Censored, "true value lies beyond".to_owned()));
        }
        items
    }
}
