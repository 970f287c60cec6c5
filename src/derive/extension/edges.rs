//! Where the stretch begins and ends: contact, rupture, and sudden losses of load between.

use super::onset::Onset;
use super::prepare::{Place, Prepared};
use super::settings::{CLEAR_MM, ONSET_MM, SUDDEN_WITHIN_MM};
use crate::numerics::{Line, fit_line};

/// Returns the first reading from which the force stays above `threshold` over the hold length, or
/// to the end of the record.
pub(super) fn first_stay_above(p: &Prepared, threshold: f64) -> Option<usize> {
    let mut from = None;
    for (i, y) in p.y.iter().enumerate() {
        if *y <= threshold {
            from = None;
            continue;
        }
        let start = *from.get_or_insert(i);
        if p.x[i] - p.x[start] >= p.settings.contact_hold_mm {
            return Some(start);
        }
    }
    from
}

/// Where the hook first touched: place, first reading after it, and the force there.
pub(super) struct Contact {
    pub place: Place,
    pub first: usize,
    pub force: f64,
}

/// Returns where the rise that passes the contact threshold at reading `above` began.
///
/// The threshold shows that there is contact; its place is where the force leaves zero. In a quiet
/// record that is on the line through the first 2 mm where the readings follow it, else between the
/// last reading without force and the next; in a noisy one where a fitted power law starts.
pub(super) fn find_contact(p: &Prepared, above: usize, top: f64) -> Contact {
    let slack = 3.0 * p.noise + 1e-9 * top;
    let lowest = p.y[..above].iter().copied().fold(f64::MAX, f64::min);
    let foot = |level: f64| p.y[..above].iter().rposition(|y| *y <= level + slack);
    // A recorder whose zero is off still shows where the force leaves its zero.
    let found = foot(0.0).map(|foot| (foot, 0.0));
    let Some((foot, zero)) = found.or_else(|| foot(lowest).map(|foot| (foot, lowest + slack)))
    else {
        return Contact {
            place: Place {
                at: p.x[above],
                low: p.x[above],
                high: p.x[above],
            },
            first: above,
            force: p.y[above],
        };
    };
    let place = if p.noise > p.settings.quiet_share * top {
        Onset::around(&p.x, &p.y, above, zero).contact(p.x[above], p.noise)
    } else {
        quiet_contact(p, foot, zero)
    };
    Contact {
        place,
        first: p.x.partition_point(|x| *x <= place.at).min(above),
        force: 0.0,
    }
}

/// Returns where the force of a quiet record leaves zero after reading `foot`.
fn quiet_contact(p: &Prepared, foot: usize, zero: f64) -> Place {
    let next = foot + 1;
    let (low, high) = (p.x[foot], p.x[next]);
    let to = next + p.x[next..].partition_point(|x| *x <= high + ONSET_MM);
    let line = fit_line(&p.x[next..to], &p.y[next..to]).filter(|line| line.slope > 0.0);
    let at = match line.map(|line| low - (line.at(low) - zero) / line.slope) {
        Some(at) if at >= low - 1e-6 && at <= high => at.max(low),
        // A record that starts with its first reading at zero starts at contact.
        _ if foot == 0 => low,
        _ => 0.5 * (low + high),
    };
    Place { at, low, high }
}

/// Where the piece tore: place, last reading before it, and the force there.
#[derive(Clone, Copy)]
pub(super) struct Rupture {
    pub place: Place,
    pub last: usize,
    pub force: f64,
}

/// Returns the first place from which the force falls by more than the rupture share of its
/// maximum within the rupture length: where the trace leaves its own line.
pub(super) fn find_rupture(p: &Prepared, above: usize, top: f64) -> Option<Rupture> {
    let fall = p.settings.rupture_share * top;
    let n = p.x.len();
    let torn_within = |k: usize| {
        (k + 1..n)
            .take_while(|m| p.x[*m] - p.x[k] <= p.settings.rupture_within_mm)
            .find(|m| p.y[k] - p.y[*m] > fall)
    };
    let (start, torn) = (above..n)
        .filter(|k| p.y[*k] > fall)
        .find_map(|k| torn_within(k).map(|m| (k, m)))?;
    let roughly = last_slow(p, (start, torn), top);
    let clear = p.x.partition_point(|x| *x < p.x[roughly] - CLEAR_MM);
    let clear = clear.clamp(above.min(start), roughly);
    let line = line_before(p, (above, clear), ONSET_MM);
    let last = last_on(
        p,
        line,
        (clear, roughly + 1),
        (4.0 * p.noise).max(0.01 * top),
    );
    let before = |x: f64| line.map_or(p.y[last], |line| line.at(x));
    let (low, high) = (p.x[last], p.x[last + 1]);
    let at = tear_start(p, last + 1, before).map_or(low, |at| at.clamp(low.min(high), high));
    Some(Rupture {
        place: Place { at, low, high },
        last,
        force: before(at),
    })
}

/// Returns the last of the readings `start..torn` before the force falls, within 1 mm, by half as
/// much as rupture asks of that length and by more than the noise.
fn last_slow(p: &Prepared, (start, torn): (usize, usize), top: f64) -> usize {
    let rate = p.settings.rupture_share / p.settings.rupture_within_mm;
    let limit = (0.5 * rate * top).max(7.0 * p.noise);
    let falls = |i: &usize| {
        let before = (start..*i).rev();
        let near = before.take_while(|j| p.x[*i] - p.x[*j] <= 1.0 || *j + 1 == *i);
        near.map(|j| p.y[j]).fold(f64::MIN, f64::max) - p.y[*i] > limit
    };
    (start + 1..=torn).find(falls).map_or(start, |i| i - 1)
}

/// Returns the line through the `length` mm up to reading `to`, from reading `from` at the earliest.
fn line_before(p: &Prepared, (from, to): (usize, usize), length: f64) -> Option<Line> {
    let begin = p.x.partition_point(|x| *x < p.x[to] - length);
    let begin = begin.clamp(from.min(to), to);
    fit_line(&p.x[begin..=to], &p.y[begin..=to])
}

/// Returns the last of the readings `from..to` up to which none lies more than `tolerance` below
/// the line.
fn last_on(p: &Prepared, line: Option<Line>, (from, to): (usize, usize), tolerance: f64) -> usize {
    let level = |i: usize| line.map_or(p.y[from], |line| line.at(p.x[i]));
    (from..to)
        .take_while(|i| p.y[*i] >= level(*i) - tolerance)
        .last()
        .unwrap_or(from)
}

/// Returns where the steep line of the tear, from reading `first` on, meets the line `before` it;
/// `None` when the tear shows fewer than two readings.
fn tear_start(p: &Prepared, first: usize, before: impl Fn(f64) -> f64) -> Option<f64> {
    let floor = 0.25 * before(p.x[first]);
    let second = (first + 1..p.x.len())
        .take_while(|i| p.y[*i] >= floor)
        .last()?;
    let fall = p.y[first] - p.y[second];
    let run = p.x[second] - p.x[first];
    if fall <= 10.0 * p.noise || fall <= 0.0 || run <= 0.0 {
        return None;
    }
    let slope_before = (before(p.x[second]) - before(p.x[first])) / run;
    let gap = before(p.x[first]) - p.y[first];
    Some(p.x[first] - gap / (fall / run + slope_before).max(fall / run * 0.5))
}

/// Returns the greatest loss of load within 2 mm before rupture, when it is worth a finding.
pub(super) fn sudden_loss(
    p: &Prepared,
    above: usize,
    last: usize,
    top: f64,
) -> Option<(usize, f64)> {
    let mut worst: Option<(usize, f64)> = None;
    for i in above..=last {
        let within = (i + 1..=last).take_while(|j| p.x[*j] - p.x[i] <= SUDDEN_WITHIN_MM);
        let lowest = within.map(|j| p.y[j]).fold(f64::MAX, f64::min);
        let loss = (p.y[i] - lowest) / top;
        if loss > p.settings.sudden_loss_share && worst.is_none_or(|(_, most)| loss > most) {
            worst = Some((i, loss));
        }
    }
    worst
}
