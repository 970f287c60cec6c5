//! Stress against Hencky strain: the measured pieces, the fits to them, and where the test stops
//! being valid.

use super::axis::{Axis, range};
use super::canvas::{Blank, Canvas, Pen};
use super::extension_curves::Reading;
use super::figure::Paint;
use super::key::Swatch;
use super::layer::{Along, Dot, RADIUS};
use super::overlay::Series;
use super::picture::ChartError;
use super::plot::Plot;
use super::sheet::Sheet;
use super::theme::{ASIDE, Dash, INK, MUTED, Marker, PAPER, SHADE, SHADE_OPACITY, dash};
use super::words::Words;

/// A fit to the pooled pieces of one treatment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StressFit {
    /// What is printed, such as `n_exp 1.92 ± 0.05`.
    pub label: String,
    /// Fitted line: Hencky strain and stress.
    pub line: Series,
    /// Range of Hencky strain that was fitted.
    pub window: (f64, f64),
}

/// The pieces of one treatment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StressGroup {
    /// Treatment; decides the colour.
    pub treatment: String,
    /// Pieces: Hencky strain and stress.
    pub pieces: Vec<Series>,
    /// Pieces that slipped or were excluded, with the reason as name: drawn pale.
    pub excluded: Vec<Series>,
    /// Fits, such as the exponential and the power law.
    pub fits: Vec<StressFit>,
    /// Where pieces failed.
    pub failures: Vec<(f64, f64)>,
    /// Strain and stress at which the deformation becomes unstable by the stated criterion.
    pub limit: Option<Reading>,
}

/// Stress against Hencky strain by treatment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StrainHardening {
    /// Texts around the figure.
    pub words: Words,
    /// Ordinate with its unit, such as `stress / kPa`.
    pub stress_label: String,
    /// Panels, one for each treatment.
    pub groups: Vec<StressGroup>,
}

impl Paint for StrainHardening {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let told = self.groups.iter().map(|group| {
            let fits: Vec<&str> = group.fits.iter().map(|f| f.label.as_str()).collect();
            let limit = group.limit.as_ref().map_or("", |l| l.label.as_str());
            format!(
                "{}: {} pieces, {} excluded; {}; {limit}",
                group.treatment,
                group.pieces.len(),
                group.excluded.len(),
                fits.join(", ")
            )
        });
        self.words.alt(told)
    }

    fn check(&self) -> Result<(), ChartError> {
        match self.groups.iter().all(|g| g.pieces.is_empty()) {
            true => Err(ChartError::NoData(self.words.title.clone())),
            false => Ok(()),
        }
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let panels = self.groups.iter().map(|group| self.plot(group)).collect();
        let rows = super::sheet::grid(panels, blank.width(), 340.0, 280.0);
        Sheet::new(&self.words, self.key(), rows).paint(blank)
    }
}

impl StrainHardening {
    fn key(&self) -> Vec<(Swatch, String)> {
        let mut key = vec![(Swatch::Line(MUTED), "piece".to_owned())];
        if self.groups.iter().any(|g| !g.excluded.is_empty()) {
            let words = "piece set aside".to_owned();
            key.push((Swatch::Dashed(MUTED.mixed(PAPER, 0.4), Dash::Dotted), words));
        }
        if self.groups.iter().any(|g| !g.failures.is_empty()) {
            key.push((Swatch::Cross(ASIDE), "piece failed".to_owned()));
        }
        if self.groups.iter().any(|g| g.limit.is_some()) {
            let words = "stability limit".to_owned();
            key.push((Swatch::Solid(Marker::Diamond, INK), words));
        }
        key.push((Swatch::Band(SHADE), "fitted range".to_owned()));
        key
    }

    fn plot(&self, group: &StressGroup) -> Plot {
        let all = || self.groups.iter().flat_map(|g| &g.pieces);
        let (_, right) = range(all().flat_map(|s| &s.x).copied());
        let stresses = all().flat_map(|s| &s.y).copied();
        let mut plot = Plot::new(
            (Axis::tight(0.0, right * 1.04, 6), "Hencky strain"),
            (Axis::over(stresses.chain([0.0]), 6), &self.stress_label),
        );
        let look = self.words.palette.look(&group.treatment);
        plot.title = group.treatment.clone();
        plot.ink = look.ink;
        if let Some(fit) = group.fits.first() {
            plot.zone(Some(fit.window), None, SHADE, SHADE_OPACITY);
        }
        for piece in &group.excluded {
            let pen = Pen::dashed(MUTED.mixed(PAPER, 0.4), 2, Dash::Dotted);
            plot.line(&piece.name, &piece.x, &piece.y, pen);
        }
        let pale = look.ink.mixed(PAPER, 0.35);
        for piece in &group.pieces {
            plot.line(&piece.name, &piece.x, &piece.y, Pen::solid(pale, 2));
        }
        for (index, fit) in group.fits.iter().enumerate() {
            let pen = Pen::dashed(INK, 4, dash(index));
            plot.line(&fit.label, &fit.line.x, &fit.line.y, pen);
            // Labels of the fits leave the lines at different places, so that each is seen.
            let share = [0.62, 0.86, 0.42, 0.3][index % 4];
            let at = (fit.line.x.len() as f64 * share) as usize;
            if let (Some(x), Some(y)) = (fit.line.x.get(at), fit.line.y.get(at)) {
                plot.label((*x, *y), &fit.label, INK);
            }
        }
        for at in &group.failures {
            plot.layers.push(super::layer::Layer::Cross(*at, ASIDE));
        }
        if let Some(limit) = &group.limit {
            let at = (limit.x, limit.y);
            plot.layers.push(super::layer::Layer::Dot(Dot {
                at,
                marker: Marker::Diamond,
                colour: INK,
                radius: RADIUS,
                along: Along::X,
                bound: limit.bound,
                aside: false,
            }));
            plot.label(at, &limit.label, INK);
        }
        plot
    }
}
