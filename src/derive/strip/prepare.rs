//! What is done once per strip before any metric is read: travel of the hook, baseline, noise.

use super::geometry::Geometry;
use super::numbers::{Numbers, read_numbers};
use super::pull::{Pull, find_pull};
use super::settings::Settings;
use crate::derive::centre::resolution_u;
use crate::derive::{clamp_failure, left_out};
use crate::numerics::{median, reading_scatter};
use crate::record::{Curve, Outcome, Run, SignalFacts};
use crate::schema::{Axis, Channel, Field, Unit};

/// A strip's record ready to be read.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// Parameters in force.
    pub settings: Settings,
    /// The strip before it is drawn out, or what is missing of it.
    pub geometry: Result<Geometry, Outcome>,
    /// Whether the sag was stated; where it was not, it is taken as nought.
    pub sag_stated: bool,
    /// Speed of the hook, mm/s, where stated.
    pub speed_mm_s: Option<f64>,
    /// Way of the hook, mm, from where the record counts: the first touch.
    pub x: Vec<f64>,
    /// Force on the hook, N, less its baseline.
    pub y: Vec<f64>,
    /// The force as it is read: smoothed where it is noisy.
    pub centre: Vec<f64>,
    /// Standard deviation of the noise, N.
    pub noise: f64,
    /// Standard uncertainty of one reading from noise and resolution, N.
    pub u_raw: f64,
    /// Standard uncertainty of one reading of the centre, N; twice as much at its end.
    pub u_reading: f64,
    /// Force before the hook touches the strip, N: subtracted.
    pub baseline: f64,
    /// The stretch from touch to rupture, or the outcome every metric has instead.
    pub pull: Result<Pull, Outcome>,
    /// The numbers read from it.
    pub numbers: Numbers,
    /// What was seen.
    pub facts: SignalFacts,
}

/// Returns the prepared record of `run`.
pub fn prepare(run: &Run, settings: Settings) -> Prepared {
    let mut p = Prepared {
        geometry: geometry(run),
        sag_stated: run.metadata.number(Field::SagMm).is_some(),
        speed_mm_s: run
            .metadata
            .number(Field::HookSpeedMmS)
            .filter(|v| *v > 0.0),
        ..blank(settings)
    };
    let Some(curve) = run.curve(Channel::Signal).or_else(|| run.curves.first()) else {
        return p;
    };
    p.facts = SignalFacts {
        points: curve.points(),
        axis: Some(curve.axis()),
        missing_cells: run.missing_cells,
        time_steps_back: curve.steps_back(),
        ..SignalFacts::default()
    };
    p.y = curve.y().to_vec();
    p.centre = curve.y().to_vec();
    match travel(curve, p.speed_mm_s) {
        Ok(x) => p.x = x,
        Err(outcome) => {
            p.x = curve.x().to_vec();
            p.pull = Err(outcome);
            return p;
        }
    }
    if let Some(index) = p.facts.time_steps_back.first() {
        let line = run.line_of(*index);
        p.pull = Err(Outcome::Rejected(format!(
            "the abscissa steps back at line {line} of the file"
        )));
        return p;
    }
    take_baseline(&mut p);
    p.noise = reading_scatter(&p.x, &p.y);
    p.u_raw = p.noise.hypot(resolution_u(&p.y));
    p.facts.scatter = Some(p.noise);
    p.pull = find_pull(&mut p);
    if let Some(outcome) = clamp_failure(run, "strip").or_else(|| left_out(run)) {
        p.pull = Err(outcome);
    }
    p.numbers = read_numbers(&p);
    p
}

fn blank(settings: Settings) -> Prepared {
    let nothing = Outcome::NotComputable("the run has no curve".into());
    Prepared {
        settings,
        geometry: Err(nothing.clone()),
        sag_stated: false,
        speed_mm_s: None,
        x: Vec::new(),
        y: Vec::new(),
        centre: Vec::new(),
        noise: 0.0,
        u_raw: 0.0,
        u_reading: 0.0,
        baseline: 0.0,
        pull: Err(nothing),
        numbers: Numbers::default(),
        facts: SignalFacts::default(),
    }
}

fn geometry(run: &Run) -> Result<Geometry, Outcome> {
    let stated = |field: Field| {
        let value = run.metadata.number(field).filter(|v| *v > 0.0);
        value.ok_or_else(|| Outcome::NotComputable(format!("{field} not stated")))
    };
    Ok(Geometry {
        half_gap_mm: stated(Field::HalfGapMm)?,
        area_mm2: stated(Field::StripAreaMm2)?,
        sag_mm: run.metadata.number(Field::SagMm).unwrap_or(0.0).max(0.0),
    })
}

/// Returns the way of the hook at each reading, mm.
fn travel(curve: &Curve, speed_mm_s: Option<f64>) -> Result<Vec<f64>, Outcome> {
    if curve.unit() != Unit::Newton {
        return Err(Outcome::NotComputable(format!(
            "the record is in {}, not a force: declare its unit in the import profile",
            curve.unit()
        )));
    }
    match (curve.axis(), speed_mm_s) {
        (Axis::HookTravelMm, _) => Ok(curve.x().to_vec()),
        (Axis::Time, Some(speed)) => Ok(curve.x().iter().map(|s| s * speed).collect()),
        (Axis::Time, None) => Err(Outcome::NotComputable(
            "the abscissa is time and hook_speed_mm_s is not stated".into(),
        )),
        (axis, _) => Err(Outcome::NotComputable(format!(
            "the abscissa is {}; a strip needs hook travel, or time and the hook's speed",
            axis.word()
        ))),
    }
}

/// Subtracts the median of the readings before touch, where the record has at least three.
fn take_baseline(p: &mut Prepared) {
    let before = p.x.partition_point(|x| *x < 0.0);
    if before >= 3 {
        p.baseline = median(&p.y[..before]).unwrap_or(0.0);
    }
    for y in p.y.iter_mut().chain(&mut p.centre) {
        *y -= p.baseline;
    }
}
