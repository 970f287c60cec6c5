//! Time to a target moisture, never beyond the record and never beyond the equilibrium.

use super::laws::Law;
use super::metrics::{law_of, remark_on};
use super::prepare::Prepared;
use crate::derive::interval::widened;
use crate::derive::{Reading, or_outcome};
use crate::numerics::fit::{Model, Peleg, SphereUptake};
use crate::record::Outcome;

/// Halvings that find the time to rounding.
const HALVINGS: usize = 60;

/// Reads the time to the target moisture by a law.
pub(super) fn read_time_to_target(p: &Prepared, variant: &'static str) -> Reading {
    let law = or_outcome!(law_of(p, variant));
    let Some(target) = p.target else {
        return Reading::of(Outcome::NotComputable(
            "target moisture (target_moisture_db_pct) not stated".into(),
        ));
    };
    remark_on(p, law, time_to(p, law, variant, target))
}

fn time_to(p: &Prepared, law: &Law, variant: &str, target: f64) -> Outcome {
    let peleg = Peleg { initial: p.initial };
    let sphere = SphereUptake { initial: p.initial };
    let model: &dyn Model = match variant {
        "sphere" => &sphere,
        _ => &peleg,
    };
    let q = &law.fit.parameters;
    let start = model.value(0.0, q);
    let equilibrium = match variant {
        "sphere" => q[0],
        _ if q[1] > 0.0 => start + 1.0 / q[1],
        _ => f64::INFINITY,
    };
    if target <= start {
        return Outcome::NotComputable(format!(
            "the sample starts at {start:.1} %, not below the target of {target:.1} %"
        ));
    }
    if target >= equilibrium {
        return Outcome::NotReached(format!(
            "the law comes to {equilibrium:.1} % in the end, below the target of {target:.1} %"
        ));
    }
    let end = p.end();
    if model.value(end, q) < target {
        return Outcome::Above(end);
    }
    let time = solve(model, q, target, end);
    // Implicitly: the time moves by minus the moisture's derivative over its slope in time.
    let mut slopes = vec![0.0; q.len()];
    model.gradient(time, q, &mut slopes);
    let step = 1e-4 * time;
    let rate = (model.value(time + step, q) - model.value(time - step, q)) / (2.0 * step);
    let mut variance = 0.0;
    for (a, row) in slopes.iter().zip(&law.fit.covariance) {
        for (b, shared) in slopes.iter().zip(row) {
            variance += a * b * shared;
        }
    }
    let by_fit = variance.max(0.0).sqrt() / rate;
    let half = law.fit.coverage_factor() * by_fit;
    // A stated initial moisture moves the law's parameters and its start together.
    let by_initial = match p.initial {
        None => 0.0,
        Some(_) => {
            let through: f64 = slopes.iter().zip(&law.by_initial).map(|(s, m)| s * m).sum();
            let left = match variant {
                "sphere" => (equilibrium - target) / (equilibrium - start),
                _ => 1.0,
            };
            (through + left) * p.settings.u_initial_pct / rate
        }
    };
    let by_solids = if p.from_mass {
        p.settings.u_solids_share * (100.0 + target) / rate
    } else {
        0.0
    };
    widened(
        time,
        (time - half, time + half),
        by_fit,
        by_initial.hypot(by_solids),
    )
}

/// Returns the time at which the law passes `target`, between nought and `end`.
fn solve(model: &dyn Model, q: &[f64], target: f64, end: f64) -> f64 {
    let (mut low, mut high) = (0.0, end);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if model.value(middle, q) < target {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}
