//! The dough behind a log: heat and water balance in closed form (HANDBOOK §8.4 and 8.5).

use super::super::truth::{Truth, TruthValue};
use super::WATER_HEAT;

/// What was really put together, and what really happened to it.
#[derive(Debug, Clone, Copy)]
pub struct Physics {
    /// Flour, kg.
    pub flour_kg: f64,
    /// Water, kg.
    pub water_kg: f64,
    /// Salt, kg.
    pub salt_kg: f64,
    /// Moisture of the flour, %.
    pub moisture_pct: f64,
    /// Water lost on the way, kg.
    pub lost_kg: f64,
    /// Protein of dry flour, %.
    pub protein_dry_pct: f64,
    /// Room, °C.
    pub room_c: f64,
    /// Flour, °C.
    pub flour_c: f64,
    /// Water, °C.
    pub water_c: f64,
    /// Tap, °C.
    pub tap_c: f64,
    /// Aimed at, °C.
    pub aim_c: f64,
    /// Specific heat of the flour, kJ/(kg K).
    pub flour_heat: f64,
    /// Heat of hydration of the whole dough, kJ.
    pub hydration_kj: f64,
    /// Share of the work that is lost, %.
    pub loss_pct: f64,
}

impl Physics {
    /// Returns the mass of the dough as brought together, kg.
    pub fn dough_kg(&self) -> f64 {
        self.flour_kg + self.water_kg + self.salt_kg
    }

    fn capacity(&self) -> f64 {
        self.flour_kg * self.flour_heat + self.water_kg * WATER_HEAT
    }

    fn start_c(&self) -> f64 {
        let heat = self.flour_kg * self.flour_heat * self.flour_c
            + self.water_kg * WATER_HEAT * self.water_c;
        heat / self.capacity()
    }

    fn rise_k(&self, work_kj: f64) -> f64 {
        (work_kj * (100.0 - self.loss_pct) / 100.0 + self.hydration_kj) / self.capacity()
    }

    /// Returns the temperature at the end, °C.
    pub fn end_c(&self, work_kj: f64) -> f64 {
        self.start_c() + self.rise_k(work_kj)
    }

    /// Returns the temperature of the water that ends at the aim, °C.
    fn water_for_aim_c(&self, work_kj: f64) -> f64 {
        let start = self.aim_c - self.rise_k(work_kj);
        let flour = self.flour_kg * self.flour_heat * (start - self.flour_c);
        start + flour / (self.water_kg * WATER_HEAT)
    }

    fn friction_k(&self, work_kj: f64) -> f64 {
        3.0 * self.end_c(work_kj) - self.room_c - self.flour_c - self.water_c
    }

    fn dry_kg(&self) -> f64 {
        self.flour_kg * (1.0 - self.moisture_pct / 100.0)
    }

    fn all_water_kg(&self) -> f64 {
        self.water_kg + self.flour_kg * self.moisture_pct / 100.0
    }

    /// Returns water on flour of the given moisture, %: enough of the water is counted as flour.
    fn water_on(&self, basis_pct: f64) -> f64 {
        let flour = self.dry_kg() / (1.0 - basis_pct / 100.0);
        100.0 * (self.dry_kg() + self.all_water_kg() - flour) / flour
    }

    pub fn dough_moisture_pct(&self, lost_kg: f64) -> f64 {
        100.0 * (self.all_water_kg() - lost_kg) / (self.dough_kg() - lost_kg)
    }

    fn ice_g(&self, water_c: f64) -> f64 {
        1000.0 * (self.water_kg * (self.tap_c - water_c) / (self.tap_c + 80.0)).max(0.0)
    }

    /// States what the dough gives, beside its work on `basis` of the heat of hydration.
    pub(super) fn state(&self, truth: &mut Truth, work_kj: f64, basis: &'static str) {
        let exact = TruthValue::Exact;
        let dosed = self.dough_moisture_pct(0.0);
        let measured = self.dough_moisture_pct(self.lost_kg);
        let by_balance = self.water_for_aim_c(work_kj);
        // Three times the aim less room, flour and factor.
        let by_rule = 3.0 * self.aim_c - self.room_c - self.flour_c - self.friction_k(work_kj);
        let heat = self.capacity() / (self.flour_kg + self.water_kg);
        for (metric, variant, value) in [
            ("mixer-log.specific_heat", "mixing-rule", heat),
            (
                "mixer-log.predicted_dough_temperature",
                basis,
                self.end_c(work_kj),
            ),
            ("mixer-log.measured_rise", "", self.rise_k(work_kj)),
            ("mixer-log.predicted_less_measured", basis, 0.0),
            ("mixer-log.friction_factor", "", self.friction_k(work_kj)),
            ("mixer-log.water_temperature", "balance", by_balance),
            ("mixer-log.water_temperature", "rule", by_rule),
            ("mixer-log.ice", "balance", self.ice_g(by_balance)),
            ("mixer-log.ice", "rule", self.ice_g(by_rule)),
            (
                "mixer-log.hydration",
                "as-is",
                self.water_on(self.moisture_pct),
            ),
            ("mixer-log.hydration", "basis-14", self.water_on(14.0)),
            ("mixer-log.hydration", "dry", self.water_on(0.0)),
            ("mixer-log.dough_moisture", "dosed", dosed),
            ("mixer-log.dough_moisture", "measured", measured),
            ("mixer-log.moisture_loss", "", dosed - measured),
            ("mixer-log.protein", "dry", self.protein_dry_pct),
            ("mixer-log.protein", "basis-14", 0.86 * self.protein_dry_pct),
            (
                "mixer-log.protein",
                "as-is",
                (1.0 - self.moisture_pct / 100.0) * self.protein_dry_pct,
            ),
        ] {
            truth.state(metric, variant, exact(value));
        }
    }
}
