//! A page of pixels that is drawn on in logical coordinates and remembers every text.

use super::font::{self, ASCENT_EM, CAP_EM, DESCENT_EM};
use super::label::{Area, LabelBox, LabelKind};
use super::picture::{ChartError, Page, Picture, Provenance, Raster, encode};
use super::theme::{Dash, Marker, PAPER, Rgb, Type};
use plotters::prelude::{BitMapBackend, Color, DrawingBackend, RGBColor};

/// Where a text hangs, horizontally.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Hang {
    Left,
    Centre,
    Right,
}

/// A text to be drawn: `y` is the middle of its capitals.
#[derive(Debug, Clone, Copy)]
pub(super) struct Text<'a> {
    pub words: &'a str,
    pub style: Type,
    pub kind: LabelKind,
    pub hang: Hang,
}

impl Text<'_> {
    /// Returns the box of the text at (`x`, `y`).
    pub fn area(&self, x: f64, y: f64) -> Result<Area, ChartError> {
        let width = width(self.words, self.style)?;
        let left = match self.hang {
            Hang::Left => x,
            Hang::Centre => x - width / 2.0,
            Hang::Right => x - width,
        };
        let baseline = y + self.style.size * CAP_EM / 2.0;
        Ok(Area::new(
            left,
            baseline - self.style.size * ASCENT_EM,
            left + width,
            baseline + self.style.size * DESCENT_EM,
        ))
    }
}

/// Returns the width of `words`, logical pixels.
pub(super) fn width(words: &str, style: Type) -> Result<f64, ChartError> {
    Ok(font::width_em(words, style.weight)? * style.size)
}

/// Returns `words`, cut with an ellipsis when they are wider than `room`.
pub(super) fn shortened(words: &str, style: Type, room: f64) -> Result<String, ChartError> {
    if width(words, style)? <= room {
        return Ok(words.to_owned());
    }
    let mut kept = words.to_owned();
    while kept.pop().is_some() {
        let cut = format!("{}…", kept.trim_end());
        if width(&cut, style)? <= room {
            return Ok(cut);
        }
    }
    Ok(String::new())
}

/// Returns `words` broken into lines no wider than `room`, at spaces where possible.
pub(super) fn wrapped(words: &str, style: Type, room: f64) -> Result<Vec<String>, ChartError> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    // No-break spaces hold together what belongs together, such as a value and its unit.
    for word in words.split([' ', '\n', '\t']).filter(|w| !w.is_empty()) {
        let candidate = if line.is_empty() {
            word.to_owned()
        } else {
            format!("{line} {word}")
        };
        if width(&candidate, style)? <= room {
            line = candidate;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        // A word wider than the line (a long file name, say) is cut between letters.
        for letter in word.chars() {
            line.push(letter);
            if width(&line, style)? > room {
                line.pop();
                lines.push(std::mem::take(&mut line));
                line.push(letter);
            }
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    Ok(lines)
}

/// A line style.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pen {
    pub colour: Rgb,
    /// Width in device pixels at scale 2; other scales follow, but never below one pixel. Lines are
    /// drawn once one pixel wide, and wider ones as copies side by side: plotters' own wider
    /// strokes shoot past the data at joins, copies cannot by more than half the width.
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
}

/// How a symbol is filled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fill {
    /// Read exactly.
    Solid,
    /// Known to one side only, or set aside.
    Open,
}

/// A page under way.
pub(super) struct Canvas {
    pixels: Vec<u8>,
    width: u32,
    height: u32,
    scale: u32,
    labels: Vec<LabelBox>,
}

impl Canvas {
    /// Returns an empty page of `page`'s width and `height` logical pixels.
    pub fn new(page: Page, height: f64) -> Canvas {
        let (width, height) = (
            page.width * page.scale,
            (height.ceil().max(1.0) as u32) * page.scale,
        );
        Canvas {
            pixels: vec![255; 3 * width as usize * height as usize],
            width,
            height,
            scale: page.scale,
            labels: Vec::new(),
        }
    }

    /// Returns device pixels per logical pixel.
    pub fn scale(&self) -> f64 {
        f64::from(self.scale)
    }

    /// Returns the device pixel that holds the logical coordinate `at`.
    pub fn device(&self, at: f64) -> i32 {
        (at * self.scale()).round() as i32
    }

    fn with_backend(
        &mut self,
        draw: impl FnOnce(&mut BitMapBackend<'_>) -> Result<(), String>,
    ) -> Result<(), ChartError> {
        let mut backend =
            BitMapBackend::with_buffer_and_format(&mut self.pixels, (self.width, self.height))
                .map_err(|error| ChartError::Drawing(error.to_string()))?;
        draw(&mut backend).map_err(ChartError::Drawing)
    }

    /// Fills `area`; `opacity` 0–1.
    pub fn fill(&mut self, area: Area, colour: Rgb, opacity: f64) -> Result<(), ChartError> {
        let from = (self.device(area.x0), self.device(area.y0));
        let to = (self.device(area.x1), self.device(area.y1));
        self.with_backend(|b| {
            b.draw_rect(from, to, &shade(colour).mix(opacity), true)
                .map_err(|e| e.to_string())
        })
    }

    /// Draws device column `x` from device row `top` to `bottom`, both included.
    pub fn columns(
        &mut self,
        columns: &[(i32, i32, i32)],
        colour: Rgb,
        opacity: f64,
    ) -> Result<(), ChartError> {
        let style = shade(colour).mix(opacity);
        self.with_backend(|b| {
            for &(x, top, bottom) in columns {
                b.draw_rect((x, top), (x + 1, bottom + 1), &style, true)
                    .map_err(|e| e.to_string())?;
            }
            Ok(())
        })
    }

    /// Draws a line through logical `points`.
    pub fn line(&mut self, points: &[(f64, f64)], pen: Pen) -> Result<(), ChartError> {
        let strokes = dashed(points, pen.dash.pattern());
        for stroke in strokes {
            let path: Vec<(i32, i32)> = stroke
                .iter()
                .map(|&(x, y)| (self.device(x), self.device(y)))
                .collect();
            self.device_line(&path, pen)?;
        }
        Ok(())
    }

    /// Draws an unbroken line through device `path`.
    pub fn device_line(&mut self, path: &[(i32, i32)], pen: Pen) -> Result<(), ChartError> {
        let copies: &[(i32, i32)] = match (u32::from(pen.width) * self.scale).div_ceil(2) {
            0 | 1 => &[(0, 0)],
            2 => &[(0, 0), (1, 0), (0, 1), (1, 1)],
            3 => &[(0, 0), (-1, 0), (1, 0), (0, -1), (0, 1)],
            _ if pen.width == RIM && self.scale > 1 => &WIDER,
            _ => &WIDE,
        };
        let style = shade(pen.colour);
        self.with_backend(|b| {
            for (dx, dy) in copies {
                b.draw_path(path.iter().map(|(x, y)| (x + dx, y + dy)), &style)
                    .map_err(|e| e.to_string())?;
            }
            Ok(())
        })
    }

    /// Draws a symbol of `radius` logical pixels around (`x`, `y`).
    pub fn symbol(
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
        let scale = self.scale();
        let style = shade(colour);
        let (cx, cy, r) = (x * scale, y * scale, radius * scale);
        let at = |dx: f64, dy: f64| ((cx + dx * r).round() as i32, (cy + dy * r).round() as i32);
        let corners: &[(f64, f64)] = match marker {
            Marker::Circle => {
                let centre = at(0.0, 0.0);
                return self.with_backend(|b| {
                    b.draw_circle(centre, r.round().max(1.0) as u32, &style, true)
                        .map_err(|e| e.to_string())
                });
            }
            Marker::Triangle => &[(0.0, -1.2), (1.1, 0.8), (-1.1, 0.8)],
            Marker::TriangleDown => &[(0.0, 1.2), (1.1, -0.8), (-1.1, -0.8)],
            Marker::Square => &[(-0.88, -0.88), (0.88, -0.88), (0.88, 0.88), (-0.88, 0.88)],
            Marker::Diamond => &[(0.0, -1.25), (1.25, 0.0), (0.0, 1.25), (-1.25, 0.0)],
        };
        let corners: Vec<(i32, i32)> = corners.iter().map(|&(dx, dy)| at(dx, dy)).collect();
        self.with_backend(|b| b.fill_polygon(corners, &style).map_err(|e| e.to_string()))
    }

    /// Draws a diagonal cross of `radius` logical pixels.
    pub fn cross(&mut self, (x, y): (f64, f64), r: f64, colour: Rgb) -> Result<(), ChartError> {
        let pen = Pen::solid(colour, 3);
        self.line(&[(x - r, y - r), (x + r, y + r)], pen)?;
        self.line(&[(x - r, y + r), (x + r, y - r)], pen)
    }

    /// Draws an arrow from `from` to `to` with an open head.
    pub fn arrow(
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
    pub fn text(&mut self, text: Text<'_>, x: f64, y: f64) -> Result<Area, ChartError> {
        let area = text.area(x, y)?;
        let scale = self.scale();
        let baseline = y + text.style.size * CAP_EM / 2.0;
        let mut ink: Vec<(i32, i32, f32)> = Vec::with_capacity(text.words.len() * 120);
        font::rasterise(
            text.words,
            text.style.weight,
            text.style.size * scale,
            (area.x0 * scale, baseline * scale),
            |column, row, coverage| ink.push((column, row, coverage)),
        )?;
        let style = shade(text.style.colour);
        self.with_backend(|b| {
            for (column, row, coverage) in ink {
                let colour = style.mix(f64::from(coverage)).to_backend_color();
                b.draw_pixel((column, row), colour)
                    .map_err(|e| e.to_string())?;
            }
            Ok(())
        })?;
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

    /// Returns the picture with its provenance.
    pub fn finish(
        self,
        title: &str,
        alt: String,
        from: &Provenance,
    ) -> Result<Picture, ChartError> {
        let raster = Raster {
            pixels: &self.pixels,
            width: self.width,
            height: self.height,
            scale: self.scale,
        };
        let png = encode(&raster, title, &alt, from)?;
        Ok(Picture {
            png,
            width: self.width,
            height: self.height,
            scale: self.scale,
            labels: self.labels,
            alt,
        })
    }
}

fn shade(colour: Rgb) -> RGBColor {
    RGBColor(colour.0, colour.1, colour.2)
}

/// Pen width of the paper rim around arrows.
const RIM: u8 = 7;

/// Offsets that make a line five device pixels wide: a disc of radius two.
const WIDE: [(i32, i32); 13] = [
    (0, 0),
    (-1, 0),
    (1, 0),
    (0, -1),
    (0, 1),
    (-1, -1),
    (1, -1),
    (-1, 1),
    (1, 1),
    (-2, 0),
    (2, 0),
    (0, -2),
    (0, 2),
];

/// Offsets of the rim of a line seven device pixels wide; its inside is covered by the line on top.
const WIDER: [(i32, i32); 12] = [
    (3, 0),
    (-3, 0),
    (0, 3),
    (0, -3),
    (2, 2),
    (-2, 2),
    (2, -2),
    (-2, -2),
    (2, 0),
    (-2, 0),
    (0, 2),
    (0, -2),
];

/// Returns the pen-down pieces of a line drawn with `pattern` (lengths down, up, down, …).
fn dashed(points: &[(f64, f64)], pattern: &[f64]) -> Vec<Vec<(f64, f64)>> {
    let Some(&first) = pattern.first() else {
        return vec![points.to_vec()];
    };
    let mut strokes = Vec::new();
    let mut stroke: Vec<(f64, f64)> = points.first().copied().into_iter().collect();
    let (mut turn, mut left, mut down) = (0usize, first, true);
    for (a, b) in points.iter().zip(points.iter().skip(1)) {
        let length = ((b.0 - a.0) * (b.0 - a.0) + (b.1 - a.1) * (b.1 - a.1)).sqrt();
        let mut walked = 0.0;
        while length - walked > left {
            walked += left;
            let share = walked / length;
            let here = (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share);
            if down {
                stroke.push(here);
                strokes.push(std::mem::take(&mut stroke));
            } else {
                stroke = vec![here];
            }
            down = !down;
            turn += 1;
            left = pattern.get(turn % pattern.len()).copied().unwrap_or(first);
        }
        left -= length - walked;
        if down {
            stroke.push(*b);
        }
    }
    if down && stroke.len() > 1 {
        strokes.push(stroke);
    }
    strokes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dashes_cover_their_share_of_the_line() {
        let strokes = dashed(&[(0.0, 0.0), (30.0, 0.0), (60.0, 0.0)], &[10.0, 5.0]);
        let drawn: f64 = strokes
            .iter()
            .filter_map(|s| Some(s.last()?.0 - s.first()?.0))
            .sum();
        assert!((drawn - 40.0).abs() < 1e-9, "{strokes:?}");
    }

    #[test]
    fn shortened_words_fit_and_say_so() {
        let cut = shortened("high-speed mixer", Type::TICK, 60.0).unwrap_or_default();
        assert!(cut.ends_with('…') && width(&cut, Type::TICK).is_ok_and(|w| w <= 60.0));
        assert_eq!(
            shortened("spiral", Type::TICK, 60.0),
            Ok("spiral".to_owned())
        );
        assert_eq!(shortened("spiral", Type::TICK, 1.0), Ok(String::new()));
    }

    #[test]
    fn long_words_are_cut_rather_than_clipped() {
        let lines = wrapped(&"x".repeat(300), Type::CAPTION, 200.0).unwrap_or_default();
        assert!(lines.len() > 5);
        assert_eq!(lines.concat().len(), 300);
        for line in lines {
            assert!(width(&line, Type::CAPTION).is_ok_and(|w| w <= 200.0));
        }
    }
}
