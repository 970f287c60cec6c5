//! The figures of single runs: one for each kind of test that has a curve worth looking at alone.

use super::mixing::mixing_curve;
use super::stress::{disc_figure, strip_figure};
use super::{value_words, words, words_around};
use crate::chart::extension_curves::Reading;
use crate::chart::heating_curve::Phase;
use crate::chart::{
    Bound, HeatingCurve, LogPanel, Mark, MarkShape, MixerLog, Paint, Palette, RateFit, RateGroup,
    RateLaw, RatePoint, RunCurve, Series,
};
use crate::numerics::value_at;
use crate::record::{Curve, MetricResult, ReadCurve, Run, RunRecord};
use crate::schema::{Channel, Test, Unit};

/// Returns the figure of a run, or `None` for a test whose runs are shown together.
pub(in crate::pipeline) fn run_figure(
    run: &Run,
    record: &RunRecord,
    curve: &ReadCurve,
    palette: &Palette,
) -> Option<Box<dyn Paint>> {
    if curve.x.len() < 2 {
        return None;
    }
    Some(match run.test {
        Test::Mixing => Box::new(mixing_curve(record, curve, palette)),
        Test::PinMixing => Box::new(pin_curve(record, curve, palette)),
        Test::Heating => Box::new(heating_curve(run, record, curve, palette)),
        Test::MixerLog => Box::new(mixer_log(run, record, palette)?),
        Test::Strip => Box::new(strip_figure(run, record, palette)?),
        Test::Inflation => Box::new(disc_figure(run, record, palette)?),
        Test::Uptake => Box::new(uptake_fit(record, curve, palette)),
        _ => return None,
    })
}

/// Returns a result with its place on an axis and how it is drawn.
fn placed<'r>(record: &'r RunRecord, id: &str) -> Option<(&'r MetricResult, f64, Bound)> {
    let result = record.result(id)?;
    let value = result.outcome.value_or_bound()?;
    Some((result, value, Bound::of(result.outcome.status())?))
}

/// Returns the figure of a pin-mixer run: the centre with its contours, the peak with its width,
/// the slopes before and after it, the width at 8 min.
fn pin_curve(record: &RunRecord, curve: &ReadCurve, palette: &Palette) -> RunCurve {
    let mut figure = mixing_curve(record, curve, palette);
    figure.x_label = "time from water contact / min".into();
    figure.y_label = match record.unit {
        Unit::Percent => "height / % of full scale".into(),
        unit => format!("torque / {unit}"),
    };
    figure.reference = None;
    figure.notes.clear();
    figure.marks = pin_marks(record, curve);
    figure
}

fn pin_marks(record: &RunRecord, curve: &ReadCurve) -> Vec<Mark> {
    let centre = |x: f64| value_at(&curve.x, &curve.centre, x);
    let contours = |x: f64| {
        let lower = value_at(&curve.x, curve.lower.as_ref()?, x)?;
        Some((lower, value_at(&curve.x, curve.upper.as_ref()?, x)?))
    };
    let mut marks = Vec::new();
    let mut push = |result: &MetricResult, bound: Bound, shape: MarkShape| {
        marks.push(Mark {
            shape,
            label: words(result),
            bound,
        });
    };
    let Some((peak, x_min, bound)) = placed(record, "pin-mixing.centre_peak_time") else {
        return marks;
    };
    if let Some(y) = centre(x_min) {
        push(peak, bound, MarkShape::Time { x_min, y });
    }
    let widths = [
        ("pin-mixing.centre_peak_width", x_min),
        ("pin-mixing.width_8min", 8.0),
    ];
    for (id, x_min) in widths {
        if let (Some((result, _, bound)), Some((lower, upper))) =
            (placed(record, id), contours(x_min))
        {
            push(
                result,
                bound,
                MarkShape::Width {
                    x_min,
                    lower,
                    upper,
                },
            );
        }
    }
    // The slopes are read over the minute before and after the peak.
    for (id, middle) in [
        ("pin-mixing.slope_before_peak", x_min - 0.5),
        ("pin-mixing.slope_after_peak", x_min + 0.5),
    ] {
        if let (Some((result, per_min, bound)), Some(y)) = (placed(record, id), centre(middle)) {
            push(
                result,
                bound,
                MarkShape::Slope {
                    x_min: middle,
                    y,
                    per_min,
                    half_min: 0.5,
                },
            );
        }
    }
    marks
}

/// Phases of the temperature programme (HANDBOOK §3): constant, heating, hot, cooling, warm.
const PHASES: [(f64, f64, &str); 5] = [
    (0.0, 8.0, "30 °C"),
    (8.0, 23.0, "heating"),
    (23.0, 30.0, "90 °C"),
    (30.0, 40.0, "cooling"),
    (40.0, 45.0, "50 °C"),
];

fn heating_curve(
    run: &Run,
    record: &RunRecord,
    curve: &ReadCurve,
    palette: &Palette,
) -> HeatingCurve {
    let on_grid = |channel: Channel| -> Vec<f64> {
        let Some(found) = run.curve(channel) else {
            return Vec::new();
        };
        let minutes: Vec<f64> = found.x().iter().map(|s| s / 60.0).collect();
        let read: Option<Vec<f64>> = curve
            .x
            .iter()
            .map(|at| value_at(&minutes, found.y(), *at))
            .collect();
        read.unwrap_or_default()
    };
    let stage = |n: usize| {
        let (_, x, bound) = placed(record, &format!("heating.t{n}"))?;
        let (height, y, _) = placed(record, &format!("heating.c{n}"))?;
        Some(Reading {
            x,
            y,
            label: format!("C{n} {}", value_words(height)),
            bound,
        })
    };
    let end = curve.x.last().copied().unwrap_or(0.0);
    let phases = PHASES.iter().filter(|(from, ..)| *from < end);
    let course = [
        "heating.stability",
        "heating.alpha",
        "heating.beta",
        "heating.gamma",
    ];
    let notes = course
        .iter()
        .filter_map(|id| record.result(id))
        .filter(|result| result.outcome.value_or_bound().is_some())
        .map(words)
        .collect();
    HeatingCurve {
        words: words_around(record, palette, notes),
        treatment: record.conditions.treatment.clone(),
        torque_label: format!("torque / {}", record.unit),
        time_min: curve.x.clone(),
        signal: curve.signal.clone(),
        torque: curve.centre.clone(),
        dough_c: on_grid(Channel::Temperature),
        bowl_c: on_grid(Channel::BlockTemperature),
        stages: (1..=5).filter_map(stage).collect(),
        slopes: Vec::new(),
        phases: phases
            .map(|(from, to, name)| Phase {
                from_min: *from,
                to_min: to.min(end),
                name: (*name).to_owned(),
            })
            .collect(),
    }
}

/// What each channel of a log is called on its axis.
const LOG_CHANNELS: &[(Channel, &str)] = &[
    (Channel::Power, "power"),
    (Channel::Torque, "torque"),
    (Channel::Speed, "speed"),
    (Channel::PumpPressure, "pressure before the nozzle"),
    (Channel::WaterFlow, "water"),
    (Channel::FlourFlow, "flour"),
    (Channel::JetSpeed, "speed of the jet"),
    (Channel::Temperature, "dough temperature"),
];

fn mixer_log(run: &Run, record: &RunRecord, palette: &Palette) -> Option<MixerLog> {
    // A recorder may count from when it was switched on, hours before.
    let starts = run.curves.iter().filter_map(|curve| curve.x().first());
    let start_s = starts.copied().fold(f64::INFINITY, f64::min);
    let mut panels: Vec<LogPanel> = LOG_CHANNELS
        .iter()
        .filter_map(|(channel, name)| Some(log_panel(run.curve(*channel)?, name, start_s)))
        .collect();
    let first = panels.first_mut()?;
    first.filled = true;
    let energy = [
        "mixer-log.specific_energy",
        "mixer-log.hydraulic_energy",
        "mixer-log.mixing_time",
        "mixer-log.predicted_dough_temperature",
        "mixer-log.measured_rise",
    ];
    let notes = energy
        .iter()
        .filter_map(|id| record.result(id))
        .filter(|result| result.outcome.value_or_bound().is_some())
        .map(words)
        .collect();
    let gaps = record.facts.gaps.iter();
    Some(MixerLog {
        words: words_around(record, palette, notes),
        treatment: record.conditions.treatment.clone(),
        x_label: "time from the first reading / min".into(),
        panels,
        phases: Vec::new(),
        gaps: gaps
            .map(|gap| ((gap.from_s - start_s) / 60.0, (gap.to_s - start_s) / 60.0))
            .collect(),
    })
}

fn log_panel(curve: &Curve, name: &str, start_s: f64) -> LogPanel {
    // Pascals and their like are no unit for a reader: pressures are shown in bar.
    let (unit, scale) = match curve.unit() {
        Unit::Kilopascal => (Unit::Bar, 0.01),
        Unit::Watt => (Unit::Kilowatt, 0.001),
        other => (other, 1.0),
    };
    LogPanel {
        y_label: format!("{name} / {unit}"),
        series: vec![Series {
            name: String::new(),
            x: curve.x().iter().map(|s| (s - start_s) / 60.0).collect(),
            y: curve.y().iter().map(|y| y * scale).collect(),
        }],
        ..LogPanel::default()
    }
}

fn uptake_fit(record: &RunRecord, curve: &ReadCurve, palette: &Palette) -> RateFit {
    let points = curve.x.iter().zip(&curve.signal).map(|(x, y)| RatePoint {
        x: *x,
        y: *y,
        ..RatePoint::default()
    });
    let told = [
        "uptake.peleg_k1",
        "uptake.peleg_k2",
        "uptake.equilibrium_moisture",
        "uptake.diffusion_coefficient",
        "uptake.time_to_target",
    ];
    let notes = told
        .iter()
        .filter_map(|id| record.result(id))
        .map(words)
        .collect();
    let rate = record.result("uptake.initial_rate").map(value_words);
    RateFit {
        words: words_around(record, palette, notes),
        x_label: "time in water / min".into(),
        y_label: "moisture / % of dry mass".into(),
        groups: vec![RateGroup {
            treatment: record.conditions.treatment.clone().unwrap_or_default(),
            points: points.collect(),
            laws: vec![RateLaw {
                label: format!("Peleg, initial rate {}", rate.unwrap_or_default()),
                line: peleg_line(record, curve),
                ..RateLaw::default()
            }],
            readings: Vec::new(),
        }],
        level: record
            .metadata
            .number(crate::schema::Field::TargetMoistureDbPct)
            .map(|target| (target, format!("target {target} %"))),
        apart: false,
    }
}

/// Returns Peleg's law `M(t) = M0 + t / (k1 + k2 t)` on a fine grid, or as read at the readings where
/// a number of it is not known.
fn peleg_line(record: &RunRecord, curve: &ReadCurve) -> Series {
    const POINTS: usize = 120;
    let value = |id: &str| record.result(id)?.outcome.value();
    let start = record
        .metadata
        .number(crate::schema::Field::InitialMoistureDbPct);
    let known = (start, value("uptake.peleg_k1"), value("uptake.peleg_k2"));
    let (Some(start), Some(k1), Some(k2)) = known else {
        return Series {
            name: String::new(),
            x: curve.x.clone(),
            y: curve.centre.clone(),
        };
    };
    let end = curve.x.last().copied().unwrap_or(0.0);
    let x: Vec<f64> = (0..=POINTS)
        .map(|i| end * i as f64 / POINTS as f64)
        .collect();
    let y = x.iter().map(|t| start + t / (k1 + k2 * t)).collect();
    Series {
        name: String::new(),
        x,
        y,
    }
}
