//! The part of a strip's record in which it was drawn out: rupture, greatest force, failure.

use super::prepare::Prepared;
use super::settings::{CLEAR_MM, STRAIGHT_MM, SUDDEN_WITHIN_MM};
use crate::derive::centre::{Centre, resolution_u};
use crate::derive::place::Place;
use crate::numerics::{
    ShareOf, Tear, TearRule, Trace, argmax, find_tear, least_level, sudden_loss,
};
use crate::record::Outcome;

/// A point of the record that a number is read at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Way of the hook, mm.
    pub place: Place,
    /// Force there, N.
    pub force: f64,
    /// Standard uncertainty of the force from noise and resolution, N.
    pub u: f64,
}

/// The part of the record in which the strip was drawn out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pull {
    /// First reading at or after touch.
    pub first: usize,
    /// Last reading before rupture, or of the record.
    pub last: usize,
    /// Rupture; `None` when the record ends before.
    pub rupture: Option<Mark>,
    /// Whether no rupture was seen, but the force is gone at the end of the record.
    pub faded: bool,
    /// Greatest force.
    pub top: Mark,
    /// Greatest stress: failure; `None` where the strip did not tear or its geometry is not known.
    pub failure: Option<Mark>,
}

/// Finds rupture, maximum and failure; sets the centre.
pub(super) fn find_pull(p: &mut Prepared) -> Result<Pull, Outcome> {
    let top = p.y.iter().copied().fold(f64::MIN, f64::max);
    let first = p.x.partition_point(|x| *x < 0.0);
    if top <= 10.0 * p.noise || top <= 0.0 || first + 3 > p.x.len() {
        return Err(Outcome::NotReached(
            "no load: the force never leaves its noise".into(),
        ));
    }
    let tear = tear_of(p, first, top);
    let last = tear.map_or(p.x.len() - 1, |tear| tear.last).max(first);
    let within = first..=last;
    let centre = Centre::of(
        &p.x[within.clone()],
        &p.y[within.clone()],
        (p.noise, p.settings.quiet_share * top),
        p.settings.smoothing_half_width_mm,
    );
    p.u_reading = centre.u_reading.hypot(resolution_u(&p.y));
    p.centre[within].copy_from_slice(&centre.y);
    let rupture = tear.map(|tear| Mark {
        place: Place {
            at: tear.at,
            low: tear.low,
            high: tear.high,
        },
        force: tear.height,
        u: 2.0 * p.u_reading,
    });
    let gone = least_level(top, p.noise);
    let faded = rupture.is_none() && p.y.last().is_some_and(|y| *y < gone);
    let seek = Seek {
        p,
        first,
        last,
        rupture,
        u_top: centre.u_top,
    };
    let top = seek.highest(|_, force| Some(force));
    let top = top.ok_or_else(|| Outcome::NotReached("no load".into()))?;
    let failure = match (&p.geometry, rupture) {
        (Ok(strip), Some(_)) => seek.highest(|x, force| strip.stress_kpa(force, x)),
        _ => None,
    };
    p.facts.contact_mm = Some(0.0);
    p.facts.rupture_mm = rupture.map(|mark| mark.place.at);
    p.facts.maximum_mm = Some(top.place.at);
    p.facts.maximum = Some(top.force);
    Ok(Pull {
        first,
        last,
        rupture,
        faded,
        top,
        failure,
    })
}

/// Returns where the strip tore; notes a sudden loss of load before.
fn tear_of(p: &mut Prepared, first: usize, top: f64) -> Option<Tear> {
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
    let least = p.settings.sudden_loss_share;
    p.facts.sudden_loss = sudden_loss(&trace, (first, last), SUDDEN_WITHIN_MM, least);
    tear
}

/// Looks for the greatest of something between touch and rupture.
struct Seek<'a> {
    p: &'a Prepared,
    first: usize,
    last: usize,
    rupture: Option<Mark>,
    /// What smoothing may have taken from a maximum, N.
    u_top: f64,
}

impl Seek<'_> {
    /// Returns where `of` place and force is greatest, with the stretch over which noise could have
    /// put it.
    fn highest(&self, of: impl Fn(f64, f64) -> Option<f64>) -> Option<Mark> {
        let p = self.p;
        let value = |i: usize, more: f64| of(p.x[i], p.centre[i] + more).unwrap_or(f64::MIN);
        let values: Vec<f64> = (0..=self.last).map(|i| value(i, 0.0)).collect();
        let top = argmax(&values, self.first..self.last + 1, |i| values[i] > f64::MIN)?;
        let near_end = p.x[self.last] - p.x[top] <= p.settings.smoothing_half_width_mm;
        let u = if near_end { 2.0 } else { 1.0 } * p.u_reading;
        let u = u.hypot(self.u_top);
        // Readings that may be the true maximum: within three uncertainties of it.
        let may_be = |i: &usize| value(*i, 3.0 * u) >= values[top];
        let low = (self.first..top).rev().take_while(may_be).last();
        let high = (top + 1..=self.last).take_while(may_be).last();
        let (low, high) = (low.unwrap_or(top), high.unwrap_or(top));
        let mark = Mark {
            place: Place {
                at: p.x[top],
                low: p.x[low],
                high: p.x[high],
            },
            force: p.centre[top],
            u,
        };
        match self.rupture {
            Some(rupture) if high == self.last => {
                let at_rupture = of(rupture.place.at, rupture.force);
                Some(mark.or_at(rupture, at_rupture.is_some_and(|v| v > values[top])))
            }
            _ => Some(mark),
        }
    }
}

impl Mark {
    /// Returns the mark with its place reaching to `rupture`, or moved there where that is higher.
    fn or_at(self, rupture: Mark, higher: bool) -> Mark {
        let low = self.place.low.min(rupture.place.low);
        let high = self.place.high.max(rupture.place.high);
        let best = if higher { rupture } else { self };
        Mark {
            place: Place {
                low,
                high,
                ..best.place
            },
            u: self.u.max(rupture.u),
            ..best
        }
    }
}
