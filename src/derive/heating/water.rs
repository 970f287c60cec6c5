//! Dough make-up of one run, and the water absorption that several runs bracket.

use super::prepare::{Prepared, Stated};
use super::settings::{
    ACCEPTED_NM, DOUGH_G, Settings, TARGET_NM, U_MASS_G, U_MOISTURE_PCT, U_TORQUE_SHARE,
};
use crate::derive::basis::{BASIS_PCT, Basis};
use crate::derive::{Gathered, Metric, Reading, metric};
use crate::record::{MetricResult, Outcome, RunGroup, RunRecord};
use crate::schema::{Field, ResultId, SampleId, Unit};

/// Flour and water of a dough.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MakeUp {
    /// Flour at 14 % moisture, g.
    pub flour_14_g: f64,
    /// Flour to weigh as it is, g.
    pub flour_g: f64,
    /// Water to weigh, g.
    pub water_g: f64,
}

/// Returns flour and water for 75 g of dough at a hydration in % of flour at 14 % moisture:
/// F14 = 7500/(100 + H), F = F14 · 86/(100 − M), W = 75 − F (mass balance of HANDBOOK §3; derived).
pub fn make_up(hydration_14_pct: f64, moisture_pct: f64) -> MakeUp {
    let flour_14_g = 100.0 * DOUGH_G / (100.0 + hydration_14_pct);
    let flour_g = flour_14_g * (100.0 - BASIS_PCT) / (100.0 - moisture_pct);
    MakeUp {
        flour_14_g,
        flour_g,
        water_g: DOUGH_G - flour_g,
    }
}

/// Returns the hydration on the 14 % basis of one stated on another, for flour at `moisture_pct` %:
/// flour and water together weigh the same on any basis (derived).
pub fn hydration_on_14(hydration_pct: f64, basis: Basis, moisture_pct: f64) -> f64 {
    let flour_share = match basis {
        Basis::Moisture14 => 1.0,
        Basis::AsIs => (100.0 - moisture_pct) / (100.0 - BASIS_PCT),
        Basis::Dry => 100.0 / (100.0 - BASIS_PCT),
    };
    (100.0 + hydration_pct) / flour_share - 100.0
}

/// Returns hydration on the 14 % basis and flour moisture, or why they are not known.
fn hydration_14(stated: &Stated, moisture_pct: Option<f64>) -> Result<(f64, f64), String> {
    let (hydration, basis) = stated.hydration()?;
    let moisture = moisture_pct
        .filter(|m| (0.0..100.0).contains(m))
        .ok_or("flour moisture not stated (flour_moisture_pct)")?;
    Ok((hydration_on_14(hydration, basis, moisture), moisture))
}

metric! {
    /// Flour to weigh for 75 g of dough at the stated hydration and flour moisture. A check of what
    /// was weighed, not a result of the curve.
    FLOUR_TO_WEIGH for Prepared {
        id: "heating.flour_to_weigh", symbol: "F", name: "flour to weigh",
        unit: Unit::Gram, decimals: 2, revision: 1,
        source: ("ISO 17718", "dough of 75 g, mass balance", Derived),
        variants: [], read: read_flour,
    }
}

metric! {
    /// Water to weigh for 75 g of dough at the stated hydration and flour moisture. A check of what
    /// was dosed, not a result of the curve.
    WATER_TO_WEIGH for Prepared {
        id: "heating.water_to_weigh", symbol: "W", name: "water to weigh",
        unit: Unit::Gram, decimals: 2, revision: 1,
        source: ("ISO 17718", "dough of 75 g, mass balance", Derived),
        variants: [], read: read_water,
    }
}

fn made_up(p: &Prepared) -> Result<(MakeUp, f64), Outcome> {
    let (hydration, moisture) =
        hydration_14(&p.stated, p.conditions.flour_moisture_pct).map_err(Outcome::NotComputable)?;
    let masses = make_up(hydration, moisture);
    // The moisture moves flour and water against each other: dF/dM = F/(100 − M).
    let u = masses.flour_g / (100.0 - moisture) * U_MOISTURE_PCT;
    Ok((masses, u))
}

fn read_flour(p: &Prepared, _: &'static str) -> Reading {
    Reading::of(made_up(p).map_or_else(|o| o, |(masses, u)| Outcome::exact(masses.flour_g, u)))
}

fn read_water(p: &Prepared, _: &'static str) -> Reading {
    Reading::of(made_up(p).map_or_else(|o| o, |(masses, u)| Outcome::exact(masses.water_g, u)))
}

/// The metrics of one run in this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] = &[&FLOUR_TO_WEIGH, &WATER_TO_WEIGH];

/// One hydration of a flour lot, with the torque its runs came to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trial {
    /// Hydration, % on the 14 % basis.
    pub hydration: f64,
    /// Mean of the first maxima, N m.
    pub c1: f64,
    /// Standard uncertainty of that mean, calibration apart, N m.
    pub u_c1: f64,
    /// Runs it is the mean of.
    pub runs: u32,
}

/// The trials of one flour lot.
#[derive(Debug, Clone, Default)]
pub struct Series {
    /// Trials, by rising hydration.
    pub trials: Vec<Trial>,
    /// Mean moisture of the flour, %.
    pub moisture_pct: f64,
}

/// Two trials, and how far the target lies beyond them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bracket {
    /// Trial of the lower torque.
    pub low: Trial,
    /// Trial of the higher torque.
    pub high: Trial,
    /// How far 1.10 N m lies beyond the nearer of the two; 0 between them, N m.
    pub beyond_nm: f64,
}

/// Greatest extrapolation beyond the nearer trial, N m (HANDBOOK §3, project choice).
const MOST_BEYOND_NM: f64 = 0.1;

/// Hydrations closer than this are one trial, percentage points (project choice).
const SAME_HYDRATION: f64 = 0.05;

impl Series {
    /// Adds a run: to the trial of its hydration, or as a new one.
    pub fn add(&mut self, hydration: f64, c1: f64, u_c1: f64) {
        let near = |trial: &&mut Trial| (trial.hydration - hydration).abs() < SAME_HYDRATION;
        if let Some(trial) = self.trials.iter_mut().find(near) {
            let n = f64::from(trial.runs);
            trial.c1 = (n * trial.c1 + c1) / (n + 1.0);
            trial.u_c1 = (n * trial.u_c1).hypot(u_c1) / (n + 1.0);
            trial.runs += 1;
            return;
        }
        self.trials.push(Trial {
            hydration,
            c1,
            u_c1,
            runs: 1,
        });
        self.trials
            .sort_by(|a, b| a.hydration.total_cmp(&b.hydration));
    }

    /// Returns the trials between which, or just beyond which, the torque is 1.10 N m.
    ///
    /// # Errors
    /// The reason, where there are fewer than two trials, the nearest lies too far away, or more
    /// water does not give less torque.
    pub fn bracket(&self) -> Result<Bracket, String> {
        if self.trials.len() < 2 {
            return Err(match self.trials.first() {
                Some(one) if ACCEPTED_NM.contains(&one.c1) => format!(
                    "one hydration only: C1 of {:.3} N m at {:.1} % lies in 1.05–1.15 N m; a run at another hydration would place 1.10 N m",
                    one.c1, one.hydration
                ),
                _ => "two runs of one flour lot at different hydrations are needed".into(),
            });
        }
        let mut by_torque = self.trials.clone();
        by_torque.sort_by(|a, b| a.c1.total_cmp(&b.c1));
        let above = by_torque.partition_point(|trial| trial.c1 < TARGET_NM);
        let count = by_torque.len();
        // The two around the target, or the two nearest to it on its one side.
        let first = above.saturating_sub(1).min(count - 2);
        let (low, high) = (by_torque[first], by_torque[first + 1]);
        let beyond_nm = (low.c1 - TARGET_NM).max(TARGET_NM - high.c1).max(0.0);
        if beyond_nm > MOST_BEYOND_NM {
            let nearest = if TARGET_NM > high.c1 { high } else { low };
            return Err(format!(
                "no two runs bracket 1.10 N m: the nearest has C1 {:.3} N m at {:.1} %, {beyond_nm:.3} N m away; at most {MOST_BEYOND_NM} N m is extrapolated",
                nearest.c1, nearest.hydration
            ));
        }
        if low.hydration <= high.hydration {
            return Err(format!(
                "C1 is {:.3} N m at {:.1} % and {:.3} N m at {:.1} %: more water did not give less torque",
                low.c1, low.hydration, high.c1, high.hydration
            ));
        }
        Ok(Bracket {
            low,
            high,
            beyond_nm,
        })
    }
}

impl Bracket {
    /// Returns the hydration at `torque_nm` on the straight line through both trials.
    pub fn hydration_at(&self, torque_nm: f64) -> f64 {
        let (low, high) = (self.low, self.high);
        let share = (torque_nm - low.c1) / (high.c1 - low.c1);
        low.hydration + share * (high.hydration - low.hydration)
    }

    /// Returns the standard uncertainty of the hydration at 1.10 N m: both torques, the torque's
    /// calibration, what was weighed, and the flour moisture, by central differences (JCGM 100,
    /// 5.1.3), and how far a law bent like an exponential would lie from the straight line.
    pub fn u_hydration(&self, moisture_pct: f64) -> f64 {
        let moved = |change: &dyn Fn(&mut Bracket, f64), u: f64| {
            let (mut up, mut down) = (*self, *self);
            change(&mut up, u);
            change(&mut down, -u);
            0.5 * (up.hydration_at(TARGET_NM) - down.hydration_at(TARGET_NM))
        };
        let at = self.hydration_at(TARGET_NM);
        // One mass of flour or water moves the hydration of its run by (100 + H)/F14 per g.
        let weighed = (100.0 + at) * (100.0 + at) / (100.0 * DOUGH_G) * U_MASS_G;
        let weighed = std::f64::consts::SQRT_2 * weighed;
        // Torque falls less and less with water: the straight line is off by an unknown part of what
        // separates it from the exponential through both runs, a rectangle.
        let share = libm::log(TARGET_NM / self.low.c1) / libm::log(self.high.c1 / self.low.c1);
        let bent = self.low.hydration + share * (self.high.hydration - self.low.hydration);
        let parts = [
            (bent - at) / 3.0_f64.sqrt(),
            moved(&|b, u| b.low.c1 += u, self.low.u_c1),
            moved(&|b, u| b.high.c1 += u, self.high.u_c1),
            moved(
                &|b, u| {
                    b.low.c1 *= 1.0 + u;
                    b.high.c1 *= 1.0 + u;
                },
                U_TORQUE_SHARE,
            ),
            moved(&|b, u| b.low.hydration += u, weighed),
            moved(&|b, u| b.high.hydration += u, weighed),
            // The same flour in every run: its moisture moves all hydrations alike.
            (100.0 + at) / (100.0 - moisture_pct) * U_MOISTURE_PCT,
        ];
        parts.iter().map(|part| part * part).sum::<f64>().sqrt()
    }
}

metric! {
    /// Water in ml per 100 g of flour at 14 % moisture at which C1 is 1.10 N m: on the straight line
    /// between the two runs of one flour lot whose C1 bracket it, runs at one hydration averaged.
    /// Beyond all runs by at most 0.1 N m.
    WATER_ABSORPTION for Series {
        id: "heating.water_absorption", symbol: "WA", name: "water absorption (14 % basis)",
        unit: Unit::MillilitrePer100Gram, decimals: 1, revision: 1,
        source: ("ISO 17718", "water absorption", FromMemoryHigh),
        variants: [], read: read_absorption,
    }
}

fn read_absorption(series: &Series, _: &'static str) -> Reading {
    match series.bracket() {
        Err(reason) => Reading::of(Outcome::NotComputable(reason)),
        Ok(bracket) => {
            let value = bracket.hydration_at(TARGET_NM);
            let outcome = Outcome::exact(value, bracket.u_hydration(series.moisture_pct));
            let (low, high) = (bracket.low, bracket.high);
            let how = if bracket.beyond_nm > 0.0 {
                format!("extrapolated by {:.3} N m", bracket.beyond_nm)
            } else {
                "interpolated".to_owned()
            };
            Reading::of(outcome).with_remark(format!(
                "{how}; {:.3} N m at {:.2} %, {:.3} N m at {:.2} %",
                low.c1, low.hydration, high.c1, high.hydration
            ))
        }
    }
}

/// The metrics of groups of runs, in report order.
pub(super) static GROUP_METRICS: &[&Metric<Series>] = &[&WATER_ABSORPTION];

/// Forms the series of each flour lot and reads its absorption. A lot with one hydration only was
/// no search for the absorption and forms none.
pub(super) fn groups(runs: &[&RunRecord]) -> Vec<RunGroup> {
    let mut lots: Vec<(SampleId, Option<String>, Vec<&RunRecord>)> = Vec::new();
    for run in runs {
        let Some(sample) = &run.conditions.sample_id else {
            continue;
        };
        let treatment = &run.conditions.treatment;
        let same = lots
            .iter_mut()
            .find(|(id, other, _)| id == sample && other == treatment);
        match same {
            Some((_, _, list)) => list.push(run),
            None => lots.push((sample.clone(), treatment.clone(), vec![run])),
        }
    }
    lots.into_iter()
        .filter_map(|(sample, treatment, runs)| group_of(&sample, treatment.as_deref(), &runs))
        .collect()
}

fn group_of(sample: &SampleId, treatment: Option<&str>, runs: &[&RunRecord]) -> Option<RunGroup> {
    let mut series = Series::default();
    let (mut members, mut left_out, mut from) = (Vec::new(), Vec::new(), Vec::new());
    let mut moistures = Vec::new();
    for run in runs {
        match trial_of(run) {
            Ok((hydration, moisture, c1, id)) => {
                series.add(hydration, c1.0, c1.1);
                moistures.push(moisture);
                from.push(id);
                members.push(*run);
            }
            Err(reason) => left_out.push((run.key(), reason)),
        }
    }
    if series.trials.len() < 2 {
        return None;
    }
    series.moisture_pct = moistures.iter().sum::<f64>() / moistures.len().max(1) as f64;
    let name = match treatment {
        Some(treatment) => format!("flour {sample}, {treatment}, heating"),
        None => format!("flour {sample}, heating"),
    };
    let gathered = Gathered {
        test: crate::schema::Test::Heating,
        name,
        members,
        left_out,
        from,
        settings: Settings::default().name(),
    };
    Some(gathered.read(&series, GROUP_METRICS))
}

type RunTrial = (f64, f64, (f64, f64), ResultId);

/// Returns hydration on the 14 % basis, flour moisture, C1 with its uncertainty and its identifier,
/// or why the run is no trial.
fn trial_of(run: &RunRecord) -> Result<RunTrial, String> {
    let stated = Stated {
        hydration_pct: run.metadata.number(Field::HydrationPct),
        hydration_basis: run.metadata.text(Field::HydrationBasis),
    };
    let (hydration, moisture) = hydration_14(&stated, run.conditions.flour_moisture_pct)?;
    let first: &MetricResult = run.result("heating.c1").ok_or("C1 was not read")?;
    let estimate = first.outcome.estimate().ok_or("C1 is not exact")?;
    let c1 = (estimate.value(), estimate.std_uncertainty());
    Ok((hydration, moisture, c1, first.id.clone()))
}
