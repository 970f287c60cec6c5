//! The metrics of one strip.

use super::numbers::{
    AREA, FAILURE_STRAIN, FAILURE_STRESS, K_EXP, K_POW, MAXIMUM_FORCE, N_EXP, N_POW, PRE_STRAIN,
    RATE_AT_FAILURE, RATE_GREATEST, RATE_LEAST, STABILITY, TRAVEL_AT_MAXIMUM,
};
use super::prepare::Prepared;
use super::pull::Pull;
use crate::derive::hardening::{Law, Laws, Stability};
use crate::derive::{Metric, Reading, metric, or_outcome};
use crate::record::Outcome;
use crate::schema::Unit;

fn not_computable(reason: &str) -> Outcome {
    Outcome::NotComputable(reason.to_owned())
}

/// Returns number `which` with its uncertainty.
fn number(p: &Prepared, which: usize) -> Option<Outcome> {
    let value = p.numbers.values.get(which).copied().flatten()?;
    let u = p.numbers.u.get(which).copied().unwrap_or(0.0);
    Some(Outcome::exact(value, u))
}

/// Returns why there is no stress or strain: the geometry is not known.
fn with_geometry(p: &Prepared) -> Result<&Pull, Outcome> {
    let pull = p.pull.as_ref().map_err(Outcome::clone)?;
    p.geometry.as_ref().map_err(Outcome::clone)?;
    Ok(pull)
}

/// Returns the pull of a strip of known geometry that tore.
fn torn(p: &Prepared) -> Result<&Pull, Outcome> {
    let pull = with_geometry(p)?;
    match pull.failure {
        Some(_) => Ok(pull),
        None => Err(not_torn(pull)),
    }
}

/// Returns the outcome of what needs a rupture that the record does not show.
fn not_torn(pull: &Pull) -> Outcome {
    not_computable(match pull.faded {
        true => "the force falls into its noise before a rupture can be seen",
        false => "the record ends before the strip tore",
    })
}

/// Returns the reading with what was assumed of the strip.
fn as_assumed(p: &Prepared, reading: Reading) -> Reading {
    let mut remark = format!("baseline={:.4} N", p.baseline);
    if !p.sag_stated {
        remark.push_str("; sag=0 assumed");
    }
    reading.with_remark(remark)
}

/// Returns the stretch from touch to rupture, or to the end of the record.
fn whole(p: &Prepared, pull: &Pull) -> (f64, f64) {
    let end = p.x.get(pull.last).copied().unwrap_or(0.0);
    (0.0, pull.rupture.map_or(end, |mark| mark.place.at))
}

metric! {
    /// Greatest force on the hook between first touch and rupture, less the force before touch (its
    /// median, where the record has at least three readings of it); of a noisy record, that of its
    /// smoothed line. The record counts from first touch.
    FORCE for Prepared {
        id: "strip.maximum_force", symbol: "Fmax", name: "maximum force on the hook",
        unit: Unit::Newton, decimals: 3, revision: 1,
        source: ("Dunnewind et al. 2003, J. Texture Stud. 34:537", "test with a hook", FromMemoryHigh),
        variants: [], read: read_force,
    }
}

fn read_force(p: &Prepared, _: &'static str) -> Reading {
    let pull = or_outcome!(p.pull.as_ref().map_err(Outcome::clone));
    as_assumed(p, at_top(p, pull, MAXIMUM_FORCE, pull.top.force))
}

/// Returns a number read at the greatest force; a bound where the strip had not torn by the end.
fn at_top(p: &Prepared, pull: &Pull, which: usize, bound: f64) -> Reading {
    let half = p.settings.smoothing_half_width_mm;
    let at = pull.top.place.at;
    let left = whole(p, pull).1 - at;
    let unfinished = pull.rupture.is_none() && !pull.faded;
    let outcome = if unfinished && left <= p.settings.rupture_within_mm {
        Outcome::Above(bound)
    } else {
        number(p, which).unwrap_or_else(|| not_computable("no maximum"))
    };
    Reading::of(outcome).over(at - half, at + half)
}

metric! {
    /// Way of the hook from first touch to the greatest force. Failure of the dough comes where the
    /// stress is greatest, which is later.
    TRAVEL for Prepared {
        id: "strip.extensibility", symbol: "y(Fmax)", name: "hook travel at maximum force",
        unit: Unit::Millimetre, decimals: 1, revision: 1,
        source: ("Dunnewind et al. 2003, J. Texture Stud. 34:537", "test with a hook", FromMemoryHigh),
        variants: [], read: read_travel,
    }
}

fn read_travel(p: &Prepared, _: &'static str) -> Reading {
    let pull = or_outcome!(p.pull.as_ref().map_err(Outcome::clone));
    as_assumed(p, at_top(p, pull, TRAVEL_AT_MAXIMUM, pull.top.place.at))
}

metric! {
    /// Area below the force on the hook over its way, from first touch to rupture: the work done on
    /// the strip, in N mm (mJ). Rupture is where the force starts to fall by more than half of
    /// itself within 5 mm and never comes back above the middle of that fall.
    WORK for Prepared {
        id: "strip.area", symbol: "A", name: "area below the force",
        unit: Unit::NewtonMillimetre, decimals: 2, revision: 1,
        source: ("force over travel", "integral", Derived),
        variants: [], read: read_area,
    }
}

fn read_area(p: &Prepared, _: &'static str) -> Reading {
    let pull = or_outcome!(p.pull.as_ref().map_err(Outcome::clone));
    let value = number(p, AREA).unwrap_or_else(|| not_computable("no area"));
    let outcome = match (pull.rupture, value) {
        (None, _) if pull.faded => not_torn(pull),
        (None, Outcome::Exact(area)) => Outcome::Above(area.value()),
        (_, value) => value,
    };
    let (from, to) = whole(p, pull);
    as_assumed(p, Reading::of(outcome).over(from, to))
}

metric! {
    /// Greatest stress along the dough: failure. With half gap a, sag y0, cross-section A0 and hook
    /// travel y: length l = 2 sqrt(a² + (y + y0)²), force along the dough Fm l / (4 (y + y0)),
    /// cross-section A0 l0 / l (constant volume), stress = force / cross-section. Dough drawn out
    /// of the clamps is a known error.
    STRESS for Prepared {
        id: "strip.failure_stress", symbol: "sigma_max", name: "failure stress",
        unit: Unit::Kilopascal, decimals: 1, revision: 1,
        source: ("Dunnewind et al. 2003, J. Texture Stud. 34:537", "stress and strain", Derived),
        variants: [], read: read_stress,
    }
}

fn read_stress(p: &Prepared, _: &'static str) -> Reading {
    at_failure(p, FAILURE_STRESS)
}

metric! {
    /// Hencky strain ln(l / l0) where the stress is greatest, not where the force is.
    STRAIN for Prepared {
        id: "strip.failure_strain", symbol: "eps_max", name: "Hencky strain at failure",
        unit: Unit::One, decimals: 3, revision: 1,
        source: ("Dunnewind et al. 2003, J. Texture Stud. 34:537", "stress and strain", Derived),
        variants: [], read: read_strain,
    }
}

fn read_strain(p: &Prepared, _: &'static str) -> Reading {
    at_failure(p, FAILURE_STRAIN)
}

/// Returns a number read where the stress is greatest.
fn at_failure(p: &Prepared, which: usize) -> Reading {
    let pull = or_outcome!(with_geometry(p));
    let Some(failure) = pull.failure else {
        let (strip, end) = (or_outcome!(p.geometry.clone()), whole(p, pull).1);
        let outcome = match which {
            FAILURE_STRAIN if !pull.faded => Outcome::Above(strip.hencky_strain(end)),
            _ => not_torn(pull),
        };
        return as_assumed(p, Reading::of(outcome).over(0.0, end));
    };
    let outcome = number(p, which).unwrap_or_else(|| not_computable("hook_speed_mm_s not stated"));
    let half = p.settings.smoothing_half_width_mm;
    let at = failure.place.at;
    as_assumed(p, Reading::of(outcome).over(at - half, at))
}

metric! {
    /// Strain rate 4 (y + y0) v / l² at hook speed v. It is not constant: it rises until the middle
    /// has moved by half a gap, then falls.
    RATE for Prepared {
        id: "strip.strain_rate", symbol: "eps_dot", name: "strain rate",
        unit: Unit::PerSecond, decimals: 4, revision: 1,
        source: ("Dunnewind et al. 2003, J. Texture Stud. 34:537", "strain rate", Derived),
        variants: [
            ("at-failure", "where the stress is greatest"),
            ("greatest", "greatest within the range of strain that the laws are fitted to"),
            ("least", "least within that range"),
        ],
        read: read_rate,
    }
}

fn read_rate(p: &Prepared, variant: &'static str) -> Reading {
    let which = match variant {
        "greatest" => RATE_GREATEST,
        "least" => RATE_LEAST,
        _ => return at_failure(p, RATE_AT_FAILURE),
    };
    or_outcome!(torn(p));
    let missing = match p.speed_mm_s {
        None => "hook_speed_mm_s not stated",
        Some(_) => "the strip tore before the range of strain that is fitted",
    };
    as_assumed(
        p,
        Reading::of(number(p, which).unwrap_or_else(|| not_computable(missing))),
    )
}

metric! {
    /// Exponent n of sigma = K exp(n eps), fitted to ln sigma against eps from strain 0.3 to 0.9 of
    /// the failure strain. Another quantity than n_pow: the two are never averaged.
    N_EXPONENTIAL for Prepared {
        id: "strip.n_exp", symbol: "n_exp", name: "strain hardening, exponential law",
        unit: Unit::One, decimals: 3, revision: 1,
        source: ("van Vliet et al. 1992; Dunnewind et al. 2003", "strain hardening index", FromMemoryHigh),
        variants: [], read: read_n_exp,
    }
}

fn read_n_exp(p: &Prepared, _: &'static str) -> Reading {
    fitted(p, N_EXP, |laws| &laws.exponential)
}

metric! {
    /// Factor K of sigma = K exp(n eps): the stress of the fitted law at strain nought.
    K_EXPONENTIAL for Prepared {
        id: "strip.k_exp", symbol: "K_exp", name: "factor of the exponential law",
        unit: Unit::Kilopascal, decimals: 2, revision: 1,
        source: ("van Vliet et al. 1992; Dunnewind et al. 2003", "strain hardening index", FromMemoryHigh),
        variants: [], read: read_k_exp,
    }
}

fn read_k_exp(p: &Prepared, _: &'static str) -> Reading {
    fitted(p, K_EXP, |laws| &laws.exponential)
}

metric! {
    /// Exponent n of sigma = K eps^n, fitted to ln sigma against ln eps from strain 0.3 to 0.9 of
    /// the failure strain. Another quantity than n_exp: the two are never averaged.
    N_POWER for Prepared {
        id: "strip.n_pow", symbol: "n_pow", name: "strain hardening, power law",
        unit: Unit::One, decimals: 3, revision: 1,
        source: ("Dobraszczyk and Roberts 1994", "strain hardening index", FromMemoryHigh),
        variants: [], read: read_n_pow,
    }
}

fn read_n_pow(p: &Prepared, _: &'static str) -> Reading {
    fitted(p, N_POW, |laws| &laws.power)
}

metric! {
    /// Factor K of sigma = K eps^n: the stress of the fitted law at strain one.
    K_POWER for Prepared {
        id: "strip.k_pow", symbol: "K_pow", name: "factor of the power law",
        unit: Unit::Kilopascal, decimals: 2, revision: 1,
        source: ("Dobraszczyk and Roberts 1994", "strain hardening index", FromMemoryHigh),
        variants: [], read: read_k_pow,
    }
}

fn read_k_pow(p: &Prepared, _: &'static str) -> Reading {
    fitted(p, K_POW, |laws| &laws.power)
}

/// Returns a number of one of the laws, with range, points and R² of its fit.
fn fitted(p: &Prepared, which: usize, law: fn(&Laws) -> &Law) -> Reading {
    let pull = or_outcome!(torn(p));
    let missing = || not_computable("no law could be fitted");
    let laws = match &p.numbers.laws {
        Some(Ok(laws)) => laws,
        Some(Err(why)) => return Reading::of(Outcome::NotComputable(why.clone())),
        None => return Reading::of(missing()),
    };
    let outcome = number(p, which).unwrap_or_else(missing);
    let mut remark = law(laws).remark();
    if !p.sag_stated {
        remark.push_str("; sag=0 assumed");
    }
    let (_, end) = whole(p, pull);
    let reading = Reading::of(outcome).with_remark(remark);
    match &p.geometry {
        Ok(strip) => {
            let fit = &law(laws).fit;
            reading.over(strip.travel_mm(fit.from), strip.travel_mm(fit.to).min(end))
        }
        Err(_) => reading,
    }
}

metric! {
    /// Strain beyond which the strip no longer stretches evenly (Considère, uniaxial): where the
    /// slope of ln sigma against eps falls to 1 and stays below. For an exponential law the slope
    /// is n_exp throughout.
    STABILITY_LIMIT for Prepared {
        id: "strip.stability_strain", symbol: "eps_stab", name: "strain at the limit of stability",
        unit: Unit::One, decimals: 3, revision: 1,
        source: ("van Vliet et al. 1992", "stability of stretched dough films, uniaxial", FromMemoryHigh),
        variants: [
            ("local", "from the local slope over 0.3 of strain, between strain 0.3 and failure"),
            ("power-law", "n_pow, the strain at which the fitted power law has slope 1"),
        ],
        read: read_stability,
    }
}

fn read_stability(p: &Prepared, variant: &'static str) -> Reading {
    or_outcome!(torn(p));
    let failure = p.numbers.values.get(FAILURE_STRAIN).copied().flatten();
    let failure = failure.unwrap_or(f64::INFINITY);
    if variant == "power-law" {
        let reading = fitted(p, N_POW, |laws| &laws.power);
        return match reading.outcome.value() {
            Some(n) if n > failure => Reading {
                outcome: Outcome::NotReached(format!(
                    "n_pow {n:.3} lies beyond the failure strain {failure:.3}"
                )),
                ..reading
            },
            _ => reading,
        };
    }
    let outcome = match p.numbers.stability {
        Some(Stability::LostAt { .. }) => {
            number(p, STABILITY).unwrap_or_else(|| not_computable("no limit"))
        }
        Some(Stability::Kept { slope, until }) => Outcome::NotReached(format!(
            "the slope of ln stress is still {slope:.2} at strain {until:.2}, the last it can be read at"
        )),
        Some(Stability::LostBefore { strain }) => Outcome::Below(strain),
        None => not_computable("the strip tore too early to read a slope"),
    };
    as_assumed(p, Reading::of(outcome))
}

metric! {
    /// Hencky strain that the sag of the strip is before the hook touches it: ln(l0 / 2a). Above
    /// about 0.5 it changes what is measured.
    SAG_STRAIN for Prepared {
        id: "strip.pre_strain", symbol: "eps_0", name: "strain of the sag",
        unit: Unit::One, decimals: 3, revision: 1,
        source: ("J. Rheology 56(2):385, 2012, abstract", "pre-strain", Published),
        variants: [], read: read_pre_strain,
    }
}

fn read_pre_strain(p: &Prepared, _: &'static str) -> Reading {
    or_outcome!(with_geometry(p));
    let missing = || not_computable("sag_mm not stated");
    Reading::of(number(p, PRE_STRAIN).unwrap_or_else(missing))
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] = &[
    &FORCE,
    &TRAVEL,
    &WORK,
    &STRESS,
    &STRAIN,
    &RATE,
    &N_EXPONENTIAL,
    &K_EXPONENTIAL,
    &N_POWER,
    &K_POWER,
    &STABILITY_LIMIT,
    &SAG_STRAIN,
];
