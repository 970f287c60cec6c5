//! Parameters of the uptake method: declared, versioned, printed with every result.

use crate::schema::ParameterCard;

/// How uptake curves are read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Share of the gain at equilibrium up to which the gain is read as a straight line over the
    /// square root of time.
    pub root_time_share: f64,
    /// Fewest points of that line.
    pub root_time_points: usize,
    /// Standard uncertainty of a stated initial moisture, points of dry mass.
    pub u_initial_pct: f64,
    /// Standard uncertainty of stated dry solids, as a share of them.
    pub u_solids_share: f64,
    /// Standard uncertainty of a stated equivalent radius, as a share of it.
    pub u_radius_share: f64,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            root_time_share: 0.4,
            root_time_points: 4,
            u_initial_pct: 0.1,
            u_solids_share: 0.002,
            u_radius_share: 0.03,
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
                "root_time_share",
                self.root_time_share,
                "share of the gain at equilibrium up to which it is a straight line over root time (project choice)",
            ),
            card(
                "root_time_points",
                self.root_time_points as f64,
                "fewest points of that line (project choice)",
            ),
            card(
                "u_initial_pct",
                self.u_initial_pct,
                "standard uncertainty of a stated initial moisture, points of dry mass (HANDBOOK V-GUM)",
            ),
            card(
                "u_solids_share",
                self.u_solids_share,
                "standard uncertainty of stated dry solids, as a share of them (project choice)",
            ),
            card(
                "u_radius_share",
                self.u_radius_share,
                "standard uncertainty of a stated equivalent radius, as a share of it (project choice)",
            ),
        ]
    }

    /// Returns the short name of these parameters, part of every result's identity.
    pub fn name(&self) -> String {
        ParameterCard::settings_name(&self.cards())
    }
}
