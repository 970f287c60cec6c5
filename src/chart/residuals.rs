//! Residuals of a model: against the fitted values, and against the quantiles of a normal
//! distribution.

use super::Bound;
use super::axis::{Axis, range};
use super::canvas::{Blank, Canvas, Pen};
use super::figure::Paint;
use super::key::Swatch;
use super::layer::Layer;
use super::picture::ChartError;
use super::plot::Plot;
use super::sheet::{Sheet, grid};
use super::theme::{AXIS, Dash, INK, MUTED};
use super::words::Words;

/// One observation of the model.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ResidualPoint {
    /// Treatment; decides colour and marker.
    pub treatment: String,
    /// Fitted value.
    pub fitted: f64,
    /// Standardised residual.
    pub residual: f64,
    /// Expected standard normal quantile of the residual's rank.
    pub quantile: f64,
    /// Name printed beside it when it stands out, or empty.
    pub name: String,
}

/// Residuals of a model.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Residuals {
    /// Texts around the figure.
    pub words: Words,
    /// Fitted value with its unit.
    pub fitted_label: String,
    /// Observations.
    pub points: Vec<ResidualPoint>,
    /// What the checks said, such as the p-value of a test for equal variances.
    pub findings: String,
}

/// Standardised residuals beyond this are looked at (0.27 % of a normal distribution).
const FAR: f64 = 3.0;

impl Paint for Residuals {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let (low, high) = range(self.points.iter().map(|p| p.residual));
        let far = self.points.iter().filter(|p| p.residual.abs() > FAR);
        let told = format!(
            "{} standardised residuals between {low:.1} and {high:.1}, {} beyond {FAR}",
            self.points.len(),
            far.count()
        );
        self.words.alt([told, self.findings.clone()])
    }

    fn check(&self) -> Result<(), ChartError> {
        match self.points.is_empty() {
            true => Err(ChartError::NoData(self.words.title.clone())),
            false => Ok(()),
        }
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let palette = &self.words.palette;
        let mut names: Vec<&str> = self.points.iter().map(|p| p.treatment.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        let key = names.into_iter().filter(|n| !n.is_empty()).map(|name| {
            let look = palette.look(name);
            (Swatch::Solid(look.marker, look.ink), name.to_owned())
        });
        let plots = vec![self.against_fitted(), self.against_normal()];
        let rows = grid(plots, blank.width(), 340.0, 260.0);
        Sheet::new(&self.words, key.collect(), rows).paint(blank)
    }
}

impl Residuals {
    fn axis(&self) -> Axis {
        let (low, high) = range(self.points.iter().map(|p| p.residual));
        Axis::round(low.min(-FAR), high.max(FAR), 6)
    }

    fn against_fitted(&self) -> Plot {
        let (low, high) = range(self.points.iter().map(|p| p.fitted));
        let room = ((high - low) * 0.05).max(1e-9);
        let mut plot = Plot::new(
            (Axis::tight(low - room, high + room, 6), &self.fitted_label),
            (self.axis(), "standardised residual"),
        );
        "Residuals against fitted values".clone_into(&mut plot.title);
        for (y, dash) in [
            (0.0, Dash::Solid),
            (-FAR, Dash::Dotted),
            (FAR, Dash::Dotted),
        ] {
            let pen = Pen::dashed(AXIS, 2, dash);
            plot.layers.push(Layer::Level { y, pen });
        }
        self.draw_points(&mut plot, |p| p.fitted);
        plot
    }

    fn against_normal(&self) -> Plot {
        let (low, high) = range(self.points.iter().map(|p| p.quantile));
        let room = ((high - low) * 0.05).max(1e-9);
        let mut plot = Plot::new(
            (
                Axis::tight(low - room, high + room, 6),
                "normal quantile of its rank",
            ),
            (self.axis(), "standardised residual"),
        );
        "Residuals against a normal distribution".clone_into(&mut plot.title);
        let ends = [plot.x.low(), plot.x.high()];
        plot.line("normal", &ends, &ends, Pen::dashed(AXIS, 3, Dash::Long));
        self.draw_points(&mut plot, |p| p.quantile);
        let right = plot.x.high();
        let at = (right - (right - plot.x.low()) * 0.02, plot.y.low());
        plot.label_towards(at, &self.findings, MUTED, (-0.7, -0.7));
        plot
    }

    fn draw_points(&self, plot: &mut Plot, x: fn(&ResidualPoint) -> f64) {
        for point in &self.points {
            let look = self.words.palette.look(&point.treatment);
            let at = (x(point), point.residual);
            plot.dot(at, &look, Bound::Exact, false);
            plot.label(at, &point.name, INK);
        }
    }
}
