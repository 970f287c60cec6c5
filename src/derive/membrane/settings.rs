//! Parameters of the membrane method: declared, versioned, printed with every result.

use crate::numerics::Resampling;
use crate::schema::ParameterCard;

/// How graded stretches are summarised.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Resamples and seed of the intervals of agreement.
    pub resampling: Resampling,
    /// Fewest pieces from which agreement is computed.
    pub least_pieces: usize,
    /// Share of overmixed gradings above which there is no median grade.
    pub most_overmixed: f64,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            resampling: Resampling {
                times: 2000,
                seed: 20_251,
            },
            least_pieces: 5,
            most_overmixed: 0.5,
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
                "resamples",
                self.resampling.times as f64,
                "resamples of pieces behind the interval of an agreement coefficient (project choice)",
            ),
            card(
                "resampling_seed",
                self.resampling.seed as f64,
                "seed of the resampling: the same sheet gives the same interval (project choice)",
            ),
            card(
                "least_pieces",
                self.least_pieces as f64,
                "fewest pieces from which agreement is computed (project choice)",
            ),
            card(
                "most_overmixed",
                self.most_overmixed,
                "share of overmixed gradings above which there is no median grade (project choice)",
            ),
        ]
    }

    /// Returns the short name of these parameters, part of every result's identity.
    pub fn name(&self) -> String {
        ParameterCard::settings_name(&self.cards())
    }
}
