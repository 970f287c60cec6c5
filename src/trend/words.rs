//! What the control of a series says to a person.

use super::{LimitsFrom, Trend};
use crate::numerics::control::Side;
use crate::numerics::distribution::student_quantile;

/// Returns the sentences of a trend, the gravest first.
pub(super) fn sentences(trend: &Trend) -> Vec<String> {
    let mut said = Vec::new();
    said.extend(leaning(trend));
    said.extend(patterns(trend));
    said.extend(jumps(trend));
    said.extend(ageing(trend));
    said.extend(limits(trend));
    said
}

/// Returns a value with the metric's decimals, one more for a change.
fn amount(trend: &Trend, value: f64) -> String {
    let decimals = usize::from(trend.series.metric.decimals).max(1);
    format!("{value:.decimals$} {}", trend.series.unit)
        .trim_end_matches(" 1")
        .to_owned()
}

fn subject(trend: &Trend) -> String {
    format!(
        "Instrument {}, {}",
        trend.series.instrument, trend.series.metric.name
    )
}

/// How far the instrument leans now, and since when, by the cumulative sums.
fn leaning(trend: &Trend) -> Option<String> {
    let point = trend.cusum.last()?;
    let side = point.signal?;
    let since = trend.series.readings.get(point.since?)?;
    let sigma = trend.current()?.limits.sigma();
    let shift = amount(trend, (point.shift * sigma).abs());
    let high = match side {
        Side::High => "high",
        Side::Low => "low",
    };
    Some(format!(
        "{}: reads {shift} {high} since {} (run {}), by cumulative sums.",
        subject(trend),
        since.date,
        since.run
    ))
}

fn patterns(trend: &Trend) -> Vec<String> {
    let recent = trend
        .series
        .readings
        .len()
        .saturating_sub(super::BASE_READINGS);
    let signals = trend.signals.iter().rev();
    let mut said: Vec<String> = Vec::new();
    for signal in signals.filter(|signal| signal.last >= recent) {
        let readings = &trend.series.readings;
        let (Some(first), Some(last)) = (readings.get(signal.first), readings.get(signal.last))
        else {
            continue;
        };
        let side = match signal.side {
            Side::High => "high",
            Side::Low => "low",
        };
        let where_to = match signal.first == signal.last {
            true => format!("run {} of {}", last.run, last.date),
            false => format!(
                "runs {} of {} to {} of {}",
                first.run, first.date, last.run, last.date
            ),
        };
        said.push(format!(
            "{}: {} ({side}), {where_to}.",
            subject(trend),
            signal.rule.describe()
        ));
    }
    said
}

fn jumps(trend: &Trend) -> Vec<String> {
    let drift = trend.drift.iter();
    drift
        .flat_map(|drift| &drift.jumps)
        .filter_map(|jump| {
            let reading = trend.series.readings.get(jump.index)?;
            Some(format!(
                "{}: a jump of {} on {} (run {}), told from the steady ageing of the flour.",
                subject(trend),
                signed(trend, jump.size),
                reading.date,
                reading.run
            ))
        })
        .collect()
}

fn signed(trend: &Trend, value: f64) -> String {
    let sign = if value < 0.0 { "−" } else { "+" };
    format!("{sign}{}", amount(trend, value.abs()))
}

/// How the flour itself changes, where it is clear.
fn ageing(trend: &Trend) -> Option<String> {
    let drift = trend.drift.as_ref()?;
    let reach = student_quantile(0.975, drift.degrees as f64)? * drift.slope_error;
    if drift.slope.abs() <= reach {
        return None;
    }
    const MONTH: f64 = 30.0;
    Some(format!(
        "{}: the reference flour changes steadily by {} in 30 d (95 % interval {} to {}); that is ageing, not the instrument, as far as it is steady.",
        subject(trend),
        signed(trend, MONTH * drift.slope),
        signed(trend, MONTH * (drift.slope - reach)),
        signed(trend, MONTH * (drift.slope + reach))
    ))
}

fn limits(trend: &Trend) -> Option<String> {
    let current = trend.current()?;
    let lot = &current.lot;
    Some(match &current.from {
        LimitsFrom::Frozen { seq, when, who } => {
            format!("Limits of lot {lot}: frozen by {who}, {when} (ledger line {seq}).")
        }
        LimitsFrom::FirstReadings { readings, enough } if *enough => format!(
            "Limits of lot {lot}: its first {readings} readings, not frozen; freeze them with `doughtrace trend --freeze`."
        ),
        LimitsFrom::FirstReadings { readings, .. } => format!(
            "Limits of lot {lot}: provisional, from {readings} readings; 20 or more in control are needed before they can be relied on."
        ),
        LimitsFrom::CarriedOver { from, shift } => format!(
            "Limits of lot {lot}: those of lot {from} moved by {} ± {} from {} days on which both were read.",
            signed(trend, shift.shift),
            amount(trend, shift.high - shift.shift),
            shift.pairs
        ),
    })
}
