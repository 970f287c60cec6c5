//! The water balance of the mixing test: flour to weigh, water absorption, and its inverse.

/// Moisture of the basis to which water absorption refers, %; HANDBOOK §1.1 (ICC 115/1).
const BASIS_MOISTURE_PCT: f64 = 14.0;

/// Returns the slope of the corrected volume, ml/FU, for a flour mass of `m14_g` at 14 %.
///
/// 0.096 ml/FU for the 300 g bowl and 0.016 ml/FU for the 50 g bowl, in proportion to the flour
/// really weighed; HANDBOOK §1.3 steps 2 and 3, from memory.
fn slope_ml_per_fu(bowl_g: f64, m14_g: f64) -> f64 {
    let nominal = if bowl_g > 100.0 { 0.096 } else { 0.016 };
    nominal * m14_g / bowl_g
}

/// Returns the flour mass to weigh for a bowl, g: `m14 · 86 / (100 − M)`, HANDBOOK §1.2.
pub fn flour_to_weigh_g(bowl_g: f64, moisture_pct: f64) -> f64 {
    bowl_g * (100.0 - BASIS_MOISTURE_PCT) / (100.0 - moisture_pct)
}

/// What was put into the bowl.
#[derive(Debug, Clone, Copy)]
pub struct Dosing {
    /// Bowl size: nominal flour mass, g.
    pub bowl_g: f64,
    /// Flour moisture, % as is.
    pub moisture_pct: f64,
    /// Flour mass weighed, g.
    pub flour_g: f64,
    /// Water dosed, ml.
    pub water_ml: f64,
}

impl Dosing {
    /// Returns the mass of flour at 14 % moisture that holds the same dry matter, g.
    pub fn m14_g(&self) -> f64 {
        self.flour_g * (100.0 - self.moisture_pct) / (100.0 - BASIS_MOISTURE_PCT)
    }

    /// Returns the water volume that would have given 500 FU, ml; HANDBOOK §1.3 step 2.
    pub fn corrected_volume_ml(&self, consistency_fu: f64) -> f64 {
        self.water_ml + slope_ml_per_fu(self.bowl_g, self.m14_g()) * (consistency_fu - 500.0)
    }

    /// Returns the water absorption in ml per 100 g of flour at 14 %; HANDBOOK §1.3, general form.
    pub fn absorption(&self, consistency_fu: f64) -> f64 {
        let m14 = self.m14_g();
        100.0 * (self.corrected_volume_ml(consistency_fu) + self.flour_g - m14) / m14
    }

    /// Returns the consistency that a dough of the given water absorption shows, FU.
    pub fn consistency(&self, absorption: f64) -> f64 {
        let m14 = self.m14_g();
        let corrected = absorption * m14 / 100.0 - self.flour_g + m14;
        500.0 + (corrected - self.water_ml) / slope_ml_per_fu(self.bowl_g, m14)
    }
}

/// Returns the water that gives 500 FU for flour of the given absorption, ml.
pub fn water_for_line_ml(bowl_g: f64, moisture_pct: f64, absorption: f64) -> f64 {
    bowl_g + absorption * bowl_g / 100.0 - flour_to_weigh_g(bowl_g, moisture_pct)
}
