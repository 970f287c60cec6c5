//! Deliveries against the limits that were agreed: each result with its uncertainty, the limits, and
//! the guard bands in which neither acceptance nor rejection is safe.

use super::Bound;
use super::axis::{Axis, range};
use super::canvas::{Blank, Canvas, Pen};
use super::figure::Paint;
use super::hatch::Hatch;
use super::key::Swatch;
use super::layer::{Along, Dot, Layer};
use super::picture::ChartError;
use super::plot::Plot;
use super::sheet::{Row, Sheet};
use super::theme::{AGREED, AGREED_OPACITY, Marker, Rgb, VERDICTS};
use super::words::Words;

/// What the decision rule says of a result.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Delivery {
    /// Within the limits, beyond the guard bands.
    Accept,
    /// Outside the limits, beyond the guard bands.
    Reject,
    /// Too near to a limit to say.
    #[default]
    Between,
}

/// One metric of one delivery.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LimitStrip {
    /// Metric with its unit, such as `water absorption / %`.
    pub metric: String,
    /// Delivery, such as the flour and sample.
    pub sample: String,
    /// Result.
    pub value: f64,
    /// Expanded uncertainty: half the interval.
    pub expanded: f64,
    /// Whether the true value lies beyond.
    pub bound: Bound,
    /// Lower limit.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
    /// Width of the guard band inside each limit.
    pub guard: f64,
    /// Decision.
    pub decision: Delivery,
    /// Decision and value as printed, such as `accept: 62.4 % ± 0.4`.
    pub label: String,
}

/// Results against agreed limits.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DeliveryLimits {
    /// Texts around the figure.
    pub words: Words,
    /// Strips from top to bottom.
    pub strips: Vec<LimitStrip>,
}

impl Paint for DeliveryLimits {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let told = self
            .strips
            .iter()
            .map(|s| format!("{}, {}: {}", s.sample, s.metric, s.label));
        self.words.alt(told)
    }

    fn check(&self) -> Result<(), ChartError> {
        match self.strips.is_empty() {
            true => Err(ChartError::NoData(self.words.title.clone())),
            false => Ok(()),
        }
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let key = vec![
            (Swatch::Agreed, "within the limits".to_owned()),
            (Swatch::Block(GUARD, Hatch::Up), "guard band".to_owned()),
            (
                Swatch::Solid(Marker::Circle, VERDICTS.0),
                "accept".to_owned(),
            ),
            (
                Swatch::Symbol(Marker::Circle, VERDICTS.2),
                "between".to_owned(),
            ),
            (
                Swatch::Solid(Marker::Diamond, VERDICTS.1),
                "reject".to_owned(),
            ),
        ];
        let rows = self.strips.iter().map(|strip| Row {
            weight: 0.0,
            least: 34.0,
            ..Row::of(strip.plot())
        });
        Sheet::new(&self.words, key, rows.collect()).paint(blank)
    }
}

/// Ground of the guard bands, below their hatch.
const GUARD: Rgb = Rgb(226, 226, 226);

impl LimitStrip {
    fn plot(&self) -> Plot {
        let (low, high) = (self.value - self.expanded, self.value + self.expanded);
        let limits = [self.lower, self.upper];
        let (from, to) = range(limits.into_iter().flatten().chain([low, high]));
        let room = ((to - from) * 0.18).max(self.guard * 1.5);
        let mut plot = Plot::new(
            (Axis::tight(from - room, to + room, 8), ""),
            (Axis::tight(0.0, 1.0, 1), ""),
        );
        plot.y_ticks = false;
        plot.bare = true;
        plot.title = match self.sample.is_empty() {
            true => self.metric.clone(),
            false => format!("{} · {}", self.sample, self.metric),
        };
        let inside = (
            self.lower.unwrap_or(plot.x.low()),
            self.upper.unwrap_or(plot.x.high()),
        );
        plot.zone(Some(inside), None, AGREED, AGREED_OPACITY);
        let guards = [
            self.lower.map(|l| (l, l + self.guard)),
            self.upper.map(|u| (u - self.guard, u)),
        ];
        for guard in guards.into_iter().flatten().filter(|g| g.1 > g.0) {
            plot.layers.push(Layer::Bar {
                x: guard,
                y: (0.0, 1.0),
                colour: GUARD,
                hatch: Hatch::Up,
            });
        }
        for x in limits.into_iter().flatten() {
            let pen = Pen::solid(AGREED, 4);
            plot.layers.push(Layer::Upright { x, pen });
        }
        let (colour, marker, open) = match self.decision {
            Delivery::Accept => (VERDICTS.0, Marker::Circle, false),
            Delivery::Reject => (VERDICTS.1, Marker::Diamond, false),
            Delivery::Between => (VERDICTS.2, Marker::Circle, true),
        };
        plot.interval((low, 0.5), (high, 0.5), colour);
        let dot = Dot {
            at: (self.value, 0.5),
            marker,
            colour,
            radius: 6.0,
            along: Along::X,
            bound: self.bound,
            aside: false,
        };
        plot.layers.push(match open && self.bound == Bound::Exact {
            true => Layer::Ring(dot),
            false => Layer::Dot(dot),
        });
        plot.end(None, 0.5, &self.label, colour);
        plot
    }
}
