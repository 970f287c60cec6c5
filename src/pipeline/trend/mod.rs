//! Control charts of the reference flour: series out of an archive, limits frozen in its ledger,
//! and what a day says of them.

mod series;

pub(in crate::pipeline) use series::of_day;
use series::{REFERENCE, series_of};

use super::chart_options::Shown;
use super::kept::{Keeper, Known, find_archive, instrument_key};
use super::output::Staging;
use super::page::{HEADLINE, head_words};
use super::{ChartOptions, ProcessError, figures, plan::software};
use crate::archive::{Action, Archive, Head, Item, Reader};
use crate::chart::{Page, Paint};
use crate::derive::METHODS;
use crate::numerics::control::ControlLimits;
use crate::record::TrendNote;
use crate::report::{Provenance, TrendReport, TrendSection};
use crate::schema::MetricCard;
use crate::trend::{FrozenLimits, Trend, judge};
use serde_json::{Value, json};
use std::path::Path;

/// What is charted, and where it goes.
#[derive(Debug, Clone)]
pub struct TrendRequest<'a> {
    /// Archive, or output folder that holds one.
    pub archive: &'a Path,
    /// Lots of the reference flour; empty for all runs whose flour is of kind `reference`.
    pub lots: &'a [String],
    /// Metrics; empty for the main ones.
    pub metrics: &'a [String],
    /// Output folder.
    pub out: &'a Path,
    /// Size and kind of chart files.
    pub charts: ChartOptions,
    /// Reason for which the current limits are frozen; `None` to leave them.
    pub freeze: Option<&'a str>,
    /// Person.
    pub who: &'a str,
    /// Time, as records state it.
    pub when: &'a str,
}

/// What the control charts found.
#[derive(Debug)]
pub struct Trended {
    /// One per instrument and metric that has limits.
    pub trends: Vec<Trend>,
    /// Series with too few readings for limits: instrument, metric, readings.
    pub waiting: Vec<(String, String, usize)>,
    /// Limits frozen now.
    pub frozen: usize,
    /// Last line of the ledger.
    pub head: Head,
    /// Whether an earlier output was replaced.
    pub replaced: bool,
}

/// Draws the control charts of an archive and writes them with a page.
///
/// # Errors
/// [`ProcessError`] when the archive cannot be read, a metric is not known, or there is no run of a
/// reference flour.
pub fn trend(request: &TrendRequest<'_>) -> Result<Trended, ProcessError> {
    request.charts.checked()?;
    let folder = find_archive(request.archive)?;
    let reader = Archive::at(&folder).read()?;
    let known = Known::load(&reader)?;
    let cards = wanted(request.metrics)?;
    let series = series_of(&reader, &known, request.lots, &cards)?;
    if series.is_empty() {
        return Err(ProcessError::Request(format!(
            "no run of a reference flour has these metrics; state flour_kind = {REFERENCE} in the run sheet, or name its lots with --lot"
        )));
    }
    let mut waiting = Vec::new();
    let mut trends = Vec::new();
    for one in series {
        let (instrument, metric, n) = (
            one.instrument.clone(),
            one.metric.name.to_owned(),
            one.readings.len(),
        );
        match judge(one) {
            Some(trend) => trends.push(trend),
            None => waiting.push((instrument, metric, n)),
        }
    }
    let mut head = reader.head().clone();
    let mut frozen = 0;
    if let Some(reason) = request.freeze {
        let mut keeper = Keeper::open(&folder, request.who, request.when)?;
        for trend in &trends {
            frozen += usize::from(freeze(&mut keeper, trend, reason)?);
        }
        head = keeper.head().clone();
    }
    let replaced = write(request, &trends, &waiting, &head)?;
    Ok(Trended {
        trends,
        waiting,
        frozen,
        head,
        replaced,
    })
}

/// Returns the metrics that are charted.
fn wanted(named: &[String]) -> Result<Vec<MetricCard>, ProcessError> {
    let all: Vec<MetricCard> = METHODS.iter().flat_map(|m| (m.card)().metrics).collect();
    if named.is_empty() {
        let main =
            |card: &&MetricCard| HEADLINE.contains(&card.id) || card.id == "mixing.consistency";
        return Ok(all.iter().filter(main).copied().collect());
    }
    named
        .iter()
        .map(|name| {
            all.iter().find(|card| card.id == name).copied().ok_or_else(|| {
                let remedy = crate::study::suggest(name, all.iter().map(|card| card.id));
                ProcessError::Request(format!(
                    "metric `{name}` is not known; {remedy}; list them with `doughtrace explain`"
                ))
            })
        })
        .collect()
}

/// Returns the limits that the ledger holds: instrument, metric, limits.
fn frozen_limits(reader: &Reader) -> Result<Vec<(String, String, FrozenLimits)>, ProcessError> {
    let mut found = Vec::new();
    for entry in reader.events()? {
        let entry = entry?;
        if entry.event.action != Action::Limits {
            continue;
        }
        let p = &entry.event.parameters;
        let text = |key: &str| p.get(key).and_then(Value::as_str).unwrap_or("").to_owned();
        let number = |key: &str| p.get(key).and_then(Value::as_f64);
        let points = p.get("readings").and_then(Value::as_u64).unwrap_or(0);
        let (Some(centre), Some(mean_range)) = (number("centre"), number("mean_range")) else {
            continue;
        };
        let limits = FrozenLimits {
            lot: text("lot"),
            limits: ControlLimits {
                centre,
                mean_range,
                points: usize::try_from(points).unwrap_or(0),
            },
            seq: entry.seq,
            when: entry.event.when.clone(),
            who: entry.event.who.clone(),
        };
        found.push((text("instrument"), text("metric"), limits));
    }
    Ok(found)
}

/// Freezes the limits of a trend's latest lot, unless they are frozen or rest on too few readings;
/// returns whether it did.
fn freeze(keeper: &mut Keeper, trend: &Trend, reason: &str) -> Result<bool, ProcessError> {
    let Some(current) = trend.current() else {
        return Ok(false);
    };
    let is_frozen = matches!(current.from, crate::trend::LimitsFrom::Frozen { .. });
    if is_frozen || !current.limits.are_established() {
        return Ok(false);
    }
    let of_lot = trend
        .series
        .readings
        .iter()
        .filter(|r| r.lot == current.lot);
    let base: Vec<String> = of_lot
        .take(current.limits.points)
        .map(|reading| reading.result_id.clone())
        .collect();
    let mut event = keeper.event(Action::Limits);
    event.parameters = json!({
        "instrument": trend.series.instrument,
        "metric": trend.series.metric.id,
        "variant": trend.series.variant,
        "lot": current.lot,
        "centre": current.limits.centre,
        "mean_range": current.limits.mean_range,
        "readings": current.limits.points,
        "reason": reason,
    });
    let instrument = instrument_key(&trend.series.instrument);
    event
        .inputs
        .push(Item::with_id("instrument", &instrument).made_from(base));
    keeper.commit(event, Vec::new())?;
    Ok(true)
}

fn write(
    request: &TrendRequest<'_>,
    trends: &[Trend],
    waiting: &[(String, String, usize)],
    head: &Head,
) -> Result<bool, ProcessError> {
    let staging = Staging::open(request.out)?;
    let mut sections = Vec::new();
    for (number, trend) in trends.iter().enumerate() {
        let figure = figures::control_chart(trend);
        let from = figures::provenance_of_results(&trend.series);
        let name = format!("control-{}", number + 1);
        let told = (figure.words.title.as_str(), name.as_str(), Shown::Inside);
        let page = (&figure as &dyn Paint, Page::default());
        let picture = request.charts.put(page, &from, told, &staging)?;
        sections.push(TrendSection {
            title: figure.words.title.clone(),
            out_now: trend.out_now,
            sentences: trend.sentences.clone(),
            picture,
        });
    }
    staging.write(
        "tables/trend.csv",
        &crate::table::csv_of_rows(&rows(trends))?,
    )?;
    let provenance = Provenance {
        tool_version: env!("CARGO_PKG_VERSION").to_owned(),
        generated_at: request.when.to_owned(),
        ledger_head: Some(head_words(head)),
        ..Provenance::default()
    };
    let waiting: Vec<String> = waiting
        .iter()
        .map(|(instrument, metric, n)| format!("{instrument}, {metric}: {n} readings so far"))
        .collect();
    let page = TrendReport {
        title: "Control of the reference flour",
        sections: &sections,
        waiting: &waiting,
        provenance: &provenance,
    };
    staging.write("report.html", page.render()?.as_bytes())?;
    let manifest = json!({
        "software": software(),
        "made_at": request.when,
        "ledger_head": head,
        "outputs": staging.listed().into_iter().filter(|f| f.path() != "report.html").collect::<Vec<_>>(),
    });
    staging.write_json("manifest.json", &manifest)?;
    staging.publish()
}

/// Returns the readings with everything that the charts show, as rows of text.
fn rows(trends: &[Trend]) -> Vec<Vec<String>> {
    let head = [
        "instrument",
        "metric",
        "run_id",
        "date",
        "lot",
        "value",
        "centre",
        "lower",
        "upper",
        "ewma",
        "cusum_high",
        "cusum_low",
        "unit",
        "result_id",
    ];
    let mut rows = vec![head.map(String::from).to_vec()];
    for trend in trends {
        for (index, reading) in trend.series.readings.iter().enumerate() {
            let Some(lot) = trend.limits_at(index) else {
                continue;
            };
            let ewma = trend.ewma.get(index).map(|point| point.average);
            let sums = trend.cusum.get(index);
            let number = |v: Option<f64>| v.map(|v| v.to_string()).unwrap_or_default();
            rows.push(vec![
                trend.series.instrument.clone(),
                trend.series.metric.id.to_owned(),
                reading.run.clone(),
                reading.date.clone(),
                reading.lot.clone(),
                reading.value.to_string(),
                lot.limits.centre.to_string(),
                lot.limits.lower().to_string(),
                lot.limits.upper().to_string(),
                number(ewma),
                number(sums.map(|s| s.high)),
                number(sums.map(|s| s.low)),
                trend.series.unit.to_string(),
                reading.result_id.clone(),
            ]);
        }
    }
    rows
}

/// Returns what a day's findings say of its control charts.
pub(super) fn notes(trends: &[Trend]) -> Vec<TrendNote> {
    trends
        .iter()
        .map(|trend| TrendNote {
            instrument: trend.series.instrument.clone(),
            metric: trend.series.metric.id.to_owned(),
            out_now: trend.out_now,
            words: trend.sentences.clone(),
        })
        .collect()
}
