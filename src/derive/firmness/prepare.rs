//! What is done once per slice before any metric is read: noise and contact.

use super::settings::{RISE_MM, STRAIGHT_MM, Settings};
use crate::numerics::{
    Crossing, first_rise_above_for, least_step, reading_scatter, regress_line, value_at,
};
use crate::record::{Curve, Outcome, Run, SignalFacts};
use crate::schema::{Axis, Channel, Field, Quantity};

/// A compression curve ready to be read.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// Parameters in force.
    pub settings: Settings,
    /// Travel of the probe from contact, mm.
    pub x: Vec<f64>,
    /// Force, N.
    pub y: Vec<f64>,
    /// Standard deviation of the noise, N.
    pub noise: f64,
    /// Smallest step between two readings, N: the resolution of the record.
    pub resolution: f64,
    /// Standard uncertainty of the place of contact, mm, or the outcome every metric has instead.
    pub contact: Result<f64, Outcome>,
    /// Stated thickness of the crumb, mm.
    pub thickness_mm: Option<f64>,
    /// Stated diameter of the probe, mm.
    pub diameter_mm: Option<f64>,
    /// What was seen.
    pub facts: SignalFacts,
}

/// A force with its standard uncertainty, N.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Force {
    /// Value.
    pub value: f64,
    /// Standard uncertainty of the reading.
    pub u: f64,
    /// Slope of the curve there, N/mm.
    pub slope: f64,
}

/// Returns the prepared curve of `run`.
pub fn prepare(run: &Run, settings: Settings) -> Prepared {
    let curve = run.curve(Channel::Signal).or_else(|| run.curves.first());
    let mut p = Prepared {
        settings,
        x: curve.map_or(Vec::new(), |c| c.x().to_vec()),
        y: curve.map_or(Vec::new(), |c| c.y().to_vec()),
        noise: 0.0,
        resolution: 0.0,
        contact: Err(Outcome::NotComputable("the run has no curve".into())),
        thickness_mm: run.metadata.number(Field::ThicknessMm).filter(|t| *t > 0.0),
        diameter_mm: run
            .metadata
            .number(Field::ProbeDiameterMm)
            .filter(|d| *d > 0.0),
        facts: SignalFacts::default(),
    };
    let Some(curve) = curve else { return p };
    p.facts = SignalFacts {
        points: curve.points(),
        axis: Some(curve.axis()),
        missing_cells: run.missing_cells,
        time_steps_back: (1..p.x.len()).filter(|&i| p.x[i] < p.x[i - 1]).collect(),
        maximum: p.y.iter().copied().max_by(f64::total_cmp),
        ..SignalFacts::default()
    };
    p.contact = match unreadable(run, curve, &p.facts) {
        Some(outcome) => Err(outcome),
        None => find_contact(&mut p),
    };
    p
}

/// Returns why a curve is not read at all.
fn unreadable(run: &Run, curve: &Curve, facts: &SignalFacts) -> Option<Outcome> {
    if let Some(index) = facts.time_steps_back.first() {
        return Some(Outcome::Rejected(format!(
            "the abscissa steps back at line {} of the file",
            run.line_of(*index)
        )));
    }
    if let Some(reason) = run.metadata.text(Field::LeaveOut)
        && !reason.trim().is_empty()
    {
        return Some(Outcome::Rejected(format!("left out: {}", reason.trim())));
    }
    if curve.axis() != Axis::ProbeTravelMm || curve.unit().quantity() != Quantity::Force {
        return Some(Outcome::NotComputable(
            "the record is not a force over the travel of a probe".into(),
        ));
    }
    None
}

/// Finds contact, sets the abscissa to zero there, and returns the uncertainty of its place.
fn find_contact(p: &mut Prepared) -> Result<f64, Outcome> {
    p.noise = reading_scatter(&p.x, &p.y);
    p.resolution = least_step(&p.y);
    p.facts.scatter = Some(p.noise);
    let level = p.settings.trigger_n;
    let starts_loaded = p.y.first().is_some_and(|force| *force >= level);
    let met = first_rise_above_for(&p.x, &p.y, level, 0, p.settings.hold_mm);
    let reading = p.noise.hypot(p.resolution / 12.0_f64.sqrt());
    let (contact, u) = match met {
        _ if starts_loaded => {
            let step = p.x.get(1).zip(p.x.first()).map_or(0.0, |(b, a)| b - a);
            (p.x.first().copied().unwrap_or(0.0), step / 3.0_f64.sqrt())
        }
        Some(crossing) => on_the_rise(p, crossing, reading),
        None => {
            return Err(Outcome::NotReached(format!(
                "the force never stays above {level} N: the probe met no crumb"
            )));
        }
    };
    p.facts.contact_mm = Some(contact);
    for value in &mut p.x {
        *value -= contact;
    }
    Ok(u)
}

/// Returns where the force comes to the trigger, and the standard uncertainty of the place: on the
/// straight line through the first readings of the rise, since the reading before may stem from
/// before the probe touched. A line over twice the length shows what the bend of the rise does
/// (its error grows with the square of the length), and that is taken off.
fn on_the_rise(p: &Prepared, crossing: Crossing, reading: f64) -> (f64, f64) {
    let from = p.x.get(crossing.index).copied().unwrap_or(crossing.at);
    let before = p.x.get(crossing.index.saturating_sub(1));
    let reach = p
        .settings
        .hold_mm
        .max(from - before.copied().unwrap_or(from));
    let near = line_of_rise(p, crossing.at, RISE_MM);
    let far = line_of_rise(p, crossing.at, 2.0 * RISE_MM);
    let Some((near, far)) = near.zip(far) else {
        return (crossing.at, p.settings.hold_mm / 3.0_f64.sqrt());
    };
    let bend = (near.at - far.at) / 3.0;
    let at = (near.at + bend).clamp(crossing.at - reach, crossing.at + reach);
    // Rounding of the record to steps is no noise about the line: it stays with every reading.
    let by_noise = 1.5 * near.u.max(reading / near.slope / near.points.sqrt());
    (at, by_noise.hypot(bend / 3.0_f64.sqrt()))
}

/// Where a line through the start of the rise comes to the trigger.
struct Rise {
    /// Place, mm.
    at: f64,
    /// Standard uncertainty of the place by the scatter about the line, mm.
    u: f64,
    /// Readings on the line.
    points: f64,
    /// Slope of the line, N/mm.
    slope: f64,
}

/// Returns the line through the readings of the first `length` of the rise. The readings are
/// chosen by their place, twice, not by their force: a force above the trigger by noise would move
/// the place.
fn line_of_rise(p: &Prepared, start: f64, length: f64) -> Option<Rise> {
    let mut rise = Rise {
        at: start,
        u: 0.0,
        points: 0.0,
        slope: 0.0,
    };
    for _ in 0..2 {
        let first = p.x.partition_point(|x| *x < rise.at);
        let near = p.x.partition_point(|x| *x <= rise.at + length);
        let least = if length > RISE_MM {
            first + 4
        } else {
            first + 3
        };
        let to = near.max(least).min(p.x.len());
        let line = regress_line(p.x.get(first..to)?, p.y.get(first..to)?)?;
        if line.slope <= 0.0 {
            return None;
        }
        let at = line.line.x + (p.settings.trigger_n - line.line.y) / line.slope;
        rise = Rise {
            at,
            u: line.error_at(at) / line.slope,
            points: line.points as f64,
            slope: line.slope,
        };
    }
    Some(rise)
}

impl Prepared {
    /// Returns how far the record compresses the crumb, mm from contact.
    pub fn reach(&self) -> f64 {
        self.x.last().copied().unwrap_or(0.0)
    }

    /// Returns the force at `depth` mm from contact, read on the straight line through the
    /// readings about it; `None` beyond the record.
    pub fn force_at(&self, depth: f64) -> Option<Force> {
        let between = value_at(&self.x, &self.y, depth)?;
        let from = self.x.partition_point(|x| *x < depth - STRAIGHT_MM);
        let to = self.x.partition_point(|x| *x <= depth + STRAIGHT_MM);
        let (x, y) = (&self.x[from..to], &self.y[from..to]);
        // The quantised record still carries its resolution into every reading.
        let reading = self.noise.hypot(self.resolution / 12.0_f64.sqrt());
        let slope = match (
            value_at(&self.x, &self.y, depth - 1.0),
            value_at(&self.x, &self.y, depth + 1.0),
        ) {
            (Some(a), Some(b)) => 0.5 * (b - a),
            (Some(a), None) => between - a,
            _ => 0.0,
        };
        let line = regress_line(x, y).filter(|l| {
            // A window cut off by the end of the record is no window about the depth.
            let (first, last) = (x.first(), x.last());
            l.points >= 5 && first.is_some_and(|f| *f < depth) && last.is_some_and(|f| *f > depth)
        });
        Some(match line {
            Some(line) => Force {
                value: line.line.at(depth),
                u: reading / (line.points as f64).sqrt(),
                slope,
            },
            None => Force {
                value: between,
                u: reading,
                slope,
            },
        })
    }
}
