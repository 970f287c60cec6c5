//! What a column of a curve means.

use super::quantity::Quantity;
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
    /// Volume of air blown into a bubble, in millilitres.
    VolumeMl,
    /// Travel of a compressing probe in millimetres.
    ProbeTravelMm,
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
    /// Temperature of the block that heats or cools the bowl.
    BlockTemperature,
    /// Torque on the tool, where the signal is something else.
    Torque,
    /// Electric or mechanical power.
    Power,
    /// Speed of the tool.
    Speed,
    /// Pressure before the nozzle.
    PumpPressure,
    /// Volume of water per time.
    WaterFlow,
    /// Mass of flour per time.
    FlourFlow,
    /// Speed of the jet.
    JetSpeed,
}

impl Channel {
    /// Returns whether the channel goes beside the curve and may miss points that it has.
    pub fn goes_beside(self) -> bool {
        matches!(self, Channel::Temperature | Channel::BlockTemperature)
    }

    /// Returns the quantities it can be recorded in.
    pub fn quantities(self) -> &'static [Quantity] {
        match self {
            Channel::Signal | Channel::Upper | Channel::Middle | Channel::Lower => &[
                Quantity::Consistency,
                Quantity::Arbitrary,
                Quantity::Resistance,
                Quantity::Torque,
                Quantity::Force,
                Quantity::Power,
                Quantity::Pressure,
                Quantity::Length,
                Quantity::Percent,
                Quantity::Mass,
            ],
            Channel::Temperature | Channel::BlockTemperature => &[Quantity::Temperature],
            Channel::Torque => &[Quantity::Torque],
            Channel::Power => &[Quantity::Power],
            Channel::Speed => &[Quantity::Speed],
            Channel::PumpPressure => &[Quantity::Pressure],
            Channel::WaterFlow => &[Quantity::VolumeFlow],
            Channel::FlourFlow => &[Quantity::MassFlow],
            Channel::JetSpeed => &[Quantity::Velocity],
        }
    }

    /// Returns the word stored in the curves table.
    pub fn word(self) -> &'static str {
        match self {
            Channel::Signal => "signal",
            Channel::Upper => "upper",
            Channel::Middle => "middle",
            Channel::Lower => "lower",
            Channel::Temperature => "temperature",
            Channel::BlockTemperature => "block-temperature",
            Channel::Torque => "torque",
            Channel::Power => "power",
            Channel::Speed => "speed",
            Channel::PumpPressure => "pump-pressure",
            Channel::WaterFlow => "water-flow",
            Channel::FlourFlow => "flour-flow",
            Channel::JetSpeed => "jet-speed",
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
            Axis::VolumeMl => "volume-ml",
            Axis::ProbeTravelMm => "probe-travel-mm",
        }
    }
}
