//! A page that is drawn on in logical coordinates and remembers every text; what it draws becomes
//! pixels or a vector drawing.

use super::font::CAP_EM;
use super::label::{Area, LabelBox};
use super::picture::{ChartError, Drawing, Page, Picture, Provenance, Raster, encode};
use super::pixels::Pixels;
use super::text::Text;
use super::theme::{Dash, Marker, PAPER, Rgb};
use super::vector::Vector;

/// A line style.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pen {
    pub colour: Rgb,
    /// Width in device pixels at scale 2, that is in half logical pixels; other scales follow, but
    /// never below one device pixel.
    pub width: u8,
    pub dash: Dash,
}

impl Pen {
    /// Returns an unbroken pen.
    pub fn solid(colour: Rgb, width: u8) -> Pen {
        Pen {
            colour,
            width,
            dash: Dash::Solid,
        }
    }

    /// Returns a pen with a pattern.
    pub fn dashed(colour: Rgb, width: u8, dash: Dash) -> Pen {
        Pen {
            colour,
            width,
            dash,
        }
    }
}

/// Pen width of the paper rim around arrows.
pub(super) const RIM: u8 = 7;

/// How a symbol is filled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fill {
    /// Read exactly.
    Solid,
    /// Known to one side only, or set aside.
    Open,
}

/// What takes the ink. Lengths are logical pixels unless called device.
pub(super) trait Surface {
    /// Device pixels per logical pixel.
    fn scale(&self) -> f64;
    /// Fills a rectangle; `opacity` 0–1.
    fn rect(&mut self, area: Area, colour: Rgb, opacity: f64) -> Result<(), ChartError>;
    /// Fills device columns `x` from device row `top` to `bottom`, both included.
    fn columns(
        &mut self,
        columns: &[(i32, i32, i32)],
        colour: Rgb,
        opacity: f64,
    ) -> Result<(), ChartError>;
    /// Draws a line with its dashes.
    fn line(&mut self, points: &[(f64, f64)], pen: Pen) -> Result<(), ChartError>;
    /// Draws an unbroken line through a device path.
    fn path(&mut self, path: &[(i32, i32)], pen: Pen) -> Result<(), ChartError>;
    /// Fills a polygon.
    fn polygon(&mut self, corners: &[(f64, f64)], colour: Rgb) -> Result<(), ChartError>;
    /// Fills a circle.
    fn circle(&mut self, centre: (f64, f64), radius: f64, colour: Rgb) -> Result<(), ChartError>;
    /// Writes a text from `left` on `baseline`.
    fn text(&mut self, text: Text<'_>, left: f64, baseline: f64) -> Result<(), ChartError>;
}

/// Which file a page becomes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Medium {
    Pixels,
    Vector,
}

/// A page before its height is known: figures with much text grow taller than asked for.
#[derive(Debug, Clone, Copy)]
pub struct Blank {
    pub(super) page: Page,
    pub(super) medium: Medium,
}

impl Blank {
    /// Returns the page's width, logical pixels.
    pub(super) fn width(&self) -> f64 {
        f64::from(self.page.width)
    }

    /// Returns the least height, logical pixels.
    pub(super) fn height(&self) -> f64 {
        f64::from(self.page.height)
    }

    /// Returns an empty page `height` logical pixels tall.
    pub(super) fn open(self, height: f64) -> Canvas {
        let (width, height) = (self.width(), height.ceil().max(1.0));
        let surface = match self.medium {
            Medium::Pixels => Inked::Pixels(Pixels::new(width, height, self.page.scale())),
            Medium::Vector => Inked::Vector(Vector::new(width, height)),
        };
        Canvas {
            surface,
            dpi: self.page.dpi,
            size: (width, height),
            labels: Vec::new(),
        }
    }
}

/// Where the ink of a page goes.
enum Inked {
    Pixels(Pixels),
    Vector(Vector),
}

/// A page under way.
pub struct Canvas {
    surface: Inked,
    dpi: u32,
    size: (f64, f64),
    labels: Vec<LabelBox>,
}

impl Canvas {
    fn surface(&mut self) -> &mut dyn Surface {
        match &mut self.surface {
            Inked::Pixels(pixels) => pixels,
            Inked::Vector(vector) => vector,
        }
    }

    /// Returns device pixels per logical pixel.
    fn scale(&self) -> f64 {
        match &self.surface {
            Inked::Pixels(pixels) => pixels.scale(),
            Inked::Vector(vector) => vector.scale(),
        }
    }

    /// Returns the device pixel that holds the logical coordinate `at`.
    pub(super) fn device(&self, at: f64) -> i32 {
        (at * self.scale()).round() as i32
    }

    /// Fills `area`; `opacity` 0–1.
    pub(super) fn fill(&mut self, area: Area, colour: Rgb, opacity: f64) -> Result<(), ChartError> {
        self.surface().rect(area, colour, opacity)
    }

    /// Fills device column `x` from device row `top` to `bottom`, both included.
    pub(super) fn columns(
        &mut self,
        columns: &[(i32, i32, i32)],
        colour: Rgb,
        opacity: f64,
    ) -> Result<(), ChartError> {
        self.surface().columns(columns, colour, opacity)
    }

    /// Draws a line through logical `points`.
    pub(super) fn line(&mut self, points: &[(f64, f64)], pen: Pen) -> Result<(), ChartError> {
        self.surface().line(points, pen)
    }

    /// Draws an unbroken line through device `path`.
    pub(super) fn device_line(&mut self, path: &[(i32, i32)], pen: Pen) -> Result<(), ChartError> {
        self.surface().path(path, pen)
    }

    /// Draws a symbol of `radius` logical pixels around (`x`, `y`).
    pub(super) fn symbol(
        &mut self,
        marker: Marker,
        (x, y): (f64, f64),
        radius: f64,
        (colour, fill): (Rgb, Fill),
    ) -> Result<(), ChartError> {
        // A paper rim keeps a symbol apart from the curve below it and from its neighbours.
        self.shape(marker, (x, y), radius + 1.0, PAPER)?;
        self.shape(marker, (x, y), radius, colour)?;
        if fill == Fill::Open {
            self.shape(marker, (x, y), (radius - 1.6).max(0.5), PAPER)?;
        }
        Ok(())
    }

    fn shape(
        &mut self,
        marker: Marker,
        (x, y): (f64, f64),
        radius: f64,
        colour: Rgb,
    ) -> Result<(), ChartError> {
        let corners: &[(f64, f64)] = match marker {
            Marker::Circle => return self.surface().circle((x, y), radius, colour),
            Marker::Triangle => &[(0.0, -1.2), (1.1, 0.8), (-1.1, 0.8)],
            Marker::TriangleDown => &[(0.0, 1.2), (1.1, -0.8), (-1.1, -0.8)],
            Marker::Square => &[(-0.88, -0.88), (0.88, -0.88), (0.88, 0.88), (-0.88, 0.88)],
            // Slender, so that it is no circle in greyscale print.
            Marker::Diamond => &[(0.0, -1.55), (1.0, 0.0), (0.0, 1.55), (-1.0, 0.0)],
        };
        let corners: Vec<(f64, f64)> = corners
            .iter()
            .map(|&(dx, dy)| (x + dx * radius, y + dy * radius))
            .collect();
        self.surface().polygon(&corners, colour)
    }

    /// Draws a diagonal cross of `radius` logical pixels.
    pub(super) fn cross(
        &mut self,
        (x, y): (f64, f64),
        r: f64,
        colour: Rgb,
    ) -> Result<(), ChartError> {
        let pen = Pen::solid(colour, 3);
        self.line(&[(x - r, y - r), (x + r, y + r)], pen)?;
        self.line(&[(x - r, y + r), (x + r, y - r)], pen)
    }

    /// Draws an arrow from `from` to `to` with an open head.
    pub(super) fn arrow(
        &mut self,
        from: (f64, f64),
        to: (f64, f64),
        colour: Rgb,
    ) -> Result<(), ChartError> {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let length = (dx * dx + dy * dy).sqrt().max(1e-9);
        let (ux, uy) = (dx / length, dy / length);
        let barb = |side: f64| {
            (
                to.0 - 6.5 * ux - side * 4.0 * uy,
                to.1 - 6.5 * uy + side * 4.0 * ux,
            )
        };
        // A paper rim keeps the arrow legible on a noisy curve.
        for pen in [Pen::solid(PAPER, RIM), Pen::solid(colour, 3)] {
            self.line(&[from, to], pen)?;
            self.line(&[barb(1.0), to, barb(-1.0)], pen)?;
        }
        Ok(())
    }

    /// Draws `text` with its capitals centred on `y`, and remembers its box.
    pub(super) fn text(&mut self, text: Text<'_>, x: f64, y: f64) -> Result<Area, ChartError> {
        let area = text.area(x, y)?;
        let baseline = y + text.style.size * CAP_EM / 2.0;
        self.surface().text(text, area.x0, baseline)?;
        self.labels.push(LabelBox {
            text: text.words.to_owned(),
            kind: text.kind,
            x0: area.x0,
            y0: area.y0,
            x1: area.x1,
            y1: area.y1,
        });
        Ok(area)
    }

    /// Returns the bitmap with its provenance.
    pub(super) fn into_picture(
        self,
        title: &str,
        alt: String,
        from: &Provenance,
    ) -> Result<Picture, ChartError> {
        let Inked::Pixels(pixels) = &self.surface else {
            return Err(ChartError::Drawing("the page is no bitmap".to_owned()));
        };
        let raster = Raster {
            pixels: &pixels.rgb,
            width: pixels.width,
            height: pixels.height,
            dpi: self.dpi,
        };
        Ok(Picture {
            png: encode(&raster, title, &alt, from)?,
            width: pixels.width,
            height: pixels.height,
            dpi: self.dpi,
            labels: self.labels,
            alt,
        })
    }

    /// Returns the vector drawing with its provenance.
    pub(super) fn into_drawing(
        self,
        title: &str,
        alt: String,
        from: &Provenance,
    ) -> Result<Drawing, ChartError> {
        let Inked::Vector(vector) = self.surface else {
            return Err(ChartError::Drawing("the page is no drawing".to_owned()));
        };
        Ok(Drawing {
            svg: vector.finish(title, &alt, from),
            width: self.size.0,
            height: self.size.1,
            labels: self.labels,
            alt,
        })
    }
}
