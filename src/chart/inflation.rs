//! Inflation: five discs thin, their mean thick, P, L and W marked; the nominal stress and strain in
//! a panel of its own.

use super::axis::{Axis, range};
use super::canvas::{Blank, Canvas, Pen};
use super::extension_curves::Reading;
use super::figure::Paint;
use super::key::Swatch;
use super::layer::{Along, Layer};
use super::overlay::Series;
use super::picture::ChartError;
use super::plot::Plot;
use super::sheet::{LEAST_PANEL, Row, Sheet};
use super::theme::{Dash, INK, MUTED, PAPER, Rgb, dash};
use super::words::Words;

/// A nominal stress curve with its fits.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NominalCurve {
    /// Ordinate with its unit, such as `nominal stress / kPa`.
    pub stress_label: String,
    /// Abscissa, such as `nominal Hencky strain`.
    pub strain_label: String,
    /// Curve.
    pub curve: Series,
    /// Fits with what is printed as name, such as `nominal hardening 1.8 ± 0.1`.
    pub fits: Vec<Series>,
}

/// Inflation curves of one dough.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Inflation {
    /// Texts around the figure.
    pub words: Words,
    /// Treatment; decides the colour.
    pub treatment: Option<String>,
    /// Abscissa with its unit, such as `length on the drum / mm`.
    pub x_label: String,
    /// Ordinate with its unit, such as `pressure / mm H₂O`.
    pub y_label: String,
    /// Discs that count.
    pub discs: Vec<Series>,
    /// Discs set aside, with the reason as name: drawn pale and dotted.
    pub excluded: Vec<Series>,
    /// Mean curve, computed elsewhere.
    pub mean: Series,
    /// Greatest pressure.
    pub p: Option<Reading>,
    /// Length at rupture.
    pub l: Option<Reading>,
    /// What is printed in the area below the mean curve, such as `W 212 · 10⁻⁴ J ± 8`.
    pub w_label: String,
    /// Nominal stress and strain, when derived.
    pub nominal: Option<NominalCurve>,
}

impl Paint for Inflation {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let marks = [&self.p, &self.l].into_iter().flatten();
        let marks = marks.map(|m| format!("{}{}", m.bound.words(), m.label));
        let discs = format!(
            "{} discs, {} set aside",
            self.discs.len(),
            self.excluded.len()
        );
        let fits = self.nominal.iter().flat_map(|n| &n.fits);
        let fits = fits.map(|f| f.name.clone());
        let told = [discs].into_iter().chain(marks);
        self.words
            .alt(told.chain([self.w_label.clone()]).chain(fits))
    }

    fn check(&self) -> Result<(), ChartError> {
        match self.mean.x.is_empty() && self.discs.is_empty() {
            true => Err(ChartError::NoData(self.words.title.clone())),
            false => Ok(()),
        }
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let mut plots = vec![(1.6, self.pressure())];
        plots.extend(self.nominal.iter().map(|n| (1.0, self.stress(n))));
        // On a narrow page the panels stand below each other.
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

impl Inflation {
    fn ink(&self) -> Rgb {
        let name = self.treatment.as_deref().unwrap_or_default();
        self.words.palette.look(name).ink
    }

    fn key(&self) -> Vec<(Swatch, String)> {
        let ink = self.ink();
        let mut key = vec![
            (
                Swatch::Thick(ink),
                format!("mean of {} discs", self.discs.len()),
            ),
            (Swatch::Line(ink.mixed(PAPER, 0.4)), "each disc".to_owned()),
        ];
        if !self.excluded.is_empty() {
            key.push((
                Swatch::Dashed(MUTED.mixed(PAPER, 0.4), Dash::Dotted),
                "disc set aside".to_owned(),
            ));
        }
        key
    }

    fn pressure(&self) -> Plot {
        let all = || {
            let discs = self.discs.iter().chain(&self.excluded);
            discs.chain([&self.mean])
        };
        let (_, right) = range(all().flat_map(|s| &s.x).copied());
        let heights = all().flat_map(|s| &s.y).copied();
        let mut plot = Plot::new(
            (Axis::tight(0.0, right * 1.06, 8), &self.x_label),
            (Axis::over(heights.chain([0.0]), 6), &self.y_label),
        );
        let ink = self.ink();
        let zero = vec![0.0; self.mean.x.len()];
        let below = (zero.as_slice(), self.mean.y.as_slice());
        plot.band("area", &self.mean.x, below, ink.mixed(PAPER, 0.5));
        for disc in &self.excluded {
            let pen = Pen::dashed(MUTED.mixed(PAPER, 0.4), 3, Dash::Dotted);
            plot.line(&disc.name, &disc.x, &disc.y, pen);
            if let (Some(x), Some(y)) = (disc.x.last(), disc.y.last()) {
                plot.label((*x, *y), &disc.name, MUTED);
            }
        }
        for disc in &self.discs {
            let pen = Pen::solid(ink.mixed(PAPER, 0.4), 2);
            plot.line(&disc.name, &disc.x, &disc.y, pen);
        }
        plot.line("mean", &self.mean.x, &self.mean.y, Pen::solid(ink, 5));
        if let Some(p) = &self.p {
            plot.mark((p.x, p.y), Along::Y, p.bound);
            plot.label((p.x, p.y), &p.label, INK);
        }
        if let Some(l) = &self.l {
            let pen = Pen::dashed(MUTED, 2, Dash::Dotted);
            plot.layers.push(Layer::Line {
                name: "L".to_owned(),
                x: vec![l.x, l.x],
                y: vec![0.0, l.y],
                pen,
            });
            plot.mark((l.x, l.y), Along::X, l.bound);
            plot.label((l.x, l.y), &l.label, INK);
        }
        let middle = self.mean.x.len() / 2;
        if let (Some(x), Some(y)) = (self.mean.x.get(middle), self.mean.y.get(middle)) {
            plot.label((*x, y * 0.45), &self.w_label, ink);
        }
        plot
    }

    fn stress(&self, nominal: &NominalCurve) -> Plot {
        let curve = &nominal.curve;
        let (low, high) = range(curve.x.iter().copied());
        let mut plot = Plot::new(
            (
                Axis::tight(low.min(0.0), high * 1.05, 5),
                &nominal.strain_label,
            ),
            (
                Axis::over(curve.y.iter().copied().chain([0.0]), 6),
                &nominal.stress_label,
            ),
        );
        plot.line("nominal", &curve.x, &curve.y, Pen::solid(self.ink(), 5));
        for (index, fit) in nominal.fits.iter().enumerate() {
            plot.line(
                &fit.name,
                &fit.x,
                &fit.y,
                Pen::dashed(INK, 3, dash(index + 1)),
            );
            let at = fit.x.len() * (3 - index.min(2)) / 4;
            if let (Some(x), Some(y)) = (fit.x.get(at), fit.y.get(at)) {
                plot.label((*x, *y), &fit.name, INK);
            }
        }
        plot
    }
}
