//! Metrics at the peak: width of the band, work given to the dough.

use super::contours::Contours;
use super::prepare::Prepared;
use super::settings::SLOW_BLADE_PER_MIN;
use super::shape::{contour_pair, development_s};
use crate::derive::{Metric, Reading, metric, or_outcome};
use crate::numerics::{area_between, value_at};
use crate::record::Outcome;
use crate::schema::{Bowl, Unit};

metric! {
    /// Width of the band at the development time: upper contour minus lower contour.
    BAND_WIDTH for Prepared {
        id: "mixing.band_width", symbol: "BW", name: "band width at the peak",
        unit: Unit::Fu, decimals: 0, revision: 1,
        source: ("ISO 5530-1", "band width", FromMemoryHigh),
        variants: [], read: read_band_width,
    }
}

fn read_band_width(p: &Prepared, _: &'static str) -> Reading {
    let (_, tp) = or_outcome!(development_s(p));
    let (upper, lower) = or_outcome!(contour_pair(p));
    let (Some(top), Some(bottom)) = (value_at(&p.t, &upper.y, tp), value_at(&p.t, &lower.y, tp))
    else {
        return Reading::of(Outcome::NotComputable(
            "the record does not reach the peak".into(),
        ));
    };
    let width = top - bottom;
    let missed = match &p.contours {
        // The true half band is at most 1/(1 - missed) of what was seen: rectangular.
        Contours::Read { missed_share, .. } => 0.5 * width * missed_share / 3.0_f64.sqrt(),
        _ => 0.0,
    };
    let u = upper.u_level.hypot(lower.u_level).hypot(missed);
    let half = p.settings.smoothing_half_width_s;
    Reading::of(Outcome::exact(width, u)).over(tp - half, tp + half)
}

metric! {
    /// Mechanical work given to the dough from first water contact to the development time, per kg
    /// of dough: the area under the centre times torque per FU and angular speed at 63/min. The
    /// torque refers to the drive; an estimate.
    WORK_TO_PEAK for Prepared {
        id: "mixing.work_to_peak", symbol: "w", name: "work to the peak",
        unit: Unit::KilojoulePerKilogram, decimals: 1, revision: 1,
        source: ("ISO 5530-1 torque per FU", "apparatus", Derived),
        variants: [], read: read_work_to_peak,
    }
}

/// Torque of one FU, N m (ISO 5530-1: 9.8 and 1.96 mN m; from memory, high confidence).
pub fn torque_per_fu_nm(bowl: Bowl) -> f64 {
    match bowl {
        Bowl::G300 => 0.0098,
        Bowl::G50 => 0.00196,
    }
}

fn read_work_to_peak(p: &Prepared, _: &'static str) -> Reading {
    let (peak, tp) = or_outcome!(development_s(p));
    let Some(bowl) = p.conditions.bowl.filter(|_| p.unit == Unit::Fu) else {
        return Reading::of(Outcome::NotComputable(
            "bowl size not stated: the torque of one FU is not known".into(),
        ));
    };
    let stated = p.conditions.dough_g;
    let dosed = p
        .conditions
        .flour_g
        .zip(p.conditions.water_ml)
        .map(|(f, w)| f + w);
    let Some(dough_g) = stated.or(dosed).filter(|m| *m > 0.0) else {
        return Reading::of(Outcome::NotComputable(
            "dough mass not stated, nor flour and water from which it follows".into(),
        ));
    };
    let area = area_between(&p.t, &p.centre.y, 0.0, tp);
    let omega = SLOW_BLADE_PER_MIN / 60.0 * std::f64::consts::TAU;
    let per_fu_s = torque_per_fu_nm(bowl) * omega / (dough_g / 1000.0) / 1000.0;
    let u_tp = (peak.plateau_end_interval_s.1 - peak.plateau_end_interval_s.0) / 4.0;
    // Torque per FU is known to 0.2 of 9.8 mN m, rectangular (ISO 5530-1; from memory).
    let u_torque = area * per_fu_s * (0.2 / 9.8) / 3.0_f64.sqrt();
    let u = (peak.height * u_tp * per_fu_s).hypot(u_torque);
    Reading::of(Outcome::exact(area * per_fu_s, u)).over(0.0, tp)
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] = &[&BAND_WIDTH, &WORK_TO_PEAK];
