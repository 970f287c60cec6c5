//! Metrics read against the reference line: arrival, departure, stability.

use super::contours::Contour;
use super::prepare::Prepared;
use super::shape::time_outcome;
use crate::derive::{Metric, Reading, metric, or_outcome};
use crate::numerics::{first_fall_below_for, first_rise_above_for, last_fall_below};
use crate::record::{Estimate, Outcome};
use crate::schema::Unit;

metric! {
    /// First time the upper contour rises through the reference line and stays above it for at
    /// least 10 s.
    ARRIVAL_TIME for Prepared {
        id: "mixing.arrival_time", symbol: "ta", name: "arrival time",
        unit: Unit::Minute, decimals: 1, revision: 1,
        source: ("AACC 54-21", "arrival time", FromMemoryHigh),
        variants: [], read: read_arrival,
    }
}

metric! {
    /// Time at which the upper contour leaves the reference line and stays below it for at least
    /// 10 s.
    DEPARTURE_TIME for Prepared {
        id: "mixing.departure_time", symbol: "td", name: "departure time",
        unit: Unit::Minute, decimals: 1, revision: 1,
        source: ("ISO 5530-1 and AACC 54-21", "departure time", FromMemoryHigh),
        variants: [
            ("last", "the last departure: the contour does not return above the line before the record ends"),
            ("first", "the first departure after arrival that holds for 10 s"),
        ],
        read: read_departure,
    }
}

metric! {
    /// Departure time minus arrival time: how long the top of the curve stays at or above the
    /// reference line.
    STABILITY for Prepared {
        id: "mixing.stability", symbol: "S", name: "stability",
        unit: Unit::Minute, decimals: 1, revision: 1,
        source: ("ISO 5530-1, AACC 54-21, ICC 184", "stability", Published),
        variants: [
            ("last", "to the last departure"),
            ("first", "to the first departure"),
        ],
        read: read_stability,
    }
}

/// The upper contour against its line.
struct Passage<'a> {
    p: &'a Prepared,
    upper: &'a [f64],
    contour: &'a Contour,
    line: f64,
}

impl<'a> Passage<'a> {
    fn of(p: &'a Prepared) -> Result<Passage<'a>, Outcome> {
        if let Some(reason) = &p.rejected {
            return Err(Outcome::Rejected(reason.clone()));
        }
        let line = p.line().map_err(Outcome::NotComputable)?;
        let (upper, _) = p
            .contours
            .pair()
            .map_err(|reason| Outcome::NotComputable(reason.to_owned()))?;
        if p.start >= p.t.len() {
            return Err(Outcome::NotComputable(format!(
                "record too short: it ends {:.0} s after water contact",
                p.end_s()
            )));
        }
        let highest = upper.y[p.start..].iter().copied().fold(f64::MIN, f64::max);
        if highest < line {
            return Err(Outcome::NotReached(format!(
                "the upper contour reaches {highest:.0} FU, the line is at {line:.0} FU"
            )));
        }
        Ok(Passage {
            p,
            upper: &upper.y,
            contour: upper,
            line,
        })
    }

    /// Two standard uncertainties of the contour's level near `at` seconds.
    fn spread(&self, at: f64) -> f64 {
        let index = self
            .p
            .t
            .partition_point(|t| *t < at)
            .min(self.p.t.len() - 1);
        2.0 * self.contour.u_at(&self.p.t, index)
    }

    fn rise(&self, level: f64) -> Option<f64> {
        first_rise_above_for(
            &self.p.t,
            self.upper,
            level,
            self.p.start,
            self.p.settings.hold_s,
        )
        .map(|c| c.at)
    }

    /// Arrival in seconds, with its interval, or the outcome that stands for it.
    fn arrival(&self) -> Result<(f64, (f64, f64)), Outcome> {
        let start = self.p.t[self.p.start];
        if self.upper[self.p.start] >= self.line {
            return Err(Outcome::Below(start / 60.0));
        }
        let at = self.rise(self.line).ok_or_else(|| {
            Outcome::NotReached(format!(
                "the upper contour never stays at {:.0} FU for {:.0} s",
                self.line, self.p.settings.hold_s
            ))
        })?;
        let early = self
            .rise(self.line - self.spread(at))
            .unwrap_or(start)
            .min(at);
        let late = self.rise(self.line + self.spread(at)).unwrap_or(at).max(at);
        Ok((at, (early, late)))
    }

    fn fall(&self, level: f64, variant: &str, from: usize) -> Option<f64> {
        let p = self.p;
        let crossing = if variant == "first" {
            first_fall_below_for(&p.t, self.upper, level, from, p.settings.hold_s)
        } else {
            last_fall_below(&p.t, self.upper, level, from)
                .filter(|c| p.end_s() - c.at >= p.settings.hold_s)
        };
        crossing.map(|c| c.at)
    }

    /// Departure in seconds, with its interval; `Above` when the record ends first.
    fn departure(&self, variant: &str) -> Result<(f64, (f64, f64)), Outcome> {
        let from = match self.arrival() {
            Ok((at, _)) => self.p.t.partition_point(|t| *t <= at),
            Err(Outcome::Below(_)) => self.p.start,
            Err(outcome) => return Err(outcome),
        };
        let end = self.p.end_s();
        let at = self
            .fall(self.line, variant, from)
            .ok_or(Outcome::Above(end / 60.0))?;
        let early = self
            .fall(self.line + self.spread(at), variant, from)
            .unwrap_or(at)
            .min(at);
        let late = self
            .fall(self.line - self.spread(at), variant, from)
            .unwrap_or(end)
            .max(at);
        Ok((at, (early, late)))
    }
}

/// Counts how often the upper contour leaves the line for good measure; none when there is no line.
pub(super) fn count_departures(p: &Prepared) -> usize {
    let Ok(passage) = Passage::of(p) else {
        return 0;
    };
    let (mut count, mut from) = (0, p.start);
    while let Some(fall) =
        first_fall_below_for(&p.t, passage.upper, passage.line, from, p.settings.hold_s)
    {
        count += 1;
        from = fall.index + 1;
    }
    count
}

fn read_arrival(p: &Prepared, _: &'static str) -> Reading {
    let passage = or_outcome!(Passage::of(p));
    let half = p.settings.smoothing_half_width_s;
    match passage.arrival() {
        Ok((at, interval)) => Reading::of(time_outcome(p, at, interval)).over(at - half, at + half),
        Err(outcome) => Reading::of(outcome).over(p.t[0], p.t[p.start]),
    }
    .with_remark(format!("line={:.1}", passage.line))
}

fn read_departure(p: &Prepared, variant: &'static str) -> Reading {
    let passage = or_outcome!(Passage::of(p));
    let half = p.settings.smoothing_half_width_s;
    match passage.departure(variant) {
        Ok((at, interval)) => Reading::of(time_outcome(p, at, interval)).over(at - half, at + half),
        Err(outcome) => Reading::of(outcome).over(p.t[p.start], p.end_s()),
    }
    .with_remark(format!("line={:.1}", passage.line))
}

fn read_stability(p: &Prepared, variant: &'static str) -> Reading {
    let passage = or_outcome!(Passage::of(p));
    let outcome = match (passage.arrival(), passage.departure(variant)) {
        (Ok((ta, ia)), Ok((td, id))) => {
            let low = (ta - ia.1).hypot(td - id.0);
            let high = (ia.0 - ta).hypot(id.1 - td);
            let stability = td - ta;
            time_outcome(p, stability, (stability - low, stability + high))
        }
        (Ok((ta, _)), Err(Outcome::Above(end))) => Outcome::Above(end - ta / 60.0),
        (Err(Outcome::Below(start)), Ok((td, _))) => Outcome::Above(td / 60.0 - start),
        (Err(Outcome::Below(start)), Err(Outcome::Above(end))) => Outcome::Above(end - start),
        (Err(outcome), _) | (_, Err(outcome)) => outcome,
    };
    Reading::of(narrowed(outcome))
        .over(p.t[p.start], p.end_s())
        .with_remark(format!("line={:.1}", passage.line))
}

/// Keeps the lower end of a duration's interval from going below zero.
fn narrowed(outcome: Outcome) -> Outcome {
    match outcome {
        Outcome::Exact(e) if e.low() < 0.0 => {
            Estimate::with_interval(e.value(), 0.0, e.high(), e.std_uncertainty()).map_or_else(
                |error| Outcome::NotComputable(error.to_string()),
                Outcome::Exact,
            )
        }
        other => other,
    }
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] = &[&ARRIVAL_TIME, &DEPARTURE_TIME, &STABILITY];
