//! Quantities and units: two closed tables, one canonical unit per quantity.

use super::unit::{Row, Unit};

macro_rules! quantities {
    ($($(#[doc = $doc:literal])+ $name:ident => $canonical:ident;)+) => {
        /// What a unit measures.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Quantity {
            $($(#[doc = $doc])+ $name,)+
        }

        impl Quantity {
            /// Returns the unit that all values of the quantity are stored in.
            pub fn canonical(self) -> Unit {
                match self { $(Quantity::$name => Unit::$canonical,)+ }
            }
        }
    };
}

quantities! {
    /// Elapsed time.
    Time => Second;
    /// Consistency of a mixing dough as the recorder's torque unit of ISO 5530-1 (FU).
    Consistency => Fu;
    /// A reading whose unit nobody documented.
    Arbitrary => ArbitraryUnit;
    /// Resistance to extension as the recorder's force unit of ISO 5530-2 (EU).
    Resistance => Eu;
    /// Length.
    Length => Millimetre;
    /// Area of a recorded chart.
    ChartArea => SquareCentimetre;
    /// Mass.
    Mass => Gram;
    /// Volume.
    Volume => Millilitre;
    /// Temperature.
    Temperature => Celsius;
    /// A share in percent; the basis is part of the field's or metric's name.
    Percent => Percent;
    /// Water per flour on the 14 % moisture basis.
    Absorption => MillilitrePer100Gram;
    /// Torque.
    Torque => NewtonMetre;
    /// Force.
    Force => Newton;
    /// Pressure.
    Pressure => Kilopascal;
    /// Energy.
    Energy => Joule;
    /// Energy per mass of dough.
    SpecificEnergy => KilojoulePerKilogram;
    /// Power.
    Power => Watt;
    /// Rotational speed.
    Speed => PerMinute;
    /// Resistance per extension, the ratio of the extension test.
    ResistancePerLength => EuPerMillimetre;
    /// Area of a surface or cross-section.
    Area => SquareMillimetre;
    /// Speed along a line.
    Velocity => MetrePerSecond;
    /// Volume per time.
    VolumeFlow => LitrePerMinute;
    /// Mass per time.
    MassFlow => KilogramPerMinute;
    /// A difference of temperatures.
    TemperatureDifference => Kelvin;
    /// Torque per time.
    TorquePerTime => NewtonMetrePerMinute;
    /// Torque times time.
    TorqueTime => NewtonMetreMinute;
    /// Percent per time.
    PercentPerTime => PercentPerMinute;
    /// Percent times time.
    PercentTime => PercentMinute;
    /// Force times length, as the area under a force-distance curve.
    ForceLength => NewtonMillimetre;
    /// Force per time, such as the rate of firming.
    ForcePerTime => NewtonPerDay;
    /// A rate: one per time.
    Rate => PerSecond;
    /// Volume per mass.
    SpecificVolume => MillilitrePerGram;
    /// Mass per volume.
    Density => GramPerMillilitre;
    /// Energy per mass and temperature.
    SpecificHeat => KilojoulePerKilogramKelvin;
    /// Area per time: a diffusion coefficient.
    Diffusivity => SquareMetrePerSecond;
    /// Square root of a volume: the swelling index of the bubble test.
    RootVolume => RootMillilitre;
    /// Time per percent: a constant of an uptake law.
    TimePerPercent => MinutePerPercent;
    /// One per percent: a constant of an uptake law.
    PerPercent => PerPercent;
    /// Percent per square root of time.
    PercentPerRootTime => PercentPerRootMinute;
    /// A count, a grade or a ratio.
    Number => One;
}

macro_rules! units {
    ($($(#[doc = $doc:literal])+ $name:ident => $symbol:literal, $others:expr, $quantity:ident, $factor:expr, $offset:expr;)+) => {
        /// Every unit, in the order of the list.
        pub(super) const UNITS: &[Unit] = &[$(Unit::$name,)+];

        /// Returns the line of the table for `unit`.
        pub(super) const fn row(unit: Unit) -> Row {
            match unit {
                $(Unit::$name => Row {
                    symbol: $symbol,
                    others: $others,
                    quantity: Quantity::$quantity,
                    factor: $factor,
                    offset: $offset,
                },)+
            }
        }

        pub(super) mod names {
            /// A unit of measurement known to this tool.
            #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
            pub enum Unit {
                $($(#[doc = $doc])+ $name,)+
            }
        }
    };
}

// Unit, symbol, other spellings read at the door, quantity, and
// `canonical = value * factor + offset`.
units! {
    /// Second.
    Second => "s", &["sec", "second", "seconds"], Time, 1.0, 0.0;
    /// Minute.
    Minute => "min", &["minute", "minutes"], Time, 60.0, 0.0;
    /// Hour.
    Hour => "h", &["hour", "hours"], Time, 3600.0, 0.0;
    /// Consistency unit of ISO 5530-1; a different torque in a 50 g and a 300 g bowl.
    Fu => "FU", &[], Consistency, 1.0, 0.0;
    /// Arbitrary unit: the source documents none.
    ArbitraryUnit => "a.u.", &["au", "arb"], Arbitrary, 1.0, 0.0;
    /// Resistance unit of ISO 5530-2.
    Eu => "EU", &[], Resistance, 1.0, 0.0;
    /// Millimetre.
    Millimetre => "mm", &[], Length, 1.0, 0.0;
    /// Centimetre.
    Centimetre => "cm", &[], Length, 10.0, 0.0;
    /// Square centimetre.
    SquareCentimetre => "cm²", &["cm2"], ChartArea, 1.0, 0.0;
    /// Gram.
    Gram => "g", &[], Mass, 1.0, 0.0;
    /// Kilogram.
    Kilogram => "kg", &[], Mass, 1000.0, 0.0;
    /// Millilitre.
    Millilitre => "ml", &["mL", "cm3"], Volume, 1.0, 0.0;
    /// Litre.
    Litre => "l", &["L"], Volume, 1000.0, 0.0;
    /// Degree Celsius.
    Celsius => "°C", &["degC", "C"], Temperature, 1.0, 0.0;
    /// Degree Fahrenheit.
    Fahrenheit => "°F", &["degF", "F"], Temperature, 5.0 / 9.0, -160.0 / 9.0;
    /// Percent.
    Percent => "%", &["pct", "percent"], Percent, 1.0, 0.0;
    /// Millilitres of water per 100 g of flour at 14 % moisture.
    MillilitrePer100Gram => "ml/100 g", &["ml/100g"], Absorption, 1.0, 0.0;
    /// Newton metre.
    NewtonMetre => "N m", &["Nm"], Torque, 1.0, 0.0;
    /// Newton.
    Newton => "N", &[], Force, 1.0, 0.0;
    /// Gram-force.
    GramForce => "gf", &[], Force, 0.009_806_65, 0.0;
    /// Kilopascal.
    Kilopascal => "kPa", &[], Pressure, 1.0, 0.0;
    /// Millimetre of water column.
    MillimetreWater => "mm H2O", &["mmH2O"], Pressure, 0.009_806_65, 0.0;
    /// Joule.
    Joule => "J", &[], Energy, 1.0, 0.0;
    /// Kilojoule per kilogram.
    KilojoulePerKilogram => "kJ/kg", &[], SpecificEnergy, 1.0, 0.0;
    /// Watt-hour per kilogram.
    WattHourPerKilogram => "Wh/kg", &[], SpecificEnergy, 3.6, 0.0;
    /// Watt.
    Watt => "W", &[], Power, 1.0, 0.0;
    /// Revolutions per minute.
    PerMinute => "1/min", &["rpm"], Speed, 1.0, 0.0;
    /// Resistance unit of ISO 5530-2 per millimetre.
    EuPerMillimetre => "EU/mm", &[], ResistancePerLength, 1.0, 0.0;
    /// Day.
    Day => "d", &["day", "days"], Time, 86_400.0, 0.0;
    /// Square millimetre.
    SquareMillimetre => "mm²", &["mm2"], Area, 1.0, 0.0;
    /// Millimetre per second.
    MillimetrePerSecond => "mm/s", &[], Velocity, 0.001, 0.0;
    /// Metre per second.
    MetrePerSecond => "m/s", &[], Velocity, 1.0, 0.0;
    /// Kilometre per hour.
    KilometrePerHour => "km/h", &[], Velocity, 1.0 / 3.6, 0.0;
    /// Litre per minute.
    LitrePerMinute => "l/min", &["L/min"], VolumeFlow, 1.0, 0.0;
    /// Litre per hour.
    LitrePerHour => "l/h", &["L/h"], VolumeFlow, 1.0 / 60.0, 0.0;
    /// Kilogram per minute.
    KilogramPerMinute => "kg/min", &[], MassFlow, 1.0, 0.0;
    /// Kilogram per hour.
    KilogramPerHour => "kg/h", &[], MassFlow, 1.0 / 60.0, 0.0;
    /// Kelvin, for differences of temperature.
    Kelvin => "K", &[], TemperatureDifference, 1.0, 0.0;
    /// Bar.
    Bar => "bar", &[], Pressure, 100.0, 0.0;
    /// Pascal.
    Pascal => "Pa", &[], Pressure, 0.001, 0.0;
    /// Newton metre per minute.
    NewtonMetrePerMinute => "N m/min", &["Nm/min"], TorquePerTime, 1.0, 0.0;
    /// Newton metre times minute.
    NewtonMetreMinute => "N m min", &["Nm min"], TorqueTime, 1.0, 0.0;
    /// Percent (of full scale, or of dry mass) per minute.
    PercentPerMinute => "%/min", &[], PercentPerTime, 1.0, 0.0;
    /// Percent of full scale times minute.
    PercentMinute => "% min", &[], PercentTime, 1.0, 0.0;
    /// Newton times millimetre.
    NewtonMillimetre => "N mm", &["Nmm"], ForceLength, 1.0, 0.0;
    /// Newton per day.
    NewtonPerDay => "N/d", &[], ForcePerTime, 1.0, 0.0;
    /// One per second.
    PerSecond => "1/s", &[], Rate, 1.0, 0.0;
    /// One per day.
    PerDay => "1/d", &[], Rate, 1.0 / 86_400.0, 0.0;
    /// Millilitre per gram.
    MillilitrePerGram => "ml/g", &["mL/g", "cm3/g"], SpecificVolume, 1.0, 0.0;
    /// Gram per millilitre.
    GramPerMillilitre => "g/ml", &["g/mL", "g/cm3"], Density, 1.0, 0.0;
    /// Kilojoule per kilogram and kelvin.
    KilojoulePerKilogramKelvin => "kJ/(kg K)", &[], SpecificHeat, 1.0, 0.0;
    /// Square metre per second.
    SquareMetrePerSecond => "m²/s", &["m2/s"], Diffusivity, 1.0, 0.0;
    /// Square micrometre per second.
    SquareMicrometrePerSecond => "µm²/s", &["um2/s"], Diffusivity, 1e-12, 0.0;
    /// Square root of a millilitre.
    RootMillilitre => "ml^0.5", &[], RootVolume, 1.0, 0.0;
    /// Tenth of a millijoule, the unit of W in the bubble test.
    TenthMillijoule => "10⁻⁴ J", &["1e-4 J"], Energy, 0.0001, 0.0;
    /// Kilojoule.
    Kilojoule => "kJ", &[], Energy, 1000.0, 0.0;
    /// Kilowatt.
    Kilowatt => "kW", &[], Power, 1000.0, 0.0;
    /// Minute per percent of dry mass.
    MinutePerPercent => "min/%", &[], TimePerPercent, 1.0, 0.0;
    /// One per percent of dry mass.
    PerPercent => "1/%", &[], PerPercent, 1.0, 0.0;
    /// Percent of dry mass per square root of a minute.
    PercentPerRootMinute => "%/min^0.5", &[], PercentPerRootTime, 1.0, 0.0;
    /// A pure number.
    One => "1", &["-"], Number, 1.0, 0.0;
}
