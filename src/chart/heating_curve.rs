//! Mixing under heating and cooling: torque with the dough temperature on a second axis, stages C1
//! to C5 marked, phases shaded.

use super::Bound;
use super::axis::{Axis, range};
use super::canvas::{Blank, Canvas, Pen};
use super::extension_curves::Reading;
use super::figure::Paint;
use super::key::Swatch;
use super::layer::{Along, Layer};
use super::picture::ChartError;
use super::plot::Plot;
use super::sheet::Sheet;
use super::theme::{Dash, INK, MUTED, Rgb, SHADE, SHADE_OPACITY, SIGNAL};
use super::words::Words;

/// A part of the run with its own temperature programme.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Phase {
    /// Begin, min.
    pub from_min: f64,
    /// End, min.
    pub to_min: f64,
    /// Name, such as `heating 4 °C/min`.
    pub name: String,
}

/// A slope read over a window.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SlopeLine {
    /// Begin of the window: time in min and torque.
    pub from: (f64, f64),
    /// End of the window: time in min and torque.
    pub to: (f64, f64),
    /// What is printed: name, value, unit.
    pub label: String,
}

/// The curve of one heating run.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HeatingCurve {
    /// Texts around the figure.
    pub words: Words,
    /// Treatment; decides the colour of the torque.
    pub treatment: Option<String>,
    /// Ordinate with its unit, such as `torque / N m`.
    pub torque_label: String,
    /// Times, min.
    pub time_min: Vec<f64>,
    /// Raw torque at each time, or empty.
    pub signal: Vec<f64>,
    /// Smoothed torque at each time.
    pub torque: Vec<f64>,
    /// Dough temperature at each time, °C, or empty.
    pub dough_c: Vec<f64>,
    /// Temperature of the bowl at each time, °C, or empty.
    pub bowl_c: Vec<f64>,
    /// C1 to C5 where they were read (time in min, torque), printed beside their marks.
    pub stages: Vec<Reading>,
    /// Slopes.
    pub slopes: Vec<SlopeLine>,
    /// Phases of the temperature programme.
    pub phases: Vec<Phase>,
}

/// Dough temperature: vermillion's readable shade, dashed.
const DOUGH: Rgb = Rgb(178, 78, 4);

impl Paint for HeatingCurve {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let stages = self
            .stages
            .iter()
            .map(|s| format!("{}{}", s.label, beyond(s.bound)));
        let slopes = self.slopes.iter().map(|s| s.label.clone());
        let (low, high) = range(self.dough_c.iter().copied());
        let heat = match low.is_finite() {
            true => format!("Dough temperature from {low:.0} to {high:.0} °C"),
            false => String::new(),
        };
        self.words.alt(stages.chain(slopes).chain([heat]))
    }

    fn check(&self) -> Result<(), ChartError> {
        match self.time_min.is_empty() {
            true => Err(ChartError::NoData(self.words.title.clone())),
            false => Ok(()),
        }
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        Sheet::single(&self.words, self.key(), self.plot()).paint(blank)
    }
}

/// Returns what is said behind a value that is known to one side only.
fn beyond(bound: Bound) -> &'static str {
    match bound {
        Bound::Exact => "",
        Bound::Above => " (true value above)",
        Bound::Below => " (true value below)",
    }
}

impl HeatingCurve {
    fn ink(&self) -> Rgb {
        let name = self.treatment.as_deref().unwrap_or_default();
        self.words.palette.look(name).ink
    }

    fn key(&self) -> Vec<(Swatch, String)> {
        let mut key = Vec::new();
        if !self.signal.is_empty() {
            key.push((Swatch::Line(SIGNAL), "raw torque".to_owned()));
        }
        let torque = match &self.treatment {
            Some(name) => format!("torque ({name})"),
            None => "torque".to_owned(),
        };
        key.push((Swatch::Thick(self.ink()), torque));
        if !self.dough_c.is_empty() {
            key.push((
                Swatch::Dashed(DOUGH, Dash::Long),
                "dough temperature".to_owned(),
            ));
        }
        if !self.bowl_c.is_empty() {
            key.push((
                Swatch::Dashed(MUTED, Dash::Dotted),
                "bowl temperature".to_owned(),
            ));
        }
        if self.stages.iter().any(|s| s.bound != Bound::Exact) {
            key.push((Swatch::Censored, "true value lies beyond".to_owned()));
        }
        key
    }

    fn plot(&self) -> Plot {
        let heights = self.signal.iter().chain(&self.torque).copied();
        let marked = self.stages.iter().map(|s| s.y);
        let (low, high) = range(heights.chain(marked));
        let (first, last) = range(self.time_min.iter().copied());
        let mut plot = Plot::new(
            (Axis::tight(first, last, 12), "time / min"),
            // Room above the curve for labels.
            (Axis::for_values(low, high * 1.1, 6), &self.torque_label),
        );
        let degrees = self.dough_c.iter().chain(&self.bowl_c).copied();
        let (coldest, hottest) = range(degrees);
        if coldest.is_finite() {
            let axis = Axis::round(coldest.min(20.0), hottest, 6);
            plot.right = Some((axis, "temperature / °C".to_owned()));
        }
        for (index, phase) in self.phases.iter().enumerate() {
            if index % 2 == 1 {
                let span = Some((phase.from_min, phase.to_min));
                plot.zone(span, None, SHADE, SHADE_OPACITY);
            }
            let middle = (phase.from_min + phase.to_min) / 2.0;
            plot.top(middle, &phase.name, MUTED);
        }
        let time = &self.time_min;
        let right =
            |values: &[f64]| -> Vec<f64> { values.iter().map(|v| plot.on_left(*v)).collect() };
        let (dough, bowl) = (right(&self.dough_c), right(&self.bowl_c));
        if !self.signal.is_empty() {
            plot.line("raw torque", time, &self.signal, Pen::solid(SIGNAL, 1));
        }
        if !bowl.is_empty() {
            let pen = Pen::dashed(MUTED, 3, Dash::Dotted);
            plot.line("bowl temperature", time, &bowl, pen);
        }
        if !dough.is_empty() {
            let pen = Pen::dashed(DOUGH, 4, Dash::Long);
            plot.line("dough temperature", time, &dough, pen);
        }
        plot.line("torque", time, &self.torque, Pen::solid(self.ink(), 5));
        for slope in &self.slopes {
            plot.layers.push(Layer::Interval {
                from: slope.from,
                to: slope.to,
                pen: Pen::solid(INK, 3),
            });
            let middle = (
                (slope.from.0 + slope.to.0) / 2.0,
                (slope.from.1 + slope.to.1) / 2.0,
            );
            plot.label(middle, &slope.label, INK);
        }
        for stage in &self.stages {
            plot.mark((stage.x, stage.y), Along::Y, stage.bound);
            plot.label((stage.x, stage.y), &stage.label, INK);
        }
        plot
    }
}
