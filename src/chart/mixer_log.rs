//! The log of a mixer: power, pressure, flow, temperature and energy over one time axis, gaps shown.

use super::axis::{Axis, range};
use super::canvas::{Blank, Canvas, Pen};
use super::extension_curves::Reading;
use super::figure::Paint;
use super::heating_curve::Phase;
use super::key::Swatch;
use super::layer::Along;
use super::overlay::Series;
use super::picture::ChartError;
use super::plot::Plot;
use super::sheet::{Row, Sheet};
use super::theme::{INK, MUTED, PAPER, Rgb, SHADE, SHADE_OPACITY, dash};
use super::words::Words;

/// One quantity of the log.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LogPanel {
    /// Ordinate with its unit, such as `power / kW`.
    pub y_label: String,
    /// Curves with their names: one without name, or several named at their ends.
    pub series: Vec<Series>,
    /// Level to compare with, such as the idle power.
    pub level: Option<(f64, String)>,
    /// Whether the area below the first curve is shaded, because it is what counts.
    pub filled: bool,
    /// Values printed beside the curve, such as the energy at the end.
    pub readings: Vec<Reading>,
}

/// The log of one dough.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MixerLog {
    /// Texts around the figure.
    pub words: Words,
    /// Treatment; decides the colour.
    pub treatment: Option<String>,
    /// Abscissa with its unit, such as `time / min`.
    pub x_label: String,
    /// Quantities from top to bottom.
    pub panels: Vec<LogPanel>,
    /// Speed steps and pauses, named above the uppermost panel.
    pub phases: Vec<Phase>,
    /// Where the log has no rows.
    pub gaps: Vec<(f64, f64)>,
}

impl Paint for MixerLog {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let readings = self.panels.iter().flat_map(|p| &p.readings);
        let told = readings.map(|r| format!("{}{}", r.bound.words(), r.label));
        let panels: Vec<&str> = self.panels.iter().map(|p| p.y_label.as_str()).collect();
        let head = format!("{}; {} gaps", panels.join(", "), self.gaps.len());
        self.words.alt([head].into_iter().chain(told))
    }

    fn check(&self) -> Result<(), ChartError> {
        let empty = |p: &LogPanel| p.series.iter().all(|s| s.x.is_empty());
        match self.panels.iter().all(empty) {
            true => Err(ChartError::NoData(self.words.title.clone())),
            false => Ok(()),
        }
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let last = self.panels.len().saturating_sub(1);
        let rows = self.panels.iter().enumerate().map(|(index, panel)| {
            let mut plot = self.plot(panel, index == 0);
            if index != last {
                plot.x_ticks = false;
                plot.x_name.clear();
            }
            Row {
                least: 90.0,
                ..Row::of(plot)
            }
        });
        Sheet::new(&self.words, self.key(), rows.collect()).paint(blank)
    }
}

impl MixerLog {
    fn ink(&self) -> Rgb {
        let name = self.treatment.as_deref().unwrap_or_default();
        self.words.palette.look(name).ink
    }

    fn key(&self) -> Vec<(Swatch, String)> {
        let mut key = Vec::new();
        if let Some(name) = &self.treatment {
            key.push((Swatch::Thick(self.ink()), name.clone()));
        }
        if self.panels.iter().any(|p| p.filled) {
            key.push((Swatch::Band(self.ink()), "counted as energy".to_owned()));
        }
        if !self.gaps.is_empty() {
            key.push((Swatch::Gap, "no rows in the log".to_owned()));
        }
        key
    }

    fn plot(&self, panel: &LogPanel, first: bool) -> Plot {
        let all = || self.panels.iter().flat_map(|p| &p.series);
        let (left, right) = range(all().flat_map(|s| &s.x).copied());
        let heights = panel.series.iter().flat_map(|s| &s.y).copied();
        let levels = panel.level.iter().map(|l| l.0);
        let (low, high) = range(heights.chain(levels));
        let mut plot = Plot::new(
            (Axis::tight(left, right, 12), &self.x_label),
            (Axis::for_values(low, high, 4), &panel.y_label),
        );
        for (index, phase) in self.phases.iter().enumerate() {
            if index % 2 == 1 {
                let span = Some((phase.from_min, phase.to_min));
                plot.zone(span, None, SHADE, SHADE_OPACITY);
            }
            if first {
                let middle = (phase.from_min + phase.to_min) / 2.0;
                plot.top(middle, &phase.name, MUTED);
            }
        }
        let ink = self.ink();
        if let Some(series) = panel.series.first()
            && panel.filled
        {
            let floor = panel.level.as_ref().map_or(0.0, |l| l.0);
            for (x, y) in self.runs(series) {
                let zero = vec![floor; x.len()];
                plot.band(&series.name, &x, (&zero, &y), ink);
            }
        }
        for (index, series) in panel.series.iter().enumerate() {
            let colour = ink.mixed(PAPER, 0.25 * index as f64);
            for (x, y) in self.runs(series) {
                plot.line(&series.name, &x, &y, Pen::dashed(colour, 3, dash(index)));
            }
            if let (Some(x), Some(y)) = (series.x.last(), series.y.last())
                && panel.series.len() > 1
            {
                plot.end(Some(*x), *y, &series.name, ink);
            }
        }
        for gap in &self.gaps {
            plot.layers.push(super::layer::Layer::Gap(*gap));
        }
        if let Some((value, words)) = &panel.level {
            plot.level(*value, words, MUTED);
        }
        for reading in &panel.readings {
            plot.mark((reading.x, reading.y), Along::Y, reading.bound);
            // At the end of the log there is more room beside the panel than in it.
            match reading.x > left + 0.9 * (right - left) {
                true => plot.end(Some(reading.x), reading.y, &reading.label, INK),
                false => plot.label((reading.x, reading.y), &reading.label, INK),
            }
        }
        plot
    }

    /// Returns a curve in pieces that leave the gaps out: no line is drawn where nothing was read.
    fn runs(&self, series: &Series) -> Vec<(Vec<f64>, Vec<f64>)> {
        let mut runs: Vec<(Vec<f64>, Vec<f64>)> = Vec::new();
        let mut before: Option<f64> = None;
        for (&x, &y) in series.x.iter().zip(&series.y) {
            let broken = before.is_none_or(|last| {
                let middle = |gap: &&(f64, f64)| {
                    let middle = (gap.0 + gap.1) / 2.0;
                    middle > last && middle <= x
                };
                self.gaps.iter().find(middle).is_some()
            });
            if broken {
                runs.push(Default::default());
            }
            if let Some(run) = runs.last_mut() {
                run.0.push(x);
                run.1.push(y);
            }
            before = Some(x);
        }
        runs
    }
}
