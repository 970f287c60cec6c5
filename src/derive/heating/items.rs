//! Every number read from the smoothed centre, in one pass, so that it can be read again from a
//! centre with other noise.

use super::settings::Settings;
use crate::numerics::{argmax, first_fall_below_for, first_rise_above_for, fit_line, value_at};

/// One of the five points of the curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Point {
    /// First maximum, in the constant phase.
    C1,
    /// Minimum before the gelatinisation.
    C2,
    /// Maximum of the gelatinisation.
    C3,
    /// Minimum before the cooling.
    C4,
    /// End of the test.
    C5,
}

impl Point {
    /// Every point, in order.
    pub const ALL: [Point; 5] = [Point::C1, Point::C2, Point::C3, Point::C4, Point::C5];

    /// Returns its name.
    pub fn name(self) -> &'static str {
        ["C1", "C2", "C3", "C4", "C5"][self as usize]
    }
}

/// A stretch of the curve whose slope is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limb {
    /// From the end of the constant phase to C2.
    Alpha,
    /// From C2 to C3.
    Beta,
    /// From C3 to C4.
    Gamma,
}

/// How a slope is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SlopeReading {
    /// Line of least squares through the middle of the stretch.
    Regression,
    /// From one end of the stretch to the other.
    Chord,
    /// Steepest of short lines.
    GreatestDerivative,
}

/// A number read from the lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Item {
    /// Height of a point, N m.
    Height(Point),
    /// Time of a point, s.
    Time(Point),
    /// Height at the end of the constant phase, N m.
    Cs,
    /// First height minus second height, N m.
    Difference(Point, Point),
    /// When the centre rises to the level of the stability, s.
    Rise,
    /// When it falls below it, s.
    Fall,
    /// Time between the two, s.
    Stability,
    /// Slope of a limb, N m/min.
    Slope(Limb, SlopeReading),
    /// Band width at C1, N m.
    Amplitude,
}

/// Every item, in the order in which they are read.
pub const ITEMS: [Item; 28] = {
    use Item::{Amplitude, Cs, Difference, Fall, Height, Rise, Slope, Stability, Time};
    use Limb::{Alpha, Beta, Gamma};
    use Point::{C1, C2, C3, C4, C5};
    use SlopeReading::{Chord, GreatestDerivative, Regression};
    [
        Height(C1),
        Height(C2),
        Height(C3),
        Height(C4),
        Height(C5),
        Time(C1),
        Time(C2),
        Time(C3),
        Time(C4),
        Time(C5),
        Cs,
        Difference(C1, C2),
        Difference(C3, C2),
        Difference(C3, C4),
        Difference(C5, C4),
        Rise,
        Fall,
        Stability,
        Slope(Alpha, Regression),
        Slope(Alpha, Chord),
        Slope(Alpha, GreatestDerivative),
        Slope(Beta, Regression),
        Slope(Beta, Chord),
        Slope(Beta, GreatestDerivative),
        Slope(Gamma, Regression),
        Slope(Gamma, Chord),
        Slope(Gamma, GreatestDerivative),
        Amplitude,
    ]
};

impl Item {
    /// Returns its place among [`ITEMS`].
    pub fn place(self) -> Option<usize> {
        ITEMS.iter().position(|item| *item == self)
    }
}

/// Smoothed lines over one abscissa, with the points found on them.
pub(super) struct Lines<'a> {
    /// Seconds from the start.
    t: &'a [f64],
    /// Smoothed centre.
    centre: &'a [f64],
    /// Centre that lines are fitted to: before smoothing, which a line does not need.
    unsmoothed: &'a [f64],
    /// Upper and lower contour, where they are known.
    band: Option<(&'a [f64], &'a [f64])>,
    settings: &'a Settings,
    /// Index of each point found.
    points: [Option<usize>; 5],
}

impl<'a> Lines<'a> {
    /// Returns the lines, of a centre smoothed and before smoothing, with their points.
    pub fn of(
        t: &'a [f64],
        (centre, unsmoothed): (&'a [f64], &'a [f64]),
        band: Option<(&'a [f64], &'a [f64])>,
        settings: &'a Settings,
    ) -> Lines<'a> {
        let mut lines = Lines {
            t,
            centre,
            unsmoothed,
            band,
            settings,
            points: [None; 5],
        };
        lines.points = lines.find_points();
        lines
    }

    /// First index at or after `min` minutes.
    fn index_at(&self, min: f64) -> usize {
        self.t.partition_point(|t| *t < 60.0 * min - 1e-9)
    }

    /// Returns the index of a point, where the record shows it.
    pub fn index_of(&self, point: Point) -> Option<usize> {
        self.points[point as usize]
    }

    fn find_points(&self) -> [Option<usize>; 5] {
        let s = self.settings;
        let (constant, hot) = (
            self.index_at(s.constant_end_min),
            self.index_at(s.hot_end_min),
        );
        let n = self.t.len();
        let first = argmax(self.centre, 0..(constant + 1).min(n), |i| self.t[i] >= 0.0);
        // A record that ends before the hot phase may not have come to its maximum.
        let rise = (hot < n).then(|| greatest_rise(self.centre, constant..hot + 1));
        let rise = rise
            .flatten()
            .filter(|(low, high)| self.centre[*high] - self.centre[*low] >= s.least_change_nm);
        let (second, third) = rise.unzip();
        let guard = 60.0 * s.hot_end_min - s.end_guard_s;
        let fourth = third.filter(|i| self.t[*i] <= guard).and_then(|from| {
            let down: Vec<f64> = self.centre[from..=hot].iter().map(|v| -v).collect();
            argmax(&down, 0..down.len(), |_| true).map(|i| from + i)
        });
        let last = self.t.last().copied().unwrap_or(0.0);
        let fifth = (last >= 60.0 * s.end_min - s.end_slack_s)
            .then(|| self.index_at(s.end_min).min(n.saturating_sub(1)));
        [first, second, third, fourth, fifth]
    }

    /// Returns every item, in the order of [`ITEMS`]; `None` where the lines do not show it.
    pub fn read(&self) -> Vec<Option<f64>> {
        let fall = self.stability();
        ITEMS
            .iter()
            .map(|item| match *item {
                Item::Height(point) => self.height(point),
                Item::Time(point) => self.index_of(point).map(|i| self.t[i]),
                Item::Cs => self.at(60.0 * self.settings.constant_end_min),
                Item::Difference(a, b) => Some(self.height(a)? - self.height(b)?),
                Item::Rise => fall.0,
                Item::Fall => fall.1,
                Item::Stability => Some(fall.1? - fall.0?),
                Item::Slope(limb, reading) => self.slope(limb, reading),
                Item::Amplitude => self.amplitude(),
            })
            .collect()
    }

    fn height(&self, point: Point) -> Option<f64> {
        self.index_of(point).map(|i| self.centre[i])
    }

    fn at(&self, at_s: f64) -> Option<f64> {
        value_at(self.t, self.centre, at_s)
    }

    /// First rise to the level of the stability and first fall below it after that, s.
    fn stability(&self) -> (Option<f64>, Option<f64>) {
        let (Some(top), hold) = (self.index_of(Point::C1), self.settings.hold_s) else {
            return (None, None);
        };
        let level = self.settings.stability_share * self.centre[top];
        let from = self.t.partition_point(|t| *t < 0.0);
        let rise = first_rise_above_for(self.t, self.centre, level, from, hold);
        let after = rise.map_or(from, |crossing| crossing.index + 1);
        let fall = first_fall_below_for(self.t, self.centre, level, after, hold);
        (rise.map(|c| c.at), fall.map(|c| c.at))
    }

    /// Returns the ends of a limb, s.
    pub fn limb(&self, limb: Limb) -> Option<(f64, f64)> {
        let time = |point| self.index_of(point).map(|i| self.t[i]);
        let (from, to) = match limb {
            Limb::Alpha => (60.0 * self.settings.constant_end_min, time(Point::C2)?),
            Limb::Beta => (time(Point::C2)?, time(Point::C3)?),
            Limb::Gamma => (time(Point::C3)?, time(Point::C4)?),
        };
        (to > from).then_some((from, to))
    }

    fn slope(&self, limb: Limb, reading: SlopeReading) -> Option<f64> {
        let (from, to) = self.limb(limb)?;
        match reading {
            SlopeReading::Chord => Some(60.0 * (self.at(to)? - self.at(from)?) / (to - from)),
            SlopeReading::Regression => {
                let cut = 0.5 * (1.0 - self.settings.central_share) * (to - from);
                self.line_slope(from + cut, to - cut)
            }
            SlopeReading::GreatestDerivative => self.greatest_derivative(from, to),
        }
    }

    /// Slope of the line of least squares through the centre from `from` to `to` s, per min.
    fn line_slope(&self, from: f64, to: f64) -> Option<f64> {
        let begin = self.t.partition_point(|t| *t < from - 1e-9);
        let end = self.t.partition_point(|t| *t <= to + 1e-9);
        fit_line(&self.t[begin..end], &self.unsmoothed[begin..end]).map(|line| 60.0 * line.slope)
    }

    /// Slope of the steepest of the lines of fixed length that lie within the stretch and point the
    /// way it goes, per min.
    fn greatest_derivative(&self, from: f64, to: f64) -> Option<f64> {
        let length = self.settings.derivative_window_s;
        let direction = (self.at(to)? - self.at(from)?).signum();
        let starts = self.t.partition_point(|t| *t < from)..;
        starts
            .map_while(|i| self.t.get(i).copied())
            .take_while(|start| start + length <= to + 1e-9)
            .step_by(self.derivative_stride())
            .filter_map(|start| self.line_slope(start, start + length))
            .max_by(|a, b| (direction * a).total_cmp(&(direction * b)))
    }

    /// Readings between two lines that are tried: three seconds hardly change a line of a minute.
    fn derivative_stride(&self) -> usize {
        let span = self
            .t
            .last()
            .zip(self.t.first())
            .map_or(0.0, |(b, a)| b - a);
        let step = span / self.t.len().saturating_sub(1).max(1) as f64;
        (3.0 / step.max(1e-6)).floor().max(1.0) as usize
    }

    fn amplitude(&self) -> Option<f64> {
        let (upper, lower) = self.band?;
        let at = self.index_of(Point::C1)?;
        Some(upper.get(at)? - lower.get(at)?)
    }
}

/// Returns the indices of the two ends of the greatest rise of `y` within `range`: no earlier value
/// and later value differ by more.
fn greatest_rise(y: &[f64], range: std::ops::Range<usize>) -> Option<(usize, usize)> {
    let mut lowest = range.start;
    let mut best: Option<(usize, usize)> = None;
    for i in range.start..range.end.min(y.len()) {
        if y[i] < y[lowest] {
            lowest = i;
        }
        if i > lowest && best.is_none_or(|(low, high)| y[i] - y[lowest] > y[high] - y[low]) {
            best = Some((lowest, i));
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_item_has_one_place() {
        for (place, item) in ITEMS.iter().enumerate() {
            assert_eq!(item.place(), Some(place), "{item:?}");
        }
    }

    #[test]
    fn the_greatest_rise_is_not_led_astray_by_a_deeper_end() {
        // A dough of much amylase: the end of the hot phase lies below the first minimum.
        let y = [9.0, 5.0, 4.0, 8.0, 7.0, 3.0, 3.5];
        assert_eq!(greatest_rise(&y, 0..7), Some((2, 3)));
        assert_eq!(greatest_rise(&[3.0, 2.0, 1.0], 0..3), None);
        assert_eq!(greatest_rise(&[], 0..0), None);
    }
}
