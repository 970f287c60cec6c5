//! Parameters of the loaf method: declared, versioned, printed with every result.

use crate::schema::ParameterCard;

/// How scalar records of bread and dough are read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Standard uncertainty of one reading of a volume of seeds, ml.
    pub u_seeds_ml: f64,
    /// Standard uncertainty of a weighing of loaf or dough, g.
    pub u_mass_g: f64,
    /// Standard uncertainty of a weighing in a tube, g.
    pub u_tube_g: f64,
    /// Standard uncertainty of a stated moisture, in points.
    pub u_moisture_pct: f64,
    /// Standard uncertainty of a stated density, as a share of it.
    pub u_density_share: f64,
    /// Standard uncertainty of any other single record, as a share of it.
    pub u_single_share: f64,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            u_seeds_ml: 5.0,
            u_mass_g: 0.3,
            u_tube_g: 0.01,
            u_moisture_pct: 0.1,
            u_density_share: 0.002,
            u_single_share: 0.02,
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
                "u_seeds_ml",
                self.u_seeds_ml,
                "standard uncertainty of one reading of a volume of seeds, ml (project choice)",
            ),
            card(
                "u_mass_g",
                self.u_mass_g,
                "standard uncertainty of a weighing of loaf or dough, g (project choice)",
            ),
            card(
                "u_tube_g",
                self.u_tube_g,
                "standard uncertainty of a weighing in a tube, g (project choice)",
            ),
            card(
                "u_moisture_pct",
                self.u_moisture_pct,
                "standard uncertainty of a stated moisture, points (HANDBOOK V-GUM)",
            ),
            card(
                "u_density_share",
                self.u_density_share,
                "standard uncertainty of a stated density, as a share of it (project choice)",
            ),
            card(
                "u_single_share",
                self.u_single_share,
                "standard uncertainty of any other single record, as a share of it (project choice)",
            ),
        ]
    }

    /// Returns the short name of these parameters, part of every result's identity.
    pub fn name(&self) -> String {
        ParameterCard::settings_name(&self.cards())
    }
}
