//! The bitmap surface: plotters draws into a buffer of pixels.

use super::canvas::{Pen, RIM, Surface};
use super::font;
use super::label::Area;
use super::picture::ChartError;
use super::text::Text;
use super::theme::Rgb;
use plotters::prelude::{BitMapBackend, Color, DrawingBackend, RGBColor};

/// A page of pixels.
pub(super) struct Pixels {
    /// Red, green, blue of each pixel.
    pub rgb: Vec<u8>,
    pub width: u32,
    pub height: u32,
    scale: f64,
}

impl Pixels {
    /// Returns a blank page of `width` × `height` logical pixels.
    pub fn new(width: f64, height: f64, scale: f64) -> Pixels {
        let device = |length: f64| (length * scale).round().max(1.0) as u32;
        let (width, height) = (device(width), device(height));
        Pixels {
            rgb: vec![255; 3 * width as usize * height as usize],
            width,
            height,
            scale,
        }
    }

    fn with_backend(
        &mut self,
        draw: impl FnOnce(&mut BitMapBackend<'_>) -> Result<(), String>,
    ) -> Result<(), ChartError> {
        let mut backend =
            BitMapBackend::with_buffer_and_format(&mut self.rgb, (self.width, self.height))
                .map_err(|error| ChartError::Drawing(error.to_string()))?;
        draw(&mut backend).map_err(ChartError::Drawing)
    }
}

impl Surface for Pixels {
    fn scale(&self) -> f64 {
        self.scale
    }

    fn rect(&mut self, area: Area, colour: Rgb, opacity: f64) -> Result<(), ChartError> {
        let device = |at: f64| (at * self.scale).round() as i32;
        let (from, to) = (
            (device(area.x0), device(area.y0)),
            (device(area.x1), device(area.y1)),
        );
        self.with_backend(|b| {
            b.draw_rect(from, to, &shade(colour).mix(opacity), true)
                .map_err(|e| e.to_string())
        })
    }

    fn columns(
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

    fn line(&mut self, points: &[(f64, f64)], pen: Pen) -> Result<(), ChartError> {
        for stroke in dashed(points, pen.dash.pattern()) {
            let path: Vec<(i32, i32)> = stroke
                .iter()
                .map(|&(x, y)| {
                    (
                        (x * self.scale).round() as i32,
                        (y * self.scale).round() as i32,
                    )
                })
                .collect();
            self.path(&path, pen)?;
        }
        Ok(())
    }

    fn path(&mut self, path: &[(i32, i32)], pen: Pen) -> Result<(), ChartError> {
        let copies = copies(pen, self.scale);
        let style = shade(pen.colour);
        self.with_backend(|b| {
            for (dx, dy) in copies.iter() {
                b.draw_path(path.iter().map(|(x, y)| (x + dx, y + dy)), &style)
                    .map_err(|e| e.to_string())?;
            }
            Ok(())
        })
    }

    fn polygon(&mut self, corners: &[(f64, f64)], colour: Rgb) -> Result<(), ChartError> {
        let scale = self.scale;
        let device = |at: f64| (at * scale).round() as i32;
        let corners: Vec<(i32, i32)> = corners
            .iter()
            .map(|&(x, y)| (device(x), device(y)))
            .collect();
        self.with_backend(|b| {
            b.fill_polygon(corners, &shade(colour))
                .map_err(|e| e.to_string())
        })
    }

    fn circle(&mut self, (x, y): (f64, f64), radius: f64, colour: Rgb) -> Result<(), ChartError> {
        let centre = (
            (x * self.scale).round() as i32,
            (y * self.scale).round() as i32,
        );
        let radius = (radius * self.scale).round().max(1.0) as u32;
        self.with_backend(|b| {
            b.draw_circle(centre, radius, &shade(colour), true)
                .map_err(|e| e.to_string())
        })
    }

    fn text(&mut self, text: Text<'_>, left: f64, baseline: f64) -> Result<(), ChartError> {
        let scale = self.scale;
        let mut ink: Vec<(i32, i32, f32)> = Vec::with_capacity(text.words.len() * 120);
        font::rasterise(
            text.words,
            text.style.weight,
            text.style.size * scale,
            (left * scale, baseline * scale),
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
        })
    }
}

fn shade(colour: Rgb) -> RGBColor {
    RGBColor(colour.0, colour.1, colour.2)
}

/// Returns the offsets of the copies that make a line of `pen`'s width: lines are drawn one pixel
/// wide, and wider ones as copies side by side, because plotters' own wider strokes shoot past the
/// data at joins; copies cannot by more than half the width.
fn copies(pen: Pen, scale: f64) -> std::borrow::Cow<'static, [(i32, i32)]> {
    let wide = (f64::from(pen.width) * scale / 2.0).ceil() as i32;
    match wide {
        0 | 1 => (&[(0, 0)]).into(),
        2 => (&[(0, 0), (1, 0), (0, 1), (1, 1)]).into(),
        3 => (&[(0, 0), (-1, 0), (1, 0), (0, -1), (0, 1)]).into(),
        4..=5 => (&WIDE).into(),
        6..=7 if pen.width == RIM => (&WIDER).into(),
        _ => {
            let r = wide / 2;
            let disc = (-r..=r).flat_map(|dx| (-r..=r).map(move |dy| (dx, dy)));
            disc.filter(|(dx, dy)| dx * dx + dy * dy <= r * r).collect()
        }
    }
}

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
}
