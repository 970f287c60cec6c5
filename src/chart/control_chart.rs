//! A reference flour over time on one instrument: individual values, their exponentially weighted
//! mean and the cumulative sums, each against its limits, with signals named and lot changes shown.

use super::axis::{Axis, range};
use super::canvas::{Blank, Canvas, Pen};
use super::figure::Paint;
use super::key::Swatch;
use super::layer::{Along, Dot, Layer, RADIUS};
use super::picture::ChartError;
use super::plot::Plot;
use super::sheet::{Row, Sheet};
use super::theme::{AGREED, AGREED_OPACITY, ASIDE, Dash, INK, MUTED, Marker, PAPER};
use super::{Bound, words::Words};

/// Which panel a signal belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ControlPanel {
    /// Individual values.
    #[default]
    Individuals,
    /// Exponentially weighted mean.
    Ewma,
    /// Cumulative sums.
    Cusum,
}

/// A signal.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ControlSignal {
    /// Panel.
    pub panel: ControlPanel,
    /// Position among the values, from 0.
    pub index: usize,
    /// What is printed, such as `beyond 3 s`.
    pub label: String,
}

/// Centre and limits, which may differ from value to value.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ControlLimits {
    /// Centre line.
    pub centre: f64,
    /// Lower limit at each value.
    pub lower: Vec<f64>,
    /// Upper limit at each value.
    pub upper: Vec<f64>,
}

/// Cumulative sums with their decision limit.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cusum {
    /// Sum of what lies above, at each value.
    pub high: Vec<f64>,
    /// Sum of what lies below, at each value, as negative number.
    pub low: Vec<f64>,
    /// Decision limit.
    pub limit: f64,
}

/// A control chart.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ControlChart {
    /// Texts around the figure.
    pub words: Words,
    /// Abscissa, such as `run of the reference flour`.
    pub x_label: String,
    /// Ordinate with its unit, such as `consistency / FU`.
    pub y_label: String,
    /// What stands below each value, such as its date.
    pub names: Vec<String>,
    /// Values.
    pub values: Vec<f64>,
    /// Positions of the values that set the limits.
    pub baseline: Option<(usize, usize)>,
    /// Limits of the values.
    pub limits: ControlLimits,
    /// Exponentially weighted mean at each value with its limits, when kept.
    pub ewma: Option<(Vec<f64>, ControlLimits)>,
    /// Cumulative sums, when kept.
    pub cusum: Option<Cusum>,
    /// Signals.
    pub signals: Vec<ControlSignal>,
    /// First value of a new lot, with what is printed.
    pub lots: Vec<(usize, String)>,
}

impl Paint for ControlChart {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let (low, high) = range(self.values.iter().copied());
        let head = format!(
            "{} values of {} between {low:.1} and {high:.1}, centre {:.1}",
            self.values.len(),
            self.y_label,
            self.limits.centre
        );
        let signals = self.signals.iter().map(|signal| {
            let name = self.names.get(signal.index).map_or("", String::as_str);
            format!("{name}: {}", signal.label)
        });
        let lots = self.lots.iter().map(|lot| lot.1.clone());
        self.words
            .alt([head].into_iter().chain(signals).chain(lots))
    }

    fn check(&self) -> Result<(), ChartError> {
        if self.values.is_empty() {
            return Err(ChartError::NoData(self.words.title.clone()));
        }
        if self.names.len() != self.values.len() {
            return Err(ChartError::Lengths {
                series: self.y_label.clone(),
                x: self.names.len(),
                y: self.values.len(),
            });
        }
        Ok(())
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let mut plots = vec![self.individuals()];
        plots.extend(
            self.ewma
                .iter()
                .map(|(mean, limits)| self.mean(mean, limits)),
        );
        plots.extend(self.cusum.iter().map(|sums| self.sums(sums)));
        let last = plots.len() - 1;
        let rows = plots.into_iter().enumerate().map(|(index, mut plot)| {
            if index != last {
                plot.x_ticks = false;
                plot.x_name.clear();
            }
            Row {
                weight: if index == 0 { 1.5 } else { 1.0 },
                least: if index == 0 { 180.0 } else { 110.0 },
                ..Row::of(plot)
            }
        });
        Sheet::new(&self.words, self.key(), rows.collect()).paint(blank)
    }
}

impl ControlChart {
    fn key(&self) -> Vec<(Swatch, String)> {
        let mut key = vec![
            (Swatch::Solid(Marker::Circle, INK), "value".to_owned()),
            (Swatch::Agreed, "within limits".to_owned()),
        ];
        if !self.signals.is_empty() {
            key.push((Swatch::Solid(Marker::Diamond, ASIDE), "signal".to_owned()));
        }
        if self.baseline.is_some() {
            key.push((Swatch::Bar(MUTED), "set the limits".to_owned()));
        }
        key
    }

    fn places(&self) -> Vec<f64> {
        (0..self.values.len()).map(|i| i as f64 + 0.5).collect()
    }

    fn panel(&self, y: Axis, name: &str) -> Plot {
        let mut plot = Plot::new(
            (Axis::named(self.names.iter().cloned()), &self.x_label),
            (y, name),
        );
        for (index, _) in &self.lots {
            let pen = Pen::dashed(MUTED, 2, Dash::Long);
            let x = *index as f64;
            plot.layers.push(Layer::Upright { x, pen });
        }
        plot
    }

    fn individuals(&self) -> Plot {
        let limits = self.limits.lower.iter().chain(&self.limits.upper);
        let (low, high) = range(self.values.iter().chain(limits).copied());
        let room = (high - low) * 0.08;
        let y = Axis::round(low - room, high + room, 5);
        let mut plot = self.panel(y, &self.y_label);
        for (index, words) in &self.lots {
            plot.top(*index as f64, words, MUTED);
        }
        if let Some((from, to)) = self.baseline {
            let foot = plot.y.low();
            let thick = (plot.y.high() - foot) * 0.02;
            plot.layers.push(Layer::Bar {
                x: (from as f64, to as f64 + 1.0),
                y: (foot, foot + thick),
                colour: MUTED,
                hatch: super::hatch::Hatch::None,
            });
        }
        self.limits(&mut plot, &self.limits, "centre");
        let pen = Pen::solid(MUTED, 2);
        plot.line("values", &self.places(), &self.values, pen);
        self.marks(&mut plot, &self.values, ControlPanel::Individuals);
        plot
    }

    fn mean(&self, mean: &[f64], limits: &ControlLimits) -> Plot {
        let all = mean.iter().chain(&limits.lower).chain(&limits.upper);
        let (low, high) = range(all.copied());
        let room = (high - low) * 0.08;
        let name = format!("exponentially weighted mean of {}", self.y_label);
        let mut plot = self.panel(Axis::round(low - room, high + room, 4), &name);
        self.limits(&mut plot, limits, "");
        plot.line("mean", &self.places(), mean, Pen::solid(INK, 4));
        self.marks(&mut plot, mean, ControlPanel::Ewma);
        plot
    }

    fn sums(&self, sums: &Cusum) -> Plot {
        let all = sums.high.iter().chain(&sums.low).copied();
        let (low, high) = range(all.chain([-sums.limit, sums.limit]));
        let room = (high - low) * 0.06;
        let y = Axis::round(low - room, high + room, 4);
        let mut plot = self.panel(y, "cumulative sums / standard deviations");
        let within = (-sums.limit, sums.limit);
        plot.zone(None, Some(within), AGREED, AGREED_OPACITY);
        plot.end(None, sums.limit, "limit", MUTED);
        plot.end(None, -sums.limit, "limit", MUTED);
        let places = self.places();
        plot.line("above", &places, &sums.high, Pen::solid(INK, 4));
        plot.line(
            "below",
            &places,
            &sums.low,
            Pen::dashed(INK, 4, Dash::Dotted),
        );
        for (values, words) in [(&sums.high, "sum above"), (&sums.low, "sum below")] {
            if let (Some(x), Some(y)) = (places.last(), values.last()) {
                plot.end(Some(*x), *y, words, INK);
            }
        }
        let of = |signal: &ControlSignal| {
            let (up, down) = (sums.high.get(signal.index)?, sums.low.get(signal.index)?);
            Some(if up.abs() >= down.abs() { *up } else { *down })
        };
        self.signals(&mut plot, of, ControlPanel::Cusum);
        plot
    }

    fn limits(&self, plot: &mut Plot, limits: &ControlLimits, centre: &str) {
        let places = self.places();
        // To both edges, not from the first value to the last only.
        let wide = |values: &[f64]| -> Vec<f64> {
            let ends = (values.first().copied(), values.last().copied());
            let middle = values.iter().copied();
            ends.0.into_iter().chain(middle).chain(ends.1).collect()
        };
        let mut x = vec![plot.x.low()];
        x.extend(&places);
        x.push(plot.x.high());
        let (lower, upper) = (wide(&limits.lower), wide(&limits.upper));
        plot.band("limits", &x, (&lower, &upper), AGREED.mixed(PAPER, 0.4));
        for edge in [&lower, &upper].into_iter().filter(|e| !e.is_empty()) {
            plot.line("limit", &x, edge, Pen::solid(AGREED, 2));
        }
        plot.level(limits.centre, centre, MUTED);
        if let (Some(low), Some(high)) = (lower.last(), upper.last()) {
            plot.end(None, *high, "upper limit", AGREED);
            plot.end(None, *low, "lower limit", AGREED);
        }
    }

    fn marks(&self, plot: &mut Plot, values: &[f64], panel: ControlPanel) {
        if panel == ControlPanel::Individuals {
            for (place, value) in self.places().into_iter().zip(values) {
                plot.layers.push(Layer::Dot(Dot {
                    at: (place, *value),
                    marker: Marker::Circle,
                    colour: INK,
                    radius: 3.4,
                    along: Along::Y,
                    bound: Bound::Exact,
                    aside: false,
                }));
            }
        }
        self.signals(plot, |signal| values.get(signal.index).copied(), panel);
    }

    fn signals(
        &self,
        plot: &mut Plot,
        height: impl Fn(&ControlSignal) -> Option<f64>,
        panel: ControlPanel,
    ) {
        for signal in self.signals.iter().filter(|s| s.panel == panel) {
            let Some(y) = height(signal) else { continue };
            let at = (signal.index as f64 + 0.5, y);
            plot.layers.push(Layer::Dot(Dot {
                at,
                marker: Marker::Diamond,
                colour: ASIDE,
                radius: RADIUS + 0.5,
                along: Along::Y,
                bound: Bound::Exact,
                aside: false,
            }));
            plot.label(at, &signal.label, INK);
        }
    }
}
