//! What the discs of one dough give together: P, L, G, W, P/L, Ie and the nominal means.

use super::mean::{energy_of, mean_at, mean_curve};
use super::settings::{ML_PER_MM_OF_FLOW, ML_PER_MM_OF_G, SWELLING_FACTOR, Settings};
use crate::derive::subsamples::{estimates, identifiers, mean, of_dough, sort_runs, spread_pct};
use crate::derive::{Gathered, Metric, Reading, metric, runs_by_dough};
use crate::numerics::{Jackknifed, jackknife};
use crate::record::{Estimate, Outcome, RunGroup, RunRecord};
use crate::schema::{Field, Test, Unit};

/// What of a disc the numbers of its dough are computed from.
const OF_DISC: [&str; 8] = [
    "inflation.disc_overpressure",
    "inflation.disc_extensibility",
    "inflation.disc_energy",
    "inflation.nominal_failure_strain",
    "inflation.nominal_n_exp",
    "inflation.nominal_k_exp",
    "inflation.nominal_n_pow",
    "inflation.nominal_k_pow",
];

/// Air after which the pressure of the elasticity index is read, ml.
const ELASTIC_ML: f64 = 200.0;

/// Salt water for 250 g of flour of moisture M, ml: 191.175 - 4.41175 M (ISO 27971; from memory,
/// high confidence; the water balance gives 191.1765 - 4.411765 M).
const SALT_WATER: (f64, f64) = (191.175, 4.411_75);
/// Flour that the formula is for, g.
const FLOUR_G: f64 = 250.0;

/// What the counting discs of one dough gave.
#[derive(Debug, Clone)]
pub struct DoughOfDiscs {
    settings: Settings,
    left_out: usize,
    /// Curve of each disc.
    shapes: Vec<Vec<(f64, f64)>>,
    /// Estimates of each number of [`OF_DISC`].
    read: Vec<Vec<Estimate>>,
    moisture_pct: Option<f64>,
    flour_g: Option<f64>,
}

/// Returns the numbers of each dough from its discs. Discs that were left out, or whose record does
/// not show the rupture, do not count.
pub fn groups(runs: &[&RunRecord]) -> Vec<RunGroup> {
    let settings = Settings::default();
    let mut groups = Vec::new();
    for (dough, discs) in runs_by_dough(runs) {
        let (members, left_out) = sort_runs(&discs, "inflation.disc_extensibility");
        if members.is_empty() {
            continue;
        }
        let stated = |field: Field| members.iter().find_map(|run| run.metadata.number(field));
        let prepared = DoughOfDiscs {
            settings,
            left_out: left_out.len(),
            shapes: members.iter().map(|run| run.facts.shape.clone()).collect(),
            read: OF_DISC.map(|metric| estimates(&members, metric)).to_vec(),
            moisture_pct: stated(Field::FlourMoisturePct),
            flour_g: stated(Field::FlourG),
        };
        let gathered = Gathered {
            test: Test::Inflation,
            name: format!("dough {dough}, inflation"),
            from: identifiers(&members, &OF_DISC),
            members,
            left_out,
            settings: settings.name(),
        };
        groups.push(gathered.read(&prepared, METRICS));
    }
    groups
}

impl DoughOfDiscs {
    fn of_disc(&self, which: usize) -> &[Estimate] {
        self.read.get(which).map_or(&[], Vec::as_slice)
    }

    /// Returns the mean of number `which` over the discs `kept`.
    fn mean_of(&self, which: usize, kept: &[usize]) -> Option<f64> {
        let of_disc = self.of_disc(which);
        let mut sum = 0.0;
        for i in kept {
            sum += of_disc.get(*i)?.value();
        }
        (!kept.is_empty()).then(|| sum / kept.len() as f64)
    }

    fn shapes(&self, kept: &[usize]) -> Vec<&[(f64, f64)]> {
        let shapes = kept.iter().filter_map(|i| self.shapes.get(*i));
        shapes.map(Vec::as_slice).collect()
    }

    /// Returns the relative uncertainty that the discs share in number `which`.
    fn shared(&self, which: usize) -> f64 {
        let of_disc = self.of_disc(which);
        let sum = |get: fn(&Estimate) -> f64| of_disc.iter().map(get).sum::<f64>();
        let values = sum(Estimate::value).abs();
        if values > 0.0 {
            sum(Estimate::std_uncertainty) / values
        } else {
            0.0
        }
    }

    /// Returns a number of the dough from a function of the discs kept, with the relative
    /// uncertainty that they share.
    fn number(
        &self,
        relative: f64,
        read: impl Fn(&[usize]) -> Option<f64>,
    ) -> Result<Outcome, Outcome> {
        let (discs, least) = (self.shapes.len(), self.settings.least_discs);
        if discs < least {
            return Err(Outcome::NotComputable(format!(
                "{discs} discs count; a dough needs at least {least}"
            )));
        }
        let found: Option<Jackknifed> = jackknife(discs, read);
        found
            .map(|number| of_dough(number, (number.value * relative).abs()))
            .ok_or_else(|| Outcome::NotComputable("the discs have no such number".into()))
    }

    fn reading(&self, outcome: Result<Outcome, Outcome>) -> Reading {
        let (Ok(outcome) | Err(outcome)) = outcome;
        Reading::of(outcome).with_remark(format!(
            "discs={}; left out={}; discs are sub-samples of one dough",
            self.shapes.len(),
            self.left_out
        ))
    }
}

metric! {
    /// Mean of the maxima of the discs of one dough, in mm of water. Five discs are one dough; at
    /// least four must count.
    PRESSURE for DoughOfDiscs {
        id: "inflation.overpressure", symbol: "P", name: "maximum overpressure",
        unit: Unit::MillimetreWater, decimals: 0, revision: 1,
        source: ("ISO 27971", "maximum pressure P", Published),
        variants: [], read: read_pressure,
    }
}

fn read_pressure(dough: &DoughOfDiscs, _: &'static str) -> Reading {
    dough.reading(dough.number(dough.shared(0), |kept| dough.mean_of(0, kept)))
}

metric! {
    /// Mean chart length to rupture of the discs of one dough; volumes and times are turned into
    /// chart length with 4.955 ml/mm, as G = 2.226 sqrt(L) implies.
    LENGTH for DoughOfDiscs {
        id: "inflation.extensibility", symbol: "L", name: "length to rupture",
        unit: Unit::Millimetre, decimals: 0, revision: 1,
        source: ("ISO 27971", "abscissa at rupture L", Published),
        variants: [], read: read_length,
    }
}

fn read_length(dough: &DoughOfDiscs, _: &'static str) -> Reading {
    dough.reading(dough.number(dough.shared(1), |kept| dough.mean_of(1, kept)))
}

metric! {
    /// 2.226 times the square root of the mean length to rupture: the square root of the air blown
    /// in, by the standard's constant and not by the measured flow.
    SWELLING for DoughOfDiscs {
        id: "inflation.swelling_index", symbol: "G", name: "swelling index",
        unit: Unit::RootMillilitre, decimals: 1, revision: 1,
        source: ("ISO 27971", "swelling index G", FromMemoryHigh),
        variants: [], read: read_swelling,
    }
}

fn read_swelling(dough: &DoughOfDiscs, _: &'static str) -> Reading {
    let of = |kept: &[usize]| Some(SWELLING_FACTOR * dough.mean_of(1, kept)?.max(0.0).sqrt());
    dough.reading(dough.number(0.5 * dough.shared(1), of))
}

metric! {
    /// Energy below the mean curve of the discs up to their mean length: 1.32 (V/L) S with V = G²,
    /// 6.54 times the area in cm² of the legacy chart. At each length the mean is over the discs
    /// that are still whole. It is energy per gram of a disc of about 8 g and belongs in no energy
    /// balance.
    ENERGY for DoughOfDiscs {
        id: "inflation.deformation_energy", symbol: "W", name: "deformation energy",
        unit: Unit::TenthMillijoule, decimals: 0, revision: 1,
        source: ("ISO 27971", "deformation energy W", FromMemoryHigh),
        variants: [], read: read_energy,
    }
}

fn read_energy(dough: &DoughOfDiscs, _: &'static str) -> Reading {
    let of = |kept: &[usize]| Some(energy_of(&mean_curve(&dough.shapes(kept))));
    dough.reading(dough.number(dough.shared(2), of))
}

metric! {
    /// P divided by L, in mm of water per mm of chart, both unrounded.
    RATIO for DoughOfDiscs {
        id: "inflation.configuration_ratio", symbol: "P/L", name: "configuration ratio",
        unit: Unit::One, decimals: 2, revision: 1,
        source: ("ISO 27971", "ratio P/L", FromMemoryHigh),
        variants: [], read: read_ratio,
    }
}

fn read_ratio(dough: &DoughOfDiscs, _: &'static str) -> Reading {
    let of = |kept: &[usize]| Some(dough.mean_of(0, kept)? / dough.mean_of(1, kept)?);
    dough.reading(dough.number(dough.shared(0).hypot(dough.shared(1)), of))
}

metric! {
    /// Pressure of the mean curve after 200 ml of air, in % of P. Where those 200 ml lie on the
    /// chart depends on the constant: the rule is named. Doughs whose mean length is shorter have
    /// none.
    ELASTICITY for DoughOfDiscs {
        id: "inflation.elasticity_index", symbol: "Ie", name: "elasticity index",
        unit: Unit::Percent, decimals: 1, revision: 1,
        source: ("ISO 27971", "elasticity index Ie", FromMemoryHigh),
        variants: [
            ("200ml-4.955", "at 40.36 mm: 200 ml with 4.955 ml/mm, as G = 2.226 sqrt(L) implies"),
            ("200ml-4.848", "at 41.25 mm: 200 ml with 4.848 ml/mm, which 96 l/h on a chart at 5.5 mm/s are"),
            ("40mm", "at 40 mm"),
        ],
        read: read_elasticity,
    }
}

fn read_elasticity(dough: &DoughOfDiscs, variant: &'static str) -> Reading {
    let at = match variant {
        "200ml-4.848" => ELASTIC_ML / ML_PER_MM_OF_FLOW,
        "40mm" => 40.0,
        _ => ELASTIC_ML / ML_PER_MM_OF_G,
    };
    let all: Vec<usize> = (0..dough.shapes.len()).collect();
    let of = |kept: &[usize]| {
        let pressure = mean_at(&dough.shapes(kept), at)?;
        Some(100.0 * pressure / dough.mean_of(0, kept)?)
    };
    let outcome = match dough.mean_of(1, &all) {
        Some(length) if length < at => Err(Outcome::NotReached(format!(
            "the mean length {length:.1} mm is less than {at:.2} mm"
        ))),
        // The pressure's own factor cancels; what is left is where the air started.
        _ => {
            let near = |x: f64| mean_at(&dough.shapes(&all), x);
            let slope = near(at + 1.0)
                .zip(near(at - 1.0))
                .map(|(a, b)| 0.5 * (a - b));
            let here = near(at).unwrap_or(1.0);
            let relative = (slope.unwrap_or(0.0) * at * dough.shared(1) / here).abs();
            dough.number(relative.max(1e-4), of)
        }
    };
    let reading = dough.reading(outcome);
    let remark = format!("p200_rule={variant}; {}", reading.remarks);
    reading.with_remark(remark)
}

metric! {
    /// Salt water (25 g/l) that the flour's moisture asks for: 191.175 - 4.41175 M ml for 250 g of
    /// flour of moisture M %, in proportion for another mass; constant hydration of 50 % on 15 %
    /// moisture. To be compared with what was dosed.
    WATER for DoughOfDiscs {
        id: "inflation.salt_water", symbol: "V_NaCl", name: "salt water asked for",
        unit: Unit::Millilitre, decimals: 1, revision: 1,
        source: ("ISO 27971", "preparation of the dough", FromMemoryHigh),
        variants: [], read: read_water,
    }
}

fn read_water(dough: &DoughOfDiscs, _: &'static str) -> Reading {
    let Some(moisture) = dough.moisture_pct else {
        return Reading::of(Outcome::NotComputable(
            "flour_moisture_pct not stated".into(),
        ));
    };
    let share = dough.flour_g.unwrap_or(FLOUR_G) / FLOUR_G;
    let (at_nought, per_pct) = SALT_WATER;
    let volume = (at_nought - per_pct * moisture) * share;
    let u = per_pct * dough.settings.moisture_u_pct * share;
    let reading = Reading::of(Outcome::exact(volume, u));
    match dough.flour_g {
        Some(_) => reading,
        None => reading.with_remark("flour=250 g assumed".into()),
    }
}

/// Returns the mean of number `WHICH` over the discs that have it, at least four.
fn read_mean<const WHICH: usize>(dough: &DoughOfDiscs, _: &'static str) -> Reading {
    over_discs(dough, WHICH, mean)
}

fn over_discs(
    dough: &DoughOfDiscs,
    which: usize,
    of: fn(&[Estimate]) -> Option<Outcome>,
) -> Reading {
    let read = dough.of_disc(which);
    let least = dough.settings.least_discs;
    dough.reading(match of(read) {
        Some(outcome) if read.len() >= least => Ok(outcome),
        _ => Err(Outcome::NotComputable(format!(
            "{} discs have this number; a dough needs at least {least}",
            read.len()
        ))),
    })
}

metric! {
    /// Mean nominal strain at rupture over the discs of a dough (spherical cap).
    STRAIN for DoughOfDiscs {
        id: "inflation.dough_nominal_failure_strain", symbol: "eps_b nominal", name: "nominal strain at rupture, mean of discs",
        unit: Unit::One, decimals: 3, revision: 1,
        source: ("Dobraszczyk and Roberts 1994; Bloksma 1957", "spherical cap", FromMemoryHigh),
        variants: [], read: read_mean::<3>,
    }
}

metric! {
    /// Mean exponent of the nominal exponential law over the discs of a dough; never mixed with that
    /// of the power law.
    N_EXPONENTIAL for DoughOfDiscs {
        id: "inflation.dough_nominal_n_exp", symbol: "n_exp nominal", name: "nominal strain hardening, exponential law, mean of discs",
        unit: Unit::One, decimals: 3, revision: 1,
        source: ("van Vliet et al. 1992", "strain hardening index", FromMemoryHigh),
        variants: [], read: read_mean::<4>,
    }
}

metric! {
    /// Mean factor of the nominal exponential law over the discs of a dough.
    K_EXPONENTIAL for DoughOfDiscs {
        id: "inflation.dough_nominal_k_exp", symbol: "K_exp nominal", name: "factor of the nominal exponential law, mean of discs",
        unit: Unit::Kilopascal, decimals: 2, revision: 1,
        source: ("van Vliet et al. 1992", "strain hardening index", FromMemoryHigh),
        variants: [], read: read_mean::<5>,
    }
}

metric! {
    /// Mean exponent of the nominal power law over the discs of a dough; never mixed with that of
    /// the exponential law.
    N_POWER for DoughOfDiscs {
        id: "inflation.dough_nominal_n_pow", symbol: "n_pow nominal", name: "nominal strain hardening, power law, mean of discs",
        unit: Unit::One, decimals: 3, revision: 1,
        source: ("Dobraszczyk and Roberts 1994", "strain hardening index", FromMemoryHigh),
        variants: [], read: read_mean::<6>,
    }
}

metric! {
    /// Mean factor of the nominal power law over the discs of a dough.
    K_POWER for DoughOfDiscs {
        id: "inflation.dough_nominal_k_pow", symbol: "K_pow nominal", name: "factor of the nominal power law, mean of discs",
        unit: Unit::Kilopascal, decimals: 2, revision: 1,
        source: ("Dobraszczyk and Roberts 1994", "strain hardening index", FromMemoryHigh),
        variants: [], read: read_mean::<7>,
    }
}

metric! {
    /// Standard deviation between the discs of a dough, in % of their mean. It says how evenly discs
    /// were prepared, not how much doughs differ.
    SPREAD for DoughOfDiscs {
        id: "inflation.disc_spread", symbol: "CV", name: "spread between discs",
        unit: Unit::Percent, decimals: 1, revision: 1,
        source: ("coefficient of variation", "between sub-samples", Derived),
        variants: [
            ("energy", "of the deformation energy"),
            ("overpressure", "of the maximum overpressure"),
            ("extensibility", "of the length to rupture"),
        ],
        read: read_spread,
    }
}

fn read_spread(dough: &DoughOfDiscs, variant: &'static str) -> Reading {
    let which = match variant {
        "overpressure" => 0,
        "extensibility" => 1,
        _ => 2,
    };
    over_discs(dough, which, spread_pct)
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<DoughOfDiscs>] = &[
    &PRESSURE,
    &LENGTH,
    &SWELLING,
    &ENERGY,
    &RATIO,
    &ELASTICITY,
    &WATER,
    &STRAIN,
    &N_EXPONENTIAL,
    &K_EXPONENTIAL,
    &N_POWER,
    &K_POWER,
    &SPREAD,
];
