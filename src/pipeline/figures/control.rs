//! Control charts from trends.

use crate::chart::{
    ControlChart, ControlLimits, ControlPanel, ControlSignal, Counts, Cusum, Palette, Provenance,
    Words, caption,
};
use crate::numerics::control::RunRule;
use crate::schema::{ResultId, RunId};
use crate::trend::{LimitsFrom, Series, Trend};

/// Returns the control chart of a trend.
pub(in crate::pipeline) fn control_chart(trend: &Trend) -> ControlChart {
    let series = &trend.series;
    let each = |value: &dyn Fn(&crate::numerics::control::ControlLimits) -> f64| -> Vec<f64> {
        (0..series.readings.len())
            .filter_map(|index| trend.limits_at(index).map(|lot| value(&lot.limits)))
            .collect()
    };
    let current = trend.current();
    let centre = current.map_or(0.0, |lot| lot.limits.centre);
    let name = series.metric.name;
    let results: Vec<ResultId> = ids(series);
    ControlChart {
        words: Words {
            title: format!(
                "{name} of the reference flour, instrument {}",
                series.instrument
            ),
            subtitle: current
                .map(|lot| format!("limits of lot {}: {}", lot.lot, limits_words(&lot.from)))
                .unwrap_or_default(),
            palette: Palette::default(),
            notes: Vec::new(),
            caption: caption(
                Counts {
                    runs: series.readings.len(),
                    ..Counts::default()
                },
                "one reading a run",
                &results,
            ),
        },
        x_label: "run of the reference flour".into(),
        y_label: format!("{name} / {}", series.unit),
        names: series.readings.iter().map(|r| r.date.clone()).collect(),
        values: series.readings.iter().map(|r| r.value).collect(),
        baseline: baseline(trend),
        limits: ControlLimits {
            centre,
            lower: each(&|limits| limits.lower()),
            upper: each(&|limits| limits.upper()),
        },
        ewma: Some((
            trend.ewma.iter().map(|point| point.average).collect(),
            ControlLimits {
                centre,
                lower: trend.ewma.iter().map(|point| point.lower).collect(),
                upper: trend.ewma.iter().map(|point| point.upper).collect(),
            },
        )),
        cusum: Some(Cusum {
            high: trend.cusum.iter().map(|point| point.high).collect(),
            low: trend.cusum.iter().map(|point| -point.low).collect(),
            limit: crate::numerics::control::Cusum::default().decision,
        }),
        signals: signals(trend),
        lots: trend
            .lots
            .iter()
            .skip(1)
            .map(|lot| (lot.first, format!("lot {}", lot.lot)))
            .collect(),
    }
}

/// Returns the readings that set the limits of the latest lot, where its own did.
fn baseline(trend: &Trend) -> Option<(usize, usize)> {
    let lot = trend.current()?;
    let LimitsFrom::FirstReadings { readings, .. } = lot.from else {
        return None;
    };
    Some((lot.first, lot.first + readings.saturating_sub(1)))
}

fn limits_words(from: &LimitsFrom) -> String {
    match from {
        LimitsFrom::Frozen { seq, who, .. } => format!("frozen by {who}, ledger line {seq}"),
        LimitsFrom::FirstReadings { readings, enough } => match enough {
            true => format!("from its first {readings} readings"),
            false => format!("provisional, from {readings} readings"),
        },
        LimitsFrom::CarriedOver { from, shift } => {
            format!(
                "those of lot {from}, moved by {} days of overlap",
                shift.pairs
            )
        }
    }
}

fn signals(trend: &Trend) -> Vec<ControlSignal> {
    let of_rules = trend.signals.iter().map(|signal| ControlSignal {
        panel: ControlPanel::Individuals,
        index: signal.last,
        label: match signal.rule {
            RunRule::BeyondLimits => "beyond the limit",
            RunRule::TwoOfThreeFarOut => "2 of 3 far out",
            RunRule::EightOnOneSide => "8 on one side",
            RunRule::SixInOneDirection => "6 in one direction",
        }
        .to_owned(),
    });
    // The first reading past a limit is named; those behind it only go on.
    let averages = trend.ewma.iter().position(|point| point.signal.is_some());
    let averages = averages.map(|index| ControlSignal {
        panel: ControlPanel::Ewma,
        index,
        label: "average beyond its limit".to_owned(),
    });
    let sums = trend.cusum.iter().position(|point| point.signal.is_some());
    let sums = sums.map(|index| ControlSignal {
        panel: ControlPanel::Cusum,
        index,
        label: "sum beyond its limit".to_owned(),
    });
    of_rules.chain(averages).chain(sums).collect()
}

fn ids(series: &Series) -> Vec<ResultId> {
    let readings = series.readings.iter();
    readings
        .filter_map(|reading| ResultId::parse(&reading.result_id))
        .collect()
}

/// Returns where a control chart comes from.
pub(in crate::pipeline) fn provenance_of_results(series: &Series) -> Provenance {
    let runs = series.readings.iter();
    Provenance {
        software: super::super::plan::software(),
        runs: runs.filter_map(|r| RunId::new(&r.run).ok()).collect(),
        results: ids(series),
        raw: Vec::new(),
    }
}
