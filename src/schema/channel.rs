//! What a column of a curve means.

use serde::{Deserialize, Serialize};

/// What the abscissa of a curve counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Axis {
    /// Seconds since the instrument's own time zero.
    Time,
    /// Chart millimetres of an extension test.
    ChartMm,
    /// Hook travel in millimetres of an extension test.
    HookTravelMm,
}

/// What an ordinate of a curve is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Channel {
    /// The recorded signal itself.
    Signal,
    /// The upper contour, as supplied by the file.
    Upper,
    /// The middle of the band, as supplied by the file.
    Middle,
    /// The lower contour, as supplied by the file.
    Lower,
    /// Temperature of dough or thermostat.
    Temperature,
}

impl Channel {
    /// Returns the word stored in the curves table.
    pub fn word(self) -> &'static str {
        match self {
            Channel::Signal => "signal",
            Channel::Upper => "upper",
            Channel::Middle => "middle",
            Channel::Lower => "lower",
            Channel::Temperature => "temperature",
        }
    }
}

impl Axis {
    /// Returns the word stored in the curves table.
    pub fn word(self) -> &'static str {
        match self {
            Axis::Time => "time",
            Axis::ChartMm => "chart-mm",
            Axis::HookTravelMm => "hook-travel-mm",
        }
    }
}
