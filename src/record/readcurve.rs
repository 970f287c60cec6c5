//! A curve as derivation read it: what a chart needs to show where numbers come from.

/// The recorded signal with the lines that were drawn through it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ReadCurve {
    /// Abscissa: minutes from water contact, or millimetres from first contact of the hook.
    pub x: Vec<f64>,
    /// The recorded signal (the supplied middle trace where the file holds three).
    pub signal: Vec<f64>,
    /// Smoothed centre line.
    pub centre: Vec<f64>,
    /// Smoothed upper contour, when it can be known.
    pub upper: Option<Vec<f64>>,
    /// Smoothed lower contour, when it can be known.
    pub lower: Option<Vec<f64>>,
    /// Height of the reference line, when one applies.
    pub line: Option<f64>,
}
