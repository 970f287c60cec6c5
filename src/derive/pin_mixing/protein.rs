//! A first guess at the water from the protein of the flour.

use super::prepare::Prepared;
use super::settings::U_PROTEIN_PCT;
use crate::derive::basis::{Basis, content_on_14};
use crate::derive::{Metric, Reading, metric};
use crate::record::Outcome;
use crate::schema::Unit;

/// Returns the absorption in % of flour at 14 % moisture that a protein content on the same basis
/// suggests for the 10 g bowl: 1.5 × protein + 43.6 (Finney and Shogren 1972; from memory, medium
/// confidence).
pub fn suggested_absorption(protein_14_pct: f64) -> f64 {
    1.5 * protein_14_pct + 43.6
}

metric! {
    /// Water to start from for the 10 g bowl, in ml per 100 g of flour at 14 % moisture, as the
    /// protein on the 14 % basis suggests: 1.5 × protein + 43.6. A hint for the first run, not a
    /// result; the scatter of flours about the line is not known and not in the interval.
    ABSORPTION_HINT for Prepared {
        id: "pin-mixing.absorption_hint", symbol: "WA?", name: "absorption suggested by the protein",
        unit: Unit::MillilitrePer100Gram, decimals: 1, revision: 1,
        source: ("Finney and Shogren 1972", "absorption from protein", FromMemoryMedium),
        variants: [], read: read_hint,
    }
}

fn read_hint(p: &Prepared, _: &'static str) -> Reading {
    Reading::of(hint(p))
}

fn hint(p: &Prepared) -> Outcome {
    let Some(protein) = p.stated.protein_pct else {
        return Outcome::NotComputable(
            "protein not stated: state protein_pct and protein_basis in the run sheet".into(),
        );
    };
    let written = p.stated.protein_basis.as_deref().unwrap_or("");
    match Basis::parse(written) {
        Some(Basis::Moisture14) => {
            Outcome::exact(suggested_absorption(protein), 1.5 * U_PROTEIN_PCT)
        }
        Some(Basis::AsIs) => match p.conditions.flour_moisture_pct {
            Some(moisture) => Outcome::NotComputable(format!(
                "protein is stated as is: at {moisture:.1} % moisture it is {:.2} % on the 14 % basis; state it so",
                content_on_14(protein, moisture)
            )),
            None => Outcome::NotComputable(
                "protein is stated as is, and no flour moisture: the 14 % basis is not known"
                    .into(),
            ),
        },
        Some(Basis::Dry) => Outcome::NotComputable(format!(
            "protein is stated on dry matter: that is {:.2} % on the 14 % basis; state it so",
            content_on_14(protein, 0.0)
        )),
        None => Outcome::NotComputable(format!(
            "the basis of the protein is {}; the formula needs the 14 % basis",
            if written.is_empty() {
                "not stated"
            } else {
                written
            }
        )),
    }
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] = &[&ABSORPTION_HINT];
