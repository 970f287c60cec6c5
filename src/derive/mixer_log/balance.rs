//! The heat balance of a dough as plain formulas; no record, no field.

use super::settings::{ICE_K, WATER_SPECIFIC_HEAT};

/// A dough and the heat that goes into it. The balance is derived (HANDBOOK 8.4).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatBalance {
    /// Mass of the flour, kg.
    pub flour_kg: f64,
    /// Mass of the water, kg.
    pub water_kg: f64,
    /// Mass of the dough, kg; counts for work and for a measured specific heat.
    pub dough_kg: f64,
    /// Temperature of the flour, °C.
    pub flour_c: f64,
    /// Temperature of the water, °C.
    pub water_c: f64,
    /// Work on the dough, kJ.
    pub work_kj: f64,
    /// Share of the work that is lost to the surroundings.
    pub loss: f64,
    /// Specific heat of the flour, kJ/(kg K).
    pub flour_heat: f64,
    /// Measured specific heat of the dough, kJ/(kg K), in place of the mixing rule.
    pub dough_heat: Option<f64>,
    /// Heat of hydration of the whole dough, kJ.
    pub hydration_kj: f64,
}

impl HeatBalance {
    /// Returns the heat capacity of flour and water, kJ/K.
    fn parts_capacity(&self) -> f64 {
        self.flour_kg * self.flour_heat + self.water_kg * WATER_SPECIFIC_HEAT
    }

    /// Returns the heat capacity of the dough, kJ/K: of flour and water by the mixing rule, or as
    /// measured.
    pub fn capacity(&self) -> f64 {
        match self.dough_heat {
            Some(measured) => self.dough_kg * measured,
            None => self.parts_capacity(),
        }
    }

    /// Returns the temperature of flour and water brought together without work or heat, °C.
    pub fn blend_c(&self) -> f64 {
        let flour = self.flour_kg * self.flour_heat * self.flour_c;
        let water = self.water_kg * WATER_SPECIFIC_HEAT * self.water_c;
        (flour + water) / self.parts_capacity()
    }

    /// Returns by how many K work and heat of hydration warm the dough.
    pub fn rise_k(&self) -> f64 {
        (self.work_kj * (1.0 - self.loss) + self.hydration_kj) / self.capacity()
    }

    /// Returns the temperature of the dough at the end, °C.
    pub fn dough_c(&self) -> f64 {
        self.blend_c() + self.rise_k()
    }

    /// Returns the temperature that the water must have for the dough to end at `target_c`, °C.
    pub fn water_for_c(&self, target_c: f64) -> f64 {
        let blend = target_c - self.rise_k();
        let flour = self.flour_kg * self.flour_heat * self.flour_c;
        (blend * self.parts_capacity() - flour) / (self.water_kg * WATER_SPECIFIC_HEAT)
    }
}

/// Returns the specific heat of a dough by the mixing rule, kJ/(kg K), for a mass ratio of water to
/// flour (HANDBOOK V-T3).
pub fn specific_heat(water_per_flour: f64, flour_heat: f64) -> f64 {
    (flour_heat + water_per_flour * WATER_SPECIFIC_HEAT) / (1.0 + water_per_flour)
}

/// Returns the temperature of the water by the rule of the bakehouse:
/// `T_w = N T_target − Σ others − FF`, N one more than there are others. All in one unit of
/// temperature, the friction factor too: a factor in °F is 1.8 times one in °C (HANDBOOK 8.4).
pub fn water_by_rule(target: f64, others: &[f64], friction_factor: f64) -> f64 {
    let n = others.len() as f64 + 1.0;
    n * target - others.iter().sum::<f64>() - friction_factor
}

/// Returns the friction factor of that rule from what was measured:
/// `FF = N T_dough − Σ (others and water)`, N as many as there are (HANDBOOK 8.4).
pub fn friction_factor(dough: f64, temperatures: &[f64]) -> f64 {
    temperatures.len() as f64 * dough - temperatures.iter().sum::<f64>()
}

/// Returns the mass of ice to take in place of as much of `water` so that water from a tap at
/// `tap_c` does what water at `wanted_c` would: `m_ice = m_w (T_tap − T_w)/(T_tap + 80)`, in °C and
/// the unit of the mass; 0 where the tap is cold enough (HANDBOOK 8.4; from memory).
pub fn ice(water: f64, tap_c: f64, wanted_c: f64) -> f64 {
    (water * (tap_c - wanted_c) / (tap_c + ICE_K)).max(0.0)
}
