//! Shares that still hold over time as steps, with those that ended unseen marked: mould-free days,
//! times to a target.

use super::axis::{Axis, range};
use super::canvas::{Blank, Canvas, Pen};
use super::figure::Paint;
use super::key::Swatch;
use super::layer::Layer;
use super::picture::ChartError;
use super::plot::Plot;
use super::sheet::{Row, Sheet};
use super::theme::{Dash, MUTED, PAPER};
use super::words::Words;

/// One step of a treatment's curve.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SurvivalStep {
    /// Time, unit of the abscissa.
    pub time: f64,
    /// Share from this time on, 0–1.
    pub share: f64,
    /// Interval of the share, when known.
    pub interval: Option<(f64, f64)>,
}

/// The curve of one treatment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SurvivalGroup {
    /// Treatment; decides colour and dash.
    pub treatment: String,
    /// Steps in order of time; before the first the share is 1.
    pub steps: Vec<SurvivalStep>,
    /// Times at which pieces were last seen intact.
    pub censored: Vec<f64>,
    /// Pieces, printed at the curve's end.
    pub n: usize,
    /// Median with its interval, printed beside the curve, or empty.
    pub median_label: String,
    /// Median, when reached.
    pub median: Option<f64>,
}

/// Shares over time by treatment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Survival {
    /// Texts around the figure.
    pub words: Words,
    /// Abscissa with its unit, such as `storage / d`.
    pub x_label: String,
    /// Ordinate, such as `loaves without mould / %`.
    pub y_label: String,
    /// End of the observation.
    pub end: f64,
    /// Treatments.
    pub groups: Vec<SurvivalGroup>,
}

impl Paint for Survival {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let told = self.groups.iter().map(|group| {
            let last = group.steps.last().map_or(1.0, |s| s.share);
            format!(
                "{}: n = {}, {} censored, {:.0} % at the end; {}",
                group.treatment,
                group.n,
                group.censored.len(),
                100.0 * last,
                group.median_label
            )
        });
        self.words.alt(told)
    }

    fn check(&self) -> Result<(), ChartError> {
        if self.groups.is_empty() {
            return Err(ChartError::NoData(self.words.title.clone()));
        }
        for group in &self.groups {
            let bad = |s: &SurvivalStep| !s.time.is_finite() || !s.share.is_finite();
            if let Some(index) = group.steps.iter().position(bad) {
                return Err(ChartError::NotFinite {
                    series: group.treatment.clone(),
                    index,
                });
            }
        }
        Ok(())
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let mut key = vec![(Swatch::Censor, "last seen intact".to_owned())];
        if self
            .groups
            .iter()
            .flat_map(|g| &g.steps)
            .any(|s| s.interval.is_some())
        {
            key.push((Swatch::Band(MUTED), "95 % interval".to_owned()));
        }
        Sheet::new(&self.words, key, vec![Row::of(self.plot())]).paint(blank)
    }
}

impl SurvivalGroup {
    /// Returns the share at `time`.
    fn share(&self, time: f64) -> f64 {
        let past = self.steps.iter().take_while(|s| s.time <= time);
        past.last().map_or(1.0, |s| s.share)
    }

    /// Returns the corners of the steps until `end`, of the value that `of` picks.
    fn corners(&self, end: f64, of: impl Fn(&SurvivalStep) -> f64) -> (Vec<f64>, Vec<f64>) {
        let (mut x, mut y) = (vec![0.0], vec![100.0]);
        let mut last = 100.0;
        for step in self.steps.iter().filter(|s| s.time <= end) {
            x.extend([step.time, step.time]);
            y.push(last);
            last = 100.0 * of(step);
            y.push(last);
        }
        x.push(end);
        y.push(last);
        (x, y)
    }
}

impl Survival {
    fn plot(&self) -> Plot {
        let (_, last) = range(self.groups.iter().flat_map(|g| &g.censored).copied());
        let end = self.end.max(last);
        let mut plot = Plot::new(
            (Axis::tight(0.0, end, 10), &self.x_label),
            (Axis::tight(0.0, 104.0, 5), &self.y_label),
        );
        let half = Pen::dashed(MUTED, 1, Dash::Dotted);
        plot.layers.push(Layer::Level { y: 50.0, pen: half });
        for group in &self.groups {
            let look = self.words.palette.look(&group.treatment);
            let (x, lower) = group.corners(end, |s| s.interval.map_or(s.share, |i| i.0));
            let (_, upper) = group.corners(end, |s| s.interval.map_or(s.share, |i| i.1));
            if group.steps.iter().any(|s| s.interval.is_some()) {
                // Steps overlap more than curves do: paler than elsewhere.
                let pale = look.colour.mixed(PAPER, 0.45);
                plot.band(&group.treatment, &x, (&lower, &upper), pale);
            }
        }
        for (index, group) in self.groups.iter().enumerate() {
            let look = self.words.palette.look(&group.treatment);
            let (x, y) = group.corners(end, |s| s.share);
            plot.line(
                &group.treatment,
                &x,
                &y,
                Pen::dashed(look.ink, 5, look.dash),
            );
            for time in &group.censored {
                plot.layers.push(Layer::Tick {
                    at: (*time, 100.0 * group.share(*time)),
                    colour: look.ink,
                });
            }
            let words = format!("{} (n = {})", group.treatment, group.n);
            let height = y.last().copied().unwrap_or(0.0);
            plot.end(Some(end), height, &words, look.ink);
            if let Some(median) = group.median {
                plot.layers.push(Layer::Line {
                    name: group.treatment.clone(),
                    x: vec![median, median],
                    y: vec![50.0, 0.0],
                    pen: Pen::dashed(look.ink, 2, Dash::Dotted),
                });
                let at = (median, 8.0 + 10.0 * (index % 4) as f64);
                plot.label_towards(at, &group.median_label, look.ink, (1.0, 0.0));
            }
        }
        plot
    }
}
