//! The rise of firmness over the ages of a dough's bread: Avrami's law and the straight line.

use super::ages::Loaf;
use super::settings::Settings;
use crate::derive::interval::widened;
use crate::derive::{Metric, Reading, metric, or_outcome};
use crate::numerics::fit::{
    Avrami, AvramiIndex, Bound, Fit, Model, Options, Problem, Profile, avrami_start,
};
use crate::numerics::{LineFit, regress_line};
use crate::record::Outcome;
use crate::schema::Unit;

/// Where the parameters of Avrami's law may lie: firmness anywhere, rate and exponent above zero.
const BOUNDS: [Bound; 4] = [Bound::Free, Bound::Free, Bound::Positive, Bound::Positive];
/// Further starts tried where the first leads nowhere.
const RESTARTS: usize = 3;

/// A fit of Avrami's law.
pub(super) struct Law {
    model: Avrami,
    fit: Fit,
    profiles: Vec<Option<Profile>>,
    /// How much wider than the scatter of the loaves the intervals are, since readings are not
    /// surer than their uncertainty.
    widening: f64,
    /// Share of the firming done at the last age.
    done: f64,
}

/// The loaves of a dough over its ages, with the laws fitted to them.
pub(super) struct Firming {
    ages: usize,
    loaves: usize,
    first_d: f64,
    last_d: f64,
    held: Result<Law, String>,
    free: Result<Law, String>,
    line: Option<LineFit>,
    u: f64,
}

impl Firming {
    /// Fits the laws to the means of loaves, one point each.
    pub fn of(loaves: &[Loaf], settings: Settings) -> Firming {
        let mut points: Vec<(f64, f64)> = loaves.iter().map(|l| (l.age_d, l.mean())).collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (days, force): (Vec<f64>, Vec<f64>) = points.into_iter().unzip();
        let u = loaves.iter().map(|l| l.u).fold(0.0, f64::max);
        let mut ages = days.clone();
        ages.dedup_by(|a, b| a.total_cmp(b).is_eq());
        let held = fit_law(AvramiIndex::One, &days, &force, (u, 0.0));
        let free = if ages.len() < settings.ages_for_index {
            Err(format!(
                "{} ages do not settle the exponent, {} are wanted: n is held at 1",
                ages.len(),
                settings.ages_for_index
            ))
        } else {
            let wanted = (u, settings.plateau_share);
            fit_law(AvramiIndex::Free, &days, &force, wanted)
        };
        Firming {
            ages: ages.len(),
            loaves: loaves.len(),
            first_d: days.first().copied().unwrap_or(0.0),
            last_d: days.last().copied().unwrap_or(0.0),
            held,
            free,
            line: regress_line(&days, &force),
            u,
        }
    }

    fn law(&self, variant: &str) -> Result<&Law, Outcome> {
        let law = match variant {
            "n-free" => &self.free,
            _ => &self.held,
        };
        law.as_ref()
            .map_err(|reason| Outcome::NotComputable(reason.clone()))
    }

    /// Returns a reading with what the fit rests on.
    fn remarked(&self, law: Option<&Law>, outcome: Outcome) -> Reading {
        let mut remark = format!("ages={}; loaves={}", self.ages, self.loaves);
        if let Some(law) = law {
            remark.push_str(&format!(
                "; residual_n={:.3}; condition={:.0}; done_at_last_age={:.2}",
                law.fit.residual_deviation, law.fit.condition, law.done
            ));
        }
        Reading::of(outcome).with_remark(remark)
    }
}

/// Fits a law; the error says why there is none. `u` is the standard uncertainty of a loaf's
/// reading, `least_done` the share of the firming that must be done at the last age.
fn fit_law(
    index: AvramiIndex,
    days: &[f64],
    force: &[f64],
    (u, least_done): (f64, f64),
) -> Result<Law, String> {
    let model = Avrami { index };
    let options = Options {
        bounds: &BOUNDS,
        restarts: RESTARTS,
        ..Options::default()
    };
    let problem = Problem::new(&model, days, force, options).map_err(|e| e.to_string())?;
    let start = avrami_start(model, days, force).ok_or("the firmness does not change with age")?;
    let fit = problem.fit(&start).map_err(|e| e.to_string())?;
    let last = days.last().copied().unwrap_or(0.0);
    let (first, plateau) = (fit.parameters[0], fit.parameters[1]);
    let done = (model.value(last, &fit.parameters) - first) / (plateau - first);
    if done < least_done {
        return Err(format!(
            "no age near the plateau ({:.0} % of the firming is done at the last one): n is held \
             at 1",
            100.0 * done
        ));
    }
    let profiles = (0..fit.parameters.len())
        .map(|j| problem.profile(&fit, j))
        .collect();
    let widening = if fit.residual_deviation > 0.0 {
        (u / fit.residual_deviation).max(1.0)
    } else {
        1.0
    };
    Ok(Law {
        model,
        fit,
        profiles,
        widening,
        done,
    })
}

impl Law {
    /// Returns parameter `index` with the interval of its profile; a bound where one side is open.
    fn parameter(&self, index: usize) -> Outcome {
        let value = self.fit.parameters[index];
        let error = self.fit.standard_errors[index] * self.widening;
        let reach = |end: f64| value + (end - value) * self.widening;
        match self.profiles[index] {
            None => widened(value, (value, value), error, 0.0),
            Some(Profile {
                low: Some(low),
                high: Some(high),
            }) => widened(value, (reach(low), reach(high)), error, 0.0),
            Some(Profile {
                low: Some(low),
                high: None,
            }) => Outcome::Above(reach(low)),
            Some(Profile {
                low: None,
                high: Some(high),
            }) => Outcome::Below(reach(high)),
            Some(Profile {
                low: None,
                high: None,
            }) => Outcome::NotComputable("the ages rule out no value of it".into()),
        }
    }

    /// Returns whether the plateau is known from above.
    fn plateau_is_known(&self) -> bool {
        !matches!(
            self.profiles[1],
            Some(Profile { low: None, .. } | Profile { high: None, .. })
        )
    }
}

/// The two readings of Avrami's law.
macro_rules! avrami_metric {
    (
        $(#[doc = $doc:literal])+
        $name:ident {
            id: $id:literal, symbol: $symbol:literal, name: $title:literal,
            unit: $unit:expr, decimals: $decimals:literal, read: $read:path $(,)?
        }
    ) => {
        metric! {
            $(#[doc = $doc])+
            $name for Firming {
                id: $id, symbol: $symbol, name: $title,
                unit: $unit, decimals: $decimals, revision: 1,
                source: ("Cornford, Axford and Elton 1964, Cereal Chem. 41:216", "HANDBOOK 10, V-S1", Published),
                variants: [
                    ("n-1", "exponent held at 1"),
                    ("n-free", "exponent fitted; only from five ages with one near the plateau"),
                ],
                read: $read,
            }
        }
    };
}

avrami_metric! {
    /// Firmness of the fresh bread, F0 of Avrami's law `F(t) = Finf - (Finf - F0) exp(-k t^n)`
    /// fitted by least squares to the means of loaves; the interval is that of the profile of the
    /// sum of squares.
    INITIAL {
        id: "firmness.initial", symbol: "F0", name: "initial firmness",
        unit: Unit::Newton, decimals: 2, read: read_initial,
    }
}

fn read_initial(f: &Firming, variant: &'static str) -> Reading {
    let law = or_outcome!(f.law(variant));
    f.remarked(Some(law), law.parameter(0))
}

avrami_metric! {
    /// Firmness that the bread comes to in the end, Finf of Avrami's law. Where the ages stop far
    /// from it only a bound is known.
    FINAL {
        id: "firmness.final", symbol: "F∞", name: "final firmness",
        unit: Unit::Newton, decimals: 2, read: read_final,
    }
}

fn read_final(f: &Firming, variant: &'static str) -> Reading {
    let law = or_outcome!(f.law(variant));
    f.remarked(Some(law), law.parameter(1))
}

avrami_metric! {
    /// Rate constant k of Avrami's law. Its unit is day to the power -n: two rate constants compare
    /// only at one exponent.
    RATE_CONSTANT {
        id: "firmness.rate_constant", symbol: "k", name: "rate constant of firming",
        unit: Unit::PerDay, decimals: 3, read: read_rate_constant,
    }
}

fn read_rate_constant(f: &Firming, variant: &'static str) -> Reading {
    let law = or_outcome!(f.law(variant));
    f.remarked(Some(law), law.parameter(2))
}

metric! {
    /// Exponent n of Avrami's law, fitted only from five ages or more with one near the plateau
    /// (at least 0.8 of the firming done); one otherwise, and then no result.
    INDEX for Firming {
        id: "firmness.avrami_index", symbol: "n", name: "exponent of Avrami's law",
        unit: Unit::One, decimals: 2, revision: 1,
        source: ("Cornford, Axford and Elton 1964, Cereal Chem. 41:216", "HANDBOOK 10, V-S1", Published),
        variants: [], read: read_index,
    }
}

fn read_index(f: &Firming, _: &'static str) -> Reading {
    let law = or_outcome!(f.law("n-free"));
    f.remarked(Some(law), law.parameter(3))
}

avrami_metric! {
    /// Age at which half of the firming is done, `(ln 2 / k)^(1/n)`. The interval is that of its
    /// logarithm by the delta method. Not known while the plateau is not.
    HALF_TIME {
        id: "firmness.half_time", symbol: "t½", name: "half time of firming",
        unit: Unit::Day, decimals: 2, read: read_half_time,
    }
}

fn read_half_time(f: &Firming, variant: &'static str) -> Reading {
    let law = or_outcome!(f.law(variant));
    if !law.plateau_is_known() {
        let reason = "the ages stop before the plateau can be known".to_owned();
        return f.remarked(Some(law), Outcome::NotComputable(reason));
    }
    let model = law.model;
    let outcome = match law.fit.function(|p| libm::log(model.half_time(p))) {
        None => Outcome::NotComputable("the half time is not finite".into()),
        Some(log) => {
            let value = libm::exp(log.value);
            let end = |at: f64| libm::exp(log.value + law.widening * (at - log.value));
            let u = value * log.standard_error * law.widening;
            widened(value, (end(log.low), end(log.high)), u, 0.0)
        }
    };
    f.remarked(Some(law), outcome)
}

metric! {
    /// Slope of the straight line of firmness over age through the means of loaves: the mean rate
    /// over the ages tested, whatever the law. Depends on the ages: compare only like with like.
    LINEAR_RATE for Firming {
        id: "firmness.linear_rate", symbol: "dF/dt", name: "mean rate of firming",
        unit: Unit::NewtonPerDay, decimals: 3, revision: 1,
        source: ("straight line of least squares", "HANDBOOK 10", Derived),
        variants: [], read: read_linear_rate,
    }
}

fn read_linear_rate(f: &Firming, _: &'static str) -> Reading {
    let fitted = f.line.and_then(|line| {
        let t = line.coverage_factor()?;
        Some((line, t))
    });
    let Some((line, t)) = fitted else {
        let reason = "a line with its scatter needs three loaves at two ages".to_owned();
        return f.remarked(None, Outcome::NotComputable(reason));
    };
    let widening = if line.residual_deviation > 0.0 {
        (f.u / line.residual_deviation).max(1.0)
    } else {
        1.0
    };
    let error = line.slope_error * widening;
    let (low, high) = (line.slope - t * error, line.slope + t * error);
    let mut reading = f.remarked(None, widened(line.slope, (low, high), error, 0.0));
    let ages = format!("; from_d={}; to_d={}", f.first_d, f.last_d);
    reading.remarks.push_str(&ages);
    reading
}

/// The metrics of a dough over its ages, in report order.
pub(super) static METRICS: &[&Metric<Firming>] = &[
    &INITIAL,
    &FINAL,
    &RATE_CONSTANT,
    &INDEX,
    &HALF_TIME,
    &LINEAR_RATE,
];
