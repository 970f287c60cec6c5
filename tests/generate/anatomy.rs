//! Peaks and crossings of an analytic function, found on a fine grid and then refined.

/// Grid step, min: a quarter of a second, far finer than any feature of the model.
const GRID_MIN: f64 = 0.25 / 60.0;
/// Steps of bisection: the bracket shrinks to the last bit of a double.
const BISECTIONS: usize = 60;
/// Steps of the golden-section search.
const GOLDEN_STEPS: usize = 80;
/// A valley this deep parts two peaks, FU; HANDBOOK §1.8 (choice).
const VALLEY_FU: f64 = 10.0;
/// Two peaks are at least this far apart, min; HANDBOOK §1.8 (choice).
const PEAKS_APART_MIN: f64 = 0.5;

/// A crossing of a level.
#[derive(Debug, Clone, Copy)]
pub struct Crossing {
    /// Time, min.
    pub at_min: f64,
    /// Whether the function rises through the level.
    pub rising: bool,
}

/// A maximum of a function.
#[derive(Debug, Clone, Copy)]
pub struct Maximum {
    /// Time, min; the first time where the maximum is a plateau.
    pub at_min: f64,
    /// Height.
    pub height: f64,
    /// Whether it lies at the end of the record: the function still rises there.
    pub at_end: bool,
}

/// An analytic function with its values on a grid over the record.
pub struct Grid<'a> {
    function: Box<dyn Fn(f64) -> f64 + 'a>,
    t: Vec<f64>,
    y: Vec<f64>,
}

impl<'a> Grid<'a> {
    /// Returns `function` on a grid from `first_min` to `end_min`.
    pub fn new(function: impl Fn(f64) -> f64 + 'a, first_min: f64, end_min: f64) -> Grid<'a> {
        let steps = ((end_min - first_min) / GRID_MIN).floor() as usize;
        let mut t: Vec<f64> = (0..=steps)
            .map(|i| first_min + GRID_MIN * i as f64)
            .collect();
        if t.last().is_some_and(|last| end_min - last > 1e-9) {
            t.push(end_min);
        }
        let y = t.iter().map(|t| function(*t)).collect();
        Grid {
            function: Box::new(function),
            t,
            y,
        }
    }

    /// Returns the value at the first grid point.
    pub fn first(&self) -> f64 {
        self.y.first().copied().unwrap_or(f64::NAN)
    }

    /// Returns the value at the end of the record.
    pub fn last(&self) -> f64 {
        self.y.last().copied().unwrap_or(f64::NAN)
    }

    /// Returns the value at `t_min`.
    pub fn at(&self, t_min: f64) -> f64 {
        (self.function)(t_min)
    }

    /// Returns the greatest value from `from_min` on.
    pub fn maximum_from(&self, from_min: f64) -> Maximum {
        let start = self.t.partition_point(|t| *t < from_min);
        let mut best = start.min(self.y.len() - 1);
        for i in start..self.y.len() {
            if self.y[i] > self.y[best] {
                best = i;
            }
        }
        let last = self.y.len() - 1;
        if best == last {
            return Maximum {
                at_min: self.t[last],
                height: self.y[last],
                at_end: true,
            };
        }
        let (at_min, height) = self.refine(best);
        Maximum {
            at_min,
            height,
            at_end: false,
        }
    }

    /// Golden-section search between the neighbours of grid point `best`.
    fn refine(&self, best: usize) -> (f64, f64) {
        let ratio = (5.0_f64.sqrt() - 1.0) / 2.0;
        let (mut low, mut high) = (self.t[best.saturating_sub(1)], self.t[best + 1]);
        for _ in 0..GOLDEN_STEPS {
            let left = high - ratio * (high - low);
            let right = low + ratio * (high - low);
            // On a tie the left part is kept: of a plateau, its first point counts.
            if self.at(left) >= self.at(right) {
                high = right;
            } else {
                low = left;
            }
        }
        let at = 0.5 * (low + high);
        (at, self.at(at).max(self.y[best]))
    }

    /// Returns every crossing of `level`, in order.
    pub fn crossings(&self, level: f64) -> Vec<Crossing> {
        let mut found = Vec::new();
        for i in 1..self.t.len() {
            let (before, after) = (self.y[i - 1] >= level, self.y[i] >= level);
            if before != after {
                found.push(Crossing {
                    at_min: self.bisect(level, self.t[i - 1], self.t[i]),
                    rising: after,
                });
            }
        }
        found
    }

    fn bisect(&self, level: f64, low: f64, high: f64) -> f64 {
        let (mut low, mut high) = (low, high);
        let low_above = self.at(low) >= level;
        for _ in 0..BISECTIONS {
            let middle = 0.5 * (low + high);
            if (self.at(middle) >= level) == low_above {
                low = middle;
            } else {
                high = middle;
            }
        }
        0.5 * (low + high)
    }

    /// Returns the valley before the last of several peaks, if there is more than one peak;
    /// HANDBOOK §1.8: valley at least 10 FU deep, peaks at least 0.5 min apart.
    pub fn last_valley_min(&self) -> Option<f64> {
        let (mut top, mut bottom) = (0, 0);
        let mut falling = false;
        let mut valley = None;
        for i in 0..self.y.len() {
            if falling {
                if self.y[i] < self.y[bottom] {
                    bottom = i;
                }
                if self.y[i] >= self.y[bottom] + VALLEY_FU {
                    valley = Some((top, bottom));
                    (top, falling) = (i, false);
                }
            } else {
                if self.y[i] > self.y[top] {
                    top = i;
                }
                if self.y[i] <= self.y[top] - VALLEY_FU {
                    (bottom, falling) = (i, true);
                }
            }
        }
        let (first_peak, bottom) = valley?;
        let second = self.maximum_from(self.t[bottom]).at_min;
        (second - self.t[first_peak] >= PEAKS_APART_MIN).then_some(self.t[bottom])
    }
}
