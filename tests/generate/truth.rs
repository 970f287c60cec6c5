//! The truth of a mixing curve: every metric, read from the noise-free model.
//!
//! Definitions: HANDBOOK §1.3 (water absorption), §1.7 (quantities), §1.8 (peaks), §1.9
//! (censoring) and §19 (heights at the maximum, times by the variant). Nothing here smooths,
//! samples or imports the code under test.

use super::anatomy::{Crossing, Grid, Maximum};
use super::curve::CurveModel;
use super::water::Dosing;
use std::collections::BTreeMap;

/// The line must be left for this long to count as crossed, min; HANDBOOK §1.7 (choice, 10 s).
const HYSTERESIS_MIN: f64 = 10.0 / 60.0;
/// Fall that ends the time to breakdown, FU; HANDBOOK §1.7.
const BREAKDOWN_FU: f64 = 30.0;
/// Chart millimetres per minute in the quality number; HANDBOOK §1.7.
const CHART_MM_PER_MIN: f64 = 10.0;
/// Consistency window in which the water correction holds, FU; HANDBOOK §1.3, from memory.
const WINDOW_FU: (f64, f64) = (480.0, 520.0);

/// Parameters of the definitions.
#[derive(Debug, Clone, Copy)]
pub struct Rules {
    /// How far the centre may lie below its maximum before weakening counts, FU.
    pub delta_fu: f64,
    /// Reference line, FU.
    pub line_fu: f64,
}

impl Default for Rules {
    /// Returns delta 2 FU (the least the handbook allows, for noise up to 1 FU) and line 500 FU.
    fn default() -> Rules {
        Rules {
            delta_fu: 2.0,
            line_fu: 500.0,
        }
    }
}

/// What a metric truly is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TruthValue {
    /// This value.
    Exact(f64),
    /// Any value of a plateau would be as true.
    Between(f64, f64),
    /// Above this bound: the record ended too early.
    Above(f64),
    /// Below this bound: it had happened before the first sample.
    Below(f64),
    /// The curve never comes to the point asked for.
    NotReached,
    /// An input or a part of the record is missing.
    NotComputable,
    /// A rule rejects the run: what could be read must not be used.
    Rejected,
}

/// The truth of one run.
#[derive(Debug, Clone, Default)]
pub struct Truth {
    values: BTreeMap<(&'static str, &'static str), TruthValue>,
    /// Whether the curve has two peaks; the second counts.
    pub double_peak: bool,
    /// Greatest value of the centre in the record, FU.
    pub centre_max_fu: f64,
}

impl Truth {
    /// Returns the truth of a metric in a variant; the variant is empty where there is only one.
    pub fn get(&self, metric: &str, variant: &str) -> Option<TruthValue> {
        self.values
            .iter()
            .find(|((m, v), _)| *m == metric && *v == variant)
            .map(|(_, value)| *value)
    }

    /// Returns metric, variant and truth of everything, sorted.
    pub fn iter(&self) -> impl Iterator<Item = (&'static str, &'static str, TruthValue)> {
        self.values.iter().map(|((m, v), value)| (*m, *v, *value))
    }

    /// Returns the truth of a curve of unknown unit sampled too slowly for its band, whose record
    /// does not say when water came: what needs a calibrated line, a fall in FU or the band cannot
    /// be computed, heights are in the unit of the curve, and times count from `zero_min`.
    pub fn without_unit(mut self, zero_min: f64) -> Truth {
        for ((metric, variant), value) in &mut self.values {
            *value = match (*metric, *variant, *value) {
                ("mixing.consistency", _, height) => height,
                ("mixing.development_time", _, TruthValue::Above(t)) => {
                    TruthValue::Above(t - zero_min)
                }
                ("mixing.development_time", "iso" | "centre-max", TruthValue::Exact(t)) => {
                    exact(t - zero_min)
                }
                _ => TruthValue::NotComputable,
            };
        }
        self
    }

    /// States the truth of a metric in a variant.
    pub fn state(&mut self, metric: &'static str, variant: &'static str, value: TruthValue) {
        self.values.insert((metric, variant), value);
    }
}

/// The stretch of the curve that the record covers, min since water contact.
#[derive(Debug, Clone, Copy)]
pub struct Covered {
    /// First sample at or after water contact.
    pub first_min: f64,
    /// Last sample.
    pub end_min: f64,
}

/// Returns the truth of `model` as far as the record covers it.
pub fn truth_of(
    model: &CurveModel,
    covered: Covered,
    dosing: Option<Dosing>,
    rules: Rules,
) -> Truth {
    let grid = |f: fn(&CurveModel, f64) -> f64| {
        Grid::new(move |t| f(model, t), covered.first_min, covered.end_min)
    };
    let reader = Reader {
        covered,
        rules,
        centre: grid(CurveModel::centre),
        upper: grid(CurveModel::upper),
        lower: grid(CurveModel::lower),
    };
    let mut truth = Truth::default();
    reader.read_line(&mut truth);
    reader.read_peak(&mut truth, model, dosing);
    truth
}

struct Reader<'a> {
    covered: Covered,
    rules: Rules,
    centre: Grid<'a>,
    upper: Grid<'a>,
    lower: Grid<'a>,
}

impl Reader<'_> {
    /// Arrival, departure and stability: when the upper contour stands at or above the line.
    fn read_line(&self, truth: &mut Truth) {
        let end = self.covered.end_min;
        let crossings = self.lasting_crossings();
        let starts_above = self.upper.first() >= self.rules.line_fu;
        let arrival = match crossings.iter().find(|c| c.rising) {
            _ if starts_above => TruthValue::Below(self.covered.first_min),
            Some(c) => TruthValue::Exact(c.at_min),
            None => TruthValue::NotReached,
        };
        let departures = || crossings.iter().filter(|c| !c.rising);
        let ends_above = crossings.last().map_or(starts_above, |c| c.rising);
        let at = |c: Option<&Crossing>| c.map_or(TruthValue::Above(end), |c| exact(c.at_min));
        let (last, first) = if arrival == TruthValue::NotReached {
            (TruthValue::NotReached, TruthValue::NotReached)
        } else if ends_above {
            (TruthValue::Above(end), at(departures().next()))
        } else {
            (at(departures().next_back()), at(departures().next()))
        };
        truth.state("mixing.arrival_time", "", arrival);
        for (variant, departure) in [("last", last), ("first", first)] {
            truth.state("mixing.departure_time", variant, departure);
            truth.state("mixing.stability", variant, span(arrival, departure));
        }
    }

    /// Crossings of the upper contour that last: what returns within 10 s never happened.
    fn lasting_crossings(&self) -> Vec<Crossing> {
        let mut kept: Vec<Crossing> = Vec::new();
        for crossing in self.upper.crossings(self.rules.line_fu) {
            match kept.last() {
                Some(previous) if crossing.at_min - previous.at_min < HYSTERESIS_MIN => {
                    kept.pop();
                }
                _ => kept.push(crossing),
            }
        }
        kept
    }

    /// Everything that hangs on the peak.
    fn read_peak(&self, truth: &mut Truth, model: &CurveModel, dosing: Option<Dosing>) {
        let valley = self.centre.last_valley_min();
        let from = valley.unwrap_or(self.covered.first_min);
        let centre = self.centre.maximum_from(from);
        let upper = self.upper.maximum_from(from);
        let lower = self.lower.maximum_from(from);
        truth.double_peak = valley.is_some();
        truth.centre_max_fu = centre.height;

        // HANDBOOK §1.3 step 1: mean of the maxima of both contours.
        let consistency = 0.5 * (upper.height + lower.height);
        let rising = centre.at_end;
        truth.state(
            "mixing.consistency",
            "",
            if rising {
                TruthValue::Above(consistency)
            } else {
                exact(consistency)
            },
        );
        let inside = (WINDOW_FU.0..=WINDOW_FU.1).contains(&consistency);
        let absorption = match dosing {
            Some(dosing) if inside && !rising => exact(dosing.absorption(consistency)),
            _ => TruthValue::NotComputable,
        };
        truth.state("mixing.water_absorption", "", absorption);

        let iso = self.end_of_top(&self.centre, centre);
        truth.state("mixing.development_time", "iso", iso);
        let first_maximum = if rising {
            TruthValue::Above(self.covered.end_min)
        } else if model.plateau_min > 0.0 && (centre.at_min - model.peak_min).abs() < 0.02 {
            TruthValue::Between(model.peak_min, model.peak_min + model.plateau_min)
        } else {
            exact(centre.at_min)
        };
        truth.state("mixing.development_time", "centre-max", first_maximum);
        let flat = match (
            self.start_of_top(&self.upper, upper),
            self.end_of_top(&self.upper, upper),
        ) {
            (start, TruthValue::Exact(end)) if !rising && !lower.at_end => {
                exact(0.5 * (0.5 * (start + end) + lower.at_min))
            }
            _ => TruthValue::Above(0.5 * (upper.at_min + lower.at_min)),
        };
        truth.state("mixing.development_time", "flat-top", flat);
        self.read_after(truth, centre, iso);
    }

    /// What is read after the development time.
    fn read_after(&self, truth: &mut Truth, centre: Maximum, iso: TruthValue) {
        let end = self.covered.end_min;
        let development = match iso {
            TruthValue::Exact(t) => Some(t),
            _ => None,
        };
        let within = |t: f64| t <= end + 1e-9;
        let or_not = |value: Option<f64>| value.map_or(TruthValue::NotComputable, exact);
        let fall_at = |t: f64| within(t).then(|| centre.height - self.centre.at(t));
        truth.state(
            "mixing.tolerance_index",
            "",
            or_not(
                development
                    .filter(|t| within(t + 5.0))
                    .map(|t| self.upper.at(t) - self.upper.at(t + 5.0)),
            ),
        );
        truth.state(
            "mixing.softening_12min",
            "",
            or_not(development.and_then(|t| fall_at(t + 12.0))),
        );
        for (metric, at) in [
            ("mixing.softening_10min", 10.0),
            ("mixing.drop_20min", 20.0),
        ] {
            let before = development.filter(|t| *t <= at);
            truth.state(metric, "", or_not(before.and_then(|_| fall_at(at))));
        }
        truth.state(
            "mixing.band_width",
            "",
            or_not(development.map(|t| self.upper.at(t) - self.lower.at(t))),
        );
        let breakdown = self
            .centre
            .crossings(centre.height - BREAKDOWN_FU)
            .into_iter()
            .find(|c| !c.rising && c.at_min > centre.at_min);
        let (time, number) = match breakdown {
            Some(c) => (exact(c.at_min), exact(CHART_MM_PER_MIN * c.at_min)),
            None => (
                TruthValue::Above(end),
                TruthValue::Above(CHART_MM_PER_MIN * end),
            ),
        };
        truth.state("mixing.breakdown_time", "", time);
        truth.state("mixing.quality_number", "", number);
    }

    /// Last time in the run of values within delta of the maximum.
    fn end_of_top(&self, grid: &Grid<'_>, maximum: Maximum) -> TruthValue {
        if maximum.at_end {
            return TruthValue::Above(self.covered.end_min);
        }
        if self.rules.delta_fu <= 0.0 {
            return exact(last_at(grid, maximum));
        }
        grid.crossings(maximum.height - self.rules.delta_fu)
            .into_iter()
            .find(|c| !c.rising && c.at_min > maximum.at_min)
            .map_or(TruthValue::Above(self.covered.end_min), |c| exact(c.at_min))
    }

    /// First time in the run of values within delta of the maximum.
    fn start_of_top(&self, grid: &Grid<'_>, maximum: Maximum) -> f64 {
        grid.crossings(maximum.height - self.rules.delta_fu)
            .into_iter()
            .rfind(|c| c.rising && c.at_min < maximum.at_min)
            .map_or(self.covered.first_min, |c| c.at_min)
    }
}

/// The limit of `end_of_top` for a delta that goes to zero.
fn last_at(grid: &Grid<'_>, maximum: Maximum) -> f64 {
    grid.crossings(maximum.height - 1e-9)
        .into_iter()
        .find(|c| !c.rising && c.at_min > maximum.at_min)
        .map_or(maximum.at_min, |c| c.at_min)
}

fn exact(value: f64) -> TruthValue {
    TruthValue::Exact(value)
}

/// Returns the time between arrival and departure, censored as they are.
fn span(arrival: TruthValue, departure: TruthValue) -> TruthValue {
    match (arrival, departure) {
        (TruthValue::Exact(a), TruthValue::Exact(d)) => exact(d - a),
        (TruthValue::Exact(a), TruthValue::Above(d)) => TruthValue::Above(d - a),
        (TruthValue::Below(a), TruthValue::Exact(d) | TruthValue::Above(d)) => {
            TruthValue::Above(d - a)
        }
        _ => TruthValue::NotReached,
    }
}
