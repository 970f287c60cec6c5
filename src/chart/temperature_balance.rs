//! The temperature balance of a dough: what each source adds, from the mixture of flour and water to
//! the predicted dough temperature, beside the measured one.

use super::axis::{Axis, number, range};
use super::canvas::{Blank, Canvas, Pen};
use super::figure::Paint;
use super::hatch::Hatch;
use super::key::Swatch;
use super::layer::Layer;
use super::picture::ChartError;
use super::plot::Plot;
use super::sheet::Sheet;
use super::theme::{COLD, Dash, INK, MUTED, Rgb, WARM};
use super::words::Words;

/// One source of warmth or loss.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HeatStep {
    /// Name, such as `heat of hydration`.
    pub name: String,
    /// Change of the dough temperature, K.
    pub change_k: f64,
    /// Standard uncertainty, K, when known.
    pub uncertainty_k: Option<f64>,
}

/// A temperature with its interval.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Temperature {
    /// Value, °C.
    pub value_c: f64,
    /// 95 % interval, °C, when known.
    pub interval_c: Option<(f64, f64)>,
}

/// The temperature balance of one dough.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TemperatureBalance {
    /// Texts around the figure.
    pub words: Words,
    /// What the balance starts from, such as `flour 21.0 °C`.
    pub start_name: String,
    /// Temperature that the balance starts from, °C.
    pub start_c: f64,
    /// Sources in order.
    pub steps: Vec<HeatStep>,
    /// Dough temperature that the balance predicts.
    pub predicted: Temperature,
    /// Measured dough temperature.
    pub measured: Option<Temperature>,
    /// Dough temperature that was aimed at, °C.
    pub target_c: Option<f64>,
}

impl Paint for TemperatureBalance {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let steps = self
            .steps
            .iter()
            .map(|step| format!("{} {} K", step.name, signed(step.change_k)));
        let start = format!("{} {} °C", self.start_name, number(self.start_c, 1));
        let end = format!("predicted {} °C", number(self.predicted.value_c, 1));
        let measured = self
            .measured
            .map(|m| format!("measured {} °C", number(m.value_c, 1)));
        let told = [start].into_iter().chain(steps).chain([end]);
        self.words.alt(told.chain(measured))
    }

    fn check(&self) -> Result<(), ChartError> {
        match self.steps.is_empty() {
            true => Err(ChartError::NoData(self.words.title.clone())),
            false => Ok(()),
        }
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let key = vec![
            (Swatch::Block(WARM, Hatch::None), "warms".to_owned()),
            (Swatch::Block(COLD, Hatch::Up), "cools".to_owned()),
            (Swatch::Interval, "95 % interval".to_owned()),
        ];
        Sheet::single(&self.words, key, self.plot()).paint(blank)
    }
}

/// Returns a change with its sign.
fn signed(change: f64) -> String {
    let sign = if change >= 0.0 { "+" } else { "" };
    format!("{sign}{}", number(change, 1))
}

/// Half the width of a bar, in places.
const HALF: f64 = 0.36;
/// 95 % of a normal distribution lie within this many standard deviations.
const COVERAGE: f64 = 1.96;

impl TemperatureBalance {
    /// Returns the temperature before and after each step.
    fn levels(&self) -> Vec<(f64, f64)> {
        let mut at = self.start_c;
        let mut levels = Vec::with_capacity(self.steps.len());
        for step in &self.steps {
            levels.push((at, at + step.change_k));
            at += step.change_k;
        }
        levels
    }

    fn plot(&self) -> Plot {
        let levels = self.levels();
        let measured = self.measured.iter();
        let ends = [self.predicted].into_iter().chain(measured.copied());
        let ends = ends.flat_map(|t| {
            let (low, high) = t.interval_c.unwrap_or((t.value_c, t.value_c));
            [low, high]
        });
        let all = levels.iter().flat_map(|l| [l.0, l.1]).chain(ends);
        let (low, high) = range(all.chain(self.target_c));
        let reach = (high - low).max(1.0);
        let mut names = vec![self.start_name.clone()];
        names.extend(self.steps.iter().map(|s| s.name.clone()));
        names.push("predicted dough".to_owned());
        if self.measured.is_some() {
            names.push("measured dough".to_owned());
        }
        let mut plot = Plot::new(
            (Axis::named(names), ""),
            (
                Axis::round(low - 0.12 * reach, high + 0.14 * reach, 6),
                "temperature / °C",
            ),
        );
        // Temperatures have no natural zero: levels are drawn, not bars from an arbitrary floor.
        let level = |plot: &mut Plot, place: f64, value: f64, colour: Rgb| {
            plot.layers.push(Layer::Line {
                name: "temperature".to_owned(),
                x: vec![place - HALF, place + HALF],
                y: vec![value, value],
                pen: Pen::solid(colour, 9),
            });
        };
        level(&mut plot, 0.5, self.start_c, MUTED);
        let start = format!("{} °C", number(self.start_c, 1));
        plot.label_above((0.5, self.start_c), &start, INK);
        for (index, (step, &(from, to))) in self.steps.iter().zip(&levels).enumerate() {
            self.step(&mut plot, index as f64 + 1.5, step, (from, to));
        }
        let after = self.steps.len() as f64 + 1.5;
        let last = levels.last().map_or(self.start_c, |l| l.1);
        link(&mut plot, (after - 1.0, after), last);
        let ends = [Some(self.predicted), self.measured];
        for (index, end) in ends.into_iter().flatten().enumerate() {
            let place = after + index as f64;
            let colour = if index == 0 { MUTED } else { INK };
            level(&mut plot, place, end.value_c, colour);
            let mut top = end.value_c;
            if let Some((low, high)) = end.interval_c {
                plot.interval((place, low), (place, high), INK);
                top = top.max(high);
            }
            let words = format!("{} °C", number(end.value_c, 1));
            plot.label_above((place, top), &words, INK);
        }
        if let Some(target) = self.target_c {
            let words = format!("target {} °C", number(target, 1));
            plot.level(target, &words, MUTED);
        }
        plot
    }

    fn step(&self, plot: &mut Plot, place: f64, step: &HeatStep, (from, to): (f64, f64)) {
        let (colour, hatch) = match step.change_k >= 0.0 {
            true => (WARM, Hatch::None),
            false => (COLD, Hatch::Up),
        };
        link(plot, (place - 1.0, place), from);
        plot.layers.push(Layer::Bar {
            x: (place - HALF, place + HALF),
            y: (from, to),
            colour,
            hatch,
        });
        let mut top = from.max(to);
        if let Some(u) = step.uncertainty_k {
            let half = COVERAGE * u;
            plot.interval((place, to - half), (place, to + half), INK);
            top = top.max(to + half);
        }
        plot.label_above((place, top), &format!("{} K", signed(step.change_k)), INK);
    }
}

/// Joins two bars at their common height.
fn link(plot: &mut Plot, (from, to): (f64, f64), height: f64) {
    plot.layers.push(Layer::Line {
        name: "level".to_owned(),
        x: vec![from + HALF, to - HALF],
        y: vec![height, height],
        pen: Pen::dashed(MUTED, 2, Dash::Dotted),
    });
}
