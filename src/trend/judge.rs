//! Limits, averages, sums and patterns of one series.

use super::{BASE_READINGS, LimitsFrom, LotLimits, Reading, Series, Trend, charts, words};
use crate::numerics::control::{
    ControlLimits, JumpSearch, RunRule, cusum, ewma, find_runs, lot_shift, separate_drift,
};

/// Fewest readings of a lot that limits can be made of at all.
const FEWEST: usize = 5;

/// Returns what the control of `series` finds; `None` while no lot has limits.
pub fn judge(series: Series) -> Option<Trend> {
    let lots = limits_of_lots(&series);
    let current = lots.last()?.clone();
    // A reading whose lot has no limits yet cannot be judged; it waits.
    let mut series = series;
    series
        .readings
        .retain(|reading| lots.iter().any(|lot| lot.lot == reading.lot));
    let centre_of = |reading: &Reading| {
        let lot = lots.iter().find(|lot| lot.lot == reading.lot);
        lot.map_or(current.limits.centre, |lot| lot.limits.centre)
    };
    let aligned: Vec<f64> = series
        .readings
        .iter()
        .map(|reading| reading.value - centre_of(reading) + current.limits.centre)
        .collect();
    let standardized: Vec<f64> = aligned
        .iter()
        .map(|value| current.limits.standardize(*value))
        .collect();
    let (average, sums) = charts();
    let (centre, sigma) = (current.limits.centre, current.limits.sigma());
    let days: Vec<f64> = series.readings.iter().map(|reading| reading.day).collect();
    let mut trend = Trend {
        ewma: ewma(&aligned, centre, sigma, average)?,
        cusum: cusum(&aligned, centre, sigma, sums)?,
        signals: find_runs(&standardized, &RunRule::ALL),
        drift: separate_drift(&days, &aligned, JumpSearch::default()),
        series,
        lots,
        aligned,
        sentences: Vec::new(),
        out_now: false,
    };
    trend.out_now = is_out_now(&trend);
    trend.sentences = words::sentences(&trend);
    Some(trend)
}

/// Returns whether the latest reading is beyond a limit, in a pattern, or past the sums' limit.
fn is_out_now(trend: &Trend) -> bool {
    let last = trend.series.readings.len().saturating_sub(1);
    let in_pattern = trend.signals.iter().any(|signal| signal.last == last);
    let summed = trend
        .cusum
        .last()
        .is_some_and(|point| point.signal.is_some());
    let averaged = trend
        .ewma
        .last()
        .is_some_and(|point| point.signal.is_some());
    in_pattern || summed || averaged
}

fn limits_of_lots(series: &Series) -> Vec<LotLimits> {
    let mut lots: Vec<LotLimits> = Vec::new();
    for (first, reading) in series.readings.iter().enumerate() {
        if lots.iter().any(|known| known.lot == reading.lot) {
            continue;
        }
        let before = lots.last().cloned();
        if let Some((limits, from)) = limits_of(series, &reading.lot, before.as_ref()) {
            lots.push(LotLimits {
                lot: reading.lot.clone(),
                first,
                limits,
                from,
            });
        }
    }
    lots
}

fn limits_of(
    series: &Series,
    lot: &str,
    before: Option<&LotLimits>,
) -> Option<(ControlLimits, LimitsFrom)> {
    if let Some(frozen) = series.frozen.iter().rfind(|frozen| frozen.lot == lot) {
        let from = LimitsFrom::Frozen {
            seq: frozen.seq,
            when: frozen.when.clone(),
            who: frozen.who.clone(),
        };
        return Some((frozen.limits, from));
    }
    if let Some(old) = before {
        let (on_old, on_new) = same_days(series, &old.lot, lot);
        if let Some(shift) = lot_shift(&on_old, &on_new) {
            let from = LimitsFrom::CarriedOver {
                from: old.lot.clone(),
                shift,
            };
            return Some((shift.carry_over(&old.limits), from));
        }
    }
    let own = series.readings.iter().filter(|reading| reading.lot == lot);
    let values: Vec<f64> = own
        .map(|reading| reading.value)
        .take(BASE_READINGS)
        .collect();
    if values.len() < FEWEST {
        return None;
    }
    let limits = ControlLimits::from_base(&values)?;
    let from = LimitsFrom::FirstReadings {
        readings: values.len(),
        enough: limits.are_established(),
    };
    Some((limits, from))
}

/// Returns the means of both lots on each day on which both were read.
fn same_days(series: &Series, old: &str, new: &str) -> (Vec<f64>, Vec<f64>) {
    let mean_on = |lot: &str, day: f64| {
        let on_day = series
            .readings
            .iter()
            .filter(|r| r.lot == lot && (r.day - day).abs() < 0.5);
        let values: Vec<f64> = on_day.map(|r| r.value).collect();
        (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
    };
    let mut days: Vec<f64> = Vec::new();
    for reading in series.readings.iter().filter(|r| r.lot == new) {
        if !days.iter().any(|day| (day - reading.day).abs() < 0.5) {
            days.push(reading.day);
        }
    }
    days.iter()
        .filter_map(|day| Some((mean_on(old, *day)?, mean_on(new, *day)?)))
        .unzip()
}
