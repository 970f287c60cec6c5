//! Curves on the page, drawn so that the ink never leaves the data.
//!
//! A noisy curve is one device pixel wide: plotters joins wider strokes with mitres that shoot tens
//! of pixels past the data (measured). Where many points share a pixel column only the first, the
//! extremes and the last are drawn, which inks the same pixels.

use super::canvas::{Canvas, Pen};
use super::frame::Panel;
use super::picture::ChartError;

/// Checks that a curve can be drawn.
pub(super) fn check(series: &str, x: &[f64], y: &[f64]) -> Result<(), ChartError> {
    if x.len() != y.len() {
        return Err(ChartError::Lengths {
            series: series.to_owned(),
            x: x.len(),
            y: y.len(),
        });
    }
    let bad = x
        .iter()
        .zip(y)
        .position(|(x, y)| !x.is_finite() || !y.is_finite());
    match bad {
        Some(index) => Err(ChartError::NotFinite {
            series: series.to_owned(),
            index,
        }),
        None => Ok(()),
    }
}

/// Draws the curve through (`x`, `y`) in `panel`, one device pixel wide unless `pen` says more.
pub(super) fn draw(
    canvas: &mut Canvas,
    panel: &Panel,
    (x, y): (&[f64], &[f64]),
    pen: Pen,
) -> Result<(), ChartError> {
    if pen.dash == super::theme::Dash::Solid {
        let path: Vec<(i32, i32)> = x
            .iter()
            .zip(y)
            .map(|(&x, &y)| (canvas.device(panel.x(x)), canvas.device(panel.y(y))))
            .collect();
        canvas.device_line(&thinned(&path), pen)
    } else {
        let points: Vec<(f64, f64)> = x
            .iter()
            .zip(y)
            .map(|(&x, &y)| (panel.x(x), panel.y(y)))
            .collect();
        canvas.line(&points, pen)
    }
}

/// Returns the path with each pixel column reduced to first, lowest, highest and last point.
fn thinned(path: &[(i32, i32)]) -> Vec<(i32, i32)> {
    let mut kept: Vec<(i32, i32)> = Vec::with_capacity(path.len().min(16_384));
    for column in path.chunk_by(|a, b| a.0 == b.0) {
        let (Some(&first), Some(&last)) = (column.first(), column.last()) else {
            continue;
        };
        if column.len() <= 4 {
            kept.extend_from_slice(column);
            continue;
        }
        let low = column.iter().map(|p| p.1).min().unwrap_or(first.1);
        let high = column.iter().map(|p| p.1).max().unwrap_or(first.1);
        kept.extend([first, (first.0, low), (first.0, high), last]);
    }
    kept
}

/// Fills the band between `lower` and `upper`, column by column.
pub(super) fn fill_band(
    canvas: &mut Canvas,
    panel: &Panel,
    x: &[f64],
    (lower, upper): (&[f64], &[f64]),
    colour: super::theme::Rgb,
) -> Result<(), ChartError> {
    let top = columns(canvas, panel, x, upper, i32::min);
    let bottom = columns(canvas, panel, x, lower, i32::max);
    let filled: Vec<(i32, i32, i32)> = top
        .iter()
        .zip(&bottom)
        .map(|(&(column, top), &(_, bottom))| (column, top.min(bottom), bottom.max(top)))
        .collect();
    canvas.columns(&filled, colour, 0.22)
}

/// Returns, for each device column that the curve passes, its row there: points within a column are
/// merged by `merge`, columns between points interpolated.
pub(super) fn columns(
    canvas: &Canvas,
    panel: &Panel,
    x: &[f64],
    y: &[f64],
    merge: fn(i32, i32) -> i32,
) -> Vec<(i32, i32)> {
    let mut found: Vec<(i32, i32)> = Vec::new();
    let mut add = |column: i32, row: i32| match found.last_mut() {
        Some(last) if last.0 == column => last.1 = merge(last.1, row),
        Some(last) if last.0 > column => {}
        _ => found.push((column, row)),
    };
    let mut before: Option<(i32, i32)> = None;
    for (&x, &y) in x.iter().zip(y) {
        let here = (canvas.device(panel.x(x)), canvas.device(panel.y(y)));
        if let Some(from) = before {
            let run = f64::from(here.0 - from.0);
            for column in from.0 + 1..here.0 {
                let share = f64::from(column - from.0) / run;
                let row = f64::from(from.1) + f64::from(here.1 - from.1) * share;
                add(column, row.round() as i32);
            }
        }
        add(here.0, here.1);
        before = Some(here);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thinning_keeps_first_last_and_extremes_of_each_column() {
        let path: Vec<(i32, i32)> = (0..10)
            .map(|i| (i / 5, [3, 9, 1, 4, 5][i as usize % 5]))
            .collect();
        assert_eq!(
            thinned(&path),
            [
                (0, 3),
                (0, 1),
                (0, 9),
                (0, 5),
                (1, 3),
                (1, 1),
                (1, 9),
                (1, 5)
            ]
        );
    }
}
