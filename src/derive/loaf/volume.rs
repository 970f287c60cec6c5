//! Volume, specific volume and bake loss: of a loaf, and of a dough over its loaves.

use super::Needing;
use super::records::{Entry, SeedBox, mean, values};
use super::settings::Settings;
use crate::derive::interval::mean_of;
use crate::derive::{Reading, metric, or_outcome};
use crate::record::Outcome;
use crate::schema::{ScalarQuantity as Q, Unit};

/// One loaf: what its lines and its box say.
pub(super) struct Loaf {
    /// Volume, ml, with the standard uncertainty of its own reading.
    pub volume: Result<(f64, f64), Outcome>,
    /// Standard uncertainty that all loaves of the box share, ml.
    pub u_box_ml: f64,
    /// Mass, g.
    pub mass_g: Option<f64>,
    /// Mass of the dough piece, g.
    pub piece_g: Option<f64>,
    /// Whether the box was checked with a block.
    pub checked: bool,
    /// Parameters in force.
    pub settings: Settings,
}

impl Loaf {
    /// Returns the loaf of `entries`, measured in `seed_box`.
    pub fn of(entries: &[Entry], seed_box: &SeedBox<'_>, settings: Settings) -> Loaf {
        let around = values(entries, Q::SeedsAroundLoaf);
        let u_seeds = settings.u_seeds_ml;
        let own = u_seeds / (around.len().max(1) as f64).sqrt();
        let volume = match (mean(&seed_box.full), mean(&around)) {
            (_, None) => Err(Outcome::NotComputable(
                "no seeds_around_loaf for this loaf".into(),
            )),
            (None, _) => Err(Outcome::NotComputable(
                "no box_full_volume on the sheet: the box is not known".into(),
            )),
            (Some(full), Some(around)) if full <= around => Err(Outcome::Rejected(format!(
                "{around} ml of seeds around the loaf, {full} ml in the empty box: one of them is a slip"
            ))),
            (Some(full), Some(around)) => Ok((full - around, own)),
        };
        let u_full = u_seeds / (seed_box.full.len().max(1) as f64).sqrt();
        // A bias is not corrected for: it bounds what the box errs by (rectangular, JCGM 100 4.3.7).
        let u_bias = seed_box.bias_ml.map_or(0.0, |b| b.abs() / 3.0_f64.sqrt());
        Loaf {
            volume,
            u_box_ml: u_full.hypot(u_bias),
            mass_g: mean(&values(entries, Q::LoafMass)).filter(|m| *m > 0.0),
            piece_g: mean(&values(entries, Q::DoughPieceMass)).filter(|m| *m > 0.0),
            checked: seed_box.bias_ml.is_some(),
            settings,
        }
    }

    fn remarked(&self, outcome: Outcome) -> Reading {
        let check = if self.checked { "yes" } else { "no" };
        Reading::of(outcome).with_remark(format!("box_checked={check}"))
    }

    /// Returns the specific volume, ml/g, with its own standard uncertainty and the shared one.
    fn specific(&self) -> Result<(f64, f64, f64), Outcome> {
        let (volume, own) = self.volume.clone()?;
        let mass = self.mass_g.ok_or_else(|| {
            Outcome::NotComputable("no loaf_mass for this loaf: mass and volume go together".into())
        })?;
        let value = volume / mass;
        let own = (own / mass).hypot(value * self.settings.u_mass_g / mass);
        Ok((value, own, self.u_box_ml / mass))
    }

    /// Returns the bake loss, %, with its standard uncertainty.
    fn bake_loss(&self) -> Result<(f64, f64), Outcome> {
        let (Some(loaf), Some(piece)) = (self.mass_g, self.piece_g) else {
            return Err(Outcome::NotComputable(
                "bake loss needs loaf_mass and dough_piece_mass of the loaf".into(),
            ));
        };
        let u = 100.0 * self.settings.u_mass_g / piece;
        Ok((100.0 * (piece - loaf) / piece, u.hypot(u * loaf / piece)))
    }
}

metric! {
    /// Loaf volume by displacement of seeds: what the empty box holds less what it holds around the
    /// loaf. The calibration block of the day checks the box; its error enters the uncertainty and
    /// is not corrected for.
    VOLUME for Loaf {
        id: "loaf.volume", symbol: "V", name: "loaf volume by seed displacement",
        unit: Unit::Millilitre, decimals: 0, revision: 1,
        source: ("AACC 10-05.01", "seed displacement", FromMemoryMedium),
        variants: [], read: read_volume,
    }
}

fn read_volume(loaf: &Loaf, _: &'static str) -> Reading {
    let (volume, own) = or_outcome!(loaf.volume.clone());
    loaf.remarked(Outcome::exact(volume, own.hypot(loaf.u_box_ml)))
}

metric! {
    /// Loaf volume divided by loaf mass, both measured at the same time.
    SPECIFIC_VOLUME for Loaf {
        id: "loaf.specific_volume", symbol: "v", name: "specific volume of the loaf",
        unit: Unit::MillilitrePerGram, decimals: 2, revision: 1,
        source: ("AACC 10-05.01", "specific volume", FromMemoryMedium),
        variants: [], read: read_specific_volume,
    }
}

fn read_specific_volume(loaf: &Loaf, _: &'static str) -> Reading {
    let (value, own, shared) = or_outcome!(loaf.specific());
    loaf.remarked(Outcome::exact(value, own.hypot(shared)))
}

metric! {
    /// Mass lost from dough piece to cooled loaf, in % of the dough piece.
    BAKE_LOSS for Loaf {
        id: "loaf.bake_loss", symbol: "BL", name: "bake loss of the loaf",
        unit: Unit::Percent, decimals: 1, revision: 1,
        source: ("mass balance", "HANDBOOK 10", Derived),
        variants: [], read: read_bake_loss,
    }
}

fn read_bake_loss(loaf: &Loaf, _: &'static str) -> Reading {
    let (value, u) = or_outcome!(loaf.bake_loss());
    Reading::of(Outcome::exact(value, u))
}

/// The metrics of one loaf, in report order, with what the dough must have records of.
pub(super) static OF_LOAVES: &[Needing<Loaf>] = &[
    (&VOLUME, &[Q::SeedsAroundLoaf]),
    (&SPECIFIC_VOLUME, &[Q::SeedsAroundLoaf]),
    (&BAKE_LOSS, &[Q::DoughPieceMass]),
];

/// The loaves of one dough.
pub(super) struct Loaves(pub Vec<Loaf>);

metric! {
    /// Mean specific volume of a dough's loaves. The loaves are sub-samples of one dough: the
    /// interval is that of the loaves (Student's t) with the error of the box that they share; of
    /// one loaf, that of its readings, which shows nothing of the scatter between loaves.
    DOUGH_SPECIFIC_VOLUME for Loaves {
        id: "loaf.dough_specific_volume", symbol: "v", name: "specific volume of the dough's bread",
        unit: Unit::MillilitrePerGram, decimals: 2, revision: 1,
        source: ("AACC 10-05.01", "specific volume; loaves as sub-samples: HANDBOOK 0", FromMemoryMedium),
        variants: [], read: read_dough_specific_volume,
    }
}

/// Returns the mean over the loaves that have a value, with how many do.
fn over_loaves(
    loaves: &[Loaf],
    read: impl Fn(&Loaf) -> Result<(f64, f64, f64), Outcome>,
) -> Reading {
    let (mut found, mut first_reason) = (Vec::new(), None);
    let (mut own, mut shared) = (0.0_f64, 0.0_f64);
    for loaf in loaves {
        match read(loaf) {
            Ok((value, u, u_shared)) => {
                found.push(value);
                (own, shared) = (own.max(u), shared.max(u_shared));
            }
            Err(outcome) => first_reason = first_reason.or(Some(outcome)),
        }
    }
    let outcome = mean_of(&found, own, shared).or(first_reason);
    let none = || Outcome::NotComputable("the dough has no loaf".into());
    let remark = format!("loaves={} of {}", found.len(), loaves.len());
    Reading::of(outcome.unwrap_or_else(none)).with_remark(remark)
}

fn read_dough_specific_volume(loaves: &Loaves, _: &'static str) -> Reading {
    over_loaves(&loaves.0, Loaf::specific)
}

metric! {
    /// Mean bake loss of a dough's loaves, in % of the dough piece; the interval is that of the
    /// loaves.
    DOUGH_BAKE_LOSS for Loaves {
        id: "loaf.dough_bake_loss", symbol: "BL", name: "bake loss of the dough's bread",
        unit: Unit::Percent, decimals: 1, revision: 1,
        source: ("mass balance", "HANDBOOK 10", Derived),
        variants: [], read: read_dough_bake_loss,
    }
}

fn read_dough_bake_loss(loaves: &Loaves, _: &'static str) -> Reading {
    over_loaves(&loaves.0, |loaf| {
        loaf.bake_loss().map(|(value, u)| (value, u, 0.0))
    })
}

/// The metrics of the loaves of one dough, in report order, with what it must have records of.
pub(super) static OF_DOUGHS: &[Needing<Loaves>] = &[
    (&DOUGH_SPECIFIC_VOLUME, &[Q::SeedsAroundLoaf]),
    (&DOUGH_BAKE_LOSS, &[Q::DoughPieceMass]),
];
