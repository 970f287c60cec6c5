//! What the strips of one dough give together.

use super::settings::Settings;
use crate::derive::subsamples::{estimates, identifiers, mean, sort_runs, spread_pct};
use crate::derive::{Gathered, Metric, Reading, metric, runs_by_dough};
use crate::record::{Estimate, Outcome, RunGroup, RunRecord};
use crate::schema::{Test, Unit};

/// Metrics of a strip that a dough has a mean of.
const MEANS: [&str; 9] = [
    "strip.maximum_force",
    "strip.extensibility",
    "strip.area",
    "strip.failure_stress",
    "strip.failure_strain",
    "strip.n_exp",
    "strip.k_exp",
    "strip.n_pow",
    "strip.k_pow",
];

/// What the valid strips of one dough gave.
#[derive(Debug, Clone)]
pub struct DoughOfStrips {
    settings: Settings,
    strips: usize,
    left_out: usize,
    /// Estimates of each of the means.
    read: Vec<Vec<Estimate>>,
}

/// Returns the numbers of each dough from its strips. Strips that slipped, tore at the clamp or
/// were left out do not count.
pub fn groups(runs: &[&RunRecord]) -> Vec<RunGroup> {
    let settings = Settings::default();
    let mut groups = Vec::new();
    for (dough, strips) in runs_by_dough(runs) {
        let (members, left_out) = sort_runs(&strips, MEANS[0]);
        if members.is_empty() {
            continue;
        }
        let prepared = DoughOfStrips {
            settings,
            strips: members.len(),
            left_out: left_out.len(),
            read: MEANS.map(|metric| estimates(&members, metric)).to_vec(),
        };
        let gathered = Gathered {
            test: Test::Strip,
            name: format!("dough {dough}, strip"),
            from: identifiers(&members, &MEANS),
            members,
            left_out,
            settings: settings.name(),
        };
        groups.push(gathered.read(&prepared, METRICS));
    }
    groups
}

/// Returns a number of the dough from its estimates of mean `WHICH`.
fn over_strips(
    dough: &DoughOfStrips,
    which: usize,
    of: fn(&[Estimate]) -> Option<Outcome>,
) -> Reading {
    let none = Vec::new();
    let read = dough.read.get(which).unwrap_or(&none);
    let least = dough.settings.least_strips;
    let outcome = match of(read) {
        Some(outcome) if read.len() >= least => outcome,
        _ => Outcome::NotComputable(format!(
            "{} strips have this number; a dough needs at least {least}",
            read.len()
        )),
    };
    Reading::of(outcome).with_remark(format!(
        "strips={} of {}; left out={}; strips are sub-samples of one dough",
        read.len(),
        dough.strips,
        dough.left_out
    ))
}

fn read_mean<const WHICH: usize>(dough: &DoughOfStrips, _: &'static str) -> Reading {
    over_strips(dough, WHICH, mean)
}

metric! {
    /// Mean of the greatest force over the valid strips of a dough, at least six. The interval is
    /// Student's t over the strips together with what all of them share.
    FORCE for DoughOfStrips {
        id: "strip.dough_maximum_force", symbol: "Fmax", name: "maximum force, mean of strips",
        unit: Unit::Newton, decimals: 3, revision: 1,
        source: ("common practice", "6 to 8 strips", CommonPractice),
        variants: [], read: read_mean::<0>,
    }
}

metric! {
    /// Mean hook travel at the greatest force over the valid strips of a dough, at least six.
    TRAVEL for DoughOfStrips {
        id: "strip.dough_extensibility", symbol: "y(Fmax)", name: "hook travel at maximum force, mean of strips",
        unit: Unit::Millimetre, decimals: 1, revision: 1,
        source: ("common practice", "6 to 8 strips", CommonPractice),
        variants: [], read: read_mean::<1>,
    }
}

metric! {
    /// Mean area below the force over the valid strips of a dough, at least six.
    AREA for DoughOfStrips {
        id: "strip.dough_area", symbol: "A", name: "area below the force, mean of strips",
        unit: Unit::NewtonMillimetre, decimals: 2, revision: 1,
        source: ("common practice", "6 to 8 strips", CommonPractice),
        variants: [], read: read_mean::<2>,
    }
}

metric! {
    /// Mean failure stress over the valid strips of a dough, at least six.
    STRESS for DoughOfStrips {
        id: "strip.dough_failure_stress", symbol: "sigma_max", name: "failure stress, mean of strips",
        unit: Unit::Kilopascal, decimals: 1, revision: 1,
        source: ("common practice", "6 to 8 strips", CommonPractice),
        variants: [], read: read_mean::<3>,
    }
}

metric! {
    /// Mean Hencky strain at failure over the valid strips of a dough, at least six.
    STRAIN for DoughOfStrips {
        id: "strip.dough_failure_strain", symbol: "eps_max", name: "Hencky strain at failure, mean of strips",
        unit: Unit::One, decimals: 3, revision: 1,
        source: ("common practice", "6 to 8 strips", CommonPractice),
        variants: [], read: read_mean::<4>,
    }
}

metric! {
    /// Mean exponent of the exponential law over the valid strips of a dough, at least six; never
    /// mixed with that of the power law.
    N_EXPONENTIAL for DoughOfStrips {
        id: "strip.dough_n_exp", symbol: "n_exp", name: "strain hardening, exponential law, mean of strips",
        unit: Unit::One, decimals: 3, revision: 1,
        source: ("common practice", "6 to 8 strips", CommonPractice),
        variants: [], read: read_mean::<5>,
    }
}

metric! {
    /// Mean factor of the exponential law over the valid strips of a dough, at least six.
    K_EXPONENTIAL for DoughOfStrips {
        id: "strip.dough_k_exp", symbol: "K_exp", name: "factor of the exponential law, mean of strips",
        unit: Unit::Kilopascal, decimals: 2, revision: 1,
        source: ("common practice", "6 to 8 strips", CommonPractice),
        variants: [], read: read_mean::<6>,
    }
}

metric! {
    /// Mean exponent of the power law over the valid strips of a dough, at least six; never mixed
    /// with that of the exponential law.
    N_POWER for DoughOfStrips {
        id: "strip.dough_n_pow", symbol: "n_pow", name: "strain hardening, power law, mean of strips",
        unit: Unit::One, decimals: 3, revision: 1,
        source: ("common practice", "6 to 8 strips", CommonPractice),
        variants: [], read: read_mean::<7>,
    }
}

metric! {
    /// Mean factor of the power law over the valid strips of a dough, at least six.
    K_POWER for DoughOfStrips {
        id: "strip.dough_k_pow", symbol: "K_pow", name: "factor of the power law, mean of strips",
        unit: Unit::Kilopascal, decimals: 2, revision: 1,
        source: ("common practice", "6 to 8 strips", CommonPractice),
        variants: [], read: read_mean::<8>,
    }
}

metric! {
    /// Standard deviation between the valid strips of a dough, in % of their mean. It says how
    /// evenly strips were prepared, not how much doughs differ.
    SPREAD for DoughOfStrips {
        id: "strip.dough_spread", symbol: "CV", name: "spread between strips",
        unit: Unit::Percent, decimals: 1, revision: 1,
        source: ("coefficient of variation", "between sub-samples", Derived),
        variants: [
            ("area", "of the area below the force"),
            ("failure-stress", "of the failure stress"),
            ("failure-strain", "of the Hencky strain at failure"),
            ("n-exp", "of the exponent of the exponential law"),
        ],
        read: read_spread,
    }
}

fn read_spread(dough: &DoughOfStrips, variant: &'static str) -> Reading {
    let which = match variant {
        "failure-stress" => 3,
        "failure-strain" => 4,
        "n-exp" => 5,
        _ => 2,
    };
    over_strips(dough, which, spread_pct)
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<DoughOfStrips>] = &[
    &FORCE,
    &TRAVEL,
    &AREA,
    &STRESS,
    &STRAIN,
    &N_EXPONENTIAL,
    &K_EXPONENTIAL,
    &N_POWER,
    &K_POWER,
    &SPREAD,
];
