//! Cuts lines and bands to the panel: an extrapolated fit must not run over the axes.

use super::frame::Panel;

/// Returns the pieces of a line that lie within the panel.
pub(super) fn pieces(x: &[f64], y: &[f64], panel: &Panel) -> Vec<(Vec<f64>, Vec<f64>)> {
    let (left, right) = (panel.x.low(), panel.x.high());
    let (low, high) = (panel.y.low(), panel.y.high());
    let inside = |x: f64, y: f64| x >= left && x <= right && y >= low && y <= high;
    if x.iter().zip(y).all(|(&x, &y)| inside(x, y)) {
        return vec![(x.to_vec(), y.to_vec())];
    }
    let mut pieces: Vec<(Vec<f64>, Vec<f64>)> = Vec::new();
    let mut piece: (Vec<f64>, Vec<f64>) = Default::default();
    let points: Vec<(f64, f64)> = x.iter().copied().zip(y.iter().copied()).collect();
    for (&a, &b) in points.iter().zip(points.iter().skip(1)) {
        let Some((from, to)) = within(a, b, ((left, right), (low, high))) else {
            continue;
        };
        let follows = piece.0.last().is_some_and(|x| (x - from.0).abs() < 1e-12)
            && piece.1.last().is_some_and(|y| (y - from.1).abs() < 1e-12);
        if !follows {
            if !piece.0.is_empty() {
                pieces.push(std::mem::take(&mut piece));
            }
            piece.0.push(from.0);
            piece.1.push(from.1);
        }
        piece.0.push(to.0);
        piece.1.push(to.1);
    }
    if !piece.0.is_empty() {
        pieces.push(piece);
    }
    pieces
}

/// Two ends of a segment.
type Segment = ((f64, f64), (f64, f64));

/// Returns the part of the segment from `a` to `b` within the ranges (Liang and Barsky, ACM Trans.
/// Graph. 3 (1984) 1).
fn within(a: (f64, f64), b: (f64, f64), (x, y): Segment) -> Option<Segment> {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let (mut start, mut end) = (0.0_f64, 1.0_f64);
    for (p, q) in [
        (-dx, a.0 - x.0),
        (dx, x.1 - a.0),
        (-dy, a.1 - y.0),
        (dy, y.1 - a.1),
    ] {
        if p.abs() < 1e-300 {
            if q < 0.0 {
                return None;
            }
        } else if p < 0.0 {
            start = start.max(q / p);
        } else {
            end = end.min(q / p);
        }
    }
    let at = |share: f64| (a.0 + dx * share, a.1 + dy * share);
    (start <= end).then(|| (at(start), at(end)))
}

/// Returns the band with its values clamped to the panel and its points outside left out.
pub(super) fn band(
    x: &[f64],
    lower: &[f64],
    upper: &[f64],
    panel: &Panel,
) -> (Vec<f64>, Vec<f64>, Vec<f64>) {
    let clamp = |v: f64| v.max(panel.y.low()).min(panel.y.high());
    let mut cut: (Vec<f64>, Vec<f64>, Vec<f64>) = Default::default();
    for ((&x, &l), &u) in x.iter().zip(lower).zip(upper) {
        if x >= panel.x.low() && x <= panel.x.high() {
            cut.0.push(x);
            cut.1.push(clamp(l));
            cut.2.push(clamp(u));
        }
    }
    cut
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::axis::Axis;
    use crate::chart::label::Area;

    #[test]
    fn lines_end_at_the_edge() {
        let panel = Panel {
            area: Area::new(0.0, 0.0, 100.0, 100.0),
            x: Axis::tight(0.0, 10.0, 5),
            y: Axis::tight(0.0, 10.0, 5),
        };
        // Up through the ceiling and down again: two pieces, cut where the line leaves (x = 2.5).
        let found = pieces(&[0.0, 5.0, 10.0], &[0.0, 20.0, 0.0], &panel);
        assert_eq!(found.len(), 2);
        assert!((found[0].0[1] - 2.5).abs() < 1e-12 && (found[0].1[1] - 10.0).abs() < 1e-12);
        assert_eq!(pieces(&[1.0, 2.0], &[11.0, 12.0], &panel), vec![]);
    }
}
