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
    Test => "test", Choice(&["mixing", "extension", "membrane", "pin-mixing", "heating", "strip", "inflation", "mixer-log", "uptake", "loaf", "firmness"]);
    /// Flour lot as tested.
    SampleId => "sample_id", Text;
    /// Name of the flour for people.
    FlourName => "flour_name", Text;
    /// Kind of flour: white, wholemeal, blend.
    FlourKind => "flour_kind", Text;
    /// Grade that the flour was delivered as; limits are set for grades.
    FlourGrade => "flour_grade", Text;
    /// Moisture of the flour as it is, in % of its mass.
    FlourMoisturePct => "flour_moisture_pct", Number(Unit::Percent);
    /// Protein of the flour in %, on the basis in `protein_basis`.
    ProteinPct => "protein_pct", Number(Unit::Percent);
    /// Moisture basis of the protein content.
    ProteinBasis => "protein_basis", Text;
    /// One dough: the unit of replication.
    BatchId => "batch_id", Text;
    /// Machine that mixed the dough.
    MixerId => "mixer_id", Text;
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
    /// Spring setting of the pin mixer.
    SpringSetting => "spring_setting", Text;
    /// Torque for one percent of the recorder's full scale, in N m.
    TorquePerPercentNm => "torque_per_percent_nm", Number(Unit::NewtonMetre);
    /// Speed of the mixing tool, in 1/min.
    SpeedPerMin => "speed_per_min", Number(Unit::PerMinute);
    /// Half the distance between the edges that hold a strip, in mm.
    HalfGapMm => "half_gap_mm", Number(Unit::Millimetre);
    /// Sag of a strip below the plane of its edges before stretching, in mm.
    SagMm => "sag_mm", Number(Unit::Millimetre);
    /// Cross-section of a strip before stretching, in mm².
    StripAreaMm2 => "strip_area_mm2", Number(Unit::SquareMillimetre);
    /// Speed of the hook, in mm/s.
    HookSpeedMmS => "hook_speed_mm_s", Number(Unit::MillimetrePerSecond);
    /// Radius of the opening that clamps a disc, in mm.
    DiscRadiusMm => "disc_radius_mm", Number(Unit::Millimetre);
    /// Thickness of a disc before inflation, in mm.
    DiscThicknessMm => "disc_thickness_mm", Number(Unit::Millimetre);
    /// Measured air flow of the inflation, in l/h.
    AirFlowLH => "air_flow_l_h", Number(Unit::LitrePerHour);
    /// Volume of air between pump and disc, in ml.
    DeadVolumeMl => "dead_volume_ml", Number(Unit::Millilitre);
    /// Why a disc, strip or slice must not count, where the operator says so.
    LeaveOut => "leave_out", Text;
    /// Power of the mixer running empty at the same speed, in W.
    IdlePowerW => "idle_power_w", Number(Unit::Watt);
    /// Torque of the mixer running empty at the same speed, in N m.
    IdleTorqueNm => "idle_torque_nm", Number(Unit::NewtonMetre);
    /// Efficiency of pump and motor, in %.
    PumpEfficiencyPct => "pump_efficiency_pct", Number(Unit::Percent);
    /// Velocity coefficient of the nozzle.
    NozzleCoefficient => "nozzle_coefficient", Number(Unit::One);
    /// Part of the process that a log covers.
    Stage => "stage", Choice(&["mixing", "jet", "conveying", "after-mix", "cooling"]);
    /// What the energies of a dough are compared on: the parts of the process that count.
    EnergyBoundary => "energy_boundary", Text;
    /// Temperature of the room, in °C.
    RoomTempC => "room_temp_c", Number(Unit::Celsius);
    /// Temperature of the flour, in °C.
    FlourTempC => "flour_temp_c", Number(Unit::Celsius);
    /// Temperature of the dough before this part of the process, in °C.
    DoughTempBeforeC => "dough_temp_before_c", Number(Unit::Celsius);
    /// Dough temperature aimed at, in °C.
    TargetDoughTempC => "target_dough_temp_c", Number(Unit::Celsius);
    /// Temperature of the tap water, in °C.
    TapWaterTempC => "tap_water_temp_c", Number(Unit::Celsius);
    /// Friction factor of the water-temperature rule, in K.
    FrictionFactorK => "friction_factor_k", Number(Unit::Kelvin);
    /// Heat of hydration, in kJ/kg of what `heat_of_hydration_basis` says.
    HeatOfHydrationKjKg => "heat_of_hydration_kj_kg", Number(Unit::KilojoulePerKilogram);
    /// What the heat of hydration is counted on.
    HeatOfHydrationBasis => "heat_of_hydration_basis", Choice(&["flour", "dough"]);
    /// Specific heat of the dough, where measured, in kJ/(kg K).
    DoughSpecificHeat => "dough_specific_heat_kj_kg_k", Number(Unit::KilojoulePerKilogramKelvin);
    /// Share of the work that is lost as heat to the surroundings, in %.
    HeatLossPct => "heat_loss_pct", Number(Unit::Percent);
    /// Dry solids of the soaked sample, in g.
    DrySolidsG => "dry_solids_g", Number(Unit::Gram);
    /// Moisture before soaking, in % of dry mass.
    InitialMoistureDbPct => "initial_moisture_db_pct", Number(Unit::Percent);
    /// Moisture to reach, in % of dry mass.
    TargetMoistureDbPct => "target_moisture_db_pct", Number(Unit::Percent);
    /// Radius of the sphere that a particle is taken for, in mm.
    EquivalentRadiusMm => "equivalent_radius_mm", Number(Unit::Millimetre);
    /// Age of bread at the test, in d.
    AgeD => "age_d", Number(Unit::Day);
    /// Thickness of the crumb sample, in mm.
    ThicknessMm => "thickness_mm", Number(Unit::Millimetre);
    /// Diameter of the probe, in mm.
    ProbeDiameterMm => "probe_diameter_mm", Number(Unit::Millimetre);
    /// Speed of the probe, in mm/s.
    ProbeSpeedMmS => "probe_speed_mm_s", Number(Unit::MillimetrePerSecond);
    /// Loaf that a slice is of.
    Loaf => "loaf", Text;
    /// Temperature at which bread is kept, in °C.
    StorageTempC => "storage_temp_c", Number(Unit::Celsius);
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
            Field::ThermostatC
            | Field::DoughTempC
            | Field::WaterTempC
            | Field::RoomTempC
            | Field::FlourTempC
            | Field::DoughTempBeforeC
            | Field::TargetDoughTempC
            | Field::TapWaterTempC
            | Field::StorageTempC => (-30.0, 120.0),
            Field::HalfGapMm | Field::DiscRadiusMm | Field::ThicknessMm => (0.1, 1000.0),
            Field::ProbeDiameterMm | Field::DiscThicknessMm => (0.1, 500.0),
            Field::EquivalentRadiusMm => (0.001, 100.0),
            Field::SagMm => (0.0, 200.0),
            Field::StripAreaMm2 => (0.01, 10_000.0),
            Field::HookSpeedMmS | Field::ProbeSpeedMmS => (0.001, 1000.0),
            Field::SpeedPerMin => (0.1, 100_000.0),
            Field::AirFlowLH => (0.1, 10_000.0),
            Field::DeadVolumeMl => (0.0, 100_000.0),
            Field::PumpEfficiencyPct => (1.0, 100.0),
            Field::NozzleCoefficient => (0.1, 1.2),
            Field::HeatLossPct => (-100.0, 100.0),
            Field::HeatOfHydrationKjKg => (0.0, 200.0),
            Field::DoughSpecificHeat => (0.5, 6.0),
            Field::AgeD => (0.0, 1000.0),
            Field::InitialMoistureDbPct | Field::TargetMoistureDbPct => (0.0, 1000.0),
            Field::DrySolidsG => (1e-4, 1_000_000.0),
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
