//! Bars with patterns, and the small signs that panels and keys share.

use super::canvas::{Canvas, Pen};
use super::label::Area;
use super::picture::ChartError;
use super::theme::{MUTED, PAPER, Rgb};

/// Pattern over a bar: the second carrier beside colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Hatch {
    None,
    Up,
    Down,
    Cross,
}

/// Half the height of a tick on a step curve, logical pixels.
pub(super) const TICK: f64 = 6.0;
/// Half the height of a flat interval, logical pixels.
pub(super) const SPAN: f64 = 6.0;

/// Draws a tick on a step curve.
pub(super) fn draw_tick(
    canvas: &mut Canvas,
    (x, y): (f64, f64),
    colour: Rgb,
) -> Result<(), ChartError> {
    canvas.line(&[(x, y - TICK), (x, y + TICK)], Pen::solid(colour, 4))
}

/// Draws a flat interval from `x.0` to `x.1` around `y`.
pub(super) fn draw_span(
    canvas: &mut Canvas,
    x: (f64, f64),
    y: f64,
    colour: Rgb,
) -> Result<(), ChartError> {
    let area = Area::new(x.0, y - SPAN, x.1, y + SPAN);
    canvas.fill(area, colour, 0.28)?;
    for x in [x.0, x.1] {
        canvas.line(&[(x, y - SPAN), (x, y + SPAN)], Pen::solid(colour, 3))?;
    }
    Ok(())
}

/// Distance between the lines of a hatch, logical pixels.
const HATCH: f64 = 6.0;

/// Draws a bar with its pattern, and a rim of paper between neighbours.
pub(super) fn draw_bar(
    canvas: &mut Canvas,
    area: Area,
    colour: Rgb,
    hatch: Hatch,
) -> Result<(), ChartError> {
    canvas.fill(area, colour, 1.0)?;
    // Paper lines on a dark bar, ink lines on a pale one.
    if hatch == Hatch::None {
        return Ok(());
    }
    let pen = match colour.contrast_to_paper() > 2.2 {
        true => Pen::solid(PAPER, 2),
        false => Pen::solid(MUTED.mixed(PAPER, 0.35), 1),
    };
    let (wide, tall) = (area.x1 - area.x0, area.y1 - area.y0);
    let steps = ((wide + tall) / HATCH).floor() as usize;
    for step in 1..=steps {
        // The diagonal that meets the lower edge `along` from the left, cut to the bar.
        let along = step as f64 * HATCH;
        let (x0, y0) = (along.min(wide), (along - wide).max(0.0));
        let (x1, y1) = ((along - tall).max(0.0), along.min(tall));
        if matches!(hatch, Hatch::Down | Hatch::Cross) {
            let down = [(area.x0 + x0, area.y1 - y0), (area.x0 + x1, area.y1 - y1)];
            canvas.line(&down, pen)?;
        }
        if matches!(hatch, Hatch::Up | Hatch::Cross) {
            let up = [(area.x0 + x0, area.y0 + y0), (area.x0 + x1, area.y0 + y1)];
            canvas.line(&up, pen)?;
        }
    }
    Ok(())
}
