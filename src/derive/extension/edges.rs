//! Where the stretch begins and ends: contact, rupture, and sudden losses of load between.

use super::onset::Onset;
use super::prepare::Prepared;
use super::settings::{CLEAR_MM, ONSET_MM, SUDDEN_WITHIN_MM};
use crate::derive::place::Place;
use crate::numerics::{ShareOf, TearRule, Trace, find_tear, fit_line, sudden_loss};

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

/// Returns the record as a trace that may tear.
fn trace(p: &Prepared, top: f64) -> Trace<'_> {
    Trace {
        x: &p.x,
        y: &p.y,
        noise: p.noise,
        top,
    }
}

/// Returns the first place from which the force falls by more than the rupture share of its
/// maximum within the rupture length: where the trace leaves its own line.
pub(super) fn find_rupture(p: &Prepared, above: usize, top: f64) -> Option<Rupture> {
    let rule = TearRule {
        share: p.settings.rupture_share,
        of: ShareOf::Maximum,
        within: p.settings.rupture_within_mm,
        straight: ONSET_MM,
        clear: CLEAR_MM,
        sustained: false,
    };
    let tear = find_tear(&trace(p, top), above, &rule)?;
    Some(Rupture {
        place: Place {
            at: tear.at,
            low: tear.low,
            high: tear.high,
        },
        last: tear.last,
        force: tear.height,
    })
}

/// Returns the greatest loss of load within 2 mm before rupture, when it is worth a finding.
pub(super) fn find_sudden_loss(
    p: &Prepared,
    above: usize,
    last: usize,
    top: f64,
) -> Option<(usize, f64)> {
    sudden_loss(
        &trace(p, top),
        (above, last),
        SUDDEN_WITHIN_MM,
        p.settings.sudden_loss_share,
    )
}
