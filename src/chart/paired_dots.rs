//! Treatments within each block: dots joined by a line, means and their difference beside.

use super::Bound;
use super::axis::{Axis, range};
use super::canvas::{Blank, Canvas, Pen};
use super::figure::Paint;
use super::key::Swatch;
use super::layer::{Along, Layer};
use super::picture::ChartError;
use super::plot::Plot;
use super::rate_fit::RatePoint;
use super::sheet::{LEAST_PANEL, Row, Sheet};
use super::theme::{AGREED, AGREED_OPACITY, Dash, INK, MUTED, PAPER};
use super::words::{Words, confidence_or_usual};

/// The doughs of one block.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PairedBlock {
    /// Name of the block, such as `day 2`.
    pub name: String,
    /// Value of each treatment in the order of [`PairedDots::treatments`]; `None` when missing.
    pub values: Vec<Option<RatePoint>>,
}

/// A mean with its interval.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MeanInterval {
    /// Name: the treatment, or the difference such as `two-arm − spiral`.
    pub name: String,
    /// Mean.
    pub mean: f64,
    /// Interval.
    pub interval: (f64, f64),
    /// What is printed.
    pub label: String,
}

/// Values by block and treatment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PairedDots {
    /// Texts around the figure.
    pub words: Words,
    /// Ordinate with its unit.
    pub y_label: String,
    /// Treatments, in the order drawn.
    pub treatments: Vec<String>,
    /// Blocks.
    pub blocks: Vec<PairedBlock>,
    /// Mean of each treatment.
    pub means: Vec<MeanInterval>,
    /// Ordinate of the differences with its unit.
    pub difference_label: String,
    /// Differences to the reference treatment.
    pub differences: Vec<MeanInterval>,
    /// Differences at which the claim holds; either side may be open.
    pub margin: (Option<f64>, Option<f64>),
    /// Confidence of the intervals, such as `90 %`; empty for 95 %.
    pub confidence: String,
}

impl Paint for PairedDots {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let means = self.means.iter().chain(&self.differences);
        let told = means.map(|m| format!("{}: {}", m.name, m.label));
        let head = format!("{} blocks", self.blocks.len());
        self.words.alt([head].into_iter().chain(told))
    }

    fn check(&self) -> Result<(), ChartError> {
        match self.values().next().is_none() {
            true => Err(ChartError::NoData(self.words.title.clone())),
            false => Ok(()),
        }
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let mut plots = vec![(1.7, self.dots())];
        if !self.differences.is_empty() {
            plots.push((1.0, self.contrasts()));
        }
        let rows = match blank.width() < 760.0 {
            true => plots.into_iter().map(|(_, plot)| Row::of(plot)).collect(),
            false => vec![Row {
                plots,
                weight: 1.0,
                least: LEAST_PANEL,
            }],
        };
        Sheet::new(&self.words, self.key(), rows).paint(blank)
    }
}

impl PairedDots {
    fn values(&self) -> impl Iterator<Item = &RatePoint> {
        self.blocks.iter().flat_map(|b| b.values.iter().flatten())
    }

    fn key(&self) -> Vec<(Swatch, String)> {
        let mut key = vec![(Swatch::Line(MUTED), "one block".to_owned())];
        if !(self.means.is_empty() && self.differences.is_empty()) {
            let confidence = confidence_or_usual(&self.confidence);
            key.push((Swatch::Interval, format!("mean with {confidence} interval")));
        }
        if self.values().any(|v| v.bound != Bound::Exact) {
            key.push((Swatch::Censored, "true value lies beyond".to_owned()));
        }
        if self.values().any(|v| v.aside) {
            key.push((Swatch::Aside, "set aside".to_owned()));
        }
        if self.margin != (None, None) {
            key.push((Swatch::Agreed, "the claim holds here".to_owned()));
        }
        key
    }

    fn dots(&self) -> Plot {
        let means = self.means.iter().flat_map(|m| [m.interval.0, m.interval.1]);
        let ys = self.values().map(|v| v.y).chain(means);
        let mut plot = Plot::new(
            (Axis::named(self.treatments.iter().cloned()), ""),
            (Axis::over(ys, 6), &self.y_label),
        );
        // Blocks step aside a little, so that equal values do not hide each other.
        let middle = (self.blocks.len() as f64 - 1.0) / 2.0;
        let aside = |block: usize| (block as f64 - middle) * (0.2 / (middle * 2.0).max(4.0));
        for (number, block) in self.blocks.iter().enumerate() {
            let there = block.values.iter().enumerate();
            let there =
                there.filter_map(|(i, v)| Some((i as f64 + 0.5 + aside(number), (*v).as_ref()?)));
            let kept: Vec<(f64, f64)> = there
                .filter(|(_, v)| !v.aside)
                .map(|(x, v)| (x, v.y))
                .collect();
            let (x, y): (Vec<f64>, Vec<f64>) = kept.into_iter().unzip();
            if let (Some(first), Some(height)) = (x.first(), y.first()) {
                let at = (*first, *height);
                plot.label_towards(at, &block.name, MUTED, (-1.0, 0.0));
            }
            let pen = Pen::solid(MUTED.mixed(PAPER, 0.45), 2);
            plot.line(&block.name, &x, &y, pen);
        }
        for (number, block) in self.blocks.iter().enumerate() {
            for (index, value) in block.values.iter().enumerate() {
                let Some(value) = value else { continue };
                let name = self.treatments.get(index).map_or("", String::as_str);
                let look = self.words.palette.look(name);
                let x = index as f64 + 0.5 + aside(number);
                plot.dot((x, value.y), &look, value.bound, value.aside);
            }
        }
        for (index, mean) in self.means.iter().enumerate() {
            let x = index as f64 + 0.76;
            let (low, high) = mean.interval;
            plot.interval((x, low), (x, high), INK);
            plot.mark((x, mean.mean), Along::Y, Bound::Exact);
            plot.label_towards((x, mean.mean), &mean.label, INK, (1.0, 0.0));
        }
        plot
    }

    fn contrasts(&self) -> Plot {
        let all = self
            .differences
            .iter()
            .flat_map(|d| [d.interval.0, d.interval.1]);
        let margins = [self.margin.0, self.margin.1].into_iter().flatten();
        let (low, high) = range(all.chain(margins).chain([0.0]));
        let room = (high - low) * 0.12;
        let names = self.differences.iter().map(|d| d.name.clone());
        let mut plot = Plot::new(
            (Axis::named(names), ""),
            (
                Axis::round(low - room, high + room, 6),
                &self.difference_label,
            ),
        );
        let (least, most) = self.margin;
        if least.is_some() || most.is_some() {
            let holds = (least.unwrap_or(plot.y.low()), most.unwrap_or(plot.y.high()));
            plot.zone(None, Some(holds), AGREED, AGREED_OPACITY);
        }
        let pen = Pen::dashed(MUTED, 2, Dash::Long);
        plot.layers.push(Layer::Level { y: 0.0, pen });
        for (index, difference) in self.differences.iter().enumerate() {
            let x = index as f64 + 0.5;
            let (low, high) = difference.interval;
            plot.interval((x, low), (x, high), INK);
            plot.mark((x, difference.mean), Along::Y, Bound::Exact);
            let at = (x, difference.mean);
            plot.label_towards(at, &difference.label, INK, (1.0, 0.0));
        }
        plot
    }
}
