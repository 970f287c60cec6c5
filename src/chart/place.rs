//! Finds free room for a label beside its mark: measured, never guessed.

use super::label::Area;

/// What is already on a panel.
#[derive(Clone)]
pub(super) struct Ground {
    /// Where labels may lie.
    bounds: Area,
    /// Texts and symbols.
    taken: Vec<Area>,
    /// Lines that no label may lie on but a leader line may cross.
    lines: Vec<Area>,
    /// Strips (top, bottom) of the curves' ink for each logical pixel column from `bounds.x0`.
    ink: Vec<Vec<(f64, f64)>>,
}

/// A place for a label.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    pub area: Area,
    /// Where a leader line ends, when the label lies too far from its mark to need none.
    pub leader: Option<(f64, f64)>,
}

/// Distances tried, logical pixels; up to the first, no leader line is needed.
const DISTANCES: [f64; 12] = [
    11.0, 22.0, 34.0, 48.0, 64.0, 82.0, 104.0, 130.0, 160.0, 200.0, 250.0, 310.0,
];

/// Distance between strips of ink that no label fits between, logical pixels.
const CLOSE: f64 = 8.0;

/// Directions tried at each distance (right, down), best first.
const DIRECTIONS: [(f64, f64); 20] = [
    (0.7, -0.7),
    (1.0, 0.0),
    (0.7, 0.7),
    (0.0, -1.0),
    (-0.7, -0.7),
    (0.0, 1.0),
    (-0.7, 0.7),
    (-1.0, 0.0),
    (0.92, -0.38),
    (0.92, 0.38),
    (0.38, -0.92),
    (0.38, 0.92),
    (-0.92, -0.38),
    (-0.92, 0.38),
    (-0.38, -0.92),
    (-0.38, 0.92),
    (0.2, -0.98),
    (0.2, 0.98),
    (-0.2, -0.98),
    (-0.2, 0.98),
];

impl Ground {
    /// Returns an empty ground.
    pub fn new(bounds: Area) -> Ground {
        let columns = (bounds.x1 - bounds.x0).ceil().max(0.0) as usize + 1;
        Ground {
            bounds,
            taken: Vec::new(),
            lines: Vec::new(),
            ink: vec![Vec::new(); columns],
        }
    }

    /// Marks `area` as taken.
    pub fn take(&mut self, area: Area) {
        self.taken.push(area);
    }

    /// Keeps labels, but not leader lines, off `area`.
    pub fn keep_off(&mut self, area: Area) {
        self.lines.push(area);
    }

    /// Marks the line from `a` to `b` as ink.
    pub fn ink_line(&mut self, a: (f64, f64), b: (f64, f64)) {
        let (a, b) = if a.0 <= b.0 { (a, b) } else { (b, a) };
        let run = (b.0 - a.0).max(1e-9);
        let first = (a.0 - self.bounds.x0).floor().max(0.0) as usize;
        let last = (b.0 - self.bounds.x0).floor().max(0.0) as usize;
        for column in first..=last {
            let left = self.bounds.x0 + column as f64;
            let at = |x: f64| a.1 + (b.1 - a.1) * ((x - a.0) / run).clamp(0.0, 1.0);
            let (start, end) = (at(left), at(left + 1.0));
            let (start, end) = if last == first {
                (a.1, b.1)
            } else {
                (start, end)
            };
            let (top, bottom) = (start.min(end), start.max(end));
            let Some(strips) = self.ink.get_mut(column) else {
                continue;
            };
            // A label needs more room than this: strips so close are as good as one.
            match strips
                .iter_mut()
                .find(|s| s.0 <= bottom + CLOSE && s.1 >= top - CLOSE)
            {
                Some(strip) => *strip = (strip.0.min(top), strip.1.max(bottom)),
                None => strips.push((top, bottom)),
            }
        }
    }

    fn is_inked(&self, area: &Area) -> bool {
        let first = (area.x0 - self.bounds.x0).floor().max(0.0) as usize;
        let last = (area.x1 - self.bounds.x0).ceil().max(0.0) as usize;
        self.ink
            .iter()
            .take(last + 1)
            .skip(first)
            .flatten()
            .any(|&(top, bottom)| top < area.y1 && bottom > area.y0)
    }

    fn is_free(&self, area: &Area) -> bool {
        let mut obstacles = self.taken.iter().chain(&self.lines);
        self.bounds.contains(area) && !obstacles.any(|t| t.overlaps(area))
    }

    /// Returns the nearest free place for a label of `width` × `height` beside `anchor`, or `None`:
    /// a label that would cover a curve or another label is better listed elsewhere.
    pub fn find(&self, anchor: (f64, f64), size: (f64, f64)) -> Option<Place> {
        self.find_towards(anchor, size, DIRECTIONS[0])
    }

    /// Returns the nearest free place, trying the direction `first` before the others.
    pub fn find_towards(
        &self,
        anchor: (f64, f64),
        (width, height): (f64, f64),
        first: (f64, f64),
    ) -> Option<Place> {
        let mut candidates = {
            DISTANCES
                .iter()
                .enumerate()
                .flat_map(move |(ring, &distance)| {
                    let directions = [first].into_iter().chain(DIRECTIONS);
                    directions.map(move |(dx, dy)| {
                        let (x, y) = (anchor.0 + dx * distance, anchor.1 + dy * distance);
                        // The label hangs from the corner or edge that faces the mark.
                        let x0 = x - width * (1.0 - side(dx)) / 2.0;
                        let y0 = y - height * (1.0 - side(dy)) / 2.0;
                        let area = Area::new(x0, y0, x0 + width, y0 + height);
                        let leader = (ring > 0).then(|| area.nearest(anchor.0, anchor.1));
                        Place { area, leader }
                    })
                })
        };
        let open = |place: &Place| {
            self.is_free(&place.area.grown(2.0))
                && place.leader.is_none_or(|end| {
                    !self
                        .taken
                        .iter()
                        .any(|t| !near(t, anchor) && t.is_crossed_by(anchor, end))
                })
        };
        candidates.find(|place| open(place) && !self.is_inked(&place.area.grown(3.0)))
    }
}

/// Returns −1, 0 or 1: which side of the anchor a label lies on.
fn side(direction: f64) -> f64 {
    if direction > 0.3 {
        1.0
    } else if direction < -0.3 {
        -1.0
    } else {
        0.0
    }
}

/// Returns whether `area` belongs to the mark at `anchor` itself.
fn near(area: &Area, anchor: (f64, f64)) -> bool {
    area.grown(2.0)
        .contains(&Area::new(anchor.0, anchor.1, anchor.0, anchor.1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_keep_clear_of_each_other_and_of_the_curve() {
        let mut ground = Ground::new(Area::new(0.0, 0.0, 600.0, 400.0));
        ground.ink_line((0.0, 200.0), (600.0, 200.0));
        let mut areas: Vec<Area> = Vec::new();
        for i in 0..6 {
            let place = ground.find((300.0 + f64::from(i), 200.0), (120.0, 16.0));
            assert!(place.is_some(), "label {i}");
            if let Some(place) = place {
                assert!(!areas.iter().any(|a| a.overlaps(&place.area)));
                assert!(place.area.y1 < 200.0 || place.area.y0 > 200.0);
                ground.take(place.area);
                areas.push(place.area);
            }
        }
    }

    #[test]
    fn no_room_is_said_so() {
        let ground = Ground::new(Area::new(0.0, 0.0, 100.0, 100.0));
        assert_eq!(ground.find((50.0, 50.0), (120.0, 16.0)), None);
    }
}
