//! Units of measurement: one closed table, one canonical unit per quantity.

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// What a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Quantity {
    /// Elapsed time.
    Time,
    /// Consistency of a mixing dough as the recorder's torque unit of ISO 5530-1 (FU).
    Consistency,
    /// A reading whose unit nobody documented.
    Arbitrary,
    /// Resistance to extension as the recorder's force unit of ISO 5530-2 (EU).
    Resistance,
    /// Length.
    Length,
    /// Area of a recorded chart.
    ChartArea,
    /// Mass.
    Mass,
    /// Volume.
    Volume,
    /// Temperature.
    Temperature,
    /// A share in percent; the basis is part of the field's or metric's name.
    Percent,
    /// Water per flour on the 14 % moisture basis.
    Absorption,
    /// Torque.
    Torque,
    /// Force.
    Force,
    /// Pressure.
    Pressure,
    /// Energy.
    Energy,
    /// Energy per mass of dough.
    SpecificEnergy,
    /// Power.
    Power,
    /// Rotational speed.
    Speed,
    /// Resistance per extension, the ratio of the extension test.
    ResistancePerLength,
    /// A count, a grade or a ratio.
    Number,
}

/// A unit of measurement known to this tool.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Unit {
    /// Second.
    Second,
    /// Minute.
    Minute,
    /// Hour.
    Hour,
    /// Consistency unit of ISO 5530-1; a different torque in a 50 g and a 300 g bowl.
    Fu,
    /// Arbitrary unit: the source documents none.
    ArbitraryUnit,
    /// Resistance unit of ISO 5530-2.
    Eu,
    /// Millimetre.
    Millimetre,
    /// Centimetre.
    Centimetre,
    /// Square centimetre.
    SquareCentimetre,
    /// Gram.
    Gram,
    /// Kilogram.
    Kilogram,
    /// Millilitre.
    Millilitre,
    /// Litre.
    Litre,
    /// Degree Celsius.
    Celsius,
    /// Degree Fahrenheit.
    Fahrenheit,
    /// Percent.
    Percent,
    /// Millilitres of water per 100 g of flour at 14 % moisture.
    MillilitrePer100Gram,
    /// Newton metre.
    NewtonMetre,
    /// Newton.
    Newton,
    /// Gram-force.
    GramForce,
    /// Kilopascal.
    Kilopascal,
    /// Millimetre of water column.
    MillimetreWater,
    /// Joule.
    Joule,
    /// Kilojoule per kilogram.
    KilojoulePerKilogram,
    /// Watt-hour per kilogram.
    WattHourPerKilogram,
    /// Watt.
    Watt,
    /// Revolutions per minute.
    PerMinute,
    /// Resistance unit of ISO 5530-2 per millimetre.
    EuPerMillimetre,
    /// A pure number.
    One,
}

/// One line of the table: unit, symbol, other spellings read at the door, quantity,
/// and `canonical = value * factor + offset`.
struct Row(
    Unit,
    &'static str,
    &'static [&'static str],
    Quantity,
    f64,
    f64,
);

const ROWS: &[Row] = &[
    Row(
        Unit::Second,
        "s",
        &["sec", "second", "seconds"],
        Quantity::Time,
        1.0,
        0.0,
    ),
    Row(
        Unit::Minute,
        "min",
        &["minute", "minutes"],
        Quantity::Time,
        60.0,
        0.0,
    ),
    Row(
        Unit::Hour,
        "h",
        &["hour", "hours"],
        Quantity::Time,
        3600.0,
        0.0,
    ),
    Row(Unit::Fu, "FU", &[], Quantity::Consistency, 1.0, 0.0),
    Row(
        Unit::ArbitraryUnit,
        "a.u.",
        &["au", "arb"],
        Quantity::Arbitrary,
        1.0,
        0.0,
    ),
    Row(Unit::Eu, "EU", &[], Quantity::Resistance, 1.0, 0.0),
    Row(Unit::Millimetre, "mm", &[], Quantity::Length, 1.0, 0.0),
    Row(Unit::Centimetre, "cm", &[], Quantity::Length, 10.0, 0.0),
    Row(
        Unit::SquareCentimetre,
        "cm²",
        &["cm2"],
        Quantity::ChartArea,
        1.0,
        0.0,
    ),
    Row(Unit::Gram, "g", &[], Quantity::Mass, 1.0, 0.0),
    Row(Unit::Kilogram, "kg", &[], Quantity::Mass, 1000.0, 0.0),
    Row(
        Unit::Millilitre,
        "ml",
        &["mL", "cm3"],
        Quantity::Volume,
        1.0,
        0.0,
    ),
    Row(Unit::Litre, "l", &["L"], Quantity::Volume, 1000.0, 0.0),
    Row(
        Unit::Celsius,
        "°C",
        &["degC", "C"],
        Quantity::Temperature,
        1.0,
        0.0,
    ),
    Row(
        Unit::Fahrenheit,
        "°F",
        &["degF", "F"],
        Quantity::Temperature,
        5.0 / 9.0,
        -160.0 / 9.0,
    ),
    Row(
        Unit::Percent,
        "%",
        &["pct", "percent"],
        Quantity::Percent,
        1.0,
        0.0,
    ),
    Row(
        Unit::MillilitrePer100Gram,
        "ml/100 g",
        &["ml/100g"],
        Quantity::Absorption,
        1.0,
        0.0,
    ),
    Row(
        Unit::NewtonMetre,
        "N m",
        &["Nm"],
        Quantity::Torque,
        1.0,
        0.0,
    ),
    Row(Unit::Newton, "N", &[], Quantity::Force, 1.0, 0.0),
    Row(
        Unit::GramForce,
        "gf",
        &[],
        Quantity::Force,
        0.009_806_65,
        0.0,
    ),
    Row(Unit::Kilopascal, "kPa", &[], Quantity::Pressure, 1.0, 0.0),
    Row(
        Unit::MillimetreWater,
        "mm H2O",
        &["mmH2O"],
        Quantity::Pressure,
        0.009_806_65,
        0.0,
    ),
    Row(Unit::Joule, "J", &[], Quantity::Energy, 1.0, 0.0),
    Row(
        Unit::KilojoulePerKilogram,
        "kJ/kg",
        &[],
        Quantity::SpecificEnergy,
        1.0,
        0.0,
    ),
    Row(
        Unit::WattHourPerKilogram,
        "Wh/kg",
        &[],
        Quantity::SpecificEnergy,
        3.6,
        0.0,
    ),
    Row(Unit::Watt, "W", &[], Quantity::Power, 1.0, 0.0),
    Row(
        Unit::PerMinute,
        "1/min",
        &["rpm"],
        Quantity::Speed,
        1.0,
        0.0,
    ),
    Row(
        Unit::EuPerMillimetre,
        "EU/mm",
        &[],
        Quantity::ResistancePerLength,
        1.0,
        0.0,
    ),
    Row(Unit::One, "1", &["-"], Quantity::Number, 1.0, 0.0),
];

/// A text that names no unit of the table.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("unit `{0}` is not known; known units: {known}", known = Unit::known())]
pub struct UnknownUnit(pub String);

impl Unit {
    /// Returns every unit, in the order of the table.
    pub fn all() -> impl Iterator<Item = Unit> {
        ROWS.iter().map(|row| row.0)
    }

    /// Returns the unit that `text` names; white space and surrounding brackets are ignored.
    ///
    /// # Errors
    /// [`UnknownUnit`] when the closed table has no such spelling.
    pub fn parse(text: &str) -> Result<Unit, UnknownUnit> {
        let bare = text.trim().trim_matches(|c| "[]()".contains(c)).trim();
        ROWS.iter()
            .find(|row| row.1 == bare || row.2.contains(&bare))
            .map(|row| row.0)
            .ok_or_else(|| UnknownUnit(bare.to_owned()))
    }

    /// Returns the printed symbol.
    pub fn symbol(self) -> &'static str {
        self.row().1
    }

    /// Returns what the unit measures.
    pub fn quantity(self) -> Quantity {
        self.row().3
    }

    /// Returns `value` of this unit in the canonical unit of its quantity.
    pub fn to_canonical(self, value: f64) -> f64 {
        let row = self.row();
        value * row.4 + row.5
    }

    /// Returns `canonical`, a value in the quantity's canonical unit, expressed in this unit.
    pub fn from_canonical(self, canonical: f64) -> f64 {
        let row = self.row();
        (canonical - row.5) / row.4
    }

    /// Returns the unit all values of the same quantity are stored in.
    pub fn canonical(self) -> Unit {
        match self.quantity() {
            Quantity::Time => Unit::Second,
            Quantity::Consistency => Unit::Fu,
            Quantity::Arbitrary => Unit::ArbitraryUnit,
            Quantity::Resistance => Unit::Eu,
            Quantity::Length => Unit::Millimetre,
            Quantity::ChartArea => Unit::SquareCentimetre,
            Quantity::Mass => Unit::Gram,
            Quantity::Volume => Unit::Millilitre,
            Quantity::Temperature => Unit::Celsius,
            Quantity::Percent => Unit::Percent,
            Quantity::Absorption => Unit::MillilitrePer100Gram,
            Quantity::Torque => Unit::NewtonMetre,
            Quantity::Force => Unit::Newton,
            Quantity::Pressure => Unit::Kilopascal,
            Quantity::Energy => Unit::Joule,
            Quantity::SpecificEnergy => Unit::KilojoulePerKilogram,
            Quantity::Power => Unit::Watt,
            Quantity::Speed => Unit::PerMinute,
            Quantity::ResistancePerLength => Unit::EuPerMillimetre,
            Quantity::Number => Unit::One,
        }
    }

    fn row(self) -> &'static Row {
        // Every unit has its row (tested below); the first row only satisfies the compiler.
        ROWS.iter().find(|row| row.0 == self).unwrap_or(&ROWS[0])
    }

    fn known() -> String {
        let symbols: Vec<&str> = ROWS.iter().map(|row| row.1).collect();
        symbols.join(", ")
    }
}

impl std::fmt::Display for Unit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.symbol())
    }
}

impl Serialize for Unit {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.symbol())
    }
}

impl<'de> Deserialize<'de> for Unit {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Unit::parse(&text).map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_unit_finds_its_own_row_and_its_canonical_unit_is_neutral() {
        for row in ROWS {
            assert_eq!(row.0.row().0, row.0);
            let canonical = row.0.canonical();
            assert_eq!(canonical.quantity(), row.3);
            assert!((canonical.to_canonical(1.7) - 1.7).abs() < 1e-15);
            assert_eq!(Unit::parse(row.1), Ok(row.0));
        }
    }

    #[test]
    fn no_spelling_names_two_units() {
        let mut seen = std::collections::BTreeSet::new();
        for row in ROWS {
            for spelling in std::iter::once(&row.1).chain(row.2) {
                assert!(seen.insert(*spelling), "{spelling} twice");
            }
        }
    }

    #[test]
    fn conversions_agree_with_their_definitions() {
        // Definitions: 1 min = 60 s; 0 °C = 32 °F; conventional mm of water = 9.80665 Pa (ISO 80000-4);
        // 1 Wh = 3.6 kJ (HANDBOOK 8.1).
        assert!((Unit::Minute.to_canonical(2.5) - 150.0).abs() < 1e-12);
        assert!(Unit::Fahrenheit.to_canonical(32.0).abs() < 1e-12);
        assert!((Unit::Fahrenheit.to_canonical(86.0) - 30.0).abs() < 1e-12);
        assert!((Unit::MillimetreWater.to_canonical(60.0) - 0.588_399).abs() < 1e-6);
        assert!((Unit::WattHourPerKilogram.to_canonical(11.0) - 39.6).abs() < 1e-12);
        assert!((Unit::Fahrenheit.from_canonical(30.0) - 86.0).abs() < 1e-12);
    }

    #[test]
    fn an_unknown_unit_says_what_is_known() {
        let words = Unit::parse("BU").map_err(|e| e.to_string());
        assert!(words.is_err_and(|w| w.contains("`BU`") && w.contains("FU")));
    }
}
