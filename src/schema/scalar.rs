//! The closed list of what a scalar record may measure.

use super::quantity::Quantity;
use super::unit::Unit;

macro_rules! scalars {
    ($($(#[doc = $doc:literal])+ $name:ident => $word:literal, $quantity:ident;)+) => {
        /// What a scalar record measures: the word in the `quantity` column of its sheet.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum ScalarQuantity {
            $($(#[doc = $doc])+ $name,)+
        }

        impl ScalarQuantity {
            /// Every choice, in order.
            pub const ALL: &'static [ScalarQuantity] = &[$(ScalarQuantity::$name,)+];

            /// Returns the word written on a sheet.
            pub fn word(self) -> &'static str {
                match self { $(ScalarQuantity::$name => $word,)+ }
            }

            /// Returns what its unit must measure.
            pub fn quantity(self) -> Quantity {
                match self { $(ScalarQuantity::$name => Quantity::$quantity,)+ }
            }

            /// Returns the meaning, in one sentence.
            pub fn meaning(self) -> &'static str {
                match self { $(ScalarQuantity::$name => concat!($($doc),+).trim_ascii(),)+ }
            }
        }
    };
}

scalars! {
    /// Volume of seeds that fills the empty box; holds for all loaves of its sheet.
    BoxFullVolume => "box_full_volume", Volume;
    /// Volume of seeds that fills the box around the loaf.
    SeedsAroundLoaf => "seeds_around_loaf", Volume;
    /// Known volume of the calibration block; holds for its sheet.
    BlockVolume => "block_volume", Volume;
    /// Volume of seeds that fills the box around the calibration block.
    SeedsAroundBlock => "seeds_around_block", Volume;
    /// Mass of the loaf when its volume is measured.
    LoafMass => "loaf_mass", Mass;
    /// Mass of the dough piece before proof.
    DoughPieceMass => "dough_piece_mass", Mass;
    /// Moisture of the crumb, in % of its mass.
    CrumbMoisture => "crumb_moisture", Percent;
    /// Age at the last look that found no mould.
    MouldFreeUntil => "mould_free_until", Time;
    /// Age at the first look that found mould.
    MouldSeenAt => "mould_seen_at", Time;
    /// Density of the dough as mixed.
    DoughDensity => "dough_density", Density;
    /// Density of the same dough without gas.
    GasFreeDensity => "gas_free_density", Density;
    /// Greatest force when a probe leaves the dough.
    StickinessForce => "stickiness_force", Force;
    /// Work when a probe leaves the dough.
    StickinessWork => "stickiness_work", ForceLength;
    /// Mass of flour in a solvent-retention tube.
    RetentionFlourMass => "retention_flour_mass", Mass;
    /// Mass of the drained gel in a solvent-retention tube.
    RetentionGelMass => "retention_gel_mass", Mass;
    /// Moisture of the flour in a solvent-retention tube, in % of its mass.
    RetentionFlourMoisture => "retention_flour_moisture", Percent;
    /// Water drained or centrifuged off, in % of the water added.
    FreeWater => "free_water", Percent;
}

impl ScalarQuantity {
    /// Returns the choice that `text` names, if any; case does not matter.
    pub fn parse(text: &str) -> Option<ScalarQuantity> {
        let bare = text.trim();
        let mut all = Self::ALL.iter().copied();
        all.find(|choice| choice.word().eq_ignore_ascii_case(bare))
    }

    /// Returns `value`, written in `unit`, in the canonical unit of the quantity; `None` when the
    /// unit measures something else.
    pub fn to_canonical(self, value: f64, unit: Unit) -> Option<f64> {
        (unit.quantity() == self.quantity()).then(|| unit.to_canonical(value))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_in_another_quantity_is_refused() {
        let mass = ScalarQuantity::parse(" Loaf_Mass ");
        assert_eq!(mass, Some(ScalarQuantity::LoafMass));
        let grams = mass.and_then(|m| m.to_canonical(0.425, Unit::Kilogram));
        assert!(grams.is_some_and(|g| (g - 425.0).abs() < 1e-12));
        assert_eq!(
            ScalarQuantity::LoafMass.to_canonical(425.0, Unit::Millilitre),
            None
        );
    }
}
