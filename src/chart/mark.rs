//! Metrics shown where they were read on a curve.

use super::Bound;

/// Where and how a metric was read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MarkShape {
    /// A value at one point of the curve.
    Point {
        /// Time, min.
        x_min: f64,
        /// Value, unit of the ordinate.
        y: f64,
    },
    /// A time counted from time zero.
    Time {
        /// Time, min.
        x_min: f64,
        /// Height of the curve there, unit of the ordinate.
        y: f64,
    },
    /// A duration between two times.
    Span {
        /// Begin, min.
        from_min: f64,
        /// End, min.
        to_min: f64,
        /// Height at which both were read, unit of the ordinate.
        y: f64,
    },
    /// A difference between two heights at one time, such as a softening.
    Drop {
        /// Time, min.
        x_min: f64,
        /// Height it starts from, unit of the ordinate.
        from: f64,
        /// Height it ends at, unit of the ordinate.
        to: f64,
    },
    /// The width of the band at one time.
    Width {
        /// Time, min.
        x_min: f64,
        /// Lower contour there, unit of the ordinate.
        lower: f64,
        /// Upper contour there, unit of the ordinate.
        upper: f64,
    },
    /// A slope, drawn as a straight line over the window that it was fitted in.
    Slope {
        /// Middle of the window, min.
        x_min: f64,
        /// Height of the line there, unit of the ordinate.
        y: f64,
        /// Slope, unit of the ordinate per minute.
        per_min: f64,
        /// Half the window, min.
        half_min: f64,
    },
}

/// A metric shown where it was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Where and how.
    pub shape: MarkShape,
    /// What is printed: name, value, unit, uncertainty.
    pub label: String,
    /// Whether the true value lies beyond.
    pub bound: Bound,
}

/// A horizontal line to compare with, such as 500 FU.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    /// Height, unit of the ordinate.
    pub value: f64,
    /// What is printed at its right end.
    pub label: String,
}

impl Mark {
    /// Returns the times and heights that the mark touches.
    pub(super) fn extent(&self) -> (Vec<f64>, Vec<f64>) {
        match self.shape {
            MarkShape::Point { x_min, y } | MarkShape::Time { x_min, y } => (vec![x_min], vec![y]),
            MarkShape::Span {
                from_min,
                to_min,
                y,
            } => (vec![from_min, to_min], vec![y]),
            MarkShape::Drop { x_min, from, to } => (vec![x_min], vec![from, to]),
            MarkShape::Width {
                x_min,
                lower,
                upper,
            } => (vec![x_min], vec![lower, upper]),
            MarkShape::Slope {
                x_min,
                y,
                per_min,
                half_min,
            } => (
                vec![x_min - half_min, x_min + half_min],
                vec![y - per_min * half_min, y + per_min * half_min],
            ),
        }
    }
}
