//! The embedded open font: measures and rasterises text without any system font.
//!
//! The files under `font/` are a renamed subset of an open family (SIL Open Font License 1.1, see
//! `font/OFL.txt`; made by `font/subset.py`). Glyphs are placed here rather than by plotters' own
//! text path, which drops each glyph's left bearing and so sets uneven letters.

use super::picture::ChartError;
use ab_glyph::{Font as _, FontRef, GlyphId, PxScale, point};
use std::sync::OnceLock;

/// Weight of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Weight {
    /// For everything that is read.
    Regular,
    /// For titles.
    Bold,
}

/// Height of the ink above the baseline that a text box covers, in em.
pub(super) const ASCENT_EM: f64 = 0.82;
/// Depth of the ink below the baseline that a text box covers, in em.
pub(super) const DESCENT_EM: f64 = 0.22;
/// Height of capitals and digits, in em; text is centred by it.
pub(super) const CAP_EM: f64 = 0.72;

static REGULAR: OnceLock<Option<FontRef<'static>>> = OnceLock::new();
static BOLD: OnceLock<Option<FontRef<'static>>> = OnceLock::new();

fn face(weight: Weight) -> Result<&'static FontRef<'static>, ChartError> {
    let (cell, bytes): (_, &'static [u8]) = match weight {
        Weight::Regular => (&REGULAR, include_bytes!("font/chart-sans-regular.ttf")),
        Weight::Bold => (&BOLD, include_bytes!("font/chart-sans-bold.ttf")),
    };
    cell.get_or_init(|| FontRef::try_from_slice(bytes).ok())
        .as_ref()
        .ok_or(ChartError::Font)
}

/// Returns the scale at which one em is `em` pixels: ab_glyph scales by line height instead.
fn scale(font: &FontRef<'_>, em: f64) -> PxScale {
    let per_em = f64::from(font.units_per_em().unwrap_or(1000.0));
    PxScale::from((em * f64::from(font.height_unscaled()) / per_em) as f32)
}

/// Calls `place` with each glyph of `text` and its left edge in em; returns the advance in em.
fn walk(
    font: &FontRef<'_>,
    text: &str,
    mut place: impl FnMut(GlyphId, f64),
) -> Result<f64, ChartError> {
    let per_em = f64::from(font.units_per_em().unwrap_or(1000.0));
    let mut x = 0.0;
    let mut previous: Option<GlyphId> = None;
    for character in text.chars() {
        let glyph = font.glyph_id(character);
        if let Some(before) = previous {
            x += f64::from(font.kern_unscaled(before, glyph)) / per_em;
        }
        place(glyph, x);
        x += f64::from(font.h_advance_unscaled(glyph)) / per_em;
        previous = Some(glyph);
    }
    Ok(x)
}

/// Returns the width of `text` in em.
pub(super) fn width_em(text: &str, weight: Weight) -> Result<f64, ChartError> {
    walk(face(weight)?, text, |_, _| {})
}

/// Calls `ink` with column, row and coverage (0–1) of each inked pixel of `text`, whose baseline
/// starts at (`x`, `y`) and whose em is `em` pixels.
pub(super) fn rasterise(
    text: &str,
    weight: Weight,
    em: f64,
    (x, y): (f64, f64),
    mut ink: impl FnMut(i32, i32, f32),
) -> Result<(), ChartError> {
    let font = face(weight)?;
    let scale = scale(font, em);
    let mut glyphs = Vec::with_capacity(text.len());
    walk(font, text, |id, left_em| glyphs.push((id, left_em)))?;
    for (id, left_em) in glyphs {
        // Whole pixels vertically keep baselines crisp; horizontally the true position is kept.
        let at = point((x + left_em * em) as f32, y.round() as f32);
        let Some(outline) = font.outline_glyph(id.with_scale_and_position(scale, at)) else {
            continue;
        };
        let corner = outline.px_bounds().min;
        let (left, top) = (corner.x as i32, corner.y as i32);
        outline.draw(|column, row, coverage| {
            if coverage > 0.0 {
                ink(left + column as i32, top + row as i32, coverage);
            }
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_sign_the_figures_use_is_in_the_font() {
        for weight in [Weight::Regular, Weight::Bold] {
            let font = face(weight).map_err(|e| e.to_string());
            let missing: Result<String, String> = font.map(|font| {
                "0123456789.,;:±°≥≤≈−–—→←·×²³⁻⁴ΔεσµÅäéñøßŁşюΩ%()[]/'’"
                    .chars()
                    .filter(|c| font.glyph_id(*c).0 == 0)
                    .collect()
            });
            assert_eq!(missing, Ok(String::new()));
        }
    }

    #[test]
    fn widths_agree_with_another_reader_of_the_font() {
        // fontTools 4.68.0: sum of the hmtx advances and kern pairs, 2000 units to the em.
        for (text, units) in [("development time", 15935 - 64), ("AVTo LT", 7743 - 540)] {
            let expected = f64::from(units) / 2000.0;
            let width = width_em(text, Weight::Regular).unwrap_or(0.0);
            assert!(
                (width - expected).abs() < 1e-6,
                "{text}: {width} is not {expected}"
            );
        }
    }

    #[test]
    fn ink_stays_within_the_declared_box() {
        let (mut left, mut right, mut top, mut bottom) = (i32::MAX, i32::MIN, i32::MAX, i32::MIN);
        let drawn = rasterise(
            "development gjpqy|Ä()",
            Weight::Regular,
            100.0,
            (0.0, 0.0),
            |x, y, _| {
                left = left.min(x);
                right = right.max(x);
                top = top.min(y);
                bottom = bottom.max(y);
            },
        );
        assert!(drawn.is_ok());
        let width = width_em("development gjpqy|Ä()", Weight::Regular).unwrap_or(0.0) * 100.0;
        assert!(
            left >= 0 && f64::from(right) <= width,
            "{left}..{right} of {width}"
        );
        assert!(f64::from(bottom) <= DESCENT_EM * 100.0, "{bottom}");
        assert!(f64::from(-top) <= 1.0 + 100.0 * 0.95, "{top}");
    }
}
