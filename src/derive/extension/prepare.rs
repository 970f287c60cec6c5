//! What is done once per piece before any metric is read: noise, contact, rupture, maximum.

use super::edges::{find_contact, find_rupture, find_sudden_loss, first_stay_above};
use super::settings::{CHART_MM_PER_S, HOOK_MM_PER_S, Settings};
use crate::derive::centre::{Centre, resolution_u};
use crate::derive::clamp_failure;
use crate::derive::place::Place;
use crate::numerics::{argmax, reading_scatter};
use crate::record::{Outcome, Run, SignalFacts};
use crate::schema::{Axis, Channel, Field, Unit};

/// An extension curve ready to be read.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// Parameters in force.
    pub settings: Settings,
    /// Unit of the ordinate.
    pub unit: Unit,
    /// What the abscissa counts.
    pub axis: Axis,
    /// Ordinate scale of the chart, EU per cm, where stated.
    pub eu_per_cm: Option<f64>,
    /// Millimetres from first contact.
    pub x: Vec<f64>,
    /// The resistance as recorded.
    pub y: Vec<f64>,
    /// The resistance as it is read: smoothed where it is noisy.
    pub centre: Vec<f64>,
    /// Standard deviation of the noise, in the unit of the curve.
    pub noise: f64,
    /// Standard uncertainty of one reading of the centre, in the unit of the curve.
    pub u_reading: f64,
    /// The stretch from contact to rupture, or the outcome every metric has instead.
    pub stretch: Result<Stretch, Outcome>,
    /// What was seen.
    pub facts: SignalFacts,
}

impl Prepared {
    /// Returns the half width of the smoothing on the abscissa of the record, mm: the hook travels
    /// further than the chart.
    pub fn half_width(&self) -> f64 {
        match self.axis {
            Axis::HookTravelMm => {
                self.settings.smoothing_half_width_mm * HOOK_MM_PER_S.0 / CHART_MM_PER_S
            }
            _ => self.settings.smoothing_half_width_mm,
        }
    }
}

/// The part of the record in which the piece was stretched.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// First contact of the hook; at 0 by definition.
    pub contact: Place,
    /// Resistance at contact: 0, or the first reading of a record that starts under load.
    pub at_contact: f64,
    /// First reading after contact.
    pub first: usize,
    /// Last reading before rupture, or of the record.
    pub last: usize,
    /// Rupture and the resistance there; `None` when the record ends before.
    pub rupture: Option<(Place, f64)>,
    /// Reading at the maximum of the centre.
    pub top: usize,
    /// How far smoothing may have lowered the maximum, in the unit of the curve.
    pub u_top: f64,
}

/// Returns the prepared curve of `run`.
pub fn prepare(run: &Run, settings: Settings) -> Prepared {
    let Some(curve) = run.curve(Channel::Signal).or_else(|| run.curves.first()) else {
        return blocked(
            settings,
            Outcome::NotComputable("the run has no curve".into()),
        );
    };
    let facts = SignalFacts {
        points: curve.points(),
        axis: Some(curve.axis()),
        missing_cells: run.missing_cells,
        time_steps_back: curve.steps_back(),
        ..SignalFacts::default()
    };
    let mut p = Prepared {
        unit: curve.unit(),
        axis: curve.axis(),
        eu_per_cm: run.metadata.number(Field::EuPerCm).filter(|s| *s > 0.0),
        x: curve.x().to_vec(),
        y: curve.y().to_vec(),
        centre: curve.y().to_vec(),
        facts,
        ..blocked(settings, Outcome::NotComputable(String::new()))
    };
    if let Some(index) = p.facts.time_steps_back.first() {
        let line = run.line_of(*index);
        p.stretch = Err(Outcome::Rejected(format!(
            "the abscissa steps back at line {line} of the file"
        )));
        return p;
    }
    p.noise = reading_scatter(&p.x, &p.y);
    p.facts.scatter = Some(p.noise);
    p.stretch = find_stretch(&mut p);
    if let Some(outcome) = clamp_failure(run, "piece").or_else(|| wrong_abscissa(p.axis)) {
        p.stretch = Err(outcome);
    }
    p
}

fn blocked(settings: Settings, outcome: Outcome) -> Prepared {
    Prepared {
        settings,
        unit: Unit::Eu,
        axis: Axis::Time,
        eu_per_cm: None,
        x: Vec::new(),
        y: Vec::new(),
        centre: Vec::new(),
        noise: 0.0,
        u_reading: 0.0,
        stretch: Err(outcome),
        facts: SignalFacts::default(),
    }
}

fn wrong_abscissa(axis: Axis) -> Option<Outcome> {
    (axis == Axis::Time).then(|| {
        Outcome::NotComputable(
            "the abscissa is time: declare chart-mm or hook-travel-mm in the import profile".into(),
        )
    })
}

/// Finds contact, rupture and maximum; sets the abscissa to zero at contact, and the centre.
fn find_stretch(p: &mut Prepared) -> Result<Stretch, Outcome> {
    let top = p.y.iter().copied().fold(f64::MIN, f64::max);
    let least = if p.unit == Unit::Eu {
        p.settings.contact_eu
    } else {
        0.0
    };
    let threshold = (p.settings.contact_share * top).max(least);
    let Some(above) = first_stay_above(p, threshold) else {
        return Err(Outcome::NotReached(format!(
            "no contact: the force never stays above {threshold:.1} {}",
            p.unit
        )));
    };
    let contact = find_contact(p, above, top);
    let rupture = find_rupture(p, above, top);
    let last = rupture.map_or(p.x.len() - 1, |r| r.last);
    let zero = contact.place.at;
    p.facts.contact_mm = Some(zero);
    p.facts.rupture_mm = rupture.map(|r| r.place.at);
    p.facts.sudden_loss = find_sudden_loss(p, above, last, top);
    let first = contact.first.min(last);
    let lowered = smooth(p, first, last, top);
    let highest = argmax(&p.centre, first..last + 1, |_| true).unwrap_or(last);
    p.facts.maximum_mm = p.x.get(highest).copied();
    p.facts.maximum = p.centre.get(highest).copied();
    for x in &mut p.x {
        *x -= zero;
    }
    Ok(Stretch {
        contact: contact.place.shifted(zero),
        at_contact: contact.force,
        first,
        last,
        rupture: rupture.map(|r| (r.place.shifted(zero), r.force)),
        top: highest,
        u_top: lowered,
    })
}

/// Sets the centre between readings `first` and `last`, and the uncertainty of its readings;
/// returns how far smoothing may have lowered the maximum.
fn smooth(p: &mut Prepared, first: usize, last: usize, top: f64) -> f64 {
    let (x, y) = (&p.x[first..=last], &p.y[first..=last]);
    let least = p.settings.quiet_share * top;
    let centre = Centre::of(x, y, (p.noise, least), p.half_width());
    p.u_reading = centre.u_reading.hypot(resolution_u(&p.y));
    p.centre[first..=last].copy_from_slice(&centre.y);
    centre.u_top
}
