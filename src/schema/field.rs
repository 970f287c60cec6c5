//! The closed list of facts a file or run sheet may state about a run.

use super::unit::Unit;
use serde::{Deserialize, Serialize};

/// What kind of value a field holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FieldKind {
    /// Free text or an identifier.
    Text,
    /// One of a few words.
    Choice(&'static [&'static str]),
    /// A number; stored in the given unit.
    Number(Unit),
}

macro_rules! fields {
    ($($(#[doc = $doc:literal])+ $variant:ident => $name:literal, $kind:expr;)+) => {
        /// A fact about a run, its dough or its flour.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Field {
            $($(#[doc = $doc])+ $variant,)+
        }

        impl Field {
            /// Every field, in the order of the list.
            pub const ALL: &'static [Field] = &[$(Field::$variant,)+];

            /// Returns the name used in profiles, tables and messages.
            pub fn name(self) -> &'static str {
                match self { $(Field::$variant => $name,)+ }
            }

            /// Returns what kind of value the field holds.
            pub fn kind(self) -> FieldKind {
                match self { $(Field::$variant => $kind,)+ }
            }

            /// Returns the meaning, in one sentence.
            pub fn meaning(self) -> &'static str {
                match self { $(Field::$variant => concat!($($doc),+).trim_ascii(),)+ }
            }
        }
    };
}

use FieldKind::{Choice, Number, Text};

fields! {
    /// Name of the run.
    RunId => "run_id", Text;
    /// Name of the raw file that a run-sheet line speaks of.
    File => "file", Text;
    /// Which curve of the file, where it holds several.
    Curve => "curve", Text;
    /// Import profile to use for the file.
    Profile => "profile", Text;
    /// Kind of test.
    Test => "test", Choice(&["mixing", "extension", "membrane"]);
    /// Flour lot as tested.
    SampleId => "sample_id", Text;
    /// Name of the flour for people.
    FlourName => "flour_name", Text;
    /// Kind of flour: white, wholemeal, blend.
    FlourKind => "flour_kind", Text;
    /// Moisture of the flour as it is, in % of its mass.
    FlourMoisturePct => "flour_moisture_pct", Number(Unit::Percent);
    /// Protein of the flour in %, on the basis in `protein_basis`.
    ProteinPct => "protein_pct", Number(Unit::Percent);
    /// Moisture basis of the protein content.
    ProteinBasis => "protein_basis", Text;
    /// One dough: the unit of replication.
    BatchId => "batch_id", Text;
    /// Mixing method.
    Treatment => "treatment", Text;
    /// Block of the design: the day or flour lot within which treatments are compared.
    Block => "block", Text;
    /// Replicate number of the dough within treatment and block.
    Replicate => "replicate", Text;
    /// Sub-sample: the piece of the dough that was tested.
    Subsample => "subsample", Text;
    /// Water on flour in %, on the basis in `hydration_basis`.
    HydrationPct => "hydration_pct", Number(Unit::Percent);
    /// Moisture basis of the hydration.
    HydrationBasis => "hydration_basis", Text;
    /// Salt on flour, in %.
    SaltPct => "salt_pct", Number(Unit::Percent);
    /// Why the run was made.
    Purpose => "purpose", Choice(&["titration", "final", "study"]);
    /// Dosing procedure.
    Procedure => "procedure", Choice(&["constant-flour", "constant-dough"]);
    /// Bowl size: nominal flour mass in g.
    BowlG => "bowl_g", Number(Unit::Gram);
    /// Flour mass really weighed, in g.
    FlourG => "flour_g", Number(Unit::Gram);
    /// Water volume dosed, in ml.
    WaterMl => "water_ml", Number(Unit::Millilitre);
    /// Dough mass, in g.
    DoughG => "dough_g", Number(Unit::Gram);
    /// Measured moisture of the dough, in % of its mass.
    DoughMoisturePct => "dough_moisture_pct", Number(Unit::Percent);
    /// Temperature of the thermostat that holds the bowl or cabinet, in °C.
    ThermostatC => "thermostat_c", Number(Unit::Celsius);
    /// Temperature of the dough at the end of mixing, in °C.
    DoughTempC => "dough_temp_c", Number(Unit::Celsius);
    /// Temperature of the dosed water, in °C.
    WaterTempC => "water_temp_c", Number(Unit::Celsius);
    /// Instrument.
    InstrumentId => "instrument_id", Text;
    /// Greatest reading the recorder can show, in the unit of the curve.
    FullScale => "full_scale", Number(Unit::One);
    /// When water first touched the flour, in s on the clock of the record.
    WaterContactS => "water_contact_s", Number(Unit::Second);
    /// Times at which the operator touched the bowl (scraping, lid, water), in s on the clock of
    /// the record, separated by white space.
    MarkersS => "markers_s", Text;
    /// Reference line of the mixing curve.
    LineRule => "line_rule", Choice(&["fixed-500", "at-peak-centre"]);
    /// Person who ran the test.
    Operator => "operator", Text;
    /// Start of the test as written in the record.
    StartedAt => "started_at", Text;
    /// Rest time before stretching, in min.
    RestMin => "rest_min", Number(Unit::Minute);
    /// Rest time that the plan asked for, in min.
    RestTargetMin => "rest_target_min", Number(Unit::Minute);
    /// Piece of dough.
    Piece => "piece", Text;
    /// Ordinate scale of the recorder's chart, in EU per cm.
    EuPerCm => "eu_per_cm", Number(Unit::One);
    /// How the piece failed: in the middle, slipped, or at the clamp.
    Break => "break", Choice(&["middle", "slipped", "clamp"]);
    /// Mixing time of the dough when the piece was taken, in min.
    MixTimeMin => "mix_time_min", Number(Unit::Minute);
    /// Anything else worth keeping.
    Note => "note", Text;
}

impl Field {
    /// Returns the least and greatest value that can be meant, in the unit of the field; a number
    /// outside is a slip of the pen (a lost decimal mark, the wrong column), not a measurement.
    /// Wide on purpose (project choice).
    pub fn plausible(self) -> Option<(f64, f64)> {
        Some(match self {
            Field::FlourMoisturePct => (2.0, 30.0),
            Field::DoughMoisturePct => (10.0, 90.0),
            Field::ProteinPct => (0.0, 90.0),
            Field::HydrationPct => (10.0, 300.0),
            Field::SaltPct => (0.0, 20.0),
            Field::BowlG => (1.0, 10_000.0),
            Field::FlourG | Field::DoughG => (1.0, 1_000_000.0),
            Field::WaterMl => (0.1, 1_000_000.0),
            Field::ThermostatC | Field::DoughTempC | Field::WaterTempC => (-30.0, 120.0),
            Field::FullScale | Field::EuPerCm => (1e-6, 1e9),
            Field::RestMin | Field::RestTargetMin => (0.0, 10_000.0),
            Field::MixTimeMin => (0.0, 1_000.0),
            _ => return None,
        })
    }

    /// Returns the field called `name`, if the list has it.
    pub fn parse(name: &str) -> Option<Field> {
        Field::ALL
            .iter()
            .copied()
            .find(|field| field.name() == name)
    }
}

impl std::fmt::Display for Field {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name())
    }
}

impl Serialize for Field {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.name())
    }
}

impl<'de> Deserialize<'de> for Field {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let name = String::deserialize(deserializer)?;
        Field::parse(&name).ok_or_else(|| {
            let known: Vec<&str> = Field::ALL.iter().map(|field| field.name()).collect();
            serde::de::Error::custom(format!(
                "field `{name}` is not known; known fields: {}",
                known.join(", ")
            ))
        })
    }
}
