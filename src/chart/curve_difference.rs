//! The mean difference of two treatments' curves with its simultaneous band, the margin within which
//! they count as the same, and the regions where they differ.

use super::axis::{Axis, number, range};
use super::canvas::{Blank, Canvas, Pen};
use super::curve;
use super::figure::Paint;
use super::key::Swatch;
use super::layer::Layer;
use super::overlay::Series;
use super::picture::ChartError;
use super::plot::Plot;
use super::sheet::{Row, Sheet};
use super::theme::{AGREED, AGREED_OPACITY, ASIDE, Dash, INK, MUTED, PAPER, SHADE, SHADE_OPACITY};
use super::words::{Words, confidence_or_usual};

/// The difference of two treatments' curves.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CurveDifference {
    /// Texts around the figure.
    pub words: Words,
    /// Abscissa with its unit, such as `time / min`.
    pub x_label: String,
    /// Ordinate of the curves with its unit.
    pub y_label: String,
    /// Ordinate of the difference with its unit, such as `two-arm − spiral / FU`.
    pub difference_label: String,
    /// Mean curve of each treatment, named; may be empty.
    pub means: Vec<Series>,
    /// Difference of each block, drawn thin; may be empty.
    pub blocks: Vec<Series>,
    /// Mean difference.
    pub difference: Series,
    /// Lower edge of the simultaneous band.
    pub lower: Vec<f64>,
    /// Upper edge of the simultaneous band.
    pub upper: Vec<f64>,
    /// Differences that count as the same: half the margin band, unit of the difference.
    pub margin: Option<f64>,
    /// Regions where the band excludes zero.
    pub regions: Vec<(f64, f64)>,
    /// Confidence of the band, such as `90 %`; empty for 95 %.
    pub confidence: String,
}

impl Paint for CurveDifference {
    fn title(&self) -> &str {
        &self.words.title
    }

    fn alt(&self) -> String {
        let (low, high) = range(self.difference.y.iter().copied());
        let regions: Vec<String> = self
            .regions
            .iter()
            .map(|r| format!("{} to {}", number(r.0, 1), number(r.1, 1)))
            .collect();
        let differ = match regions.is_empty() {
            true => "the band holds zero everywhere".to_owned(),
            false => format!("the curves differ from {}", regions.join(" and ")),
        };
        let told = format!(
            "{} between {} and {}; {differ}",
            self.difference_label,
            number(low, 1),
            number(high, 1)
        );
        self.words.alt([told])
    }

    fn check(&self) -> Result<(), ChartError> {
        if self.difference.x.is_empty() {
            return Err(ChartError::NoData(self.words.title.clone()));
        }
        curve::check("lower", &self.difference.x, &self.lower)?;
        curve::check("upper", &self.difference.x, &self.upper)
    }

    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError> {
        let mut rows = Vec::new();
        if !self.means.is_empty() {
            let mut curves = self.curves();
            curves.x_ticks = false;
            curves.x_name.clear();
            rows.push(Row {
                least: 160.0,
                ..Row::of(curves)
            });
        }
        rows.push(Row {
            weight: 1.2,
            least: 220.0,
            ..Row::of(self.difference())
        });
        Sheet::new(&self.words, self.key(), rows).paint(blank)
    }
}

impl CurveDifference {
    fn key(&self) -> Vec<(Swatch, String)> {
        let mut key = vec![(Swatch::Thick(INK), "mean difference".to_owned())];
        if !self.blocks.is_empty() {
            key.push((
                Swatch::Line(MUTED.mixed(PAPER, 0.4)),
                "each block".to_owned(),
            ));
        }
        key.push((
            Swatch::Band(MUTED),
            format!(
                "simultaneous {} band",
                confidence_or_usual(&self.confidence)
            ),
        ));
        if self.margin.is_some() {
            key.push((Swatch::Agreed, "counts as the same".to_owned()));
        }
        if !self.regions.is_empty() {
            key.push((Swatch::Bar(ASIDE), "curves differ".to_owned()));
        }
        key
    }

    fn x_axis(&self) -> Axis {
        let means = self.means.iter().flat_map(|s| &s.x);
        let (left, right) = range(means.chain(&self.difference.x).copied());
        Axis::tight(left, right, 12)
    }

    fn shade_regions(&self, plot: &mut Plot) {
        for region in &self.regions {
            plot.zone(Some(*region), None, SHADE, SHADE_OPACITY);
        }
    }

    fn curves(&self) -> Plot {
        let heights = self.means.iter().flat_map(|s| &s.y).copied();
        let mut plot = Plot::new(
            (self.x_axis(), &self.x_label),
            (Axis::over(heights, 4), &self.y_label),
        );
        self.shade_regions(&mut plot);
        for mean in &self.means {
            let look = self.words.palette.look(&mean.name);
            let pen = Pen::dashed(look.ink, 5, look.dash);
            plot.line(&mean.name, &mean.x, &mean.y, pen);
            if let (Some(x), Some(y)) = (mean.x.last(), mean.y.last()) {
                plot.end(Some(*x), *y, &mean.name, look.ink);
            }
        }
        plot
    }

    fn difference(&self) -> Plot {
        let blocks = self.blocks.iter().flat_map(|s| &s.y).copied();
        let band = self.lower.iter().chain(&self.upper).copied();
        let margins = self.margin.iter().flat_map(|m| [-m, *m]);
        let (low, high) = range(blocks.chain(band).chain(margins).chain([0.0]));
        let room = (high - low) * 0.06;
        let mut plot = Plot::new(
            (self.x_axis(), &self.x_label),
            (
                Axis::round(low - room, high + room, 6),
                &self.difference_label,
            ),
        );
        self.shade_regions(&mut plot);
        if let Some(margin) = self.margin {
            let band = (-margin, margin);
            plot.zone(None, Some(band), AGREED, AGREED_OPACITY);
            plot.end(None, margin, "margin", AGREED);
        }
        let edges = (self.lower.as_slice(), self.upper.as_slice());
        plot.band("band", &self.difference.x, edges, MUTED);
        for block in &self.blocks {
            let pen = Pen::solid(MUTED.mixed(PAPER, 0.4), 2);
            plot.line(&block.name, &block.x, &block.y, pen);
        }
        let zero = Pen::dashed(MUTED, 2, Dash::Long);
        plot.layers.push(Layer::Level { y: 0.0, pen: zero });
        let line = &self.difference;
        plot.line("mean difference", &line.x, &line.y, Pen::solid(INK, 5));
        // A bar at the foot says where they differ, also without the shade.
        let foot = plot.y.low();
        let thick = (plot.y.high() - foot) * 0.018;
        for region in &self.regions {
            plot.layers.push(Layer::Bar {
                x: *region,
                y: (foot, foot + thick),
                colour: ASIDE,
                hatch: super::hatch::Hatch::None,
            });
        }
        plot
    }
}
