//! Bookkeeping of every drawn text: its box, so that nothing is placed on it unseen.

/// What a text is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LabelKind {
    /// Title, subtitle or panel title.
    Title,
    /// Axis title.
    Axis,
    /// Tick value or category.
    Tick,
    /// Value beside a mark.
    Mark,
    /// Name of a curve or group.
    Series,
    /// Note or caption.
    Caption,
}

/// The box that a drawn text covers, in logical pixels from the top left.
#[derive(Debug, Clone, PartialEq)]
pub struct LabelBox {
    /// The text.
    pub text: String,
    /// What it is for.
    pub kind: LabelKind,
    /// Left edge.
    pub x0: f64,
    /// Top edge.
    pub y0: f64,
    /// Right edge.
    pub x1: f64,
    /// Bottom edge.
    pub y1: f64,
}

impl LabelBox {
    /// Returns whether two texts cover common ground.
    pub fn overlaps(&self, other: &LabelBox) -> bool {
        self.area().overlaps(&other.area())
    }

    /// Returns the box alone.
    pub(super) fn area(&self) -> Area {
        Area::new(self.x0, self.y0, self.x1, self.y1)
    }
}

/// A rectangle in logical pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Area {
    pub x0: f64,
    pub y0: f64,
    pub x1: f64,
    pub y1: f64,
}

impl Area {
    /// Returns the rectangle between two corners.
    pub fn new(x0: f64, y0: f64, x1: f64, y1: f64) -> Area {
        Area { x0, y0, x1, y1 }
    }

    /// Returns whether two rectangles share ground; touching edges do not count.
    pub fn overlaps(&self, other: &Area) -> bool {
        self.x0 < other.x1 && other.x0 < self.x1 && self.y0 < other.y1 && other.y0 < self.y1
    }

    /// Returns whether `inner` lies wholly within.
    pub fn contains(&self, inner: &Area) -> bool {
        inner.x0 >= self.x0 && inner.x1 <= self.x1 && inner.y0 >= self.y0 && inner.y1 <= self.y1
    }

    /// Returns the rectangle grown by `by` on each side.
    pub fn grown(&self, by: f64) -> Area {
        Area::new(self.x0 - by, self.y0 - by, self.x1 + by, self.y1 + by)
    }

    /// Returns the point of the rectangle that is nearest to (`x`, `y`).
    pub fn nearest(&self, x: f64, y: f64) -> (f64, f64) {
        (x.max(self.x0).min(self.x1), y.max(self.y0).min(self.y1))
    }

    /// Returns whether the segment from `a` to `b` passes through (sampled each 2 px, the precision
    /// that leader lines need).
    pub fn is_crossed_by(&self, a: (f64, f64), b: (f64, f64)) -> bool {
        let steps = ((b.0 - a.0).abs().max((b.1 - a.1).abs()) / 2.0)
            .ceil()
            .max(1.0);
        (0..=steps as usize).any(|i| {
            let share = i as f64 / steps;
            let (x, y) = (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share);
            x > self.x0 && x < self.x1 && y > self.y0 && y < self.y1
        })
    }
}

/// Moves label centres apart along one axis until each has its `heights` entry of room between
/// `low` and `high`; keeps their order and moves them as little as a single sweep each way can.
///
/// When the room does not suffice the labels are packed from `low`, and the caller must have made
/// room beforehand.
pub(super) fn spread(centres: &[f64], heights: &[f64], low: f64, high: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..centres.len().min(heights.len())).collect();
    order.sort_by(|a, b| centres[*a].total_cmp(&centres[*b]).then(a.cmp(b)));
    let mut placed = centres.to_vec();
    let mut floor = low;
    for &i in &order {
        placed[i] = placed[i].max(floor + heights[i] / 2.0);
        floor = placed[i] + heights[i] / 2.0;
    }
    let mut ceiling = high;
    for &i in order.iter().rev() {
        placed[i] = placed[i].min(ceiling - heights[i] / 2.0);
        ceiling = placed[i] - heights[i] / 2.0;
    }
    // The upward sweep may have pushed the first ones out at the low end: pack from there.
    let mut floor = low;
    for &i in &order {
        placed[i] = placed[i].max(floor + heights[i] / 2.0);
        floor = placed[i] + heights[i] / 2.0;
    }
    placed
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn crowded_labels_are_spread_in_order_within_bounds() {
        let placed = spread(&[50.0, 51.0, 52.0, 99.0], &[10.0; 4], 0.0, 100.0);
        for (a, b) in placed.iter().zip(placed.iter().skip(1)) {
            assert!(b - a >= 10.0 - 1e-9, "{placed:?}");
        }
        assert!(placed[0] >= 5.0 && placed[3] <= 95.0);
        assert_eq!(
            spread(&[20.0, 80.0], &[10.0; 2], 0.0, 100.0),
            vec![20.0, 80.0]
        );
    }

    #[test]
    fn touching_boxes_do_not_overlap() {
        let a = Area::new(0.0, 0.0, 10.0, 10.0);
        assert!(!a.overlaps(&Area::new(10.0, 0.0, 20.0, 10.0)));
        assert!(a.overlaps(&Area::new(9.0, 9.0, 20.0, 20.0)));
        assert!(a.is_crossed_by((-5.0, 5.0), (15.0, 5.0)));
        assert!(!a.is_crossed_by((-5.0, 11.0), (15.0, 11.0)));
    }
}
