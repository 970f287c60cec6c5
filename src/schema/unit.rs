//! What can be done with a unit of measurement; the table of units is [`super::quantity`].

use super::quantity::{Quantity, UNITS, row};
use serde::{Deserialize, Serialize};
use thiserror::Error;

pub use super::quantity::names::Unit;

/// One line of the table of units.
pub(super) struct Row {
    /// Printed symbol.
    pub symbol: &'static str,
    /// Other spellings read at the door.
    pub others: &'static [&'static str],
    /// What it measures.
    pub quantity: Quantity,
    /// `canonical = value * factor + offset`.
    pub factor: f64,
    /// See `factor`.
    pub offset: f64,
}

/// A text that names no unit of the table.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("unit `{0}` is not known; known units: {known}", known = Unit::known())]
pub struct UnknownUnit(pub String);

impl Unit {
    /// Returns every unit, in the order of the table.
    pub fn all() -> impl Iterator<Item = Unit> {
        UNITS.iter().copied()
    }

    /// Returns the unit that `text` names; white space and surrounding brackets are ignored.
    ///
    /// # Errors
    /// [`UnknownUnit`] when the closed table has no such spelling.
    pub fn parse(text: &str) -> Result<Unit, UnknownUnit> {
        let whole = text.trim();
        let bare = whole.trim_matches(|c| "[]()".contains(c)).trim();
        // A symbol may itself end with a bracket.
        [whole, bare]
            .iter()
            .find_map(|text| {
                Unit::all().find(|unit| unit.symbol() == *text || unit.row().others.contains(text))
            })
            .ok_or_else(|| UnknownUnit(bare.to_owned()))
    }

    /// Returns the printed symbol.
    pub fn symbol(self) -> &'static str {
        self.row().symbol
    }

    /// Returns what the unit measures.
    pub fn quantity(self) -> Quantity {
        self.row().quantity
    }

    /// Returns `value` of this unit in the canonical unit of its quantity.
    pub fn to_canonical(self, value: f64) -> f64 {
        let row = self.row();
        value * row.factor + row.offset
    }

    /// Returns `canonical`, a value in the quantity's canonical unit, expressed in this unit.
    pub fn from_canonical(self, canonical: f64) -> f64 {
        let row = self.row();
        (canonical - row.offset) / row.factor
    }

    /// Returns the unit all values of the same quantity are stored in.
    pub fn canonical(self) -> Unit {
        self.quantity().canonical()
    }

    fn row(self) -> Row {
        row(self)
    }

    fn known() -> String {
        let symbols: Vec<&str> = Unit::all().map(Unit::symbol).collect();
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
        for unit in Unit::all() {
            let canonical = unit.canonical();
            assert_eq!(canonical.quantity(), unit.quantity());
            assert!((canonical.to_canonical(1.7) - 1.7).abs() < 1e-15);
            assert_eq!(Unit::parse(unit.symbol()), Ok(unit));
        }
    }

    #[test]
    fn no_spelling_names_two_units() {
        let mut seen = std::collections::BTreeSet::new();
        for unit in Unit::all() {
            let row = unit.row();
            for spelling in std::iter::once(&row.symbol).chain(row.others) {
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
        // 250 km/h = 69.4 m/s; 1 bar = 100 kPa; 96 l/h = 26.67 ml/s (HANDBOOK 6.1).
        assert!((Unit::KilometrePerHour.to_canonical(250.0) - 69.444_444).abs() < 1e-6);
        assert!((Unit::Bar.to_canonical(15.0) - 1500.0).abs() < 1e-9);
        assert!((Unit::LitrePerHour.to_canonical(96.0) - 1.6).abs() < 1e-12);
    }

    #[test]
    fn an_unknown_unit_says_what_is_known() {
        let words = Unit::parse("BU").map_err(|e| e.to_string());
        assert!(words.is_err_and(|w| w.contains("`BU`") && w.contains("FU")));
    }
}
