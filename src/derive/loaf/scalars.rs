//! Scalar records of one dough: crumb moisture, mould, density, stickiness, retention, free water.

use super::Needing;
use super::records::{Entry, mean, values};
use super::settings::Settings;
use crate::derive::interval::mean_of;
use crate::derive::{Reading, metric};
use crate::record::{Estimate, Outcome};
use crate::schema::{ScalarQuantity as Q, Unit};
use std::collections::BTreeMap;

/// The records of one dough, and of one age where they state one.
pub(super) struct Scalars {
    /// What the records say.
    pub entries: Vec<Entry>,
    /// Parameters in force.
    pub settings: Settings,
}

impl Scalars {
    /// Returns the mean of the replicates of one quantity; `u` is the standard uncertainty of one.
    fn mean_of(&self, wanted: Q, u: impl Fn(f64) -> f64) -> Reading {
        let found = values(&self.entries, wanted);
        let reading = mean(&found).map_or(0.0, |m| u(m.abs()));
        let outcome = mean_of(&found, reading, 0.0);
        let none = || Outcome::NotComputable(format!("no {} for this dough", wanted.word()));
        Reading::of(outcome.unwrap_or_else(none)).with_remark(format!("replicates={}", found.len()))
    }
}

metric! {
    /// Mean moisture of the crumb, in % of its mass as is, over the replicates of one age.
    CRUMB_MOISTURE for Scalars {
        id: "loaf.crumb_moisture", symbol: "w", name: "crumb moisture",
        unit: Unit::Percent, decimals: 1, revision: 1,
        source: ("oven drying of crumb", "", CommonPractice),
        variants: [], read: read_crumb_moisture,
    }
}

fn read_crumb_moisture(s: &Scalars, _: &'static str) -> Reading {
    s.mean_of(Q::CrumbMoisture, |_| s.settings.u_moisture_pct)
}

metric! {
    /// Age at which mould was first seen: it appeared between the last look without and the first
    /// look with mould, so the value is the middle of the two and its interval reaches to both
    /// (rectangular). While none was seen, the true value is above the last look; without a look
    /// that found none, below the first.
    MOULD_FREE_DAYS for Scalars {
        id: "loaf.mould_free_days", symbol: "t(mould)", name: "mould-free time",
        unit: Unit::Day, decimals: 1, revision: 1,
        source: ("interval between two looks", "", ProjectChoice),
        variants: [], read: read_mould_free_days,
    }
}

fn read_mould_free_days(s: &Scalars, _: &'static str) -> Reading {
    let clean = values(&s.entries, Q::MouldFreeUntil);
    let seen = values(&s.entries, Q::MouldSeenAt);
    let last_clean = clean.into_iter().max_by(f64::total_cmp);
    let first_seen = seen.into_iter().min_by(f64::total_cmp);
    Reading::of(match (last_clean, first_seen) {
        (Some(clean), None) => Outcome::Above(clean),
        (None, Some(seen)) => Outcome::Below(seen),
        (Some(clean), Some(seen)) if clean <= seen => {
            let middle = 0.5 * (clean + seen);
            let u = (seen - clean) / 12.0_f64.sqrt();
            match Estimate::with_interval(middle, clean, seen, u) {
                Ok(estimate) => Outcome::Exact(estimate),
                Err(error) => Outcome::NotComputable(error.to_string()),
            }
        }
        (Some(clean), Some(seen)) => Outcome::Rejected(format!(
            "no mould at {clean} d, but mould at {seen} d: one of the looks is a slip"
        )),
        (None, None) => Outcome::NotComputable("no look for mould is recorded".into()),
    })
}

metric! {
    /// Density of the dough as mixed, over the replicates.
    DOUGH_DENSITY for Scalars {
        id: "loaf.dough_density", symbol: "ρ", name: "dough density",
        unit: Unit::GramPerMillilitre, decimals: 3, revision: 1,
        source: ("mass per volume of dough", "HANDBOOK 10", CommonPractice),
        variants: [], read: read_dough_density,
    }
}

fn read_dough_density(s: &Scalars, _: &'static str) -> Reading {
    s.mean_of(Q::DoughDensity, |value| s.settings.u_density_share * value)
}

metric! {
    /// Share of the dough's volume that is gas: one less its density over that of the same dough
    /// without gas, in %.
    GAS_FRACTION for Scalars {
        id: "loaf.gas_fraction", symbol: "φ", name: "gas in the dough",
        unit: Unit::Percent, decimals: 1, revision: 1,
        source: ("Chin and Campbell 2005, J. Sci. Food Agric. 85", "gas-free density; HANDBOOK 8.2", Derived),
        variants: [], read: read_gas_fraction,
    }
}

fn read_gas_fraction(s: &Scalars, _: &'static str) -> Reading {
    let share = |value: f64| s.settings.u_density_share * value;
    let dough = s.mean_of(Q::DoughDensity, share).outcome.estimate();
    let free = s.mean_of(Q::GasFreeDensity, share).outcome.estimate();
    let (Some(dough), Some(free)) = (dough, free) else {
        return Reading::of(Outcome::NotComputable(
            "gas needs dough_density and gas_free_density of the dough".into(),
        ));
    };
    let ratio = dough.value() / free.value();
    // Half widths propagate like uncertainties: they carry the t of few replicates.
    let relative = |e: Estimate, half: f64| half / e.value();
    let half = |e: Estimate| 0.5 * (e.high() - e.low());
    let joint = |a: f64, b: f64| 100.0 * ratio * relative(dough, a).hypot(relative(free, b));
    let u = joint(dough.std_uncertainty(), free.std_uncertainty());
    let reach = joint(half(dough), half(free));
    let value = 100.0 * (1.0 - ratio);
    Reading::of(
        match Estimate::with_interval(value, value - reach, value + reach, u) {
            Ok(estimate) => Outcome::Exact(estimate),
            Err(error) => Outcome::NotComputable(error.to_string()),
        },
    )
}

metric! {
    /// Greatest force when a probe leaves the dough, over the replicates. Method-defined: probe,
    /// speed and contact time decide it; never compared across methods.
    STICKINESS_FORCE for Scalars {
        id: "loaf.stickiness_force", symbol: "Fs", name: "stickiness as force",
        unit: Unit::Newton, decimals: 3, revision: 1,
        source: ("probe and dough, method-defined", "", CommonPractice),
        variants: [], read: read_stickiness_force,
    }
}

fn read_stickiness_force(s: &Scalars, _: &'static str) -> Reading {
    s.mean_of(Q::StickinessForce, |value| {
        s.settings.u_single_share * value
    })
}

metric! {
    /// Work when a probe leaves the dough, over the replicates. Method-defined: never compared
    /// across methods.
    STICKINESS_WORK for Scalars {
        id: "loaf.stickiness_work", symbol: "As", name: "stickiness as work",
        unit: Unit::NewtonMillimetre, decimals: 2, revision: 1,
        source: ("probe and dough, method-defined", "", CommonPractice),
        variants: [], read: read_stickiness_work,
    }
}

fn read_stickiness_work(s: &Scalars, _: &'static str) -> Reading {
    s.mean_of(Q::StickinessWork, |value| s.settings.u_single_share * value)
}

metric! {
    /// Solvent retention, `(gel / flour · 86/(100 - M) - 1) · 100`: gel that a flour holds after the
    /// centrifuge, on flour at 14 % moisture, over the tubes (named as pieces). Method-defined: one
    /// solvent and one centrifuge; never compared across methods.
    SOLVENT_RETENTION for Scalars {
        id: "loaf.solvent_retention", symbol: "SRC", name: "solvent retention",
        unit: Unit::Percent, decimals: 1, revision: 1,
        source: ("AACC 56-11", "solvent retention; HANDBOOK 9, V-U4", FromMemoryHigh),
        variants: [], read: read_solvent_retention,
    }
}

fn read_solvent_retention(s: &Scalars, _: &'static str) -> Reading {
    let mut tubes: BTreeMap<Option<&str>, Vec<Entry>> = BTreeMap::new();
    for entry in &s.entries {
        let tube = tubes.entry(entry.piece.as_deref()).or_default();
        tube.push(entry.clone());
    }
    let mut found = Vec::new();
    let mut u_tube = 0.0_f64;
    for tube in tubes.values() {
        let one = |wanted: Q| mean(&values(tube, wanted));
        let moisture = one(Q::RetentionFlourMoisture);
        // A moisture stated once, outside the tubes, holds for all.
        let shared = || mean(&values(&s.entries, Q::RetentionFlourMoisture));
        let all = (one(Q::RetentionFlourMass), one(Q::RetentionGelMass));
        let ((Some(flour), Some(gel)), Some(moisture)) = (all, moisture.or_else(shared)) else {
            continue;
        };
        if flour <= 0.0 || moisture >= 100.0 {
            continue;
        }
        let ratio = gel / flour * 86.0 / (100.0 - moisture);
        found.push(100.0 * (ratio - 1.0));
        let weighing = (s.settings.u_tube_g / gel).hypot(s.settings.u_tube_g / flour);
        let drying = s.settings.u_moisture_pct / (100.0 - moisture);
        u_tube = u_tube.max(100.0 * ratio * weighing.hypot(drying));
    }
    let outcome = mean_of(&found, u_tube, 0.0).unwrap_or_else(|| {
        Outcome::NotComputable(
            "a tube needs retention_flour_mass, retention_gel_mass and retention_flour_moisture"
                .into(),
        )
    });
    Reading::of(outcome).with_remark(format!("tubes={}", found.len()))
}

metric! {
    /// Water drained or centrifuged off, in % of the water added, over the replicates.
    /// Method-defined: sieve or centrifuge and time decide it; never compared across methods.
    FREE_WATER for Scalars {
        id: "loaf.free_water", symbol: "FW", name: "free water",
        unit: Unit::Percent, decimals: 1, revision: 1,
        source: ("drained or centrifuged share, method-defined", "HANDBOOK 9", CommonPractice),
        variants: [], read: read_free_water,
    }
}

fn read_free_water(s: &Scalars, _: &'static str) -> Reading {
    s.mean_of(Q::FreeWater, |value| s.settings.u_single_share * value)
}

/// The metrics of scalar records, in report order, with what the dough must have records of.
pub(super) static METRICS: &[Needing<Scalars>] = &[
    (&CRUMB_MOISTURE, &[Q::CrumbMoisture]),
    (&MOULD_FREE_DAYS, &[Q::MouldFreeUntil, Q::MouldSeenAt]),
    (&DOUGH_DENSITY, &[Q::DoughDensity]),
    (&GAS_FRACTION, &[Q::GasFreeDensity]),
    (&STICKINESS_FORCE, &[Q::StickinessForce]),
    (&STICKINESS_WORK, &[Q::StickinessWork]),
    (
        &SOLVENT_RETENTION,
        &[Q::RetentionFlourMass, Q::RetentionGelMass],
    ),
    (&FREE_WATER, &[Q::FreeWater]),
];
