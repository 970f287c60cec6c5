//! Parameters of the firmness method: declared, versioned, printed with every result.

use crate::schema::ParameterCard;

/// Share of the thickness at which the force is read (AACC 74-09.01; from memory, medium
/// confidence).
pub const READ_AT_SHARE: f64 = 0.25;

/// Depth of the other reading, mm: 25 % of the customary 25 mm, as it is printed (AACC 74-09.01;
/// from memory, medium confidence).
pub const READ_AT_MM: f64 = 6.2;

/// Half width about the depth over which the curve is read as straight, mm.
pub(super) const STRAIGHT_MM: f64 = 0.25;

/// Length after the trigger over which the rise is read as straight, mm.
pub(super) const RISE_MM: f64 = 0.5;

/// How crumb curves and the ages of a bread are read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Force that the probe must meet at contact, N.
    pub trigger_n: f64,
    /// Length over which the force must stay above the trigger, mm.
    pub hold_mm: f64,
    /// Standard uncertainty of a stated thickness, mm.
    pub u_thickness_mm: f64,
    /// Standard uncertainty of a stated probe diameter, mm.
    pub u_diameter_mm: f64,
    /// Fewest ages from which the exponent of Avrami's law is fitted.
    pub ages_for_index: usize,
    /// Share of the firming that must be done at the last age for it.
    pub plateau_share: f64,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            trigger_n: 0.05,
            hold_mm: 0.3,
            u_thickness_mm: 0.2,
            u_diameter_mm: 0.05,
            ages_for_index: 5,
            plateau_share: 0.8,
        }
    }
}

impl Settings {
    /// Returns the parameters as they are listed by `explain` and in the report.
    pub fn cards(&self) -> Vec<ParameterCard> {
        let card = |name, value, meaning| ParameterCard {
            name,
            value,
            meaning,
        };
        vec![
            card(
                "trigger_n",
                self.trigger_n,
                "force that the probe meets at contact with the crumb, N (project choice)",
            ),
            card(
                "hold_mm",
                self.hold_mm,
                "length over which the force stays above the trigger after contact, mm (project choice)",
            ),
            card(
                "read_at_share",
                READ_AT_SHARE,
                "share of the thickness at which the force is read (AACC 74-09.01; from memory)",
            ),
            card(
                "read_at_mm",
                READ_AT_MM,
                "depth of the other reading, mm (AACC 74-09.01; from memory)",
            ),
            card(
                "straight_mm",
                STRAIGHT_MM,
                "half width about the depth over which the curve is read as straight, mm (project choice)",
            ),
            card(
                "rise_mm",
                RISE_MM,
                "length after the trigger over which the rise is read as straight to find contact, and twice that for its bend, mm (project choice)",
            ),
            card(
                "u_thickness_mm",
                self.u_thickness_mm,
                "standard uncertainty of a stated thickness, mm (project choice)",
            ),
            card(
                "u_diameter_mm",
                self.u_diameter_mm,
                "standard uncertainty of a stated probe diameter, mm (project choice)",
            ),
            card(
                "ages_for_index",
                self.ages_for_index as f64,
                "fewest ages from which the exponent of Avrami's law is fitted (HANDBOOK 10)",
            ),
            card(
                "plateau_share",
                self.plateau_share,
                "share of the firming that must be done at the last age for it (project choice)",
            ),
        ]
    }

    /// Returns the short name of these parameters, part of every result's identity.
    pub fn name(&self) -> String {
        ParameterCard::settings_name(&self.cards())
    }
}
