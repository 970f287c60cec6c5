//! Parameters of the process-log method: declared, versioned, printed with every result.

use crate::numerics::Input;
use crate::schema::ParameterCard;

/// Specific heat of water, kJ/(kg K) (HANDBOOK 8.4; textbook value).
pub const WATER_SPECIFIC_HEAT: f64 = 4.18;

/// Density of water at 20 °C, kg/m³ (HANDBOOK V-J2; textbook value).
pub const WATER_DENSITY: f64 = 998.2;

/// Heat of fusion of ice over the specific heat of water, K: 334/4.18 (HANDBOOK 8.4; from memory).
pub const ICE_K: f64 = 80.0;

/// Speed of a jet, as a share of the ideal speed at its pressure, above which pressure or speed
/// was misread (HANDBOOK 8.3).
pub const SPEED_POSSIBLE: f64 = 1.02;

/// Share of the ideal speed below which pressure or speed is doubtful (HANDBOOK 8.3).
pub const SPEED_USUAL: f64 = 0.7;

/// What readings share that they were made with: numbers for [`Input::source`].
pub(super) mod source {
    pub const POWER: u8 = 1;
    pub const TORQUE: u8 = 2;
    pub const SPEED: u8 = 3;
    pub const IDLE: u8 = 4;
    pub const PRESSURE: u8 = 5;
    pub const FLOW: u8 = 6;
    pub const FLOUR_FLOW: u8 = 7;
    pub const JET_SPEED: u8 = 8;
    pub const EFFICIENCY: u8 = 9;
    pub const TEMPERATURE: u8 = 10;
    pub const MOISTURE: u8 = 11;
    pub const MASS: u8 = 12;
    pub const FLOUR_HEAT: u8 = 13;
    pub const HYDRATION_HEAT: u8 = 14;
    pub const LOSS: u8 = 15;
    pub const DOUGH_HEAT: u8 = 16;
    pub const PROTEIN: u8 = 17;
    pub const NOZZLE: u8 = 18;
}

macro_rules! settings {
    ($($(#[doc = $doc:literal])+ $name:ident: $value:expr;)+) => {
        /// What the method does to a log, and how well its instruments are taken to read.
        ///
        /// Tolerances are half widths of a rectangular distribution (JCGM 100, 4.3.7).
        #[derive(Debug, Clone, Copy, PartialEq)]
        pub struct Settings {
            $($(#[doc = $doc])+ pub $name: f64,)+
        }

        impl Default for Settings {
            fn default() -> Settings {
                Settings { $($name: $value,)+ }
            }
        }

        impl Settings {
            fn own_cards(&self) -> Vec<ParameterCard> {
                vec![$(ParameterCard {
                    name: stringify!($name),
                    value: self.$name,
                    meaning: concat!($($doc),+).trim_ascii(),
                },)+]
            }
        }
    };
}

settings! {
    /// Times the sampling period that a pause must last to be a gap (HANDBOOK 8.1).
    gap_periods: 2.0;
    /// Readings on each side of a gap whose least and greatest power bound it (project choice).
    gap_neighbours: 3.0;
    /// Share of the idle power below which the drive is taken to stand still (project choice).
    standstill_share: 0.5;
    /// Share of the greatest load above which the mixer or jet is taken to work (project choice).
    working_share: 0.1;
    /// Length of the mean whose greatest value is the peak power, s (project choice).
    peak_window_s: 5.0;
    /// Share of the greatest power by which neighbours must differ to be the edge of a switch,
    /// which lies anywhere between them (project choice).
    edge_share: 0.25;
    /// Tolerance of the power meter, % of reading, shared by all its logs (common practice, no
    /// source).
    power_tolerance_pct: 1.0;
    /// Tolerance of the torque meter, % of reading, shared (common practice, no source).
    torque_tolerance_pct: 1.0;
    /// Tolerance of the speed, % of reading, shared (common practice, no source).
    speed_tolerance_pct: 0.5;
    /// Tolerance of the idle power or torque, % of it, shared: one empty run serves many logs
    /// (common practice, no source).
    idle_tolerance_pct: 5.0;
    /// Tolerance of the pressure gauge, % of reading, shared (common practice, no source).
    pressure_tolerance_pct: 1.0;
    /// Tolerance of the water meter, % of reading or of the dose, shared (common practice, no
    /// source).
    flow_tolerance_pct: 1.0;
    /// Tolerance of the flour feeder, % of reading, shared (common practice, no source).
    flour_flow_tolerance_pct: 1.0;
    /// Tolerance of a jet speed, % of reading, shared (common practice, no source).
    jet_speed_tolerance_pct: 2.0;
    /// Tolerance of a stated efficiency, percentage points, shared (common practice, no source).
    efficiency_tolerance_points: 3.0;
    /// Tolerance of a stated velocity coefficient of the nozzle, shared (project choice).
    nozzle_tolerance: 0.02;
    /// Tolerance of the thermometer, K, shared by all its readings (common practice, no source).
    temperature_tolerance_k: 0.3;
    /// Tolerance of one temperature reading beside the thermometer's, K (common practice, no
    /// source).
    temperature_reading_k: 0.2;
    /// Standard uncertainty of a moisture that all determinations share, percentage points: with
    /// the reading's 0.1 together (HANDBOOK V-GUM).
    moisture_shared_points: 0.07;
    /// Standard uncertainty of one moisture reading, percentage points (HANDBOOK V-GUM).
    moisture_reading_points: 0.07;
    /// Tolerance of a weighed mass, %, of each weighing (common practice, no source).
    mass_tolerance_pct: 0.2;
    /// Specific heat of flour, kJ/(kg K) (textbook, HANDBOOK 8.4).
    flour_specific_heat: 1.76;
    /// Tolerance of the specific heat of flour, kJ/(kg K), shared (project choice).
    flour_heat_tolerance: 0.1;
    /// Tolerance of a measured specific heat of dough, %, shared (project choice).
    dough_heat_tolerance_pct: 3.0;
    /// Heat of hydration per kg of flour, kJ (HANDBOOK 8.4: at 11–12 % moisture).
    hydration_kj_per_kg_flour: 15.1;
    /// Heat of hydration per kg of dough, kJ (HANDBOOK 8.4: a textbook problem).
    hydration_kj_per_kg_dough: 15.0;
    /// Tolerance of the heat of hydration, %, shared; sources differ more than that in the basis
    /// (project choice).
    hydration_tolerance_pct: 20.0;
    /// Share of the work lost as heat where no loss is stated, % (project choice).
    loss_pct: 0.0;
    /// Tolerance of the loss where none is stated, percentage points, shared (project choice).
    loss_tolerance_points: 10.0;
    /// Tolerance of a stated loss, percentage points, shared (project choice).
    stated_loss_tolerance_points: 3.0;
    /// Tolerance of a friction factor that is stated, K, shared (project choice).
    friction_tolerance_k: 1.0;
    /// Least efficiency of pump and motor, %, for the bounds where none is stated (HANDBOOK 8.3).
    efficiency_low_pct: 70.0;
    /// Greatest efficiency of pump and motor, %, for the bounds where none is stated (HANDBOOK 8.3).
    efficiency_high_pct: 90.0;
    /// Tolerance of a protein content, percentage points, shared (project choice).
    protein_tolerance_points: 0.2;
}

impl Settings {
    /// Returns the parameters as they are listed by `explain` and in the report.
    pub fn cards(&self) -> Vec<ParameterCard> {
        let card = |name, value, meaning| ParameterCard {
            name,
            value,
            meaning,
        };
        let mut cards = self.own_cards();
        cards.extend([
            card(
                "water_specific_heat",
                WATER_SPECIFIC_HEAT,
                "specific heat of water, kJ/(kg K) (HANDBOOK 8.4)",
            ),
            card(
                "water_density",
                WATER_DENSITY,
                "density of water at 20 °C, kg/m³ (HANDBOOK V-J2)",
            ),
            card(
                "ice_k",
                ICE_K,
                "heat of fusion of ice over the specific heat of water, K (HANDBOOK 8.4; from memory)",
            ),
        ]);
        cards
    }

    /// Returns the short name of these parameters, part of every result's identity.
    pub fn name(&self) -> String {
        ParameterCard::settings_name(&self.cards())
    }

    /// Returns a temperature read with the common thermometer, °C.
    pub(super) fn temperature(&self, celsius: f64) -> Input {
        Input {
            value: celsius,
            own: half_width(self.temperature_reading_k),
            shared: half_width(self.temperature_tolerance_k),
            source: source::TEMPERATURE,
        }
    }

    /// Returns a moisture in %.
    pub(super) fn moisture(&self, percent: f64) -> Input {
        Input {
            value: percent,
            own: self.moisture_reading_points,
            shared: self.moisture_shared_points,
            source: source::MOISTURE,
        }
    }

    /// Returns a weighed mass, in any unit.
    pub(super) fn mass(&self, mass: f64) -> Input {
        Input {
            value: mass,
            own: mass * half_width(self.mass_tolerance_pct) / 100.0,
            shared: 0.0,
            source: source::MASS,
        }
    }

    /// Returns a dosed amount of water, in any unit.
    pub(super) fn water(&self, amount: f64) -> Input {
        Input {
            value: amount,
            own: amount * half_width(self.mass_tolerance_pct) / 100.0,
            shared: amount * half_width(self.flow_tolerance_pct) / 100.0,
            source: source::FLOW,
        }
    }
}

/// Returns an input whose uncertainty is all shared: a tolerance, as a half width.
pub(super) fn shared(value: f64, tolerance: f64, source: u8) -> Input {
    Input {
        value,
        own: 0.0,
        shared: half_width(tolerance),
        source,
    }
}

/// Returns the standard uncertainty of a rectangular distribution (JCGM 100, 4.3.7).
pub(super) fn half_width(tolerance: f64) -> f64 {
    tolerance.abs() / 3.0_f64.sqrt()
}
