//! Every number read from smoothed lines, in one pass, so that it can be read again from lines with
//! other noise.

use super::settings::Settings;
use crate::numerics::{area_between, argmax, fit_line, value_at};

/// A number read from the lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Item {
    /// Time of the centre's maximum, s.
    CentreTime,
    /// Its height.
    CentreHeight,
    /// Band width there.
    CentreWidth,
    /// Time of the upper contour's maximum, s.
    EdgeTime,
    /// Its height.
    EdgeHeight,
    /// Band width there.
    EdgeWidth,
    /// Slope of the line through the minute before the centre peak, per min.
    Before1,
    /// Slope of the line through the two minutes before it.
    Before2,
    /// Slope of the chord over the minute before it.
    BeforeChord,
    /// Slope of the line through the minute after the centre peak, per min.
    After1,
    /// Slope of the line through the two minutes after it.
    After2,
    /// Slope of the chord over the minute after it.
    AfterChord,
    /// Band width at the fixed time.
    WidthFixed,
    /// Band width at the fixed time after the centre peak.
    WidthAfterPeak,
    /// Area under the centre to its peak, times min.
    AreaToPeak,
    /// Area under the centre to the end of the record, times min.
    AreaToEnd,
}

/// Number of items.
pub const ITEMS: usize = Item::AreaToEnd as usize + 1;

/// Smoothed lines over one abscissa.
pub(super) struct Lines<'a> {
    /// Seconds from water contact.
    pub t: &'a [f64],
    /// Centre.
    pub centre: &'a [f64],
    /// Upper and lower contour, where they are known.
    pub band: Option<(&'a [f64], &'a [f64])>,
}

impl Lines<'_> {
    /// Returns the index of the maximum of `line` after wetting.
    pub fn peak_of(&self, line: &[f64], settings: &Settings) -> Option<usize> {
        let start = self.t.partition_point(|t| *t < settings.wetting_s);
        argmax(line, start..self.t.len(), |_| true)
    }

    /// Returns every item, in their order; `None` where the lines do not show it.
    pub fn read(&self, settings: &Settings) -> Vec<Option<f64>> {
        let mut found = vec![None; ITEMS];
        let mut put = |item: Item, value: Option<f64>| found[item as usize] = value;
        let end = self.t.last().copied().unwrap_or(0.0);
        put(
            Item::AreaToEnd,
            Some(area_between(self.t, self.centre, 0.0, end) / 60.0),
        );
        put(
            Item::WidthFixed,
            self.width_at(60.0 * settings.width_at_min),
        );
        if let Some((upper, _)) = self.band {
            let edge = self.peak_of(upper, settings);
            put(Item::EdgeTime, edge.map(|i| self.t[i]));
            put(Item::EdgeHeight, edge.map(|i| upper[i]));
            put(Item::EdgeWidth, edge.and_then(|i| self.width_at(self.t[i])));
        }
        let Some(peak) = self.peak_of(self.centre, settings) else {
            return found;
        };
        let tp = self.t[peak];
        put(Item::CentreTime, Some(tp));
        put(Item::CentreHeight, Some(self.centre[peak]));
        put(Item::CentreWidth, self.width_at(tp));
        put(
            Item::WidthAfterPeak,
            self.width_at(tp + 60.0 * settings.width_after_peak_min),
        );
        put(
            Item::AreaToPeak,
            Some(area_between(self.t, self.centre, 0.0, tp) / 60.0),
        );
        let from = settings.wetting_s;
        put(Item::Before1, self.slope((tp - 60.0, tp), from));
        put(Item::Before2, self.slope((tp - 120.0, tp), from));
        put(Item::BeforeChord, self.chord((tp - 60.0, tp), from));
        put(Item::After1, self.slope((tp, tp + 60.0), from));
        put(Item::After2, self.slope((tp, tp + 120.0), from));
        put(Item::AfterChord, self.chord((tp, tp + 60.0), from));
        found
    }

    fn width_at(&self, at_s: f64) -> Option<f64> {
        let (upper, lower) = self.band?;
        Some(value_at(self.t, upper, at_s)? - value_at(self.t, lower, at_s)?)
    }

    fn reaches(&self, (from, to): (f64, f64), earliest: f64) -> bool {
        from >= earliest && self.t.last().is_some_and(|end| to <= *end)
    }

    /// Slope of the line of least squares through the centre within the stretch, per min.
    fn slope(&self, stretch: (f64, f64), earliest: f64) -> Option<f64> {
        if !self.reaches(stretch, earliest) {
            return None;
        }
        let from = self.t.partition_point(|t| *t < stretch.0 - 1e-9);
        let to = self.t.partition_point(|t| *t <= stretch.1 + 1e-9);
        fit_line(&self.t[from..to], &self.centre[from..to]).map(|line| 60.0 * line.slope)
    }

    /// Slope from one end of the stretch to the other, per min.
    fn chord(&self, stretch: (f64, f64), earliest: f64) -> Option<f64> {
        if !self.reaches(stretch, earliest) {
            return None;
        }
        let rise =
            value_at(self.t, self.centre, stretch.1)? - value_at(self.t, self.centre, stretch.0)?;
        Some(60.0 * rise / (stretch.1 - stretch.0))
    }
}
