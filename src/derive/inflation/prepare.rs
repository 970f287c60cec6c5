//! What is done once per disc before any metric is read: abscissa, pressure, rupture, maximum.

use super::cap::Disc;
use super::numbers::{Numbers, read_numbers};
use super::settings::{
    CHART_MM_PER_S, CLEAR_MM, KPA_PER_MM_WATER, ML_PER_MM_OF_FLOW, ML_PER_MM_OF_G, MM_WATER_PER_MM,
    SHAPE_STEP_MM, STRAIGHT_MM, Settings,
};
use crate::derive::centre::{Centre, resolution_u};
use crate::derive::left_out;
use crate::derive::place::Place;
use crate::numerics::{
    ShareOf, TearRule, Trace, argmax, find_tear, least_level, median, reading_scatter, sudden_loss,
    value_at,
};
use crate::record::{Curve, Outcome, Run, SignalFacts};
use crate::schema::{Axis, Channel, Field, Unit};

/// A disc's record ready to be read.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// Parameters in force.
    pub settings: Settings,
    /// What the abscissa counts.
    pub axis: Axis,
    /// The disc before inflation.
    pub disc: Disc,
    /// Whether its radius and thickness were stated.
    pub disc_stated: bool,
    /// Air blown in per millimetre of the abscissa, ml.
    pub ml_per_mm: f64,
    /// Whether that was measured: a volume, or a stated flow.
    pub flow_stated: bool,
    /// Air between pump and disc, ml, where stated.
    pub dead_volume_ml: Option<f64>,
    /// Chart length, mm, from the start of the air; volumes and times are turned into it with
    /// 4.955 ml/mm.
    pub x: Vec<f64>,
    /// Overpressure, mm H2O, less its baseline.
    pub y: Vec<f64>,
    /// The overpressure as it is read: smoothed where it is noisy.
    pub centre: Vec<f64>,
    /// Standard deviation of the noise, mm H2O.
    pub noise: f64,
    /// Standard uncertainty of one reading from noise and resolution, mm H2O.
    pub u_raw: f64,
    /// Standard uncertainty of one reading of the centre, mm H2O.
    pub u_reading: f64,
    /// How far smoothing may have lowered the maximum, mm H2O.
    pub u_top: f64,
    /// The inflation, or the outcome every metric has instead.
    pub bubble: Result<Bubble, Outcome>,
    /// The numbers read from it.
    pub numbers: Numbers,
    /// What was seen.
    pub facts: SignalFacts,
}

/// The part of the record in which the bubble grew.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bubble {
    /// First reading at or after the start of the air.
    pub first: usize,
    /// Last reading before rupture, or of the record.
    pub last: usize,
    /// Whether no rupture was seen, but the pressure is gone at the end of the record.
    pub faded: bool,
    /// Reading at the maximum.
    pub top: usize,
    /// Rupture and the overpressure there, mm H2O; `None` when the record ends before.
    pub rupture: Option<(Place, f64)>,
}

/// Returns the prepared record of `run`.
pub fn prepare(run: &Run, settings: Settings) -> Prepared {
    let mut p = blank(run, settings);
    let Some(curve) = run.curve(Channel::Signal).or_else(|| run.curves.first()) else {
        return p;
    };
    p.axis = curve.axis();
    p.facts = SignalFacts {
        points: curve.points(),
        axis: Some(curve.axis()),
        missing_cells: run.missing_cells,
        time_steps_back: curve.steps_back(),
        ..SignalFacts::default()
    };
    p.x = curve.x().to_vec();
    let flow = run.metadata.number(Field::AirFlowLH).filter(|q| *q > 0.0);
    match set_abscissa(&mut p, flow).and_then(|()| overpressure(curve)) {
        Ok(y) => p.y = y,
        Err(outcome) => {
            p.y = curve.y().to_vec();
            p.centre = p.y.clone();
            p.bubble = Err(outcome);
            return p;
        }
    }
    take_baseline(&mut p);
    p.centre = p.y.clone();
    if let Some(index) = p.facts.time_steps_back.first() {
        let line = run.line_of(*index);
        p.bubble = Err(Outcome::Rejected(format!(
            "the abscissa steps back at line {line} of the file"
        )));
        return p;
    }
    p.noise = reading_scatter(&p.x, &p.y);
    p.u_raw = p.noise.hypot(resolution_u(&p.y));
    p.facts.scatter = Some(p.noise);
    p.bubble = find_bubble(&mut p);
    p.facts.shape = shape(&p);
    if let Some(outcome) = left_out(run) {
        p.bubble = Err(outcome);
    }
    p.numbers = read_numbers(&p);
    p
}

fn blank(run: &Run, settings: Settings) -> Prepared {
    let stated = |field: Field| run.metadata.number(field).filter(|v| *v > 0.0);
    let (radius, thickness) = (stated(Field::DiscRadiusMm), stated(Field::DiscThicknessMm));
    Prepared {
        settings,
        axis: Axis::Time,
        disc: Disc {
            radius_mm: radius.unwrap_or(settings.disc_radius_mm),
            thickness_mm: thickness.unwrap_or(settings.disc_thickness_mm),
        },
        disc_stated: radius.is_some() && thickness.is_some(),
        ml_per_mm: ML_PER_MM_OF_FLOW,
        flow_stated: false,
        dead_volume_ml: run
            .metadata
            .number(Field::DeadVolumeMl)
            .filter(|v| *v >= 0.0),
        x: Vec::new(),
        y: Vec::new(),
        centre: Vec::new(),
        noise: 0.0,
        u_raw: 0.0,
        u_reading: 0.0,
        u_top: 0.0,
        bubble: Err(Outcome::NotComputable("the run has no curve".into())),
        numbers: Numbers::default(),
        facts: SignalFacts::default(),
    }
}

/// Turns the abscissa into chart millimetres and sets how much air one of them is.
fn set_abscissa(p: &mut Prepared, flow_l_h: Option<f64>) -> Result<(), Outcome> {
    let flow_ml_s = flow_l_h.map(|flow| flow / 3.6);
    let per_mm = match (p.axis, flow_ml_s) {
        (Axis::ChartMm, Some(flow)) => {
            p.ml_per_mm = flow / CHART_MM_PER_S;
            p.flow_stated = true;
            return Ok(());
        }
        (Axis::ChartMm, None) => return Ok(()),
        (Axis::VolumeMl, _) => 1.0 / ML_PER_MM_OF_G,
        (Axis::Time, Some(flow)) => flow / ML_PER_MM_OF_G,
        (Axis::Time, None) => {
            return Err(Outcome::NotComputable(
                "the abscissa is time and air_flow_l_h is not stated".into(),
            ));
        }
        (axis, _) => {
            return Err(Outcome::NotComputable(format!(
                "the abscissa is {}; an inflation needs chart millimetres, volume or time",
                axis.word()
            )));
        }
    };
    p.ml_per_mm = ML_PER_MM_OF_G;
    p.flow_stated = true;
    for x in &mut p.x {
        *x *= per_mm;
    }
    Ok(())
}

/// Returns the overpressure at each reading, mm H2O.
fn overpressure(curve: &Curve) -> Result<Vec<f64>, Outcome> {
    let factor = match curve.unit() {
        Unit::Millimetre => MM_WATER_PER_MM,
        Unit::Kilopascal => 1.0 / KPA_PER_MM_WATER,
        other => {
            return Err(Outcome::NotComputable(format!(
                "the record is in {other}, neither a height in mm nor a pressure: declare its \
                 unit in the import profile"
            )));
        }
    };
    Ok(curve.y().iter().map(|y| y * factor).collect())
}

/// Subtracts the median of the readings before the air starts, where there are at least three.
fn take_baseline(p: &mut Prepared) {
    let before = p.x.partition_point(|x| *x < 0.0);
    if before >= 3 {
        let baseline = median(&p.y[..before]).unwrap_or(0.0);
        for y in &mut p.y {
            *y -= baseline;
        }
    }
}

/// Finds maximum and rupture; sets the centre.
fn find_bubble(p: &mut Prepared) -> Result<Bubble, Outcome> {
    let top = p.y.iter().copied().fold(f64::MIN, f64::max);
    let first = p.x.partition_point(|x| *x < 0.0);
    if top <= 10.0 * p.noise || top <= 0.0 || first + 3 > p.x.len() {
        return Err(Outcome::NotReached(
            "no bubble: the pressure never leaves its noise".into(),
        ));
    }
    let trace = Trace {
        x: &p.x,
        y: &p.y,
        noise: p.noise,
        top,
    };
    let rule = TearRule {
        share: p.settings.rupture_share,
        of: ShareOf::Level,
        within: p.settings.rupture_within_mm,
        straight: STRAIGHT_MM,
        clear: CLEAR_MM,
        sustained: true,
    };
    let tear = find_tear(&trace, first, &rule);
    let last = tear.map_or(p.x.len() - 1, |tear| tear.last).max(first);
    p.facts.sudden_loss = sudden_loss(
        &trace,
        (first, last),
        p.settings.leak_within_mm,
        p.settings.leak_share,
    );
    let within = first..=last;
    let centre = Centre::of(
        &p.x[within.clone()],
        &p.y[within.clone()],
        (p.noise, p.settings.quiet_share * top),
        p.settings.smoothing_half_width_mm,
    );
    p.u_reading = centre.u_reading.hypot(resolution_u(&p.y));
    p.u_top = centre.u_top;
    p.centre[within].copy_from_slice(&centre.y);
    let highest = argmax(&p.centre, first..last + 1, |_| true).unwrap_or(first);
    let rupture = tear.map(|tear| {
        let place = Place {
            at: tear.at,
            low: tear.low,
            high: tear.high,
        };
        (place, tear.height)
    });
    let gone = least_level(top, p.noise);
    let faded = rupture.is_none() && p.y.last().is_some_and(|y| *y < gone);
    p.facts.contact_mm = Some(0.0);
    p.facts.rupture_mm = rupture.map(|(place, _)| place.at);
    p.facts.maximum_mm = p.x.get(highest).copied();
    p.facts.maximum = p.centre.get(highest).copied();
    Ok(Bubble {
        first,
        last,
        faded,
        top: highest,
        rupture,
    })
}

/// Returns the curve at even steps up to rupture, and there: what the mean of a dough's discs is
/// made of.
fn shape(p: &Prepared) -> Vec<(f64, f64)> {
    let Ok(Bubble {
        first,
        last,
        rupture: Some((rupture, height)),
        ..
    }) = p.bubble
    else {
        return Vec::new();
    };
    let (x, y) = (&p.x[first..=last], &p.centre[first..=last]);
    let inner = |at: f64| match (x.first(), x.last()) {
        // The bubble starts without pressure.
        (Some(start), _) if at < *start => y.first().map_or(0.0, |y| y * at / start.max(1e-9)),
        (_, Some(end)) if at > *end => {
            let y_end = y.last().copied().unwrap_or(height);
            y_end + (height - y_end) * (at - end) / (rupture.at - end).max(1e-9)
        }
        _ => value_at(x, y, at).unwrap_or(height),
    };
    let steps = (rupture.at / SHAPE_STEP_MM).floor().clamp(0.0, 1e5) as usize;
    let even = (0..=steps).map(|k| SHAPE_STEP_MM * k as f64);
    let mut shape: Vec<(f64, f64)> = even.map(|at| (at, inner(at))).collect();
    shape.push((rupture.at, height));
    shape
}
